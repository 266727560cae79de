"""How many edges an outline has: corners kept, wobble not taken for corners, curves refused."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from shapely import Polygon

from seamsurvey.templates.chords import may_be_chords, nearly_round
from seamsurvey.templates.corners import NoOutlineError
from seamsurvey.templates.sides import find_edges
from tests.scene.families import random_family

Floats = NDArray[np.float64]

SPACING = 0.5


def outline(corners: Floats, wobble_mm: float, length_mm: float, seed: int) -> Floats:
    """Points along a polygon, wandering smoothly about its edges by this standard deviation."""
    rng = np.random.default_rng(seed)
    parts = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = float(np.hypot(*(end - start)))
        count = int(length / SPACING)
        along = (end - start) / length
        sigma = length_mm / SPACING / np.sqrt(2)
        wander = gaussian_filter1d(rng.normal(size=count + 400), sigma)[200 : 200 + count]
        wander *= wobble_mm * np.sqrt(2 * np.sqrt(np.pi) * sigma)
        off = wander + rng.normal(size=count) * 0.008
        at = (np.arange(count) + 0.5) * length / count
        parts.append(start + at[:, None] * along + off[:, None] * np.array([along[1], -along[0]]))
    return np.vstack(parts)


def with_kink(turn_deg: float) -> Floats:
    """100 x 80 mm, with a kink in the middle of its upper edge."""
    rise = 50 * np.tan(np.radians(turn_deg / 2))
    return np.array([[0.0, 0], [100, 0], [100, 80], [50, 80 + rise], [0, 80]])


def test_kink_of_one_degree_is_kept() -> None:
    """A kink of 1 degree between two edges of 50 mm is a corner, in its place, on a cleanly cut card."""
    for seed in range(4):
        found = find_edges(outline(with_kink(1.0), 0.02, 8.0, seed)).corners
        assert len(found) == 5
        assert np.min(np.hypot(*(found - with_kink(1.0)[3]).T)) < 4


@pytest.mark.parametrize(("wobble", "length"), [(0.04, 20.0), (0.09, 8.0), (0.2, 8.0)])
def test_wobble_makes_no_corners(wobble: float, length: float) -> None:
    """A hand-cut rectangle has four edges, however its edges wander."""
    rectangle = np.array([[0.0, 0], [100, 0], [100, 80], [0, 80]])
    for seed in range(4):
        found = find_edges(outline(rectangle, wobble, length, seed)).corners
        assert len(found) == 4
        assert np.max(np.min(np.hypot(*(found[:, None] - rectangle).transpose(2, 0, 1)), axis=1)) < 5 * wobble


@pytest.mark.parametrize("radius", [12.0, 25.0, 50.0])
def test_circle_has_no_edges(radius: float) -> None:
    """A round thing, a coin or a jar's lid, is not broken into chords."""
    angle = np.linspace(0, 2 * np.pi, int(2 * np.pi * radius / SPACING), endpoint=False)
    noise = np.random.default_rng(1).normal(scale=0.01, size=len(angle))
    with pytest.raises(NoOutlineError):
        find_edges((radius + noise)[:, None] * np.column_stack([np.cos(angle), np.sin(angle)]))


def test_a_thing_of_many_blunt_corners_is_round() -> None:
    """A notched rim that edges follow has no corner like an octagon's; every patch of sixty families has."""
    rng = np.random.default_rng(3)
    for count in (8, 12, 16):
        angle = 2 * np.pi * (np.arange(count) + rng.uniform(-0.1, 0.1, count)) / count
        assert nearly_round(40 * np.column_stack([np.cos(angle), np.sin(angle)])) == (count > 8)
    for seed in range(60):
        assert not any(nearly_round(template.finished) for template in random_family(seed).templates)


def test_quarter_round_side_is_an_arc() -> None:
    """A quarter of a disc has two straight edges and one arc of 90 degrees, never chords."""
    angle = np.linspace(0, np.pi / 2, 160)
    arc = 50 * np.column_stack([np.cos(angle), np.sin(angle)])
    sides = outline(np.array([[0.0, 50], [0, 0], [50, 0]]), 0.0, 8.0, 3)
    straight = sides[np.min(np.abs(sides), axis=1) < 0.1]
    # From (0, 50) down, along to (50, 0), and back along the arc.
    found = find_edges(np.vstack([straight, arc]))
    assert len(found.corners) == 3
    assert sorted(np.degrees(4 * np.arctan(found.bulges))) == pytest.approx([0, 0, 90], abs=0.5)


def test_worn_corner_is_no_edge() -> None:
    """Corners rounded by wear to a radius of 1 mm are prolonged to their points."""
    square = np.array([[0.0, 0], [40, 0], [40, 40], [0, 40]])
    points = outline(square, 0.0, 8.0, 2)
    worn = np.any(np.max(np.abs(points[:, None] - square), axis=2) < 1.0, axis=1)
    np.testing.assert_allclose(find_edges(points[~worn]).corners, square, atol=0.02)


def test_edge_on_a_patterned_cloth_is_not_taken_away() -> None:
    """A dart whose one edge shows far less clearly than the others still has its four edges and corners."""
    dart = np.array([[0.0, 0], [60, 9], [95, 45], [35, 30]])
    for seed in range(4):
        points = outline(dart, 0.02, 8.0, seed)
        along = np.array([35.0, 36.0]) / np.hypot(35, 36)
        unclear = np.abs((points - dart[1]) @ np.array([along[1], -along[0]])) < 0.3
        unclear &= np.cumsum(unclear) > 2
        noise = np.random.default_rng(seed).normal(0, 0.45, len(points)) * unclear
        found = find_edges(points + noise[:, None] * np.array([along[1], -along[0]])).corners
        assert len(found) == 4
        assert np.max(np.min(np.hypot(*(found[:, None] - dart).transpose(2, 0, 1)), axis=1)) < 0.6


def test_edges_that_bow_alike_by_chance_are_straight() -> None:
    """Scissors may bow all edges of a card outwards; a curve would turn less from edge to edge than this card."""
    card = np.array([[0.0, 0], [45, 0], [52, 50], [0, 44]])
    points = outline(card, 0.03, 8.0, 1)
    nearest = np.argmin([_off(points, card, k) ** 2 for k in range(4)], axis=0)
    bowed = points.copy()
    for k in range(4):
        start, end = card[k], card[(k + 1) % 4]
        along = (end - start) / np.hypot(*(end - start))
        place = (points[nearest == k] - start) @ along / np.hypot(*(end - start))
        bowed[nearest == k] += 0.3 * (4 * place * (1 - place))[:, None] * np.array([along[1], -along[0]])
    found = find_edges(bowed)
    assert len(found.corners) == 4
    assert not any(found.bulges)
    assert np.max(np.hypot(*(found.corners - card[_nearest(found.corners, card)]).T)) < 0.5


def test_a_ragged_bow_is_a_petal_a_smooth_one_a_curve() -> None:
    """One edge that bows 0.3 mm is curved where its points say so clearly, and straight where they scatter."""
    card = np.array([[0.0, 0], [70, 0], [70, 60], [0, 60]])
    points = outline(card, 0.01, 8.0, 2)
    low = (points[:, 1] < 1.0) & (points[:, 0] > 2) & (points[:, 0] < 68)
    share = points[low, 0] / 70
    bowed = points.copy()
    bowed[low, 1] -= 0.3 * 4 * share * (1 - share)
    assert may_be_chords(card, bowed)
    ragged = bowed.copy()
    ragged[low, 1] += 0.1 * np.where(np.arange(low.sum()) % 2, 1, -1)
    assert not may_be_chords(card, ragged)


def _off(points: Floats, corners: Floats, k: int) -> Floats:
    start, end = corners[k], corners[(k + 1) % len(corners)]
    along = (end - start) / np.hypot(*(end - start))
    return np.asarray((points - start) @ np.array([along[1], -along[0]]))


def _nearest(points: Floats, corners: Floats) -> NDArray[np.int64]:
    return np.asarray(np.argmin(np.hypot(*(points[:, None] - corners).transpose(2, 0, 1)), axis=1))


def test_points_exactly_in_a_line_lie_on_no_circle() -> None:
    """A square along the pixels' rows, its points evenly spaced and exact, has four edges: no circle is fitted."""
    side = np.arange(0.0, 40.0, SPACING)
    none = np.zeros_like(side)
    exact = np.vstack([
        np.column_stack(each)
        for each in ((side, none), (none + 40, side), (40 - side, none + 40), (none, 40 - side))
    ])  # fmt: skip
    found = find_edges(exact)
    assert not found.bulges
    assert Polygon(found.corners).symmetric_difference(Polygon([[0, 0], [40, 0], [40, 40], [0, 40]])).area < 0.1


@pytest.mark.parametrize("count", [0, 1, 2, 15])
def test_a_few_points_are_no_outline(count: int) -> None:
    """Where hardly a point of an edge could be told, or none, that is said; nothing is computed of nothing."""
    with pytest.raises(NoOutlineError, match="can't be told from the ground"):
        find_edges(outline(with_kink(1.0), 0.0, 8.0, 0)[:count])
