"""What is still open of a block while it is filled with regular shapes: loops of points, the open side on the left.

A piece is taken off a loop by its edges: corners within a tolerance are one, a corner on an edge parts it, and what
the two have in common cancels. Points where a loop goes straight on are left out of it, so that a piece may lie
along several others. Every edge keeps the direction of the piece it came from, which is exact, whatever its ends
are off by: nothing that is laid along it is turned by errors. Lengths are mm, block frame, points complex; angles
radians; directions unit complex.
"""

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from seamsurvey.block.rings import TURN, rings_of
from seamsurvey.block.shapes import area_of

STRAIGHT = 0.06  # radians: a loop that turns by less goes straight on; no card has so flat a corner


@dataclass(frozen=True)
class Loop:
    """``points``, and the directions (``ways``) of the edges from each to the next."""

    points: tuple[complex, ...]
    ways: tuple[complex, ...]

    @cached_property
    def edges(self) -> tuple[tuple[complex, complex, float, complex], ...]:
        """Of the edge that comes to each point: start, the whole of it, its length, and what turns it level."""
        found = []
        start = self.points[-1]
        for end in self.points:
            along = end - start
            length = abs(along)
            found.append((start, along, length, along.conjugate() / length))
            start = end
        return tuple(found)


def loop_of(points: Sequence[complex]) -> Loop:
    """The loop of an outline."""
    edges = [b - a for a, b in zip(points, (*points[1:], points[0]), strict=True)]
    return Loop(tuple(points), tuple(edge / abs(edge) for edge in edges))


def cut_off(loop: Loop, piece: Loop, near: float, least_area: float) -> list[Loop] | None:
    """The loops that stay open when a piece (counter-clockwise) is laid into a loop; None where it doesn't fit.

    That the piece lies within the loop must be known. ``near`` is the tolerance; what is left must be large enough
    for a piece of ``least_area`` mm², or else be nothing.
    """
    chains = _matched(loop, piece.points, near)
    if chains is None:
        return None
    at, ring, outline, own = chains
    edges: dict[tuple[int, int], complex] = {}
    way = loop.ways[0]
    for v, onward in zip(ring, (*ring[1:], ring[0]), strict=True):
        way = loop.ways[v] if v < len(loop.ways) else way
        edges[v, onward] = way
    shared = 0
    corners = {v: k for k, v in enumerate(own)}
    for v, onward in zip(outline, (*outline[1:], outline[0]), strict=True):
        way = piece.ways[corners[v]] if v in corners else way
        if (v, onward) in edges:
            del edges[v, onward]
            shared += 1
        else:
            edges[onward, v] = -way
    if not shared:
        return None
    loops = rings_of(at, edges)
    if loops is None:
        return None
    opened: list[Loop] = []
    for found in loops:
        ways = [edges[a, b] for a, b in zip(found, (*found[1:], found[0]), strict=True)]
        left = _plain([at[v] for v in found], ways)
        points = left.points
        area = area_of(points) if len(points) > 2 else 0.0
        if area < least_area:
            if abs(area) > near * sum(abs(b - a) for a, b in zip(points, (*points[1:], *points[:1]), strict=True)):
                return None
        else:
            opened.append(left)
    return opened


def _matched(
    whole: Loop, piece: Sequence[complex], near: float
) -> tuple[list[complex], list[int], list[int], list[int]] | None:
    """Places, and the loop and the piece as numbers of places, each with the other's corners that lie on its edges.

    Both begin with their first corner; last come the numbers of the piece's own corners.
    """
    loop = whole.points
    n = len(loop)
    at = list(loop)
    own: list[int] = []
    free: list[int] = []
    for corner in piece:
        away = [abs(point - corner) for point in loop]
        close = min(away)
        if close < near:
            best = away.index(close)
        else:
            best = len(at)
            at.append(corner)
            free.append(best)
        if best in own:
            return None
        own.append(best)
    ring: list[int] = []
    if free:
        parted: dict[int, list[tuple[float, int]]] = {}
        for v in free:
            corner = at[v]
            for i, (start, along, length, level) in enumerate(whole.edges):
                local = (corner - start) * level
                if -near < local.imag < near and 0 < local.real < length:
                    parted.setdefault(i, []).append((local.real, v))
                    at[v] = start + along * (local.real / length)
                    break
        for i in range(n):
            ring.append(i)
            far = (i + 1) % n
            if far in parted:
                ring += [v for _, v in sorted(parted[far])]
    else:
        ring = list(range(n))
    taken = set(own)
    others = [i for i in range(n) if i not in taken]
    outline: list[int] = []
    for k, v in enumerate(own):
        start = at[v]
        along = at[own[(k + 1) % len(own)]] - start
        length = abs(along)
        if length < near:
            return None
        turn = along.conjugate() / length
        on_edge = [
            (local.real, i)
            for i in others
            if -near < (local := (loop[i] - start) * turn).imag < near and 0 < local.real < length
        ]
        on_edge.sort()
        outline.append(v)
        outline += [i for _, i in on_edge]
    return (at, ring, outline, own) if len(set(outline)) == len(outline) else None


def _plain(points: list[complex], ways: list[complex]) -> Loop:
    """The loop without points where it goes straight on, or back on itself."""
    if not any(-STRAIGHT < (a / b).imag < STRAIGHT for a, b in zip((ways[-1], *ways), ways, strict=False)):
        return Loop(tuple(points), tuple(ways))
    k = 0
    idle = 0
    while len(points) > 2 and idle < len(points):
        k %= len(points)
        gap = cmath.phase(-ways[k - 1] / ways[k]) % TURN
        if abs(gap - math.pi) < STRAIGHT or gap < STRAIGHT / 2 or gap > TURN - STRAIGHT / 2:
            if abs(points[k] - points[k - 1]) < abs(points[(k + 1) % len(points)] - points[k]):
                ways[k - 1] = ways[k]
            del points[k], ways[k]
            k -= 1
            idle = 0
        else:
            k += 1
            idle += 1
    return Loop(tuple(points), tuple(ways))
