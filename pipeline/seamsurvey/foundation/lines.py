"""The lines along which a block may be cut: all through two of its corners or T-meetings, seams among them."""

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.foundation.arrangement import Arrangement, members
from seamsurvey.foundation.corners import SNAP_MM
from seamsurvey.geometry import Points

# Corners this near a line lie on it; as in the arrangement, points that are each a snap off carry it far.
ON_LINE_MM = 4 * SNAP_MM
# A fragment narrower, or with a sharper corner, is no patch to sew: its allowances would cover it.
SLIVER_MM = 6.35
SLIVER_DEG = 20.0


@frozen(eq=False)
class Lines:
    """All lines one may cut along. ``normals`` is (l, 2), ``offsets`` (l,): a point p is left where n·p > offset.

    On a line without a seam nothing is cut beyond its outermost corners; ``reach`` is (l, 2), along the line.
    """

    normals: Points
    offsets: NDArray[np.float64]
    reach: Points

    def beside(self, points: Points) -> NDArray[np.float64]:
        """(l, n): how far left of each line each point lies, mm."""
        return np.asarray(self.normals @ points.T - self.offsets[:, None])

    def aside(self, line: int, points: Points) -> NDArray[np.float64]:
        """(n,): how far left of one line each point lies, mm."""
        return np.asarray(points @ self.normals[line] - self.offsets[line])

    def along(self, line: int, points: Points) -> NDArray[np.float64]:
        """(n,): how far along one line each point lies, mm."""
        x, y = self.normals[line]
        return np.asarray(points @ np.array([y, -x]))


def lines_of(net: Arrangement, crowded: Sequence[int] = ()) -> Lines:
    """All lines through two points of the net, each once, fixed by its two outermost points.

    At a ``crowded`` point none of those leaves corners that can be sewn: there lines parallel to the block's outer
    edges, and lines to the middles of edges, are added.
    """
    points = net.points
    seamed = np.zeros((len(points), len(points)), dtype=bool)
    for a, b in net.edges:
        seamed[a, b] = seamed[b, a] = True
    found: dict[bytes, tuple[Points, float, float, float]] = {}
    for a, b in combinations(range(len(points)), 2):
        on = _on(points, points[a], points[b])
        if on.tobytes() in found:
            continue
        own = points[on]
        x, y = _normal(points[a], points[b])
        ahead = own @ np.array([y, -x])
        first, last = own[np.argmin(ahead)], own[np.argmax(ahead)]
        normal = _normal(first, last)
        direction = np.array([normal[1], -normal[0]])
        has_seam = bool(seamed[np.ix_(on, on)].any())
        low, high = (-np.inf, np.inf) if has_seam else (float(first @ direction), float(last @ direction))
        found.setdefault(on.tobytes(), (normal, float(normal @ first), low, high))
    values = list(found.values())
    for point in crowded:
        for normal in _more_normals(net, point):
            offset = float(normal @ points[point])
            if not any(
                abs(normal @ n) > 1 - 1e-9 and abs(abs(o) - abs(offset)) <= ON_LINE_MM for n, o, _, _ in values
            ):
                values.append((normal, offset, -np.inf, np.inf))
    return Lines(
        normals=np.array([v[0] for v in values]),
        offsets=np.array([v[1] for v in values]),
        reach=np.array([v[2:] for v in values]),
    )


def _more_normals(net: Arrangement, point: int) -> Iterator[Points]:
    here = net.points[point]
    for start, end in net.owner:
        if (end, start) not in net.owner:
            yield _normal(net.points[start], net.points[end])
    for piece in members(net.around[point]):
        outline = net.outlines[piece]
        for middle in (outline + np.roll(outline, -1, axis=0)) / 2:
            if np.hypot(*(middle - here)) > SNAP_MM:
                yield _normal(here, middle)


def is_crowded(net: Arrangement, lines: Lines, point: int, protected: frozenset[int]) -> bool:
    """Whether every line through a point cuts a protected piece there, or leaves a corner too sharp to sew."""
    here = net.points[point]
    corners = []
    for piece in members(net.around[point]):
        outline = net.outlines[piece]
        k = int(np.argmin(np.hypot(*(outline - here).T)))
        if np.hypot(*(outline[k] - here)) <= SNAP_MM:
            corners.append((piece, outline[(k + 1) % len(outline)] - here, outline[k - 1] - here))
    for line in np.flatnonzero(np.abs(lines.beside(here[None])[:, 0]) <= ON_LINE_MM):
        x, y = lines.normals[line]
        if all(
            _leaves_room(ahead, first, last, barred=piece in protected)
            for piece, first, last in corners
            for ahead in (np.array([y, -x]), np.array([-y, x]))
        ):
            return False
    return True


def _leaves_room(ahead: Points, first: Points, last: Points, *, barred: bool) -> bool:
    """Whether a ray from a corner keeps out of it, runs along its edge, or parts it into two wide enough."""
    width = _turn(first, last)
    at = _turn(first, ahead)
    near = np.degrees(ON_LINE_MM / min(np.hypot(*first), np.hypot(*last)))
    if at <= near or at >= width - near:
        return True
    return not barred and min(at, width - at) >= SLIVER_DEG - 1e-6


def _turn(start: Points, end: Points) -> float:
    """Degrees, 0..360, counter-clockwise from one direction to another."""
    turn = np.arctan2(end[1], end[0]) - np.arctan2(start[1], start[0])
    return float(np.degrees(turn) % 360)


def _normal(a: Points, b: Points) -> Points:
    along = (b - a) / np.hypot(*(b - a))
    normal = np.array([-along[1], along[0]])
    return -normal if (normal[0], normal[1]) < (0, 0) else normal


def _on(points: Points, a: Points, b: Points) -> NDArray[np.bool_]:
    normal = _normal(a, b)
    return np.asarray(np.abs(points @ normal - normal @ a) <= ON_LINE_MM)
