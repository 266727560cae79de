"""A slot between two cards in one outline, told from the lines that are drawn on one."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, Point, Polygon, union_all
from shapely.geometry.polygon import orient

from seamsurvey.templates.cards import SIDE_BY_SIDE, Card
from seamsurvey.templates.corners import TwoCardsError
from seamsurvey.templates.outlined import Outlined, crop_of, outlined_alone
from seamsurvey.templates.touching import slot_across
from tests.templates import drawing as d

Floats = NDArray[np.float64]
Colour = tuple[float, float, float]
Line = tuple[ArrayLike, ArrayLike]

SIZE_MM = (120.0, 90.0)
WHOLE = np.array([[20.0, 20.0], [60.0, 14.0], [98.0, 20.0], [90.0, 60.0], [57.0, 72.0], [25.0, 64.0]])
ACROSS = WHOLE[[1, 4]]  # from a corner to a corner


def strip(line: Floats, wide_mm: float) -> Floats:
    """The outline (4, 2) of a straight stroke."""
    return np.array(LineString(line).buffer(wide_mm / 2, cap_style="flat").exterior.coords)[:-1]


def halves(gap_mm: float) -> list[Floats]:
    """Two cards with a gap from corner to corner of the outline of both."""
    parts = Polygon(WHOLE).difference(Polygon(strip(longer(ACROSS, 5.0), gap_mm)))
    return [np.array(part.exterior.coords)[:-1] for part in getattr(parts, "geoms", ())]


def longer(line: Floats, by_mm: float) -> Floats:
    """The line, so much longer at both ends."""
    way = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
    return np.array([line[0] - by_mm * way, line[1] + by_mm * way])


def slot_in(
    cards: list[Floats], colour: Colour, lines: Sequence[tuple[ArrayLike, ArrayLike]] = ()
) -> Floats | None:
    """What is found in the outline of all, in a scan of the cards with these lines on them."""
    picture, plane = d.scan(cards, size_mm=SIZE_MM, card=colour, lines=lines)
    return slot_across(crop_of(picture, plane, plane.to_px(WHOLE)), [WHOLE], plane)


@pytest.mark.parametrize("gap_mm", [0.5, 1.0, 2.0, 3.0])
def test_a_slot_from_corner_to_corner_is_seen(gap_mm: float) -> None:
    """The line found lies within the gap, whatever its width and the cards' colour."""
    for colour in (d.CREAM, d.BLUE, d.DARK):
        found = slot_in(halves(gap_mm), colour)
        assert found is not None
        assert all(LineString(longer(ACROSS, 5.0)).distance(Point(at)) < gap_mm / 2 + 0.3 for at in found)


def test_lines_on_a_card_are_no_slot() -> None:
    """A seam line all round, grain lines, one from border to border, and half a diagonal leave a card whole."""
    seam = np.array(Polygon(WHOLE).buffer(-6.35, join_style="mitre").exterior.coords)
    drawings: list[list[Line]] = [
        list(pairwise(seam)),
        [([36, 17.6], [36, 67])],
        [([22, 40], [94, 42])],
        [(ACROSS[0], ACROSS.mean(axis=0))],
        [],
    ]
    for lines in drawings:
        assert slot_in([WHOLE], d.CREAM, lines) is None


def test_a_seam_line_on_a_card_with_trimmed_tips_is_no_slot() -> None:
    """Where tips are cut off, a seam line points at corners, but it ends an allowance before them."""
    finished = np.array([[25.0, 25.0], [95.0, 25.0], [60.0, 70.0]])
    trimmed = Polygon(finished).buffer(6.35, join_style="bevel")
    assert isinstance(trimmed, Polygon)
    outline = np.array(orient(trimmed).exterior.coords)[:-1]
    nearly = Polygon(finished).buffer(6.35, join_style="mitre").intersection(trimmed.buffer(2.0))
    assert isinstance(nearly, Polygon)
    for whole in (outline, np.array(orient(nearly).exterior.coords)[:-1]):
        lines = list(pairwise([*finished, finished[0]]))
        picture, plane = d.scan([whole], size_mm=SIZE_MM, lines=lines)
        assert slot_across(crop_of(picture, plane, plane.to_px(whole)), [whole], plane) is None


def outlined(cards: list[Floats], whole: Floats) -> Outlined:
    """What has this whole outline, as it was seen, measured in a scan of the cards."""
    picture, plane = d.scan(cards, size_mm=SIZE_MM)
    seen = np.asarray(Polygon(whole).exterior.segmentize(0.3).coords)[:-1]
    return outlined_alone(Card(contour=plane.to_px(seen)), picture, plane, 0, None)


def test_what_may_be_two_cards_is_not_measured_as_one() -> None:
    """Two cards with a slot between them, or laid past each other without, are refused; one card is measured."""
    past = [
        np.array([[24.0, 45.0], [80.0, 45.0], [72.0, 75.0], [30.0, 70.0]]),
        np.array([[30.0, 15.0], [82.0, 20.0], [92.0, 45.0], [36.0, 45.0]]),
    ]
    both = union_all([Polygon(card) for card in past])
    assert isinstance(both, Polygon)
    around = np.array(orient(both).exterior.coords)[:-1]
    for cards, whole in ((halves(0.5), WHOLE), (past, around)):
        with pytest.raises(TwoCardsError) as refused:
            outlined(cards, whole)
        assert str(refused.value) == SIDE_BY_SIDE
    assert len(outlined([WHOLE], WHOLE).edges) == len(WHOLE)
