"""Rings of points: what directed edges bound, and whether a ring holds a point. Points are complex, mm."""

import cmath
import math
from collections.abc import Collection, Sequence

TURN = 2 * math.pi


def rings_of(at: Sequence[complex], edges: Collection[tuple[int, int]]) -> list[list[int]] | None:
    """Simple rings of directed edges between numbered places; None where the edges close none.

    Where several leave a place, each bounds the opening it is next to: a ring that meets itself there falls apart.
    """
    return _plain_rings(edges) or _forked_rings(at, edges)


def _plain_rings(edges: Collection[tuple[int, int]]) -> list[list[int]] | None:
    """The loops of directed edges where but one leaves every place, as nearly always; None where several do."""
    onward: dict[int, int] = {}
    for a, b in edges:
        if a in onward:
            return None
        onward[a] = b
    loops = []
    while onward:
        first = min(onward)
        part, here = [first], onward.pop(first)
        while here != first:
            part.append(here)
            if here not in onward:
                return None
            here = onward.pop(here)
        loops.append(part)
    return loops


def _forked_rings(at: Sequence[complex], edges: Collection[tuple[int, int]]) -> list[list[int]] | None:
    """The same where several may leave a place."""
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
                choice = min(ways, key=lambda w: cmath.phase(back / (at[w] - at[here])) % TURN or TURN)
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


def holds(ring: Sequence[complex], point: complex) -> bool:
    """Whether a ring holds a point, by counting crossings of the ray to the right."""
    inside = False
    y = point.imag
    a = ring[-1]
    for b in ring:
        if (a.imag > y) != (b.imag > y) and point.real < a.real + (y - a.imag) * (b.real - a.real) / (
            b.imag - a.imag
        ):
            inside = not inside
        a = b
    return inside
