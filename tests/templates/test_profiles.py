"""Edges of printed card: its side shows the card's own colour, whatever is printed on the face above it."""

import attrs
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from seamsurvey.templates.contour import Crop
from seamsurvey.templates.lit_edges import measure_lit_edge
from seamsurvey.templates.look import Look, Slope
from seamsurvey.templates.profiles import best_place

PX_PER_MM, FINE = 6.0, 4  # of the picture; drawn so much finer
SIDE_PX = 2.5
LONG, ACROSS, EDGE = 420, 60, 31.0  # px: the edge runs along x at y = EDGE, the card above it
LOOK = Look(blur_px=0.9, sharpened=0.0, cast=0.0, contact=0.0, side=0.5)
SLOPE = Slope((0.0, -1.0), PX_PER_MM, SIDE_PX / LOOK.height)
NO_TRIMS = np.zeros(2)


def _picture(face: NDArray[np.float64], side: NDArray[np.float64], ground: float, side_px: float = SIDE_PX) -> Crop:
    """A card whose ``face`` and ``side`` ((LONG,) light) differ along its edge, seen from the side's side."""
    y = (np.arange(ACROSS * FINE) + 0.5) / FINE - 0.5
    rows = [face if at < EDGE else side if at < EDGE + side_px else np.full(LONG, ground) for at in y]
    fine = gaussian_filter(np.repeat(np.array(rows), FINE, axis=1), LOOK.blur_px * FINE, mode="nearest")
    light = fine.reshape(ACROSS, FINE, LONG, FINE).mean(axis=(1, 3))
    return Crop(np.repeat(light[..., None], 3, axis=2).astype(np.float32), (0, 0))


def _path(off_px: float) -> NDArray[np.float64]:
    """So far outwards from the edge."""
    return np.array([[10.0, EDGE + off_px], [LONG - 10.0, EDGE + off_px]])


def _found(crop: Crop, off_px: float) -> tuple[float, NDArray[np.float64]]:
    """How far off the edge the whole edge is placed, outwards, and each of its stretches' points."""
    place = best_place(crop, _path(off_px), NO_TRIMS, slope=SLOPE, look=LOOK, reach_mm=1.0)
    points = measure_lit_edge(
        crop, _path(off_px), NO_TRIMS, stretch=2 * PX_PER_MM, slope=SLOPE, look=LOOK, place=place
    )
    return off_px + place.out_px, points.points[:, 1] - EDGE


@pytest.mark.parametrize("off_px", [-2.0, 0.0, 2.5])
def test_a_side_lighter_than_the_print_above_it_is_not_the_face(off_px: float) -> None:
    """Dark print in most places, bare card in some: the side is as light as neither."""
    face = np.where(np.arange(LONG) // 24 % 4 == 0, 0.55, 0.06)
    whole, stretches = _found(_picture(face, np.full(LONG, 0.2), 0.32), off_px)
    assert whole == pytest.approx(0.0, abs=0.3)
    assert len(stretches) > 25
    assert np.median(np.abs(stretches)) < 0.15


@pytest.mark.parametrize("off_px", [-2.0, 0.0, 2.5])
def test_a_shadow_across_a_plain_card_darkens_its_side_with_it(off_px: float) -> None:
    """Half of the edge lies in shadow, where face and side are darker alike."""
    light = np.where(np.arange(LONG) < LONG // 2, 0.4, 1.0)
    whole, stretches = _found(_picture(0.5 * light, 0.25 * light, 0.05), off_px)
    assert whole == pytest.approx(0.0, abs=0.3)
    assert len(stretches) > 25
    assert np.median(np.abs(stretches)) < 0.15


def test_where_a_side_is_as_light_as_its_face_the_cards_height_says_where_the_face_ends() -> None:
    """A place is as uncertain as the height lets the side be wide, and surely known where no side shows."""
    alike, unlike = np.full(LONG, 0.5), np.full(LONG, 0.15)
    look = attrs.evolve(LOOK, side=1.0, height_sigma=0.4)
    place = best_place(_picture(alike, alike, 0.05), _path(0.0), NO_TRIMS, slope=SLOPE, look=look, reach_mm=0.5)
    assert place.doubt_px == pytest.approx(0.4 * SIDE_PX, rel=0.2)
    sure = attrs.evolve(look, height_sigma=0.0)
    known = best_place(_picture(alike, alike, 0.05), _path(0.0), NO_TRIMS, slope=SLOPE, look=sure, reach_mm=0.5)
    assert known.doubt_px < 0.1
    sharp = attrs.evolve(LOOK, side=0.3, height_sigma=0.4)
    told = best_place(_picture(alike, unlike, 0.05), _path(0.0), NO_TRIMS, slope=SLOPE, look=sharp, reach_mm=0.5)
    assert told.doubt_px < 0.5 * place.doubt_px


@pytest.mark.parametrize("side", [0.0, 0.02, 0.05])
def test_a_black_cards_stretches_stay_where_the_whole_edge_is(side: float) -> None:
    """Black card on white: its side is as light as no look has it, and no stretch draws back from it."""
    face, side_light = np.full(LONG, 0.015), np.full(LONG, side)
    crop = _picture(face, side_light, 0.8)
    whole, stretches = _found(crop, 0.5)
    assert whole == pytest.approx(0.0, abs=0.6)
    assert len(stretches) > 25
    assert np.median(np.abs(stretches)) < 0.4


WIDE_PX = 7.0  # of a thick card's side, seen aslant
WIDE = attrs.evolve(SLOPE, side_px=WIDE_PX / LOOK.height)
PRINT = np.array([0.1, 0.5, 0.3, 0.5, 0.1])[np.arange(LONG) // 30 % 5]


def test_a_rough_outline_round_a_thick_cards_side_is_led_back_to_the_face() -> None:
    """What was seen of a printed card ran along the foot of its side, and a little beyond."""
    crop = _picture(PRINT, np.full(LONG, 0.2), 0.06, WIDE_PX)
    place = best_place(crop, _path(WIDE_PX + 0.5), NO_TRIMS, slope=WIDE, look=LOOK, reach_mm=1.0, with_side=True)
    assert WIDE_PX + 0.5 + place.out_px == pytest.approx(0.0, abs=0.3)


def test_a_prints_pattern_ends_where_the_face_does() -> None:
    """On average the print is as light as the side; but it differs along the edge, and the side does not."""
    look = attrs.evolve(LOOK, side=1.0, height_sigma=0.3)
    places = [
        best_place(
            _picture(face, np.full(LONG, 0.3), 0.05, WIDE_PX),
            _path(1.0),
            NO_TRIMS,
            slope=WIDE,
            look=look,
            reach_mm=1.0,
        )
        for face in (np.full(LONG, 0.3), PRINT)
    ]
    assert 1.0 + places[1].out_px == pytest.approx(0.0, abs=0.3)
    assert places[0].doubt_px == pytest.approx(0.3 * WIDE_PX, rel=0.2)
    assert places[1].doubt_px < 0.5 * places[0].doubt_px
