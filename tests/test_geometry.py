"""Plane geometry against shapely, and against sums that must come out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely import Polygon

from seamsurvey import geometry
from seamsurvey.unions import united
from tests.scene.trade_blocks import trade_block

L_SHAPE = np.array([[0, 0], [5, 0], [5, 2], [2, 2], [2, 4], [0, 4.0]])
KITE = np.array([[0, 0], [3, 1], [4, 4], [1, 3.0]])


@st.composite
def convex(draw: st.DrawFn) -> geometry.Points:
    """A convex polygon of 3 to 8 corners, in any place, of any orientation."""
    count = draw(st.integers(3, 8))
    gaps = draw(arrays(float, count, elements=st.floats(0.5, 1.5)))
    angles = 2 * np.pi * np.cumsum(gaps) / gaps.sum()
    centre = draw(arrays(float, 2, elements=st.floats(-200, 200)))
    polygon: geometry.Points = centre + 40 * np.column_stack([np.cos(angles), np.sin(angles)])
    return polygon[::-1] if draw(st.booleans()) else polygon


@given(convex())
def test_area_and_centroid_agree_with_shapely(polygon: geometry.Points) -> None:
    """Area and centre of area are those of an independent library, for either orientation."""
    oracle = Polygon(polygon)
    assert abs(geometry.signed_area(polygon)) == pytest.approx(oracle.area, rel=1e-9)
    assert geometry.centroid(polygon) == pytest.approx(np.array(oracle.centroid.coords[0]), abs=1e-7)
    assert geometry.signed_area(geometry.counter_clockwise(polygon)) > 0


@given(convex(), st.floats(0.1, 10))
def test_a_mitred_offset_agrees_with_shapely(polygon: geometry.Points, distance: float) -> None:
    """Moving all edges out by one distance is shapely's mitred buffer; moving them back restores the corners."""
    polygon = geometry.counter_clockwise(polygon)
    grown = geometry.offset_polygon(polygon, distance)
    oracle = Polygon(polygon).buffer(distance, join_style="mitre", mitre_limit=1e6)
    assert geometry.signed_area(grown) == pytest.approx(oracle.area, rel=1e-9)
    assert geometry.offset_polygon(grown, -distance) == pytest.approx(polygon, abs=1e-9)


def test_an_offset_with_no_room_is_refused() -> None:
    """Shrinking a square of 10 by 5 or more leaves nothing, and is said so."""
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10.0]])
    assert geometry.edge_lengths(geometry.offset_polygon(square, -4.9)) == pytest.approx(np.full(4, 0.2))
    with pytest.raises(ValueError, match="no room"):
        geometry.offset_polygon(square, -5.1)


def test_each_edge_can_have_its_own_offset() -> None:
    """Edge k is the one from vertex k: moving the bottom of a rectangle changes nothing but its y."""
    rectangle = np.array([[0, 0], [4, 0], [4, 3], [0, 3.0]])
    moved = geometry.offset_polygon(rectangle, [1, 0, 0, 0])
    assert moved == pytest.approx(np.array([[0, -1], [4, -1], [4, 3], [0, 3.0]]))


@pytest.mark.parametrize("polygon", [L_SHAPE, KITE])
def test_interior_angles_add_up(polygon: geometry.Points) -> None:
    """The inner angles of an n-gon add up to (n − 2) · 180° (Euclid I.32, corollary), reflex or not."""
    assert geometry.interior_angles(polygon).sum() == pytest.approx(180 * (len(polygon) - 2))


def test_a_reflex_corner_is_more_than_180_degrees() -> None:
    """The inner corner of an L is 270°, the others 90°."""
    assert geometry.interior_angles(L_SHAPE) == pytest.approx([90, 90, 90, 270, 90, 90])


def test_turning_over_keeps_edges_and_maps_them_as_documented() -> None:
    """A turned-over polygon is counter-clockwise, congruent, and its edge n − 1 − k is the old edge k."""
    flipped = geometry.reversed_face(KITE)
    assert geometry.signed_area(flipped) == pytest.approx(geometry.signed_area(KITE))
    lengths = geometry.edge_lengths(KITE)
    assert geometry.edge_lengths(flipped) == pytest.approx(lengths[[3, 2, 1, 0]])
    assert flipped[0] == pytest.approx(KITE[0] * [-1, 1])
    assert flipped[1] == pytest.approx(KITE[3] * [-1, 1])


def test_quarter_turns_are_exact() -> None:
    """Four quarter turns bring every float back bit for bit."""
    assert np.array_equal(geometry.moved(KITE, 90, (0, 0)), np.column_stack([-KITE[:, 1], KITE[:, 0]]))
    assert np.array_equal(geometry.moved(KITE, -180, (0, 0)), -KITE)
    assert geometry.moved(np.array([[1.0, 0]]), 30, (1, 2)) == pytest.approx(np.array([[1 + 3**0.5 / 2, 2.5]]))


def test_parallel_lines_do_not_meet() -> None:
    """Two parallel lines are refused rather than sent to infinity."""
    one = np.array([1.0, 2.0])
    with pytest.raises(ValueError, match="parallel"):
        geometry.intersect_lines(np.zeros(2), one, np.array([0, 1.0]), -3 * one)


def test_no_piece_of_a_block_is_lost_from_its_union() -> None:
    """Bear's paw in a hundred directions and sizes covers its pieces' area, to rounding."""
    rng = np.random.default_rng(0)
    pieces = trade_block("bear's paw").pieces
    area = sum(abs(geometry.signed_area(piece)) for piece in pieces)
    for _ in range(100):
        turn, scale = rng.uniform((0, 0.8), (360, 1.2))
        whole = united(Polygon(scale * geometry.moved(piece, turn, (0, 0))) for piece in pieces)
        assert whole.area == pytest.approx(scale**2 * area, rel=1e-8)
