"""Strokes followed to a fraction of a pixel: on profiles computed here by the area they cover."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr

from seamsurvey.templates.contour import Crop
from seamsurvey.templates.corners import EdgeUnclearError
from seamsurvey.templates.fitted import corners_of
from seamsurvey.templates.stroke_lines import fit_strokes
from tests.templates import drawing as d

Floats = NDArray[np.float64]

SIDE_PX, SCALE = 400, d.PX_PER_MM
WITHIN_PX = 0.035  # 3 µm at 300 dpi


def square_px(shift: float) -> Floats:
    """(4, 2) image px, counter-clockwise with y up: a square 240 px wide, off the pixels' raster by ``shift``."""
    low, high = 80.0 + shift, 320.0 + shift
    return np.array([[low, high], [high, high], [high, low], [low, low]])


def ringed(
    shift: float, width: float, blur: float, *, gap: tuple[float, float] = (0, 0), tone: float = 0.0
) -> Crop:
    """A square's outline as a stroke (px) blurred by a Gaussian; the paper is lighter by ``tone`` inside.

    Across a straight stroke the light is the difference of two normal distributions; ``gap``: y without ink.
    """
    at = np.arange(SIDE_PX, dtype=float)

    def inside(half: float) -> Floats:
        one = ndtr((at - 80.0 - shift + half) / blur) - ndtr((at - 320.0 - shift - half) / blur)
        return np.asarray(one[:, None] * one[None, :])

    ink = inside(width / 2) - inside(-width / 2)
    ink[int(gap[0]) : int(gap[1])] = 0
    paper = 0.8 * (1 - tone * (1 - inside(0.0)))
    light = paper * (1 - 0.95 * ink)
    noisy = light + np.random.default_rng(2).normal(0, 0.004, light.shape)
    return Crop(np.repeat(noisy[..., None], 3, axis=2).astype(np.float32), (0, 0))


def corners_found(crop: Crop, shift: float, *, dashed: bool = False) -> Floats:
    """(4, 2) image px of the fitted corners; the outline that is looked for lies 3 px off."""
    plane = d.plane_of(SIDE_PX)
    lines = fit_strokes(crop, plane.to_mm(square_px(shift) + np.array([3.0, -2.0])), plane, dashed=dashed)
    return plane.to_px(corners_of(lines))


@pytest.mark.parametrize("width", [1.2, 3.0, 6.0])
@pytest.mark.parametrize("shift", [0.0, 0.25, 0.5, 0.8])
def test_the_middle_of_a_stroke_is_the_line(shift: float, width: float) -> None:
    """Wherever a stroke lies between the pixels, and however thick, its corners are where its middles meet."""
    found = corners_found(ringed(shift, width, 0.8), shift)
    assert np.abs(found - square_px(shift)).max() < WITHIN_PX


def test_a_stretch_without_ink_says_nothing() -> None:
    """A quarter of two sides without ink moves no corner; without more than half of them the stroke is refused."""
    assert np.abs(corners_found(ringed(0.3, 3.0, 0.8, gap=(170, 230)), 0.3) - square_px(0.3)).max() < WITHIN_PX
    with pytest.raises(EdgeUnclearError):
        corners_found(ringed(0.3, 3.0, 0.8, gap=(105, 300)), 0.3)


def test_a_gradient_of_the_paper_does_not_move_the_line() -> None:
    """Paper a twentieth lighter on one side of the stroke moves its middle by less than a tenth of a pixel."""
    found = corners_found(ringed(0.1, 4.0, 0.8, tone=0.05), 0.1)
    assert np.abs(found - square_px(0.1)).max() < 0.1
