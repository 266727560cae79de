"""Lines and circles: where they meet, and outlines moved sideways."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon

from seamsurvey import geometry
from seamsurvey.arcs import bulge_of, drawn_out, sweep_of
from seamsurvey.curves import Curve, curves_of, meet, offset_outline

QUARTER = bulge_of(90)
PIE = np.array([[0.0, 0], [60, 0], [0, 60]])
BITE = np.array([[30.0, 0], [80, 0], [80, 80], [0, 80], [0, 30]])


@given(st.floats(-6, 10), st.floats(10, 150), st.booleans())
def test_offset_against_shapely(distance: float, sweep: float, hollow: bool) -> None:
    """A bowed square moved sideways covers what shapely's mitred buffer of its fine chords covers."""
    corners = np.array([[0.0, 0], [80, 0], [80, 80], [0, 80]])
    bulges = (0.0, bulge_of(-sweep / 2 if hollow else sweep), 0.0, 0.0)
    ends, offset_bulges = offset_outline(corners, bulges, distance)
    moved = Polygon(drawn_out(ends, offset_bulges, sagitta=0.001))
    fine = Polygon(drawn_out(corners, bulges, sagitta=0.001))
    expected = fine.buffer(distance, join_style="mitre", mitre_limit=50)
    difference = moved.symmetric_difference(expected)
    # A mitre is straight where the true offset goes on along the arc: at its ends they differ, and only there.
    # (Where those corners lie, test_arcs_stay_concentric says.)
    at_ends = [Point(corners[k]).buffer(1.5 * np.hypot(*(ends[k] - corners[k])) + 0.1) for k in (1, 2)]
    assert difference.difference(at_ends[0].union(at_ends[1])).area < 1e-4 * expected.area


@given(st.floats(-10, 20))
def test_straight_outline_as_before(distance: float) -> None:
    """Without arcs the offset is geometry's, to the last bit."""
    corners, bulges = offset_outline(BITE[1:4], (), distance / 4)
    np.testing.assert_array_equal(corners, geometry.offset_polygon(BITE[1:4], distance / 4))
    assert bulges == ()


def test_arcs_stay_concentric() -> None:
    """An allowance off a quarter disc takes it off the radius, and its corners are where circle and lines meet."""
    corners, bulges = offset_outline(PIE, (0.0, QUARTER, 0.0), -6.0)
    reach = np.sqrt(54**2 - 6**2)
    np.testing.assert_allclose(corners, [[6, 6], [reach, 6], [6, reach]], atol=1e-9)
    assert sweep_of(bulges[1]) == pytest.approx(90 - 2 * np.degrees(np.arcsin(6 / 54)))
    hollow, _ = offset_outline(BITE, (0.0, 0.0, 0.0, 0.0, -QUARTER), -6.0)
    np.testing.assert_allclose(hollow[0], [np.sqrt(36**2 - 36), 6], atol=1e-9)


def test_there_and_back() -> None:
    """Moved out and back in, an outline with arcs is what it was."""
    bulges = (0.0, 0.0, 0.0, 0.0, -QUARTER)
    corners, after = offset_outline(*offset_outline(BITE, bulges, 5.0), -5.0)
    np.testing.assert_allclose(corners, BITE, atol=1e-9)
    np.testing.assert_allclose(after, bulges, atol=1e-12)


def test_no_room_is_said() -> None:
    """A hollow that would close, and an arc that would vanish, are errors."""
    with pytest.raises(ValueError, match="room"):
        offset_outline(PIE, (0.0, QUARTER, 0.0), -61.0)
    with pytest.raises(ValueError, match="room"):
        offset_outline(BITE, (0.0, 0.0, 0.0, 0.0, -QUARTER), 31.0)


def test_smooth_joint_is_placed() -> None:
    """A line that runs into an arc meets it where they touch, also when they miss or overlap by a little."""
    line = Curve(np.array([0.0, 0.0]), np.array([1.0, 0.0]))
    for off in (-0.05, 0.0, 0.05):
        arc = Curve(np.array([40.0, off]), np.array([1.0, 0.0]), 1 / 25)
        np.testing.assert_allclose(meet(line, arc, np.array([41.0, 0.0])), [40, off / 2], atol=1e-6)
    with pytest.raises(ValueError, match="do not meet"):
        meet(line, Curve(np.array([40.0, 5.0]), np.array([1.0, 0.0]), 1 / 25), np.array([41.0, 0.0]))


def test_curves_pass_through_their_corners() -> None:
    """Every edge's curve holds both its corners, and the arc the middle that lies on its radius."""
    bulges = (0.0, QUARTER, 0.0)
    for k, curve in enumerate(curves_of(PIE, bulges)):
        np.testing.assert_allclose(curve.off(PIE[[k, (k + 1) % 3]]), 0, atol=1e-9)
    np.testing.assert_allclose(curves_of(PIE, bulges)[1].off(60 * np.sqrt([[0.5, 0.5]])), 0, atol=1e-9)
