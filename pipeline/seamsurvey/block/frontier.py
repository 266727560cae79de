"""The part of the block that is still open, kept combinatorially: loops of vertices, open side on the left.

A piece is laid in by matching its corners to vertices and edges of the loop it lies in, to within a snap, and
by cancelling the directed edges that the two have in common; no polygon is ever subtracted in floating point.
Positions are complex mm, block frame; they may move (``spring.py``), the loops don't depend on them.
"""

import cmath
from collections.abc import Sequence
from dataclasses import dataclass, field

from seamsurvey.block.rings import TURN, holds, rings_of
from seamsurvey.block.shapes import area_of, bows_alike

Bows = dict[tuple[int, int], float]
"""Bulges of curved edges, by the vertices from and to which they run."""

# The sides of a rectangle as flags of a vertex, in the order of ``outlines``.
BOTTOM, RIGHT, TOP, LEFT = 1, 2, 4, 8


@dataclass
class Frontier:
    """Vertices (``at``: complex mm; ``sides``: flags of the block's sides they lie on) and the open loops.

    ``bows`` has the bulge of each edge of a loop that a curved piece lies behind.
    """

    at: list[complex]
    sides: list[int]
    loops: list[list[int]]
    bows: Bows = field(default_factory=dict)

    def copy(self) -> "Frontier":
        """An independent copy."""
        return Frontier(self.at[:], self.sides[:], [loop[:] for loop in self.loops], dict(self.bows))

    def bow(self, loop: list[int], k: int) -> float:
        """The bulge of the loop's edge from vertex k to k + 1."""
        return self.bows.get((loop[k], loop[(k + 1) % len(loop)]), 0.0) if self.bows else 0.0

    def gap(self, loop: list[int], k: int) -> float:
        """The open angle at vertex k of a loop, radians, 0..2π."""
        here = self.at[loop[k]]
        onward = self.at[loop[(k + 1) % len(loop)]] - here
        return cmath.phase((self.at[loop[k - 1]] - here) / onward) % TURN

    def length(self, loop: list[int], k: int) -> float:
        """Length of the loop's edge from vertex k to k + 1, mm."""
        return abs(self.at[loop[(k + 1) % len(loop)]] - self.at[loop[k]])


@dataclass
class Laid:
    """A piece laid in: the vertex of each of its corners, and the new T-meetings (vertex, on the line from, to)."""

    corners: list[int]
    meetings: list[tuple[int, int, int]] = field(default_factory=list)


def lay(
    frontier: Frontier, corners: list[complex], snap: float, least_area: float, bulges: Sequence[float] = ()
) -> Laid | None:
    """Lay a piece (corners counter-clockwise) into the open part; None when it doesn't fit.

    Changes ``frontier``, also when it fails: hand in a copy. ``least_area`` is the smallest opening that any piece
    could still fill; a smaller one left behind means that it doesn't fit. ``bulges`` are of the piece's edges,
    empty when all are straight: an arc lies only along a whole arc that bows alike.
    """
    which = _loop_around(frontier, corners, snap)
    if which is None:
        return None
    loop = frontier.loops[which]
    laid = _match_corners(frontier, loop, corners, snap)
    if laid is None:
        return None
    chain = _match_vertices(frontier, loop, laid, snap)
    if chain is None or not _lies_inside(frontier, loop, chain):
        return None
    ends = zip(laid.corners, [*laid.corners[1:], laid.corners[0]], bulges or [0.0] * len(corners), strict=True)
    own = {(a, b): bulge for a, b, bulge in ends if bulge}
    if (frontier.bows or own) and not _bow(frontier, loop, chain, own, snap):
        return None
    opened = _cancel(frontier, loop, chain)
    if opened is None or any(area_of([frontier.at[v] for v in part]) < least_area for part in opened):
        return None
    frontier.loops[which : which + 1] = opened
    return laid


def _loop_around(frontier: Frontier, corners: list[complex], snap: float) -> int | None:
    """The loop that holds a point just inside the piece."""
    if len(frontier.loops) == 1:
        return 0
    point = inner_point(corners, snap)
    for k, loop in enumerate(frontier.loops):
        if holds([frontier.at[v] for v in loop], point):
            return k
    return None


def inner_point(corners: list[complex], snap: float) -> complex:
    """A point well inside: near the middle of the longest edge, a few snaps to its left."""
    n = len(corners)
    k = max(range(n), key=lambda i: abs(corners[(i + 1) % n] - corners[i]))
    along = corners[(k + 1) % n] - corners[k]
    return (corners[k] + corners[(k + 1) % n]) / 2 + 1j * along / abs(along) * 3 * snap


def _match_corners(frontier: Frontier, loop: list[int], corners: list[complex], snap: float) -> Laid | None:
    """Give each corner a vertex: one that is there, one new on a loop's edge, or one new in the open."""
    at, sides = frontier.at, frontier.sides
    laid = Laid([])
    free: list[int] = []
    for corner in corners:
        best, close = -1, snap
        for v in loop:
            distance = abs(at[v] - corner)
            if distance < close:
                best, close = v, distance
        if best in laid.corners and best >= 0:
            return None
        laid.corners.append(best)
        if best < 0:
            free.append(len(laid.corners) - 1)
    for k in free:
        corner = corners[k]
        v = len(at)
        for i in range(len(loop)):
            a, b = loop[i - 1], loop[i]
            along = at[b] - at[a]
            length = abs(along)
            local = (corner - at[a]) * along.conjugate() / length
            if 0 < local.real < length and abs(local.imag) < snap:
                if (a, b) in frontier.bows:
                    return None
                at.append(at[a] + along * (local.real / length))
                shared = sides[a] & sides[b]
                sides.append(shared)
                loop.insert(i, v)
                if not shared:
                    laid.meetings.append((v, a, b))
                break
        else:
            if not holds([at[u] for u in loop], corner):
                return None
            at.append(corner)
            sides.append(0)
        laid.corners[k] = v
    return laid


def _match_vertices(frontier: Frontier, loop: list[int], laid: Laid, snap: float) -> list[int] | None:
    """The piece's outline as vertices, with the loop's vertices that lie on its edges put in."""
    at = frontier.at
    corners = laid.corners
    taken = set(corners)
    chain: list[int] = []
    for k, a in enumerate(corners):
        b = corners[(k + 1) % len(corners)]
        along = at[b] - at[a]
        length = abs(along)
        if length <= snap:
            return None
        on_edge = []
        for v in loop:
            if v in taken:
                continue
            local = (at[v] - at[a]) * along.conjugate() / length
            if 0 < local.real < length and abs(local.imag) < snap:
                on_edge.append((local.real, v))
        on_edge.sort()
        chain.append(a)
        for _, v in on_edge:
            if v not in chain:
                chain.append(v)
                laid.meetings.append((v, a, b))
    return chain


def _lies_inside(frontier: Frontier, loop: list[int], chain: list[int]) -> bool:
    """No edge of the piece crosses the loop, none leaves the open part, no vertex of the loop lies within."""
    at = frontier.at
    shape = [at[v] for v in loop]
    edges = {(loop[i - 1], loop[i]) for i in range(len(loop))}
    on_chain = set(chain)
    for i in range(len(chain)):
        a, b = chain[i - 1], chain[i]
        if (a, b) in edges:
            continue
        if (b, a) in edges:
            return False
        p, q = at[a], at[b]
        if not holds(shape, (p + q) / 2):
            return False
        for c, d in edges:
            if c not in (a, b) and d not in (a, b) and _cross(p, q, at[c], at[d]):
                return False
    outline = [at[v] for v in chain]
    return not any(v not in on_chain and holds(outline, at[v]) for v in loop)


def _bow(frontier: Frontier, loop: list[int], chain: list[int], own: Bows, snap: float) -> bool:
    """Whether arcs meet arcs that bow alike, end to end; notes which edges of the opening are curved now.

    ``own`` has the bulges of the piece's curved edges.
    """
    at, bows = frontier.at, frontier.bows
    open_edges = {(loop[i - 1], loop[i]) for i in range(len(loop))}
    edges = {(chain[i - 1], chain[i]) for i in range(len(chain))}
    # A vertex of the opening that came to lie on an arc has broken it.
    if any(edge not in edges for edge in own):
        return False
    for a, b in edges & open_edges:
        if not bows_alike(abs(at[b] - at[a]), own.get((a, b), 0.0), bows.pop((a, b), 0.0), snap):
            return False
    for (a, b), bulge in own.items():
        if (a, b) not in open_edges:
            bows[b, a] = -bulge
    return True


def _cancel(frontier: Frontier, loop: list[int], chain: list[int]) -> list[list[int]] | None:
    """Take the piece's edges off the loop's; what stays open as simple loops."""
    edges = {(loop[i - 1], loop[i]) for i in range(len(loop))}
    for i in range(len(chain)):
        edge = (chain[i - 1], chain[i])
        if edge in edges:
            edges.remove(edge)
        else:
            edges.add((edge[1], edge[0]))
    return rings_of(frontier.at, edges)


def _cross(p: complex, q: complex, c: complex, d: complex) -> bool:
    """Whether two segments cross at a point inside both."""
    along, other = q - p, d - c
    s1 = along.real * (c.imag - p.imag) - along.imag * (c.real - p.real)
    s2 = along.real * (d.imag - p.imag) - along.imag * (d.real - p.real)
    if (s1 > 0) == (s2 > 0):
        return False
    s3 = other.real * (p.imag - c.imag) - other.imag * (p.real - c.real)
    s4 = other.real * (q.imag - c.imag) - other.imag * (q.real - c.real)
    return (s3 > 0) != (s4 > 0)
