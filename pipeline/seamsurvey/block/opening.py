"""What is still open of a block while it is filled with regular shapes: loops of points, the open side on the left.

A piece is taken off a loop by its edges: corners within a tolerance are one, a corner on an edge parts it, and
what the two have in common cancels. Points where a loop goes straight on are left out of it, so that a piece may
lie along several others. Lengths are mm, block frame, points complex; angles radians.
"""

import cmath
import math
from collections.abc import Sequence

TURN = 2 * math.pi
STRAIGHT = 0.06  # radians: a loop that turns by less goes straight on; no card has so flat a corner

Loop = tuple[complex, ...]


def cut_off(loop: Loop, piece: Sequence[complex], near: float, least_area: float) -> list[Loop] | None:
    """The loops that stay open when a piece (counter-clockwise) is laid into a loop; None where it doesn't fit.

    That the piece lies within the loop must be known. ``near`` is the tolerance; what is left must be large enough
    for a piece of ``least_area`` mm², or else be nothing.
    """
    chains = _matched(loop, piece, near)
    if chains is None:
        return None
    at, ring, outline = chains
    edges = set(zip(ring, (*ring[1:], ring[0]), strict=True))
    shared = 0
    for edge in zip(outline, (*outline[1:], outline[0]), strict=True):
        if edge in edges:
            edges.remove(edge)
            shared += 1
        else:
            edges.add((edge[1], edge[0]))
    if not shared:
        return None
    loops = _traced(at, edges)
    if loops is None:
        return None
    opened: list[Loop] = []
    for found in loops:
        left = _plain([at[v] for v in found])
        area = area_of(left) if len(left) > 2 else 0.0
        if area < least_area:
            if abs(area) > near * sum(abs(b - a) for a, b in zip(left, (*left[1:], *left[:1]), strict=True)):
                return None
        else:
            opened.append(left)
    return opened


def _matched(
    loop: Loop, piece: Sequence[complex], near: float
) -> tuple[list[complex], list[int], list[int]] | None:
    """Places, and the loop and the piece as numbers of places, each with the other's corners that lie on its edges."""
    n = len(loop)
    at = list(loop)
    own: list[int] = []
    free: list[int] = []
    for corner in piece:
        best, close = -1, near
        for i, point in enumerate(loop):
            away = abs(point - corner)
            if away < close:
                best, close = i, away
        if best < 0:
            best = len(at)
            at.append(corner)
            free.append(best)
        elif best in own:
            return None
        own.append(best)
    ring: list[int] = []
    if free:
        parted: dict[int, list[tuple[float, int]]] = {}
        for v in free:
            corner = at[v]
            for i in range(n):
                start = loop[i - 1]
                along = loop[i] - start
                length = abs(along)
                local = (corner - start) * along.conjugate() / length
                if 0 < local.real < length and -near < local.imag < near:
                    parted.setdefault(i, []).append((local.real, v))
                    at[v] = start + along * (local.real / length)
                    break
        for i in range(n):
            if i in parted:
                ring += [v for _, v in sorted(parted[i])]
            ring.append(i)
    else:
        ring = list(range(n))
    taken = set(own)
    others = [i for i in range(n) if i not in taken]
    outline: list[int] = []
    before = own[-1]
    for v in own:
        start = at[before]
        along = at[v] - start
        length = abs(along)
        if length < near:
            return None
        turn = along.conjugate() / length
        on_edge = []
        for i in others:
            local = (loop[i] - start) * turn
            if 0 < local.real < length and -near < local.imag < near:
                on_edge.append((local.real, i))
        on_edge.sort()
        outline += [i for _, i in on_edge]
        outline.append(v)
        before = v
    return (at, ring, outline) if len(set(outline)) == len(outline) else None


def _traced(at: list[complex], edges: set[tuple[int, int]]) -> list[list[int]] | None:
    """Simple loops of directed edges; where several leave a place, each bounds the opening it is next to."""
    onward: dict[int, list[int]] = {}
    for a, b in sorted(edges):
        onward.setdefault(a, []).append(b)
    loops: list[list[int]] = []
    while onward:
        here = next((v for v, ways in onward.items() if len(ways) == 1), next(iter(onward)))
        part, came = [here], -1
        while True:
            ways = onward.get(here)
            if not ways:
                return None
            if len(ways) == 1 or came < 0:
                choice = ways[0]
            else:
                back = at[came] - at[here]
                choice = min(ways, key=lambda w: cmath.phase(back / (at[w] - at[here])) % TURN or TURN)  # noqa: B023
            ways.remove(choice)
            if not ways:
                del onward[here]
            came, here = here, choice
            if here in part:
                k = part.index(here)
                loops.append(part[k:])
                del part[k + 1 :]
                if k == 0:
                    break
                came = part[k - 1]
            else:
                part.append(here)
    return loops


def _plain(points: list[complex]) -> Loop:
    """The loop without points where it goes straight on, or back on itself."""
    k = 0
    idle = 0
    while len(points) > 2 and idle < len(points):
        k %= len(points)
        here = points[k]
        gap = cmath.phase((points[k - 1] - here) / (points[(k + 1) % len(points)] - here)) % TURN
        if abs(gap - math.pi) < STRAIGHT or gap < STRAIGHT / 2 or gap > TURN - STRAIGHT / 2:
            del points[k]
            k -= 1
            idle = 0
        else:
            k += 1
            idle += 1
    return tuple(points)


def area_of(loop: Sequence[complex]) -> float:
    """mm², positive when counter-clockwise (the surveyor's formula)."""
    total = 0.0
    before = loop[-1]
    for point in loop:
        total += before.real * point.imag - before.imag * point.real
        before = point
    return total / 2


def holds(loop: Sequence[complex], point: complex) -> bool:
    """Whether a loop holds a point, by counting crossings of the ray to the right."""
    inside = False
    y = point.imag
    a = loop[-1]
    for b in loop:
        if (a.imag > y) != (b.imag > y) and point.real < a.real + (y - a.imag) * (b.real - a.real) / (
            b.imag - a.imag
        ):
            inside = not inside
        a = b
    return inside
