"""Curved edges: bulges, lengths and areas against the circle and against shapely."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from seamsurvey.arcs import along_arc, arc_length, area_with_arcs, bulge_of, drawn_out, radius_of, sweep_of

SQUARE = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])


def test_bulge_of_the_quarter_and_the_half_circle() -> None:
    """A half circle has bulge 1, a quarter tan(22.5°) (AutoCAD DXF Reference, LWPOLYLINE group code 42)."""
    assert bulge_of(180) == pytest.approx(1)
    assert bulge_of(90) == pytest.approx(math.sqrt(2) - 1)
    assert sweep_of(bulge_of(-73)) == pytest.approx(-73)


@given(st.floats(-300, 300).filter(lambda sweep: abs(sweep) > 1), st.floats(0, 6.28))
def test_points_of_an_arc_lie_on_its_circle_at_even_steps(sweep: float, turn: float) -> None:
    """Points of an arc made about a known centre come back, in order and evenly spaced."""
    angles = turn + np.radians(sweep) * np.linspace(0, 1, 9)
    circle = np.array([3.0, -2.0]) + 7 * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    found = along_arc(circle[0], circle[-1], bulge_of(sweep), np.linspace(0, 1, 9))
    assert np.allclose(found, circle, atol=1e-9)
    chord = float(np.hypot(*(circle[-1] - circle[0])))
    assert radius_of(chord, bulge_of(sweep)) == pytest.approx(7)
    assert arc_length(chord, bulge_of(sweep)) == pytest.approx(7 * abs(math.radians(sweep)))


def test_areas_agree_with_shapely() -> None:
    """The area of a square with one side bowed out and one in is that of its fine polygon."""
    bulges = (bulge_of(120), 0.0, bulge_of(-40), 0.0)
    fine = Polygon(drawn_out(SQUARE, bulges, sagitta=1e-6))
    assert fine.is_valid
    assert area_with_arcs(SQUARE, bulges) == pytest.approx(fine.area, abs=1e-4)
    assert area_with_arcs(SQUARE, ()) == 100


def test_chords_keep_to_the_sagitta() -> None:
    """No drawn chord is further from its arc than asked, and a straight outline is left as it is."""
    coarse = drawn_out(SQUARE, (1.0, 0.0, 0.0, 0.0), sagitta=0.1)
    fine = LineString(drawn_out(SQUARE, (1.0, 0.0, 0.0, 0.0), sagitta=1e-5))
    middles = (coarse + np.roll(coarse, -1, axis=0)) / 2
    assert max(fine.distance(point) for point in map(Point, middles[:-3])) <= 0.1
    assert drawn_out(SQUARE, ()) is SQUARE
