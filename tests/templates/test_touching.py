"""Two cards taken for one: their shape tells where nothing is seen between them."""

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import Point, Polygon, unary_union
from shapely.geometry.polygon import orient

from seamsurvey.templates.touching import laid_along, sticks_out
from tests.scene.families import random_family
from tests.templates import drawing as d

LONG = np.array([[0.0, 0.0], [80.0, 0.0], [70.0, 40.0], [10.0, 40.0]])
ARROW = np.array([[0.0, 0.0], [40.0, 15.0], [80.0, 0.0], [40.0, 60.0]])


def both(along_mm: float, turn_deg: float = 0.0) -> NDArray[np.float64]:
    """The outline of a card that lies along the long edge of another, turned by so much."""
    other = d.turned([[0, 0], [30, 0], [22, 26], [4, 26]], 180 + turn_deg, (along_mm, -12.9))
    whole = unary_union([Polygon(LONG).buffer(0.02, join_style="mitre"), Polygon(other).buffer(0.02)])
    simple = whole.simplify(0.1)
    assert isinstance(simple, Polygon)
    return np.array(orient(simple).exterior.coords)[:-1]


def assert_between(line: NDArray[np.float64], outline: NDArray[np.float64]) -> None:
    """The line runs across the inside, from border to border."""
    assert Polygon(outline).contains(Point(line.mean(axis=0)))
    assert max(Polygon(outline).exterior.distance(Point(end)) for end in line) < 1e-9


@pytest.mark.parametrize("along_mm", [25.0, 40.0, 55.0])
def test_a_card_along_anothers_edge_is_seen_by_the_edge_that_goes_on(along_mm: float) -> None:
    """The outline of both gives the two away wherever along the edge the second lies, however they are turned."""
    for degrees in (0, 37, 200):
        turned = d.turned(both(along_mm), degrees, (0, 0))
        seen = laid_along(turned)
        assert seen is not None
        assert_between(seen, turned)


@pytest.mark.parametrize("past_mm", [2.0, 9.0, -9.0])
def test_cards_laid_past_each_other_are_seen_by_either_hollow_corner(past_mm: float) -> None:
    """Two cards that each stick out at one end give themselves away, and so do two flush at one end."""
    for flush in (False, True):
        left = -40.0 if flush else -40.0 + past_mm
        above = np.array([[left, 0], [40 + past_mm, 0], [30, 25], [-20, 30]])
        below = np.array([[-40, 0], [-30, -28], [25, -20], [40, 0]])
        grown = [Polygon(card).buffer(0.02, join_style="mitre") for card in (above, below)]
        whole = unary_union(grown).simplify(0.1)
        assert isinstance(whole, Polygon)
        outline = np.array(orient(whole).exterior.coords)[:-1]
        seen = laid_along(outline)
        assert seen is not None
        assert np.abs(seen[:, 1]).max() < 0.1


def test_a_tip_beyond_the_outline_is_another_cards() -> None:
    """What was seen 4.5 mm beyond an outline sticks out, far less on a hollow one, and no worn tip does."""
    square = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]])
    for outline, by in ((square, 4.5), (ARROW, 1.2)):
        whole = Polygon(outline)
        tip = Point(whole.exterior.interpolate(0.1, normalized=True)).buffer(by)
        both_seen = whole.union(tip)
        assert isinstance(both_seen, Polygon)
        beyond = np.array(both_seen.exterior.segmentize(0.3).coords)[:-1]
        seen = sticks_out(outline, beyond)
        assert seen is not None
        assert tip.distance(Point(seen)) < 1e-9
        worn = np.array(whole.buffer(-2).buffer(2).exterior.segmentize(0.3).coords)[:-1]
        assert sticks_out(outline, worn) is None


def test_of_a_print_a_tip_tells_beside_a_hollow_corner_alone() -> None:
    """Five millimetres beyond a convex outline seen roughly are its own; beyond a hollow one they are not."""
    for outline, own in ((LONG, True), (ARROW, False)):
        both = Polygon(outline).union(Point(outline[:2].mean(axis=0)).buffer(5))
        assert isinstance(both, Polygon)
        seen = np.array(both.exterior.segmentize(0.3).coords)[:-1]
        assert sticks_out(outline, seen) is not None
        assert (sticks_out(outline, seen, roughly=True) is None) == own


def test_a_cards_own_side_is_no_tip() -> None:
    """What was seen with the side of a thick card, beyond its face, is no other card where that is told."""
    side = Polygon(LONG[[0, 1, 1, 0]] + [[0.0, 0.0], [0.0, 0.0], [0.0, -5.0], [0.0, -5.0]])
    both = Polygon(LONG).union(side)
    assert isinstance(both, Polygon)
    seen = np.array(both.exterior.segmentize(0.3).coords)[:-1]
    assert sticks_out(LONG, seen) is not None
    assert sticks_out(LONG, seen, side) is None


def test_hollow_corners_of_one_card_are_its_own() -> None:
    """No arrow, and no template of sixty random families, is taken for two cards."""
    assert laid_along(ARROW) is None
    for seed in range(60):
        for template in random_family(seed).templates:
            assert laid_along(template.finished) is None
