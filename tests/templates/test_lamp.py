"""The one look of a photo's edges: lamp and lens as all edges together tell them."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from seamsurvey.templates.contour import Crop
from seamsurvey.templates.lamp import find_look
from seamsurvey.templates.look import Slope
from seamsurvey.templates.profiles import best_place, edge_profile

PX_PER_MM, FINE = 6.5, 10  # of the picture; drawn so much finer
LONG, ACROSS, EDGE = 400, 70, 40.0  # px: the edge runs along x at y = EDGE, the card above it
HEIGHT_MM, BLUR_PX = 1.4, 0.95
FACE, GROUND = 0.26, 0.53
NO_TRIMS = np.zeros(2)


def _crop(shadow_px: float, deep: float) -> Crop:
    """A card's edge, straight from above, with a shadow so wide, its end a little soft, in some sensor noise."""
    y = (np.arange(ACROSS * FINE) + 0.5) / FINE - 0.5
    table = np.where(y < EDGE + shadow_px, GROUND * (1 - deep), GROUND)
    table = gaussian_filter1d(table, 0.7 * FINE, mode="nearest")
    fine = gaussian_filter1d(np.where(y < EDGE, FACE, table), BLUR_PX * FINE, mode="nearest")
    rows = fine.reshape(ACROSS, FINE).mean(axis=1)
    noise = np.random.default_rng(4).normal(0.0, 0.008, (ACROSS, LONG))
    return Crop(np.repeat((rows[:, None] + noise)[..., None], 3, axis=2).astype(np.float32), (0, 0))


def _path(off_px: float) -> NDArray[np.float64]:
    """So far outwards from the edge."""
    return np.array([[10.0, EDGE + off_px], [LONG - 10.0, EDGE + off_px]])


@pytest.mark.parametrize(("length", "deep"), [(0.35, 0.75), (0.7, 0.3)])
def test_no_card_is_measured_to_the_end_of_its_shadow(length: float, deep: float) -> None:
    """Where rough outlines took in the shadow, short and deep or long and faint, edges are where the faces end."""
    turns = np.radians([10.0, 70.0, 130.0, 190.0, 250.0, 310.0])
    shadow = length * HEIGHT_MM * PX_PER_MM * np.maximum(0.0, np.cos(turns - math.radians(200)))
    crops = [_crop(float(wide), deep) for wide in shadow]
    slopes = [Slope((math.cos(turn), math.sin(turn)), PX_PER_MM, 0.0) for turn in turns]
    rough = [
        edge_profile(crop, _path(wide), NO_TRIMS, slope, HEIGHT_MM)
        for crop, slope, wide in zip(crops, slopes, shadow, strict=True)
    ]
    look = find_look([profile for profile in rough if profile is not None], HEIGHT_MM, 0.1)
    for crop, slope, wide in zip(crops, slopes, shadow, strict=True):
        place = best_place(crop, _path(wide), NO_TRIMS, slope=slope, look=look, reach_mm=1.0)
        assert wide + place.out_px == pytest.approx(0.0, abs=0.6)
