"""Pieces cut by straight lines: which lines may be cut along, and what they leave of each piece.

The lines are all those through two corners or T-meetings of the block, seams among them. Cut along one of them from
boundary to boundary, a convex region falls into two; the pieces it runs through become fragments. A fragment is
known by a number, whatever cuts it came from.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
import shapely
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.foundation.arrangement import SNAP_MM, Arrangement, corners_only, members
from seamsurvey.geometry import Points, counter_clockwise, edge_vectors, interior_angles, signed_area

# A fragment narrower, or with a sharper corner, is no patch to sew: its allowances would cover it.
SLIVER_MM = 6.35
SLIVER_DEG = 20.0
# Corners this near a line lie on it; as in the arrangement, lines are carried far by points that are each a snap off.
ON_LINE_MM = 4 * SNAP_MM
LEFT, CUT, RIGHT, BARRED = 1, 0, -1, 2

Region = frozenset[int]


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


def is_sliver(outline: Points) -> bool:
    """Whether a patch is too narrow or too sharp to be sewn well."""
    if float(interior_angles(outline).min()) < SLIVER_DEG - 1e-6:
        return True
    along = edge_vectors(outline)
    normals = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(along[:, 0], along[:, 1])[:, None]
    widths = np.ptp(outline @ normals.T, axis=0)
    return float(widths.min()) < SLIVER_MM - 1e-6


@frozen(eq=False)
class Fragment:
    """A piece or what cuts leave of it. ``sides`` is (l,) int8: LEFT or RIGHT of each line, CUT, or BARRED."""

    piece: int
    outline: Points  # (n, 2) block, counter-clockwise
    sides: NDArray[np.int8]
    turns: NDArray[np.float64]  # (b,): its inner angle at each of the block's meeting points that are watched


@frozen(eq=False)
class Fragments:
    """All fragments met with so far, by number; ``watched`` is (b, 2): points at which angles are kept."""

    lines: Lines
    watched: Points
    protected: frozenset[int] = frozenset()
    watched_sides: NDArray[np.float64] = field(
        init=False
    )  # (l, b): how far left of each line each point lies, or 0
    all: list[Fragment] = field(factory=list, init=False)
    _codes: dict[Region, NDArray[np.int8]] = field(factory=dict, init=False)
    _of_piece: dict[int, list[int]] = field(factory=dict, init=False)
    _numbers: dict[tuple[object, ...], int] = field(factory=dict, init=False)
    _halves: dict[tuple[int, int], tuple[tuple[int, ...], tuple[int, ...]] | None] = field(factory=dict, init=False)

    @watched_sides.default
    def _watched_sides(self) -> NDArray[np.float64]:
        beside = self.lines.beside(self.watched)
        return np.where(np.abs(beside) <= ON_LINE_MM, 0.0, beside)

    def codes(self, region: Region) -> NDArray[np.int8]:
        """(f, l): the side of each line on which each fragment lies, fragments ascending."""
        if region not in self._codes:
            self._codes[region] = np.array([self.all[f].sides for f in sorted(region)])
        return self._codes[region]

    def fall_apart(self, region: Region) -> Iterator[Region]:
        """The parts of a region that lines leave which cut nothing: any such line may be taken first."""
        waiting = [region]
        while waiting:
            part = waiting.pop()
            if len(part) == 1:
                yield part
                continue
            sides = self.codes(part)
            free = ~np.any((sides == CUT) | (sides == BARRED), axis=0)
            free &= np.any(sides == LEFT, axis=0) & np.any(sides == RIGHT, axis=0)
            line = int(np.argmax(free))
            if not free[line]:
                yield part
                continue
            order = sorted(part)
            left = frozenset(f for f, side in zip(order, sides[:, line].tolist(), strict=True) if side == LEFT)
            waiting += [part - left, left]

    def number(self, piece: int, outline: Points) -> int:
        """The number of this part of a piece."""
        key = (piece, *sorted(map(tuple, np.round(outline / (2 * SNAP_MM)).astype(int).tolist())))
        if key not in self._numbers:
            # Met before, but rounded the other way?
            same = (n for n in self._of_piece.get(piece, []) if _same(self.all[n].outline, outline))
            number = next(same, len(self.all))
            if number == len(self.all):
                self.all.append(Fragment(piece, outline, self._sides(piece, outline), self._turns(outline)))
                self._of_piece.setdefault(piece, []).append(number)
            self._numbers[key] = number
        return self._numbers[key]

    def _sides(self, piece: int, outline: Points) -> NDArray[np.int8]:
        beside = self.lines.beside(outline)
        left, right = beside.min(axis=1) >= -ON_LINE_MM, beside.max(axis=1) <= ON_LINE_MM
        sides = np.where(left, LEFT, np.where(right, RIGHT, CUT)).astype(np.int8)
        if piece in self.protected:
            sides[sides == CUT] = BARRED
        return sides

    def _turns(self, outline: Points) -> NDArray[np.float64]:
        turns = np.zeros(len(self.watched))
        for corner, angle in zip(outline, interior_angles(outline), strict=True):
            turns[np.hypot(*(self.watched - corner).T) <= SNAP_MM] += angle
        return turns

    def halves(self, number: int, line: int) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
        """What is left and right of a line that cuts this fragment; None where the cut is not to be made."""
        key = (number, line)
        if key not in self._halves:
            self._halves[key] = self._cut(number, line)
        return self._halves[key]

    def _cut(self, number: int, line: int) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
        fragment = self.all[number]
        beside = self.lines.beside(fragment.outline)[line]
        beside = np.where(np.abs(beside) <= ON_LINE_MM, 0.0, beside)
        parts = (_beyond(fragment.outline, beside), _beyond(fragment.outline, -beside))
        low, high = self.lines.reach[line]
        for part in parts[0]:
            ahead = self.lines.along(line, part[np.abs(self.lines.beside(part)[line]) <= ON_LINE_MM])
            if len(ahead) and (ahead.min() < low - ON_LINE_MM or ahead.max() > high + ON_LINE_MM):
                return None
        if not all(parts) or any(is_sliver(part) for side in parts for part in side):
            return None
        left, right = (tuple(self.number(fragment.piece, part) for part in side) for side in parts)
        return left, right


def _same(one: Points, other: Points) -> bool:
    if len(one) != len(other) or np.abs(one.mean(axis=0) - other.mean(axis=0)).max() > SNAP_MM:
        return False
    gaps = np.hypot(*(one[:, None] - other[None]).transpose(2, 0, 1))
    return bool(gaps.min(axis=1).max() <= 2 * SNAP_MM)


def _beyond(outline: Points, beside: NDArray[np.float64]) -> list[Points]:
    """The parts of a polygon on the side of a line where ``beside`` (n,) is positive."""
    kept: list[Points] = []
    for k in range(len(outline)):
        here, before = beside[k], beside[k - 1]
        if here * before < 0:
            kept.append(outline[k - 1] + before / (before - here) * (outline[k] - outline[k - 1]))
        if here >= 0:
            kept.append(outline[k])
    whole = np.array(kept)
    if len(whole) < 3 or abs(signed_area(whole)) < SNAP_MM:
        return []
    if np.count_nonzero(np.diff(np.sign(beside[beside != 0]))) <= 2 and np.all(interior_angles(outline) < 180):
        return [corners_only(whole)]
    # A piece with an inward corner may fall into several parts, which the walk above leaves hanging by threads.
    clean = (
        shapely.Polygon(whole).buffer(-SNAP_MM / 10, join_style="mitre").buffer(SNAP_MM / 10, join_style="mitre")
    )
    return [
        corners_only(counter_clockwise(_snapped(np.asarray(part.exterior.coords[:-1]), whole)))
        for part in shapely.get_parts(clean)
    ]


def _snapped(corners: Points, onto: Points) -> Points:
    return onto[np.argmin(np.hypot(*(corners[:, None] - onto[None]).transpose(2, 0, 1)), axis=1)]
