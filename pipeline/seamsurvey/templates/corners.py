"""An outline's corners: where lines make them, which of them are only wear, and what the outline explains."""

from collections.abc import Sequence

import numpy as np
import shapely
from attrs import field, frozen
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.arcs import SAGITTA_MM, drawn_out
from seamsurvey.geometry import (
    Points,
    centroid,
    edge_lengths,
    edge_vectors,
    interior_angles,
    intersect_lines,
    neighbours_meet,
)
from seamsurvey.templates.chords import OFF_MM
from seamsurvey.templates.runs import MIN_EDGE_MM

Floats = NDArray[np.float64]

NOT_STRAIGHT = "its outline is not made of straight edges"
MOST_EDGES = 24  # no template of the trade has more
CLEAR_TURN_DEG = 12.0  # no wobble turns an edge by this: 0.2 mm over 8 mm is 1.4 degrees on the average
WORN_EDGE_MM = 4.0  # an edge shorter than this that can't be followed is a worn tip
SPARE_RUNS = 6  # cut finer at first than any outline has edges, then put together what wobble explains
UNSEEN_EDGE_MM = 8.0  # an edge shorter than this that nothing is seen of is none: a shadow or print hides a corner


@frozen(kw_only=True)
class Outline:
    """An outline through points: corner k is where edge k - 1 meets edge k.

    ``corners`` is (n, 2) plane mm, counter-clockwise; ``bulges`` of each edge as in ``arcs``, empty when all are
    straight.
    """

    corners: Floats = field(eq=False, repr=False)
    bulges: tuple[float, ...] = ()

    def drawn(self, sagitta_mm: float = SAGITTA_MM) -> Floats:
        """(m, 2) plane mm: the corners, arcs as chords no further from them than this."""
        return drawn_out(self.corners, self.bulges, sagitta_mm)


class NoOutlineError(Exception):
    """What lies there has no outline that can be measured; the message says why, to go behind a colon."""


class TwoCardsError(NoOutlineError):
    """What has one outline may be two cards."""


class EdgeUnclearError(NoOutlineError):
    """An edge can't be followed."""

    def __init__(self) -> None:
        super().__init__("an edge can't be told from the ground or from its shadow")


class FreeCurveError(NoOutlineError):
    """An edge is curved, but along no arc."""

    def __init__(self) -> None:
        super().__init__("its edge is curved, but not along arcs of circles")


def corners_where_meet(lines: Sequence[tuple[Floats, Floats]], points: Points) -> Floats | None:
    """(n, 2) where lines, each a point and a direction, meet their neighbours; None where that is no outline."""
    if len(lines) < 3:
        return None
    try:
        corners = neighbours_meet(np.array([point for point, _ in lines]), np.array([along for _, along in lines]))
    except ValueError:
        return None
    reach = np.ptp(points, axis=0).max()
    if np.any(np.abs(corners - centroid(points)) > 2 * reach) or not is_sound(corners):
        return None
    return corners


def simplified(corners: Points, *, worn_mm: float = WORN_EDGE_MM) -> Floats | None:
    """The outline (n, 2) with one corner less; None when all are clear.

    It is the shallowest corner, if wobble may have made it, else the shortest edge, if wear may have: where that is
    no longer than ``worn_mm``.
    """
    if len(corners) < 4:
        return None
    turns = np.abs(180 - interior_angles(corners))
    if turns.min() < CLEAR_TURN_DEG:
        return np.asarray(np.delete(corners, int(np.argmin(turns)), axis=0))
    lengths = edge_lengths(corners)
    k = int(np.argmin(lengths))
    if lengths[k] > worn_mm:
        return None
    ways = edge_vectors(corners)
    after = (k + 1) % len(corners)
    try:
        tip = intersect_lines(corners[k], ways[k - 1], corners[after], ways[after])
    except ValueError:
        return None
    shorter = corners.copy()
    shorter[k] = tip
    return np.asarray(np.delete(shorter, after, axis=0))


def unexplained(
    outline: Outline, points: Points, *, off_mm: float = OFF_MM, least_edge_mm: float = MIN_EDGE_MM
) -> float:
    """How many of the points (n, 2) lie off an outline, and for each edge as many as the shortest edge has."""
    off = np.asarray(shapely.distance(shapely.LinearRing(outline.drawn()), shapely.points(points)))
    spacing = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    return float(np.minimum((off / off_mm) ** 2, 1.0).sum()) + len(outline.corners) * least_edge_mm / spacing


def is_sound(corners: Points) -> bool:
    """Whether the corners make a simple polygon, the right way round."""
    shape = Polygon(corners)
    return bool(np.all(np.isfinite(corners)) and shape.is_valid and shape.exterior.is_ccw)
