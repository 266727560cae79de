"""Designs of our own of units in a grid: arranged by a symmetry, in rows, or half a grid in a triangle."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from itertools import product

import numpy as np

from .geometry import polygon
from .trade_block import Sketch
from .trade_symmetry import GROUPS, OF_A_SQUARE, OF_AN_OBLONG, Box, Unit, repeated
from .trade_units import (
    Pieces,
    bars,
    box,
    boxed,
    clipped,
    cornerstone,
    fanned,
    four_patch,
    goose,
    half_and_quarters,
    halves,
    kite,
    mitred,
    moved_by,
    nine_patch,
    on_point,
    quarters,
)

Rng = np.random.Generator


def _plain(x: float, y: float, w: float, h: float) -> Pieces:
    return [box(x, y, w, h)]


def _two_geese(x: float, y: float, w: float, h: float, toward: str) -> Pieces:
    if toward in "NS":
        return [*goose(x, y, w, h / 2, toward), *goose(x, y + h / 2, w, h / 2, toward)]
    return [*goose(x, y, w / 2, h, toward), *goose(x + w / 2, y, w / 2, h, toward)]


def _square(draw: Callable[[float, float, float], Pieces]) -> tuple[Unit, ...]:
    return (lambda x, y, w, _h: draw(x, y, w),)


def _cornered(draw: Callable[[float, float, float, int], Pieces]) -> tuple[Unit, ...]:
    def at(corner: int) -> Unit:
        return lambda x, y, w, _h: draw(x, y, w, corner)

    return tuple(at(corner) for corner in range(4))


def _pointing(draw: Callable[[float, float, float, float, str], Pieces], ways: str = "NESW") -> tuple[Unit, ...]:
    def to(toward: str) -> Unit:
        return lambda x, y, w, h: draw(x, y, w, h, toward)

    return tuple(to(toward) for toward in ways)


def _strips(many: int) -> tuple[Unit, ...]:
    return tuple(partial(_barred, many=many, upright=upright) for upright in (True, False))


def _barred(x: float, y: float, w: float, h: float, *, many: int, upright: bool) -> Pieces:
    return bars(x, y, w, h, many, upright=upright)


_HALVES: tuple[Unit, ...] = (partial(halves, rising=True), partial(halves, rising=False))

# Each kind of unit in all the ways it can lie. Those of a square cell, and how often the trade takes them:
SQUARE_UNITS: dict[str, tuple[float, tuple[Unit, ...]]] = {
    "plain": (4, (_plain,)),
    "half-square triangles": (6, _HALVES),
    "quarter-square triangles": (3, (quarters,)),
    "half and quarters": (2, _cornered(half_and_quarters)),
    "two geese": (2, _pointing(_two_geese)),
    "peak": (1, _pointing(goose)),
    "square in a square": (2, (on_point,)),
    "four patch": (3, _square(four_patch)),
    "nine patch": (0.5, _square(nine_patch)),
    "two strips": (2, _strips(2)),
    "three strips": (1, _strips(3)),
    "snowball": (1, _square(lambda x, y, w: clipped(x, y, w, w / 3))),
    "snowball corner": (2, _cornered(lambda x, y, w, k: clipped(x, y, w, w / 2, (k,)))),
    "two snowball corners": (1.5, _cornered(lambda x, y, w, k: clipped(x, y, w, w / 2, (k, (k + 2) % 4)))),
    "kite": (2, _cornered(kite)),
    "cornerstone": (2, _cornered(cornerstone)),
    "window": (1, _cornered(mitred)),
    "half log cabin": (1, _cornered(fanned)),
}  # fmt: skip
OBLONG_UNITS: dict[str, tuple[float, tuple[Unit, ...]]] = {
    "plain": (5, (_plain,)),
    "halves": (1, _HALVES),
    "goose": (4, _pointing(goose)),
    "diamond": (1, (on_point,)),
    "two strips": (2, _strips(2)),
    "quarters": (0.5, (quarters,)),
}  # fmt: skip
_COLUMNS: tuple[tuple[float, ...], ...] = (
    (1, 2, 1), (2, 1, 2), (2, 3, 2), (1, 3, 1), (1, 4, 1), (1, 2, 2, 1), (1, 1, 2, 1, 1), (2, 1, 2, 1, 2),
    (1, 2, 1, 2, 1), (3, 1, 3),
)  # fmt: skip
_WEIGHTS = {
    "quarter turns and mirrors": 7.0, "quarter turns": 5.0, "diagonal": 2.5, "two mirrors": 2.0, "half turn": 2.0,
    "mirror": 1.5, "none": 5.0,
}  # fmt: skip


class Palette:
    """A few kinds of unit, as one block has."""

    def __init__(self, rng: Rng, kinds: int) -> None:
        self._rng = rng
        self._square = _some(SQUARE_UNITS, kinds, rng)
        self._oblong = _some(OBLONG_UNITS, max(1, kinds - 1), rng)

    def units(self, cell: Box) -> list[Unit]:
        """The units a cell may have, in an order drawn anew, the plain one last."""
        lists = self._square if abs(cell[2] - cell[3]) < 1e-9 else self._oblong
        order = [lists[int(k)] for k in self._rng.permutation(len(lists))]
        return [*(kind[int(k)] for kind in order for k in self._rng.permutation(len(kind))), _plain]


def _some(kinds: dict[str, tuple[float, tuple[Unit, ...]]], many: int, rng: Rng) -> list[tuple[Unit, ...]]:
    names = list(kinds)
    weights = np.array([kinds[name][0] for name in names])
    chosen = rng.choice(len(names), size=many, replace=False, p=weights / weights.sum())
    return [kinds[names[int(k)]][1] for k in chosen]


def cells_of(columns: Sequence[float], rows: Sequence[float]) -> list[Box]:
    """Columns by rows as boxes, from the lower left."""
    x, y = np.concatenate([[0.0], np.cumsum(columns)]), np.concatenate([[0.0], np.cumsum(rows)])
    return [
        (float(x[i]), float(y[j]), columns[i], rows[j]) for j, i in product(range(len(rows)), range(len(columns)))
    ]


def picked(weights: dict[str, float], names: Sequence[str], rng: Rng) -> str:
    """One of the names, each as likely as its weight."""
    share = np.array([weights[name] for name in names])
    return names[int(rng.choice(len(names), p=share / share.sum()))]


def _columns(rng: Rng, equal: tuple[int, int]) -> tuple[float, ...]:
    if rng.random() < 0.3:
        return _COLUMNS[int(rng.integers(len(_COLUMNS)))]
    return (1.0,) * int(rng.integers(*equal))


def in_a_square(rng: Rng) -> Sketch:
    """Units in a square grid of up to six by six, most of them arranged by a symmetry."""
    columns = _columns(rng, (2, 7))
    side = float(sum(columns))
    palette = Palette(rng, int(rng.integers(2, 5)))
    group = GROUPS[picked(_WEIGHTS, OF_A_SQUARE, rng)]
    centre = np.array([side / 2, side / 2])
    return boxed(repeated(cells_of(columns, columns), group, centre, palette.units), side)


def in_an_oblong(rng: Rng) -> Sketch:
    """Units in two by three, three by four, and other grids."""
    columns, rows = _columns(rng, (1, 5)), _columns(rng, (2, 6))
    w, h = float(sum(columns)), float(sum(rows))
    palette = Palette(rng, int(rng.integers(2, 4)))
    group = GROUPS[picked(_WEIGHTS, OF_AN_OBLONG, rng)]
    return boxed(repeated(cells_of(columns, rows), group, np.array([w / 2, h / 2]), palette.units), w, h)


def in_rows(rng: Rng) -> Sketch:
    """A row of units again and again, every other one another row, or the same one the other way about."""
    many, high = int(rng.integers(2, 6)), int(rng.integers(2, 6))
    palette = Palette(rng, int(rng.integers(2, 4)))
    row = [palette.units((0, 0, 1, 1))[0] for _ in range(many)]
    other = row[::-1] if rng.random() < 0.5 else [palette.units((0, 0, 1, 1))[0] for _ in range(many)]
    pieces = [p for j in range(high) for i in range(many) for p in (row, other)[j % 2][i](i, j, 1.0, 1.0)]
    return boxed(pieces, many, high)


def in_bands(rng: Rng) -> Sketch:
    """Upright bands side by side: geese, strips, squares, half-square triangles; often the same from both sides."""
    high = int(rng.integers(3, 7))
    bands = [_band(rng, high) for _ in range(int(rng.integers(2, 4)))]
    if rng.random() < 0.6:
        bands = [*bands, *bands[-2::-1]]
    pieces: Pieces = []
    x = 0.0
    for wide, band in bands:
        pieces += moved_by(band, x, 0.0)
        x += wide
    return boxed(pieces, x, high)


def _band(rng: Rng, high: int) -> tuple[float, Pieces]:
    kind = rng.choice(["geese", "strip", "squares", "triangles", "hourglasses", "strips", "diamonds"])
    if kind == "geese":
        down = int(rng.integers(0, high + 1)) if rng.random() < 0.4 else 0
        return 2.0, [p for k in range(high) for p in goose(0, k, 2, 1, "NS"[k < down])]
    if kind == "strip":
        wide = float(rng.choice([1.0, 1.5, 2.0]))
        return wide, [box(0, 0, wide, high)]
    if kind == "squares":
        return 1.0, [box(0, k, 1) for k in range(high)]
    if kind == "triangles":
        rising, alternate = bool(rng.random() < 0.5), bool(rng.random() < 0.5)
        return 1.0, [p for k in range(high) for p in halves(0, k, 1, rising=rising ^ (alternate and k % 2 == 1))]
    if kind == "hourglasses":
        return 1.0, [p for k in range(high) for p in quarters(0, k, 1)]
    if kind == "strips":
        return 2.0, bars(0, 0, 2, high, int(rng.integers(2, 4)), upright=True)
    return 1.0, [p for k in range(high) for p in on_point(0, k, 1)]


def in_a_triangle(rng: Rng) -> Sketch:
    """Half a grid, for the sides of a quilt set on point: its long side is the cells' diagonal."""
    legs = int(rng.integers(2, 6))
    cells: list[Box] = [(float(i), float(j), 1.0, 1.0) for i in range(legs) for j in range(legs - 1 - i)]
    group = GROUPS["diagonal" if rng.random() < 0.7 else "none"]
    pieces = repeated(cells, group, np.zeros(2), Palette(rng, int(rng.integers(1, 4))).units)
    halved = bool(rng.random() < 0.35)
    for i in range(legs):
        o, a, b = np.array([[0, 0], [1, 0], [0, 1]]) + np.array([i, legs - 1 - i])
        foot = (a + b) / 2
        pieces += [polygon([o, a, foot]), polygon([o, foot, b])] if halved else [polygon([o, a, b])]
    return Sketch(polygon([(0, 0), (legs, 0), (0, legs)]), tuple(pieces))
