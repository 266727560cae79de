r"""Blocks drawn as on squared paper: rows of signs, a sign for the unit in a cell, or in it and its neighbours.

A block that is laid on itself by turns or mirrors is drawn as far as its upper left part goes (`in_symmetry`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

import numpy as np

from .trade_symmetry import GROUPS, all_images
from .trade_units import (
    Pieces,
    bars,
    box,
    clipped,
    four_patch,
    goose,
    half_and_quarters,
    halves,
    kite,
    moved_by,
    nine_patch,
    on_point,
    quarters,
)

MIRRORED: Final = "quarter turns and mirrors"
TURNED: Final = "quarter turns"
ACROSS: Final = "two mirrors"

Unit = Callable[[float, float], Pieces]


def _halves(rising: bool, side: float = 1.0) -> Unit:
    return lambda x, y: halves(x, y + 1.0 - side, side, rising=rising)


def _goose(toward: str, w: float, h: float) -> Unit:
    return lambda x, y: goose(x, y + 1.0 - h, w, h, toward)


def _two_geese(toward: str) -> Unit:
    if toward in "NS":
        return lambda x, y: [*goose(x, y, 1.0, 0.5, toward), *goose(x, y + 0.5, 1.0, 0.5, toward)]
    return lambda x, y: [*goose(x, y, 0.5, 1.0, toward), *goose(x + 0.5, y, 0.5, 1.0, toward)]


def _half_and_quarters(corner: int) -> Unit:
    return lambda x, y: half_and_quarters(x, y, 1.0, corner)


def _kite(corner: int) -> Unit:
    return lambda x, y: kite(x, y, 1.0, corner)


def _clipped(clip: float, *corners: int) -> Unit:
    return lambda x, y: clipped(x, y, 1.0, clip, corners)


def _pinwheel(x: float, y: float) -> Pieces:
    return [p for i in (0, 1) for j in (0, 1) for p in halves(x + i / 2, y + j / 2, 0.5, rising=i == j)]


_ONE_CELL: Mapping[str, Unit] = {
    " ": lambda _x, _y: [],
    ".": lambda x, y: [box(x, y, 1.0)],
    "/": _halves(True),
    "\\": _halves(False),
    "X": lambda x, y: quarters(x, y, 1.0),
    "+": lambda x, y: four_patch(x, y, 1.0),
    "#": lambda x, y: nine_patch(x, y, 1.0),
    "%": _pinwheel,
    "=": lambda x, y: bars(x, y, 1.0, 1.0, 2, upright=False),
    "|": lambda x, y: bars(x, y, 1.0, 1.0, 2, upright=True),
    "E": lambda x, y: bars(x, y, 1.0, 1.0, 3, upright=False),
    "M": lambda x, y: bars(x, y, 1.0, 1.0, 3, upright=True),
    "Q": lambda x, y: on_point(x, y, 1.0),
    "O": lambda x, y: clipped(x, y, 1.0, 1.0 / 3.0),
    "S": _clipped(0.7, 1, 3),
    "Z": _clipped(0.7, 0, 2),
    "^": _two_geese("N"),
    "v": _two_geese("S"),
    "<": _two_geese("W"),
    ">": _two_geese("E"),
    "A": _goose("N", 1.0, 1.0),
    "V": _goose("S", 1.0, 1.0),
    "C": _goose("W", 1.0, 1.0),
    "D": _goose("E", 1.0, 1.0),
    **{sign: _half_and_quarters(k) for k, sign in enumerate("1234")},
    **{sign: _kite(k) for k, sign in enumerate("5678")},
    **{sign: _clipped(0.5, k) for k, sign in enumerate("abcd")},
}
_MORE_CELLS: Mapping[str, Unit] = {
    "[": lambda x, y: [box(x, y, 2.0, 1.0)],
    "I": lambda x, y: [box(x, y - 1.0, 1.0, 2.0)],
    "n": _goose("N", 2.0, 1.0),
    "s": _goose("S", 2.0, 1.0),
    "w": _goose("W", 1.0, 2.0),
    "e": _goose("E", 1.0, 2.0),
    "B": lambda x, y: [box(x, y - 1.0, 2.0)],
    "R": _halves(True, 2.0),
    "F": _halves(False, 2.0),
    "H": lambda x, y: quarters(x, y - 1.0, 2.0),
    "P": lambda x, y: on_point(x, y - 1.0, 2.0),
}
_CELLS = {**_ONE_CELL, **_MORE_CELLS}


def in_cells(*rows: str) -> Pieces:
    r"""Units in cells of side 1, a sign each, the uppermost row first; a space leaves a cell to something larger.

    `.` plain, `/` and `\` halved, `X` quartered, `+` a four patch, `#` a nine patch, `%` a pinwheel, `=` and `|`
    two strips, `E` and `M` three, `Q` a square on point, `O` a snowball, `S` and `Z` a stem from corner to corner;
    `1` to `4` halved and one half again, the larger triangle at that corner (1 lower left, then counter-clockwise),
    `5` to `8` a kite from that corner, `a` to `d` that corner cut off; `^`, `v`, `<`, `>` two geese, and `A`, `V`,
    `C`, `D` a tall point toward north, south, west, east.

    Over two cells, the sign in the first and a space for the other: `[` a brick, `I` an upright one, `n` and `s` a
    lying goose, `w` and `e` an upright one. Over two by two: `B` plain, `R` and `F` halved rising and falling, `H`
    an hourglass, `P` a square on point.
    """
    high = len(rows)
    return [
        piece
        for j, row in enumerate(rows)
        for i, sign in enumerate(row)
        for piece in _CELLS[sign](float(i), float(high - 1 - j))
    ]


def in_symmetry(group: str, side: int, *rows: str) -> Pieces:
    """A block of side by side cells from its upper left part; `group` is one of MIRRORED, TURNED, ACROSS.

    What lies on an axis or in the middle is drawn whole, and must be its own image.
    """
    part = moved_by(in_cells(*rows), 0.0, float(side - len(rows)))
    return all_images(part, GROUPS[group], np.array([side / 2, side / 2]))
