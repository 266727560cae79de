"""The outline of a printed card, whose edge has bites where a blot of the print ends at it.

What is seen of such an edge, and the points measured on it, lie here and there on the blot's border instead. As few
straight edges as possible, along most of it, are the card's.
"""

import math
from collections.abc import Callable, Sequence
from functools import cache, partial
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
    unexplained,
)
from seamsurvey.templates.runs import line_through

Line = tuple[Points, Points]  # a point on it, and its direction
LineOf = Callable[[int, int], Line | None]  # along the points from one number to another
_Cut = tuple[int, set[int], set[int]]  # where along the outline, which ends go, and what comes for them

_BITE_MM, _BITE_WIDE_MM = 1.0, 10.0  # two or three of the eye's pixels; as wide as a blot's end at an edge
_LEAST_BESIDE = 8  # points
_APART = 4  # edges: what is done to one then changes no corner of the other
_TRIED = 12  # points: some two of them lie on the line that most lie along


def bitten(outline: Outline, points: Points) -> float:
    """The same of points with bites in them, whose sides are as long as a template's shortest edges."""
    return unexplained(outline, points, off_mm=_BITE_MM, least_edge_mm=_BITE_WIDE_MM)


def coarse_outline(points: Points) -> Outline | None:
    """The straight-edged outline that leaves the least unexplained of points (n, 2) plane mm, with bites in them.

    None where there is none. It begins with the corners of Douglas and Peucker (1973), and loses a corner or an
    edge at a time, whichever costs least, down to a triangle: a bite's sides go one after the other, and only
    without all of them is the outline the better. Each edge is the line that most of what lies along it lies on.
    """
    for within in (OFF_MM, 1.5 * OFF_MM, 2 * OFF_MM):
        kept = cv2.approxPolyDP(points.astype(np.float32)[:, None], within, True)[:, 0]
        if len(kept) <= MOST_EDGES + SPARE_RUNS:
            break
    ends = sorted({int(np.argmin(np.hypot(*(points - corner).T))) for corner in kept})
    line_of = cache(partial(_line_along, points))  # most edges of an outline are those of the one before
    outlines = [_along_most(points, ends, line_of)]
    while len(ends) > 3:
        outline, ends = _with_less(points, ends, line_of)
        outlines.append(outline)
    sound = [outline for outline in outlines if outline is not None and len(outline.corners) <= MOST_EDGES]
    return min(sound, key=lambda outline: bitten(outline, points), default=None)


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
        lines.append(_main_line(points[mine], along) if mine.sum() >= _LEAST_BESIDE else (start, along))
    moved = corners_where_meet(lines, points)
    return outline if moved is None else Outline(corners=moved)


def _with_less(points: Points, ends: list[int], line_of: LineOf) -> tuple[Outline | None, list[int]]:
    """The outline without the corner or the edge that costs least, and where its edges end, as numbers of points.

    While it has more edges than any template, all go at once that it is the better without, where they lie apart.
    """
    count = len(ends)
    cuts: list[_Cut] = [(k, {ends[k]}, set()) for k in range(count)]
    cuts += [(k, {ends[k - 1], ends[k]}, {(ends[k - 1] + ends[k]) // 2}) for k in range(1, count)]

    def without(*some: _Cut) -> list[int]:
        gone = {end for _, ends_cut, _ in some for end in ends_cut}
        new = {end for _, _, ends_new in some for end in ends_new}
        return sorted((set(ends) - gone) | new)

    def cost(kept: list[int]) -> float:
        outline = _along_most(points, kept, line_of)
        return math.inf if outline is None else bitten(outline, points)

    costs = [cost(without(cut)) for cut in cuts]
    first, *others = (cuts[k] for k in np.argsort(costs, kind="stable"))
    taken = [first]
    if count > MOST_EDGES:
        now = cost(ends)
        better = [cut for cut in others if costs[cuts.index(cut)] < now]
        for cut in better[: count - MOST_EDGES - 1]:
            if all(_APART <= abs(cut[0] - other[0]) <= count - _APART for other in taken):
                taken.append(cut)
    kept = without(*taken)
    return _along_most(points, kept, line_of), kept


def _along_most(points: Points, ends: Sequence[int], line_of: LineOf) -> Outline | None:
    """The outline whose edges lie along most of the points from end to end; None where that is none."""
    lines = []
    for start, end in pairwise([*ends, ends[0] + len(points)]):
        line = line_of(start, end)
        if line is None:
            return None
        lines.append(line)
    corners = corners_where_meet(lines, points)
    return None if corners is None else Outline(corners=corners)


def _line_along(points: Points, start: int, end: int) -> Line | None:
    """The line that most points lie along from one number to another, but for a tenth at both ends."""
    trim = (end - start) // 10
    run = points[np.arange(start + trim, end - trim + 1) % len(points)]
    return _main_line(run, run[-1] - run[0]) if len(run) >= 3 else None


def _main_line(points: Points, way: Points) -> Line:
    """A point on the line that most points (n, 2) lie along, and its direction, pointing ``way`` (2,)."""
    some = points[np.unique(np.linspace(0, len(points) - 1, _TRIED).astype(int))]
    first, second = np.triu_indices(len(some), 1)
    along = some[second] - some[first]
    along = along / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    off = np.abs((points - some[first][:, None]) @ np.stack([along[:, 1], -along[:, 0]], 1)[..., None])[..., 0]
    best = int(np.argmax((off < OFF_MM / 2).sum(axis=1)))
    near = points[off[best] < OFF_MM / 2]
    point, along = line_through(near)
    return point, along * math.copysign(1.0, float(along @ way))
