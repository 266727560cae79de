"""Squares and rectangles parted at random into three to nine pieces, every corner exact.

Straight cuts from edge to edge, whirls round a rectangle, Y seams, and shapes merged from triangles; sometimes two
halves alike. Units are millimetres, so that a partition is a block that someone could cut.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from scipy.spatial import Delaunay

Point = tuple[Fraction, Fraction]
Shape = tuple[Point, ...]  # counter-clockwise, no corner straight
Rng = np.random.Generator

SHORTEST_EDGE = 12
SHARPEST_DEG, FLATTEST_DEG = 18.0, 166.0
_TRIES = 2000
_SHARES = (Fraction(0), Fraction(1, 4), Fraction(1, 3), Fraction(1, 2), Fraction(2, 3), Fraction(3, 4))


@dataclass(frozen=True)
class Partition:
    """An outline and the pieces that tile it."""

    name: str
    outline: Shape
    pieces: tuple[Shape, ...]

    def templates(self) -> tuple[list[Shape], list[tuple[int, int]]]:
        """The shapes that cut all the pieces, and how many of each face up and reversed."""
        shapes: list[Shape] = []
        counts: list[tuple[int, int]] = []
        for piece in self.pieces:
            up = next((k for k, shape in enumerate(shapes) if congruent(shape, piece)), None)
            over = next((k for k, shape in enumerate(shapes) if congruent(flipped(shape), piece)), None)
            if up is not None:
                counts[up] = (counts[up][0] + 1, counts[up][1])
            elif over is not None:
                counts[over] = (counts[over][0], counts[over][1] + 1)
            else:
                shapes.append(piece)
                counts.append((1, 0))
        return shapes, counts


def partition(seed: int) -> Partition:
    """The partition of a seed."""
    rng = np.random.default_rng([20273, seed])
    name, draw = _KINDS[seed % len(_KINDS)]
    for _ in range(_TRIES):
        width = int(rng.integers(10, 17)) * 12
        height = width if rng.random() < 0.5 else int(rng.integers(8, 17)) * 12
        pieces = draw(width, height, rng)
        if 3 <= len(pieces) <= 9 and all(_is_fair(piece) for piece in pieces):
            across, up = (max(corner[k] for piece in pieces for corner in piece) for k in (0, 1))
            return Partition(f"{name} {seed}", _box(0, 0, int(across), int(up)), tuple(pieces))
    raise RuntimeError(f"no partition of seed {seed}: {name}")


def _point(x: int | Fraction, y: int | Fraction) -> Point:
    return Fraction(x), Fraction(y)


def _box(x: int, y: int, w: int, h: int) -> Shape:
    return _point(x, y), _point(x + w, y), _point(x + w, y + h), _point(x, y + h)


def _cut_up(shapes: Sequence[Shape], pieces: int, rng: Rng) -> list[Shape]:
    """Convex shapes cut by straight lines from edge to edge until there are so many, the largest mostly first."""
    parts = list(shapes)
    for _ in range(40 * pieces):
        if len(parts) >= pieces:
            break
        k = max(range(len(parts)), key=lambda k: float(area(parts[k])) * rng.uniform(0.3, 1))
        halves = _halved(parts[k], rng)
        if all(map(_is_fair, halves)):
            parts[k : k + 1] = halves
    return parts


def _halved(part: Shape, rng: Rng) -> list[Shape]:
    n = len(part)
    i, j = sorted(int(k) for k in rng.choice(n, 2, replace=False))
    start, end = (_along(part[k], part[(k + 1) % n], rng) for k in (i, j))
    return [_tidy((start, *part[i + 1 : j + 1], end)), _tidy((end, *part[j + 1 :], *part[: i + 1], start))]


def _along(a: Point, b: Point, rng: Rng) -> Point:
    share = _SHARES[int(rng.integers(len(_SHARES)))]
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def _straight_cuts(width: int, height: int, rng: Rng) -> list[Shape]:
    return _cut_up([_box(0, 0, width, height)], int(rng.integers(3, 10)), rng)


def _upright_cuts(width: int, height: int, rng: Rng) -> list[Shape]:
    """Rectangles only, cut on a grid of twelve millimetres: equal ones come up."""
    boxes = [(0, 0, width // 12, height // 12)]
    many = int(rng.integers(3, 8))
    for _ in range(200):
        if len(boxes) >= many:
            break
        k = int(rng.integers(len(boxes)))
        x, y, w, h = boxes[k]
        if rng.random() < w / (w + h):
            if w > 1:
                s = int(rng.integers(1, w))
                boxes[k : k + 1] = [(x, y, s, h), (x + s, y, w - s, h)]
        elif h > 1:
            s = int(rng.integers(1, h))
            boxes[k : k + 1] = [(x, y, w, s), (x, y + s, w, h - s)]
    return [_box(12 * x, 12 * y, 12 * w, 12 * h) for x, y, w, h in boxes]


def _whirl(width: int, height: int, rng: Rng) -> list[Shape]:
    """Four rectangles round a fifth: no straight cut; some of the five cut further."""
    x0, x1 = sorted(int(v) for v in rng.choice(np.arange(12, width - 11, 6), 2, replace=False))
    y0, y1 = sorted(int(v) for v in rng.choice(np.arange(12, height - 11, 6), 2, replace=False))
    arms = [_box(0, 0, x1, y0), _box(x1, 0, width - x1, y1), _box(x0, y1, width - x0, height - y1)]
    arms += [_box(0, y0, x0, height - y0), _box(x0, y0, x1 - x0, y1 - y0)]
    return _cut_up(arms, int(rng.integers(5, 10)), rng)


def _even_whirl(width: int, _height: int, rng: Rng) -> list[Shape]:
    """Four equal rectangles whirling round a square, halved alike, half of the time."""
    arm = int(rng.integers(1, width // 12 // 2)) * 12
    turned: list[Shape] = [_box(0, 0, width - arm, arm)]
    halves = _halved(turned[0], rng) if rng.random() < 0.5 else turned
    parts = [_box(arm, arm, width - 2 * arm, width - 2 * arm)]
    for _ in range(4):
        parts += halves
        halves = [tuple((width - y, x) for x, y in part) for part in halves]
    return parts


def _y_seams(width: int, height: int, rng: Rng) -> list[Shape]:
    """Seams from a point inside to points on the border: three or more meet there; some parts cut further."""
    border = _box(0, 0, width, height)
    middle = _point(int(rng.integers(width // 4, 3 * width // 4)), int(rng.integers(height // 4, 3 * height // 4)))
    ring: list[tuple[Point, bool]] = []
    for k in range(4):
        ring.append((border[k], rng.random() < 0.35))
        if rng.random() < 0.6:
            ring.append((_along(border[k], border[(k + 1) % 4], rng), True))
    ends = [k for k, (_, ends_here) in enumerate(ring) if ends_here]
    if len(ends) < 3:
        return []
    parts = []
    for k, start in enumerate(ends):
        onward = ends[(k + 1) % len(ends)]
        run = [
            ring[i % len(ring)][0] for i in range(start, onward + 1 if onward > start else onward + len(ring) + 1)
        ]
        parts.append(_tidy((middle, *run)))
    if any(len(part) < 3 or area(part) <= 0 or not _is_convex(part) for part in parts):
        return []
    return _cut_up(parts, len(parts) + int(rng.integers(0, 4)), rng)


def _merged(width: int, height: int, rng: Rng) -> list[Shape]:
    """Triangles between random points, merged two by two; some pieces are not convex."""
    sides = [(0, 0), (width, 0), (width, height), (0, height)]
    sides += [(int(rng.integers(2, width // 12 - 1)) * 12, y) for y in (0, height) if rng.random() < 0.7]
    sides += [(x, int(rng.integers(2, height // 12 - 1)) * 12) for x in (0, width) if rng.random() < 0.7]
    inside = [
        (int(rng.integers(20, width - 19)), int(rng.integers(20, height - 19))) for _ in range(rng.integers(1, 5))
    ]
    points = list(dict.fromkeys((*sides, *inside)))
    parts = []
    for corners in Delaunay(np.array(points, dtype=float)).simplices:
        shape = tuple(_point(*points[int(k)]) for k in corners)
        parts.append(shape if area(shape) > 0 else shape[::-1])
    if any(area(part) <= 0 for part in parts):
        return []
    for _ in range(100):
        if len(parts) <= 3 or (len(parts) <= 9 and all(map(_is_fair, parts)) and rng.random() < 0.3):
            break
        i, j = (int(k) for k in rng.choice(len(parts), 2, replace=False))
        union = _joined(parts[i], parts[j])
        if union:
            parts = [part for k, part in enumerate(parts) if k not in (i, j)] + [union]
    return [_tidy(part) for part in parts]


def _joined(one: Shape, other: Shape) -> Shape | None:
    """The union of two shapes that share one edge, corner to corner, and nothing else; None if they don't."""
    shared = [p for p in one if p in other]
    if len(shared) != 2:
        return None
    for i, a in enumerate(one):
        b = one[(i + 1) % len(one)]
        if a in shared and b in shared:
            j = other.index(b)
            if other[(j + 1) % len(other)] == a:
                return (
                    *one[i + 1 :],
                    *one[: i + 1],
                    *(other[(j + 2 + k) % len(other)] for k in range(len(other) - 2)),
                )
    return None


def _two_alike(width: int, height: int, rng: Rng) -> list[Shape]:
    """Half of a rectangle cut up, and the other half the same, turned or mirrored."""
    half_turn = bool(rng.random() < 0.6)
    lean = int(rng.integers(0, width // 36 + 1)) * 6 if half_turn else 0
    middle = Fraction(width, 2)
    half = (_point(0, 0), (middle - lean, Fraction(0)), (middle + lean, Fraction(height)), _point(0, height))
    parts = _cut_up([half], int(rng.integers(2, 5)), rng)
    if half_turn:
        return [*parts, *(tuple((width - x, height - y) for x, y in part) for part in parts)]
    return [*parts, *(tuple((width - x, y) for x, y in reversed(part)) for part in parts)]


_KINDS: tuple[tuple[str, Callable[[int, int, Rng], list[Shape]]], ...] = (
    ("straight cuts", _straight_cuts),
    ("upright cuts", _upright_cuts),
    ("whirl", _whirl),
    ("even whirl", _even_whirl),
    ("y seams", _y_seams),
    ("merged", _merged),
    ("two alike", _two_alike),
)


def area(shape: Shape) -> Fraction:
    """The area, positive when counter-clockwise."""
    return sum((a[0] * b[1] - b[0] * a[1] for a, b in _edges(shape)), Fraction(0)) / 2


def flipped(shape: Shape) -> Shape:
    """The mirror image, counter-clockwise."""
    return tuple((-x, y) for x, y in reversed(shape))


def congruent(one: Shape, other: Shape) -> bool:
    """Whether turning and shifting lays a shape on another: equal edges and equal turns at corners, one by one."""
    a, b = _course(one), _course(other)
    return len(a) == len(b) and any(a == b[k:] + b[:k] for k in range(len(b)))


def _course(shape: Shape) -> list[tuple[Fraction, Fraction, Fraction]]:
    """For each corner the squared edge after it, and the product of the edges before and after along and across."""
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in _edges(shape)]
    return [
        (v[0] ** 2 + v[1] ** 2, u[0] * v[0] + u[1] * v[1], u[0] * v[1] - u[1] * v[0])
        for u, v in zip([steps[-1], *steps[:-1]], steps, strict=True)
    ]


def _edges(shape: Sequence[Point]) -> list[tuple[Point, Point]]:
    return list(zip(shape, [*shape[1:], shape[0]], strict=True))


def _tidy(shape: Sequence[Point]) -> Shape:
    """The shape without repeated corners and straight ones."""
    once = [p for k, p in enumerate(shape) if p != shape[k - 1]]
    if len(once) < 3:
        return tuple(once)
    turns = [across for _, _, across in _course(tuple(once))]
    return tuple(p for p, across in zip(once, turns, strict=True) if across != 0)


def _is_convex(shape: Shape) -> bool:
    return all(across > 0 for _, _, across in _course(shape))


def _is_fair(shape: Shape) -> bool:
    """Whether someone would cut such a card: no short edge, no corner too sharp or nearly straight."""
    if len(shape) < 3:
        return False
    for squared, along, across in _course(shape):
        inner = 180.0 - math.degrees(math.atan2(across, along))
        flat = FLATTEST_DEG < inner < 360.0 - FLATTEST_DEG
        if squared < SHORTEST_EDGE**2 or not SHARPEST_DEG < inner < 360.0 - SHARPEST_DEG or flat:
            return False
    return True
