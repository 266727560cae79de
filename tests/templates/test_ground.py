"""The ground under the templates, where something parts it."""

import attrs
import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from seamsurvey.errors import InputError
from seamsurvey.light import encode
from seamsurvey.model import Picture
from seamsurvey.templates.cards import find_cards
from seamsurvey.templates.ground import find_ground
from tests.templates import drawing as d
from tests.templates.drawing import plane_of


def lid(band: bool, card: bool, stained: float = 0.0) -> NDArray[np.uint8]:
    """A lid 100 by 140 mm at 10 px/mm, lit unevenly, with a wooden band across and a pale card on it.

    ``stained``: how much darker a soft stain at the right border is in its middle.
    """
    y, x = np.mgrid[0:1400, 0:1000] / 1000.0
    blotches = cv2.GaussianBlur(np.random.default_rng(1).normal(0, 1, (1400, 1000)), (0, 0), 40)
    light = 0.80 + 0.04 * x - 0.05 * y**2 + 0.002 * blotches / blotches.std()
    light -= stained * np.exp(-((x - 1.0) ** 2 + (y - 0.9) ** 2) / (2 * 0.1**2))
    pixels = np.repeat(light[..., None], 3, axis=2)
    if band:
        cv2.fillPoly(pixels, [np.array([[-50, 1150], [1050, 550], [1050, 750], [-50, 1350]])], (0.55, 0.38, 0.2))
    if card:
        cv2.fillPoly(pixels, [np.array([[200, 150], [700, 250], [450, 600]])], (0.74, 0.74, 0.74))
    return np.rint(255 * encode(pixels)).astype(np.uint8)


@pytest.mark.parametrize("band", [False, True])
def test_a_ruler_from_side_to_side_leaves_the_ground_even_on_both(band: bool) -> None:
    """Parted by a band across the whole picture, the ground is flat in every bare corner, and a card stands out."""
    ground = find_ground(lid(band, card=True), 10.0)
    high, wide = ground.lightness.shape
    side = round(8 * ground.per_mm)
    corners = [np.s_[:side, :side], np.s_[:side, wide - side :], np.s_[high - side :, wide - side :]]
    for corner in corners:
        assert np.abs(ground.lightness[corner]).max() < 0.03
    on_card = ground.lightness[round(33 * ground.per_mm), round(45 * ground.per_mm)]
    assert on_card < -0.05


def test_a_stain_of_the_lid_is_no_card() -> None:
    """A soft stain that runs off the picture is passed over; a card of less contrast that does so is refused."""
    stained = Picture("stained.png", "0" * 64, lid(band=False, card=True, stained=0.12), None)
    found = find_cards(stained, plane_of(1400, 10.0))
    assert (len(found.cards), found.left_out) == (1, ())
    pale = lid(band=False, card=False)
    pale[800:1000, 800:] = np.rint(0.97 * pale[800:1000, 800:]).astype(np.uint8)
    with pytest.raises(InputError, match="runs off the picture"):
        find_cards(Picture("cut.png", "0" * 64, pale, None), plane_of(1400, 10.0))


@pytest.mark.parametrize(("lid", "shadow_mm"), [(d.BLACK, 0.0), (d.WHITE, 1.5), (d.GREY, 1.5)])
def test_a_card_printed_in_two_colours_is_found_whole(lid: tuple[float, float, float], shadow_mm: float) -> None:
    """Cut from a box, a third of it of another colour: that is neither ground nor shadow, so it is card."""
    card = np.array([[20.0, 20.0], [80.0, 24.0], [70.0, 62.0], [24.0, 58.0]])
    (one, plane), (other, _) = (
        d.scan([card], card=colour, lid=lid, shadow_mm=shadow_mm) for colour in (d.BLUE, d.CREAM)
    )
    pixels = one.pixels.copy()
    middle = int(0.45 * one.width)
    pixels[:, :middle] = other.pixels[:, :middle]
    (found,) = find_cards(attrs.evolve(one, pixels=pixels), plane).cards
    shape, true = shapely.Polygon(plane.to_mm(found.contour)), shapely.Polygon(card)
    assert shape.intersection(true).area / shape.union(true).area > 0.97
