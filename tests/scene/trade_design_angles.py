"""Designs of our own on 45 and 60 degrees: eight-pointed stars, octagons, hexagons of diamonds and triangles."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from .geometry import Points, polygon
from .trade_block import Sketch
from .trade_design_grids import Palette, Rng
from .trade_set_in import ROOT_2, cornered, diamond, ray, ring
from .trade_symmetry import GROUPS, repeated
from .trade_units import Pieces, box, turned_about

Lattice = tuple[int, int]  # (a, b): a along 0 degrees and b along 60
Cell = frozenset[Lattice]  # a triangle of the lattice by its corners


def star(rng: Rng) -> Sketch:
    """Eight diamonds in a square, cut up alike or by turns; what is set in whole or cut up too."""
    e = [ray(45.0 * k) for k in range(8)]
    half = 1.0 + 1.0 / ROOT_2
    ways = [int(rng.integers(5))] * 2
    if rng.random() < 0.3:
        ways[1] = int(rng.integers(5))
    pieces: Pieces = []
    for k in range(8):
        pieces += _point(e[k], e[(k + 1) % 8], ways[k % 2])
    tips = [e[k] + e[(k + 1) % 8] for k in range(8)]
    corner_way, side_halved = int(rng.integers(4)), bool(rng.random() < 1 / 3)
    for k in range(0, 8, 2):
        a, b, c = e[k], tips[k - 1], tips[k]
        foot = (b + c) / 2
        pieces += [polygon([a, b, foot]), polygon([a, foot, c])] if side_halved else [polygon([a, b, c])]
    for k in range(1, 8, 2):
        pieces += _corner(e[k], tips[k - 1], half * ROOT_2 * e[k], tips[k], corner_way)
    sketch = Sketch(box(-half, -half, 2 * half), tuple(pieces))
    return _bordered(sketch, rng) if rng.random() < 0.25 else sketch


def _point(a: Points, b: Points, way: int) -> Pieces:
    """A diamond from the middle: whole, halved along or across, its tip off, or in four."""
    o = np.zeros(2)
    if way == 1:
        return [polygon([o, a, a + b]), polygon([o, a + b, b])]
    if way == 2:
        return [polygon([o, a, b]), polygon([a, a + b, b])]
    if way == 3:
        return [polygon([o, a, a + b / 2, b + a / 2, b]), polygon([a + b / 2, a + b, b + a / 2])]
    if way == 4:
        return [diamond((i * a + j * b) / 2, a / 2, b / 2) for i in range(2) for j in range(2)]
    return [diamond(o, a, b)]


def _corner(a: Points, b: Points, c: Points, d: Points, way: int) -> Pieces:
    """A square from its inner corner: whole, halved one way or the other, or a square on point."""
    if way == 1:
        return [polygon([a, b, d]), polygon([b, c, d])]
    if way == 2:
        return [polygon([a, b, c]), polygon([a, c, d])]
    if way == 3:
        m = [(a + b) / 2, (b + c) / 2, (c + d) / 2, (d + a) / 2]
        return [polygon(m), *(polygon([m[k - 1], p, m[k]]) for k, p in enumerate((a, b, c, d)))]
    return [polygon([a, b, c, d])]


def _bordered(sketch: Sketch, rng: Rng) -> Sketch:
    low, high = float(sketch.outline.min()), float(sketch.outline.max())
    w = (high - low) * float(rng.choice([1 / 8, 1 / 6, 1 / 4]))
    strip = [box(low, low - w, high - low, w), box(low - w, low - w, w)]
    strips = [p for k in range(4) for p in turned_about(strip, (0, 0), 90.0 * k)]
    return Sketch(box(low - w, low - w, high - low + 2 * w), (*sketch.pieces, *strips))


def octagon(rng: Rng) -> Sketch:
    """Eight wedges in an octagon or a square, each cut across straight, aslant, or into a point."""
    outer = ring(8, 1.0, 22.5)
    way = int(rng.integers(4))
    shares = sorted(float(s) for s in rng.choice([0.3, 0.4, 0.5, 0.6, 0.7, 0.8], size=2, replace=False))
    pieces: Pieces = []
    for k in range(8):
        pieces += _wedge(outer[k - 1], outer[k], way, shares)
    sketch = Sketch(outer, tuple(pieces))
    return sketch if rng.random() < 0.4 else cornered(sketch)


def _wedge(a: Points, b: Points, way: int, shares: list[float]) -> Pieces:
    o, foot = np.zeros(2), (a + b) / 2
    s, t = shares
    if way == 0:
        return [polygon([o, a * s, b * s]), *(polygon([a * u, a * v, b * v, b * u]) for u, v in ((s, t), (t, 1.0)))]
    if way == 1:
        return [polygon([o, a * s, b * t]), polygon([a * s, a, b, b * t])]
    if way == 2:
        return [polygon([o, a * s, foot, b * s]), polygon([a * s, a, foot]), polygon([b * s, foot, b])]
    tip = [polygon([a * s, a, foot]), polygon([a * s, foot, b * s]), polygon([foot, b, b * s])]
    return [polygon([o, a * s, b * s]), *tip]


@dataclass(frozen=True)
class _Shape:
    """A convex polygon of the lattice and the triangles it holds."""

    corners: tuple[Lattice, ...]
    cells: frozenset[Cell]


_SHAPES: dict[str, tuple[Lattice, ...]] = {
    "triangle": ((0, 0), (1, 0), (0, 1)),
    "diamond": ((0, 0), (1, 0), (1, 1), (0, 1)),
    "half hexagon": ((0, 0), (2, 0), (1, 1), (0, 1)),
    "large triangle": ((0, 0), (2, 0), (0, 2)),
    "hexagon": ((1, 0), (0, 1), (-1, 1), (-1, 0), (0, -1), (1, -1)),
    "long diamond": ((0, 0), (2, 0), (2, 1), (0, 1)),
}
# What lays the hexagon on itself: turns by so many sixths, and whether mirrored too; how often.
_TURNS = ((1, True, 0.35), (1, False, 0.25), (2, False, 0.15), (3, True, 0.15), (6, False, 0.1))


def hexagon(rng: Rng) -> Sketch:
    """A hexagon of triangles, diamonds, half hexagons and hexagons, arranged by a symmetry; or in a rectangle."""
    side = int(rng.choice([2, 2, 3]))
    names = list(_SHAPES)
    palette = [names[int(k)] for k in rng.choice(len(names), size=int(rng.integers(2, 5)), replace=False)]
    turns, over, _ = _TURNS[int(rng.choice(len(_TURNS), p=[share for _, _, share in _TURNS]))]
    shapes = _covered(side, palette, turns, rng, over=over)
    to_plane = np.array([ray(0.0), ray(60.0)])
    sketch = Sketch(ring(6, side), tuple(np.array(shape.corners) @ to_plane for shape in shapes))
    return cornered(sketch) if rng.random() < 0.35 else sketch


def _covered(side: int, palette: list[str], turns: int, rng: Rng, *, over: bool) -> list[_Shape]:
    """The hexagon covered by shapes of the palette, single triangles where none of them fits."""
    free = set(_cells_in(_hexagon(side)))
    shapes: list[_Shape] = []
    placements = [p for name in palette for p in _placements(name, side)]
    order = rng.permutation(len(placements))
    # Large shapes first, mostly, so that not all is triangles.
    ranked = sorted(order, key=lambda k: -len(placements[int(k)].cells) * rng.random())
    for shape in [*(placements[int(k)] for k in ranked), *_placements("triangle", side)]:
        if not shape.cells <= free:
            continue
        orbit = list(_images(shape, turns, over=over))
        taken = [cell for one in orbit for cell in one.cells]
        if len(taken) == len(set(taken)) and free.issuperset(taken):
            free -= set(taken)
            shapes += orbit
    return shapes


def _images(shape: _Shape, turns: int, *, over: bool) -> Iterator[_Shape]:
    seen = set()
    for mirrored in (False, True)[: 1 + over]:
        for k in range(0, 6, turns):
            corners = [_turned((b, a) if mirrored else (a, b), k) for a, b in shape.corners]
            corners = corners[::-1] if mirrored else corners
            one = _Shape(tuple(corners), frozenset(_cells_in(tuple(corners))))
            if one.cells not in seen:
                seen.add(one.cells)
                yield one


def _turned(point: Lattice, sixths: int) -> Lattice:
    a, b = point
    for _ in range(sixths):
        a, b = -b, a + b
    return a, b


def _hexagon(side: int) -> tuple[Lattice, ...]:
    return tuple(_turned((side, 0), k) for k in range(6))


@cache
def _placements(name: str, side: int) -> tuple[_Shape, ...]:
    region = frozenset(_cells_in(_hexagon(side)))
    found: dict[frozenset[Cell], _Shape] = {}
    for one in _images(_Shape(_SHAPES[name], frozenset()), 1, over=True):
        for da in range(-2 * side, 2 * side + 1):
            for db in range(-2 * side, 2 * side + 1):
                corners = tuple((a + da, b + db) for a, b in one.corners)
                cells = frozenset(_cells_in(corners))
                if cells <= region:
                    found.setdefault(cells, _Shape(corners, cells))
    return tuple(found.values())


@cache
def _cells_in(corners: tuple[Lattice, ...]) -> tuple[Cell, ...]:
    """The lattice's triangles within a convex polygon, counter-clockwise; exact, by their middles times three."""
    low = [min(c[k] for c in corners) for k in (0, 1)]
    high = [max(c[k] for c in corners) for k in (0, 1)]
    found = []
    for a in range(low[0], high[0] + 1):
        for b in range(low[1], high[1] + 1):
            for cell in (((a, b), (a + 1, b), (a, b + 1)), ((a + 1, b), (a + 1, b + 1), (a, b + 1))):
                x, y = (sum(c[k] for c in cell) for k in (0, 1))
                sides = zip(corners, (*corners[1:], corners[0]), strict=True)
                if all((q[0] - p[0]) * (y - 3 * p[1]) > (q[1] - p[1]) * (x - 3 * p[0]) for p, q in sides):
                    found.append(frozenset(cell))
    return tuple(found)


def diamond_square(rng: Rng) -> Sketch:
    """A square on point of units, with corners: a grid turned an eighth."""
    many = int(rng.integers(2, 4))
    w = 2.0 / many
    cells = [(w * i - 1.0, w * j - 1.0, w, w) for j in range(many) for i in range(many)]
    group = GROUPS["quarter turns and mirrors" if rng.random() < 0.6 else "quarter turns"]
    inner = turned_about(repeated(cells, group, np.zeros(2), Palette(rng, 2).units), (0, 0), 45.0)
    frame = box(-ROOT_2, -ROOT_2, 2 * ROOT_2)
    mids = [(frame[k] + frame[(k + 1) % 4]) / 2 for k in range(4)]
    return Sketch(frame, (*inner, *(polygon([mids[k - 1], frame[k], mids[k]]) for k in range(4))))
