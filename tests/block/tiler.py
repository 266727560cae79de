"""Every way to fill an outline with given pieces, by plain exhaustion: slow, small, and none of the tool's code.

At the lowest, then leftmost point that is not covered yet the open region has a convex corner. Some piece has a
corner there and an edge along the region's edge that leaves it, so that trying each corner of each piece there
meets every tiling, and none twice. The open region is known by its edges: those of pieces cancel where they run
against one another.

Corners are given exactly (whole numbers or fractions); placed ones are floats, off by 1e-12 or so. `NEAR` tells
equal from unequal: lengths of drawings are no smaller than 1 and differ by far more.
"""

from __future__ import annotations

import cmath
import math
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

Exact = int | Fraction | float
Polygon = Sequence[tuple[Exact, Exact]]  # counter-clockwise, no corner straight
Ring = tuple[complex, ...]
Count = tuple[int, int | None]  # face up and reversed; None: the first is of both together, either face

NEAR = 1e-6


@dataclass(frozen=True)
class Laid:
    """A placed piece: which shape, whether reversed, and its corners, counter-clockwise."""

    kind: int
    over: bool
    corners: Ring


Tiling = tuple[Laid, ...]


def tilings(shapes: Sequence[Polygon], counts: Sequence[Count], outline: Polygon) -> Iterator[Tiling]:
    """Every tiling of the outline, a simple polygon, by so many pieces of each shape; no two shapes are congruent.

    Raises ValueError when the areas don't add up: then there is none, or not all pieces are used.
    """
    faces = [_Face.both(ring_of(shape)) for shape in shapes]
    border = ring_of(outline)
    areas = [area_of(face.ring) for face, _ in faces]
    wanted = sum(area * (up + (over or 0)) for area, (up, over) in zip(areas, counts, strict=True))
    if abs(wanted - area_of(border)) > NEAR:
        raise ValueError(f"the pieces' area is {wanted}, the outline's {area_of(border)}")
    left: list[list[int | None]] = []
    for (face, other), (up, over) in zip(faces, counts, strict=True):
        # A piece that is its own mirror image is never reversed.
        own = any(_same(face.ring, turned) for turned in _laid_on(other.ring, face.ring))
        left.append([up + (over or 0), 0] if own else [up, over])
    yield from _Filling(faces, left, triangles_of(border)).extend([], _edges(border))


def distinct(found: Iterable[Tiling], outline: Polygon) -> list[Tiling]:
    """One tiling of each set that are images of each other under the outline's turns and mirrors.

    Only places count: pieces of one shape are not told apart.
    """
    border = ring_of(outline)
    ways = [(over, turn, shift) for over in (False, True) for turn, shift in _ways(border, border, over=over)]
    numbers = _Numbers()
    seen: set[frozenset[frozenset[tuple[int, int]]]] = set()
    kept = []
    for tiling in found:
        if _places(tiling, False, 1 + 0j, 0j, numbers) in seen:
            continue
        seen |= {_places(tiling, over, turn, shift, numbers) for over, turn, shift in ways}
        kept.append(tiling)
    return kept


def _places(
    tiling: Tiling, over: bool, turn: complex, shift: complex, numbers: _Numbers
) -> frozenset[frozenset[tuple[int, int]]]:
    return frozenset(
        frozenset(
            (numbers.name(z.real), numbers.name(z.imag))
            for z in ((corner.conjugate() if over else corner) * turn + shift for corner in laid.corners)
        )
        for laid in tiling
    )


class _Numbers:
    """Names for numbers: the same for two that are nearer than NEAR."""

    def __init__(self) -> None:
        self._known: list[tuple[float, int]] = []

    def name(self, number: float) -> int:
        k = bisect_left(self._known, (number - NEAR, -1))
        if k == len(self._known) or self._known[k][0] > number + NEAR:
            self._known.insert(k, (number, len(self._known)))
        return self._known[k][1]


@dataclass(frozen=True)
class _Face:
    """A side of a piece: its corners, the angles there, and the triangles it consists of."""

    ring: Ring
    angles: tuple[float, ...]
    triangles: tuple[Ring, ...]

    @classmethod
    def of(cls, ring: Ring) -> _Face:
        return cls(ring, tuple(_angle(ring, k) for k in range(len(ring))), tuple(triangles_of(ring)))

    @classmethod
    def both(cls, ring: Ring) -> tuple[_Face, _Face]:
        return cls.of(ring), cls.of(tuple(z.conjugate() for z in reversed(ring)))


Edge = tuple[complex, complex]


class _Filling:
    """The pieces left and what is covered; one is laid and taken up again at a time."""

    def __init__(self, faces: list[tuple[_Face, _Face]], left: list[list[int | None]], within: list[Ring]) -> None:
        self.faces, self.left, self.within = faces, left, within

    def extend(self, laid: list[tuple[Laid, list[Ring]]], border: list[Edge]) -> Iterator[Tiling]:
        """Every way to cover what the border's edges, run with the open region on their left, still enclose."""
        if not border:
            yield tuple(one for one, _ in laid)
            return
        corner, along, gap = _opening(border)
        tried: list[Ring] = []
        for kind, over, face in self._pieces():
            for k, angle in enumerate(face.angles):
                if angle > gap + NEAR:
                    continue
                turn = along / (onward := face.ring[(k + 1) % len(face.ring)] - face.ring[k]) * abs(onward)
                shift = corner - face.ring[k] * turn
                ring = tuple(z * turn + shift for z in face.ring)
                if any(_same(ring, other) for other in tried):
                    continue
                tried.append(ring)
                parts = [tuple(z * turn + shift for z in part) for part in face.triangles]
                if self._fits(ring, parts, laid):
                    which = self._take(kind, over=over)
                    onward_border = _cancelled([*border, *((b, a) for a, b in _edges(ring))])
                    if not self._hopeless(corner, onward_border):
                        yield from self.extend([*laid, (Laid(kind, over, ring), parts)], onward_border)
                    self._give_back(kind, which)

    def _pieces(self) -> Iterator[tuple[int, bool, _Face]]:
        for kind, (up, over) in enumerate(self.left):
            if up:
                yield kind, False, self.faces[kind][0]
            if over or (over is None and up):
                yield kind, True, self.faces[kind][1]

    def _take(self, kind: int, *, over: bool) -> int:
        which = 1 if over and self.left[kind][1] is not None else 0
        self.left[kind][which] = (self.left[kind][which] or 0) - 1
        return which

    def _give_back(self, kind: int, which: int) -> None:
        self.left[kind][which] = (self.left[kind][which] or 0) + 1

    def _fits(self, ring: Ring, parts: list[Ring], laid: list[tuple[Laid, list[Ring]]]) -> bool:
        if any(_common(part, other) > NEAR for part in parts for _, others in laid for other in others):
            return False
        return sum(_common(part, other) for part in parts for other in self.within) > area_of(ring) - NEAR

    def _hopeless(self, corner: complex, border: list[Edge]) -> bool:
        """Whether what is left of the opening at the corner is too narrow for any piece."""
        if not border:
            return False
        there, _, gap = _opening(border)
        if abs(there - corner) > NEAR:
            return False
        return all(min(face.angles) > gap + NEAR for _, _, face in self._pieces())


def _opening(border: list[Edge]) -> tuple[complex, complex, float]:
    """The lowest, then leftmost corner of the open region, the unit step along its edge there, and its angle."""
    low = min(a.imag for a, _ in border)
    corner = min((a for a, _ in border if a.imag < low + NEAR), key=lambda a: a.real)
    # All edges there point upward or level; of several tips that touch there the rightmost is taken.
    away = min(_heading(b - a) for a, b in border if abs(a - corner) < NEAR)
    back = min(h for a, b in border if abs(b - corner) < NEAR and (h := _heading(a - b)) > away + NEAR)
    return corner, cmath.rect(1.0, away), back - away


def _heading(step: complex) -> float:
    """Radians from 0; a hair below 0 counts as 0 or more."""
    angle = cmath.phase(step)
    return angle if angle > -NEAR else angle + 2 * math.pi


def _edges(ring: Ring) -> list[Edge]:
    return list(pairwise((*ring, ring[0])))


def _cancelled(edges: list[Edge]) -> list[Edge]:
    """What is left of edges where those that run against one another cancel."""
    done: list[Edge] = []
    waiting = list(edges)
    while waiting:
        a, b = waiting.pop()
        unit = (b - a) / abs(b - a)
        for k, (c, d) in enumerate(done):
            p, q = (c - a) / unit, (d - a) / unit
            if max(abs(p.imag), abs(q.imag)) > NEAR or q.real > p.real:
                continue
            low, high = max(0.0, q.real), min(abs(b - a), p.real)
            if high - low < NEAR:
                continue
            del done[k]
            rest = [(a, a + unit * low), (a + unit * high, b), (c, a + unit * high), (a + unit * low, d)]
            waiting += [(s, t) for s, t in rest if abs(t - s) > NEAR]
            break
        else:
            done.append((a, b))
    return done


def _same(one: Ring, other: Ring) -> bool:
    """Whether two rings have the same corners."""
    return len(one) == len(other) and all(any(abs(z - w) < NEAR for w in other) for z in one)


def _ways(source: Ring, target: Ring, *, over: bool) -> Iterator[tuple[complex, complex]]:
    """Each (turn, shift) that lays the source, first mirrored if `over`, on the target."""
    ring = tuple(z.conjugate() for z in reversed(source)) if over else source
    for k in range(len(target)):
        turn = (target[(k + 1) % len(target)] - target[k]) / (ring[1] - ring[0])
        shift = target[k] - ring[0] * turn
        if abs(abs(turn) - 1) < NEAR and _same(tuple(z * turn + shift for z in ring), target):
            yield turn, shift


def _laid_on(source: Ring, target: Ring) -> Iterator[Ring]:
    for turn, shift in _ways(source, target, over=False) if len(source) == len(target) else ():
        yield tuple(z * turn + shift for z in source)


def ring_of(polygon: Polygon) -> Ring:
    """The corners as complex numbers."""
    return tuple(complex(float(x), float(y)) for x, y in polygon)


def area_of(ring: Ring) -> float:
    """Area, positive when counter-clockwise."""
    return sum(_cross(a, b) for a, b in _edges(ring)) / 2


def _cross(a: complex, b: complex) -> float:
    return (a.conjugate() * b).imag


def _angle(ring: Ring, k: int) -> float:
    """The inner angle at a corner, radians, 0 to 2 pi."""
    out, back = ring[(k + 1) % len(ring)] - ring[k], ring[k - 1] - ring[k]
    return cmath.phase(back / out) % (2 * math.pi)


def triangles_of(ring: Ring) -> list[Ring]:
    """The polygon cut into triangles, an ear at a time."""
    rest, triangles = list(ring), []
    while len(rest) > 3:
        for k, tip in enumerate(rest):
            before, after = rest[k - 1], rest[(k + 1) % len(rest)]
            if _cross(tip - before, after - tip) > 0 and not any(
                _holds((before, tip, after), z) for z in rest if z not in (before, tip, after)
            ):
                triangles.append((before, tip, after))
                del rest[k]
                break
        else:
            raise ValueError("not a simple polygon, counter-clockwise")
    return [*triangles, tuple(rest)]


def _holds(triangle: Ring, point: complex) -> bool:
    return all(_cross(b - a, point - a) >= 0 for a, b in _edges(triangle))


def _common(one: Ring, other: Ring) -> float:
    """The area that two triangles share: one cut off along each edge of the other (Sutherland and Hodgman 1974)."""
    if (
        max(z.real for z in one) <= min(z.real for z in other) + NEAR
        or max(z.real for z in other) <= min(z.real for z in one) + NEAR
        or max(z.imag for z in one) <= min(z.imag for z in other) + NEAR
        or max(z.imag for z in other) <= min(z.imag for z in one) + NEAR
    ):
        return 0.0
    rest = list(one)
    for a, b in _edges(other):
        sides = [_cross(b - a, z - a) for z in rest]
        cut: list[complex] = []
        for k, (z, side) in enumerate(zip(rest, sides, strict=True)):
            w, onward = rest[(k + 1) % len(rest)], sides[(k + 1) % len(rest)]
            if side >= 0:
                cut.append(z)
            if side * onward < 0:
                cut.append(z + (w - z) * (side / (side - onward)))
        if len(cut) < 3:
            return 0.0
        rest = cut
    return area_of(tuple(rest))
