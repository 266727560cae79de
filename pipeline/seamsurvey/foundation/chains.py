"""Where a seam runs straight on, and which pieces lie wholly beside its line."""

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.foundation.corners import SNAP_MM, straight_on
from seamsurvey.geometry import Points


@frozen(eq=False)
class Chain:
    """A longest straight run of seams: edge k lies between points k and k + 1.

    ``left`` and ``right`` are the pieces wholly on one side of its line, prolonged without end.
    """

    points: tuple[int, ...]
    edges: tuple[int, ...]
    left: int
    right: int


def chains_of(points: Points, edges: tuple[tuple[int, int], ...], outlines: Sequence[Points]) -> tuple[Chain, ...]:
    """All chains of a net; ``outlines`` are the pieces' own, with their arcs drawn out."""
    meeting: dict[int, list[int]] = defaultdict(list)
    for edge, ends in enumerate(edges):
        for point in ends:
            meeting[point].append(edge)
    onward: dict[tuple[int, int], int] = {}  # (edge, point) -> the edge that runs straight on there
    for point, here in meeting.items():
        for k, one in enumerate(here):
            for other in here[k + 1 :]:
                if straight_on(points[_far(edges[one], point)], points[point], points[_far(edges[other], point)]):
                    onward[one, point], onward[other, point] = other, one
    corners = np.vstack(outlines)
    starts = np.cumsum([0, *(len(outline) for outline in outlines[:-1])])
    chains, done = [], set[int]()
    for edge, (start, end) in enumerate(edges):
        if edge in done:
            continue
        behind_points, behind = _follow(edge, start, edges, onward)
        ahead_points, ahead = _follow(edge, end, edges, onward)
        run = (*reversed(behind), edge, *ahead)
        done.update(run)
        through = (*reversed(behind_points), start, end, *ahead_points)
        left, right = _sides(points[through[0]], points[through[-1]], corners, starts)
        chains.append(Chain(points=through, edges=run, left=left, right=right))
    return tuple(chains)


def _far(ends: tuple[int, int], point: int) -> int:
    return ends[1] if ends[0] == point else ends[0]


def _follow(
    edge: int, point: int, edges: tuple[tuple[int, int], ...], onward: dict[tuple[int, int], int]
) -> tuple[list[int], list[int]]:
    through, run = [], []
    while (edge, point) in onward:
        edge = onward[edge, point]
        point = _far(edges[edge], point)
        through.append(point)
        run.append(edge)
    return through, run


def _sides(start: Points, end: Points, corners: Points, starts: NDArray[np.intp]) -> tuple[int, int]:
    """The pieces wholly left and wholly right of the line through two points."""
    along = (end - start) / np.hypot(*(end - start))
    aside = (corners[:, 1] - start[1]) * along[0] - (corners[:, 0] - start[0]) * along[1]
    # The line is fixed by points that may each be off by a snap; far along it they carry it off by a little more.
    left = np.minimum.reduceat(aside, starts) >= -4 * SNAP_MM
    right = np.maximum.reduceat(aside, starts) <= 4 * SNAP_MM
    return _as_set(left), _as_set(right)


def _as_set(flags: NDArray[np.bool_]) -> int:
    return sum(1 << k for k, flag in enumerate(flags) if flag)
