"""The line through an edge's points: what lies on something else does not pull it."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.plane import COVERAGE
from seamsurvey.templates.edges import EdgePoints
from seamsurvey.templates.fitted import FittedEdge
from seamsurvey.templates.lines import wobble_of
from seamsurvey.templates.robust_edge import robust_edge
from tests.templates import drawing as d

Floats = NDArray[np.float64]

STRETCH_MM = 2.0


@pytest.mark.parametrize("strays", [2, 3])
def test_a_run_of_points_on_something_else_does_not_turn_the_line(strays: int) -> None:
    """Nine stretches of an edge and, far along it, a few on a mat's line: the edge's own line is kept."""
    _, plane = d.scan([d.turned([[0, 0], [44, 0], [0, 44]], 31, (60, 46))])
    rng = np.random.default_rng(4)
    along = np.concatenate([np.arange(9), 22 + np.arange(strays)]) * STRETCH_MM
    off = rng.normal(0, 0.03, len(along))
    off[9:] += 2.5 + 0.25 * np.arange(strays)
    at = np.array([30.0, 40.0]) + np.column_stack([along, off])
    points = EdgePoints(points=plane.to_px(at), u_px=np.full(len(at), 0.2))
    line = robust_edge(points, plane)
    assert abs(math.degrees(math.atan2(line.along[1], line.along[0]))) < 0.3
    assert abs(float(np.interp(38.0, [line.middle[0], line.middle[0] + 1], [line.middle[1]] * 2)) - 40.0) < 0.1
    assert np.all(line.weights[9:] == 0)


def test_wobble_of_a_hand_is_kept() -> None:
    """An edge that wanders by 0.4 mm over its length is wobble, which counts."""
    _, plane = d.scan([d.turned([[0, 0], [44, 0], [0, 44]], 31, (60, 46))])
    along = np.arange(20) * STRETCH_MM
    at = np.array([30.0, 40.0]) + np.column_stack([along, 0.4 * np.sin(2 * np.pi * along / 16)])
    line = robust_edge(EdgePoints(points=plane.to_px(at), u_px=np.full(20, 0.2)), plane)
    assert np.count_nonzero(line.weights) >= 18  # but for worn ends


def test_an_edge_that_wanders_as_no_other_of_its_picture_is_known_no_better() -> None:
    """Points that drift off towards one end count by their own wandering; a clean edge is known as well as before.

    The drift's own half, 0.25 mm, must lie within U at that end; by the wobble of all edges it would not.
    """
    _, plane = d.scan([d.turned([[0, 0], [44, 0], [0, 44]], 31, (60, 46))])
    rng = np.random.default_rng(7)
    along = np.arange(30) * STRETCH_MM

    def edge(off: Floats) -> FittedEdge:
        at = np.array([20.0, 40.0]) + np.column_stack([along, off + rng.normal(0, 0.03, len(along))])
        return robust_edge(EdgePoints(points=plane.to_px(at), u_px=np.full(len(at), 0.2)), plane)

    clean = [edge(np.zeros(30)) for _ in range(11)]
    drifted = edge(0.5 * np.clip((along - 30) / 30, 0, None) ** 2)
    wobble = wobble_of([clean, [drifted]])
    lever = np.array([1.0, 30.0])
    assert COVERAGE * np.sqrt(lever @ drifted.covariance(wobble) @ lever) > 0.25
    for one in clean:
        assert COVERAGE * np.sqrt(lever @ one.covariance(wobble) @ lever) < 0.1
