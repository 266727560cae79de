"""Arcs in the net of seams: broken where other seams end on them, and followed where a seam runs smoothly on."""

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from seamsurvey.arcs import bulge_of, heading, radius_of, sweep_of
from seamsurvey.geometry import Points

Bows = dict[tuple[int, int], float]
"""The bulges of arcs, by the points from and to which they run."""

# A seam that turns by less where one arc ends and the next begins is sewn as one curve: the cards it was measured
# from are off by a degree or two, and a bend on purpose is no smaller than this.
SMOOTH_DEG = 10.0

Run = tuple[tuple[int, ...], tuple[int, ...]]
"""The points of a run of seams, and the edges between them."""


def onto_arcs(
    points: Points, start: int, end: int, bulge: float, snap: float
) -> list[tuple[tuple[int, int], float]]:
    """An arc between two points, broken at every point that lies on it: the stretches with their bulges."""
    a, b = points[start], points[end]
    middle = _middle(a, b, bulge)
    radius = radius_of(float(np.hypot(*(b - a))), bulge)
    from_middle = points - middle
    on_circle = np.abs(np.hypot(*from_middle.T) - radius) <= snap
    sweep = math.radians(sweep_of(bulge))
    turns = np.arctan2(from_middle[:, 1], from_middle[:, 0]) - math.atan2(*(a - middle)[::-1])
    turns = (turns * np.sign(sweep)) % (2 * math.pi)
    near = snap / radius
    between = np.flatnonzero(on_circle & (turns > near) & (turns < abs(sweep) - near))
    stops = [(0.0, start), *sorted((float(turns[k]), int(k)) for k in between), (abs(sweep), end)]
    return [
        ((p, q), bulge_of(math.degrees(math.copysign(after - before, bulge))) if len(stops) > 2 else bulge)
        for (before, p), (after, q) in pairwise(stops)
    ]


def _middle(a: Points, b: Points, bulge: float) -> Points:
    """The middle of the circle: (1 - b²) / (4 b) of the chord to its left."""
    along = b - a
    return np.asarray((a + b) / 2 + (1 - bulge**2) / (4 * bulge) * np.array([-along[1], along[0]]))


def smooth_runs(
    points: Points, edges: Sequence[tuple[int, int]], bows: Bows, straight: Sequence[tuple[int, ...]]
) -> tuple[list[Run], frozenset[frozenset[int]]]:
    """Longest runs with arcs in which every edge runs smoothly into the next, and the pairs that do.

    Runs that are one of the ``straight`` ones, chord after chord on one line, are left out.
    """
    if not bows:
        return [], frozenset()
    onward = dict(_onward(points, edges, bows))
    runs: list[Run] = []
    done: set[int] = set()
    known = {frozenset(run) for run in straight}
    for edge, (start, end) in enumerate(edges):
        if edge in done or not ((edge, start) in onward or (edge, end) in onward):
            continue
        before, after = _follow(edge, start, edges, onward), _follow(edge, end, edges, onward)
        if before and before[-1][0] == edge:  # closed on itself
            before, after = [], after[:-1]
        run = (*(e for e, _ in reversed(before)), edge, *(e for e, _ in after))
        done.update(run)
        if frozenset(run) not in known:
            runs.append(((*(p for _, p in reversed(before)), start, end, *(p for _, p in after)), run))
    return runs, frozenset(frozenset((edge, other)) for (edge, _), other in onward.items())


def _onward(points: Points, edges: Sequence[tuple[int, int]], bows: Bows) -> Iterator[tuple[tuple[int, int], int]]:
    """For an edge and its end the edge that follows most smoothly, one of the two an arc."""
    leaving: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for edge, (a, b) in enumerate(edges):
        for start, end in ((a, b), (b, a)):
            leaving[start].append((edge, heading(points[start], points[end], bows.get((start, end), 0.0))))
    curved = {edge for edge, ends in enumerate(edges) if ends in bows}
    for point, ways in leaving.items():
        pairs = sorted(
            (abs((one_way - other_way) % 360 - 180), one, other)
            for k, (one, one_way) in enumerate(ways)
            for other, other_way in ways[k + 1 :]
            if one in curved or other in curved
        )
        taken: set[int] = set()
        for turn, one, other in pairs:
            if turn <= SMOOTH_DEG and not {one, other} & taken:
                taken |= {one, other}
                yield (one, point), other
                yield (other, point), one


def _follow(
    edge: int, point: int, edges: Sequence[tuple[int, int]], onward: dict[tuple[int, int], int]
) -> list[tuple[int, int]]:
    """The edges beyond a point and the points they lead to."""
    first, found = edge, []
    while (edge, point) in onward:
        edge = onward[edge, point]
        a, b = edges[edge]
        point = b if point == a else a
        found.append((edge, point))
        if edge == first:
            break
    return found
