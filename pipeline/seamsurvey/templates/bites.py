"""The outline of a printed card, whose edge has bites where a blot of the print ends at it.

What is seen of such an edge, and the points measured on it, lie here and there on the blot's border instead. As few
straight edges as possible, along most of it, are the card's.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np
import shapely

from seamsurvey.geometry import Points
from seamsurvey.templates.chords import CORNER_MM, OFF_MM
from seamsurvey.templates.corners import (
    MOST_EDGES,
    SPARE_RUNS,
    Outline,
    corners_where_meet,
    line_through,
    unexplained,
)

_BITE_MM, _BITE_WIDE_MM = 1.0, 10.0  # two or three of the eye's pixels; as wide as a blot's end at an edge
_LEAST_BESIDE = 8  # points
_LINE_ROUNDS = 3  # of leaving out what lies off


def bitten(outline: Outline, points: Points) -> float:
    """The same of points with bites in them, whose sides are as long as a template's shortest edges."""
    return unexplained(outline, points, off_mm=_BITE_MM, least_edge_mm=_BITE_WIDE_MM)


def coarse_outline(points: Points) -> Outline | None:
    """The straight-edged outline that leaves the least unexplained of points (n, 2) plane mm, with bites in them.

    None where there is none. It begins with the corners of Douglas and Peucker (1973), and loses corners and edges
    as long as that explains more than it costs; each edge is the line that most of what lies along it lies on.
    """
    for within in (OFF_MM, 1.5 * OFF_MM, 2 * OFF_MM):
        kept = cv2.approxPolyDP(points.astype(np.float32)[:, None], within, True)[:, 0]
        if len(kept) <= MOST_EDGES + SPARE_RUNS:
            break
    ends = sorted({int(np.argmin(np.hypot(*(points - corner).T))) for corner in kept})
    best = _along_most(points, ends)
    while len(ends) > 3:
        without_a_corner = [[*ends[:k], *ends[k + 1 :]] for k in range(len(ends))]
        without_an_edge = [
            [*ends[: k - 1], (ends[k - 1] + ends[k]) // 2, *ends[k + 1 :]] for k in range(1, len(ends))
        ]
        tried = [(_along_most(points, each), each) for each in (*without_a_corner, *without_an_edge)]
        scores = [math.inf if outline is None else bitten(outline, points) for outline, _ in tried]
        k = int(np.argmin(scores))
        if scores[k] > (math.inf if best is None else bitten(best, points)):
            break
        best, ends = tried[k]
    return best if best is not None and len(best.corners) <= MOST_EDGES else None


def settled_on(outline: Outline, points: Points) -> Outline:
    """A straight-edged outline with each edge moved to where most of the points (n, 2) plane mm beside it lie.

    An edge that few points lie beside stays where it is.
    """
    corners = outline.corners
    ends = np.roll(corners, -1, axis=0)
    edges = [shapely.LineString(edge) for edge in zip(corners, ends, strict=True)]
    apart = np.array([shapely.distance(edge, shapely.points(points)) for edge in edges])
    lines = []
    for k, (start, end) in enumerate(zip(corners, ends, strict=True)):
        along = (end - start) / np.hypot(*(end - start))
        place, off = (points - start) @ along, (points - start) @ np.array([along[1], -along[0]])
        mine = (apart.argmin(axis=0) == k) & (np.abs(off) < 2 * _BITE_MM)
        mine &= (place > CORNER_MM) & (place < np.hypot(*(end - start)) - CORNER_MM)
        line = (start, along)
        for _ in range(_LINE_ROUNDS if mine.sum() >= _LEAST_BESIDE else 0):
            off = (points - line[0]) @ np.array([line[1][1], -line[1][0]])
            peak = max(off[mine], key=lambda at: int(np.sum(np.abs(off[mine] - at) < OFF_MM / 2)))
            run = points[mine & (np.abs(off - peak) < OFF_MM / 2)]
            line = line_through(run)
            line = (line[0], line[1] * math.copysign(1.0, float(line[1] @ along)))
        lines.append(line)
    moved = corners_where_meet(lines, points)
    return outline if moved is None else Outline(corners=moved)


def _along_most(points: Points, ends: Sequence[int]) -> Outline | None:
    """The outline whose edges lie along most of the points from end to end; None where that is none."""
    lines = []
    for start, end in pairwise([*ends, ends[0] + len(points)]):
        trim = (end - start) // 10
        run = points[np.arange(start + trim, end - trim + 1) % len(points)]
        if len(run) < 3:
            return None
        for _ in range(_LINE_ROUNDS):
            point, along = line_through(run)
            off = np.abs((run - point) @ np.array([along[1], -along[0]]))
            run = run[off <= max(OFF_MM / 2, float(np.median(off)))]
            if len(run) < 3:
                return None
        lines.append(line_through(run))
    corners = corners_where_meet(lines, points)
    return None if corners is None else Outline(corners=corners)
