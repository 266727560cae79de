"""Outlines of printed cards, whose edges have bites."""

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely.geometry.polygon import orient

from seamsurvey.templates.bites import bitten, coarse_outline, settled_on
from seamsurvey.templates.corners import Outline
from tests.templates import drawing as d

Floats = NDArray[np.float64]

SHAPES = {
    "square": d.turned([[0, 0], [50, 0], [50, 50], [0, 50]], 11, (60, 50)),
    "triangle": d.turned([[0, 0], [70, 0], [0, 50]], -20, (60, 50)),
    "kite": d.turned([[0, 0], [40, -18], [75, 0], [40, 30]], 5, (60, 50)),
}


def seen(shape: Floats, bites: int) -> Floats:
    """Points every half millimetre along a shape, in a pixel's unrest, with bites of 3 mm in its first edges."""
    card = shapely.Polygon(shape)
    ends = np.roll(shape, -1, axis=0)
    for k, at in zip(range(bites), (0.4, 0.55, 0.7), strict=False):
        bite = shapely.Point(shape[k] + at * (ends[k] - shape[k])).buffer(3.0)
        left = card.difference(bite)
        assert isinstance(left, shapely.Polygon)
        card = left
    ring = np.array(shapely.segmentize(orient(card).exterior, 0.5).coords)[:-1]
    return np.asarray(ring + np.random.default_rng(1).normal(0, 0.08, ring.shape))


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("bites", [0, 1, 3])
def test_bites_make_no_edges(name: str, bites: int) -> None:
    """A shape bitten on every side has as many corners as it had, each within half a millimetre."""
    outline = coarse_outline(seen(SHAPES[name], bites))
    assert outline is not None
    assert len(outline.corners) == len(SHAPES[name])
    away = np.hypot(*(outline.corners[:, None] - SHAPES[name][None]).T).min(axis=0)
    assert away.max() < 0.5


def test_edges_move_to_where_most_points_lie() -> None:
    """An outline drawn 0.8 mm too large comes back to the points of the edge, though some lie in bites."""
    large = np.asarray(shapely.Polygon(SHAPES["square"]).buffer(0.8, join_style="mitre").exterior.coords)[:-1]
    moved = settled_on(Outline(corners=large[::-1]), seen(SHAPES["square"], 3))
    away = np.hypot(*(moved.corners[:, None] - SHAPES["square"][None]).T).min(axis=0)
    assert away.max() < 0.15


def test_an_edge_more_must_explain_more() -> None:
    """Of two outlines of one bitten shape the one that follows the bite's sides costs more than the plain one."""
    square = SHAPES["square"]
    points = seen(square, 1)
    along = (square[1] - square[0]) / 50
    inward = np.array([-along[1], along[0]])
    sides = [square[0] + along * 17, square[0] + along * 20 + inward * 3, square[0] + along * 23]  # at 0.4 of it
    follows = np.vstack([square[:1], sides, square[1:]])
    assert bitten(Outline(corners=square), points) < bitten(Outline(corners=follows), points)
