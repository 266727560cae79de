"""Pieces repeated by a symmetry of the whole block, as the trade arranges its units."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from .geometry import Points
from .trade_units import Pieces, box

Turn = NDArray[np.float64]  # (2, 2), orthogonal
Box = tuple[float, float, float, float]
Unit = Callable[[float, float, float, float], Pieces]


class NotDrawnError(Exception):
    """These choices give no drawing."""


_R = np.array([[0.0, -1.0], [1.0, 0.0]])
_M = np.array([[-1.0, 0.0], [0.0, 1.0]])  # across the upright middle line
_D = np.array([[0.0, 1.0], [1.0, 0.0]])  # across the rising diagonal
_I = np.eye(2)
_QUARTERS = [_I, _R, _R @ _R, _R @ _R @ _R]

# What the whole can be laid on itself by; "diagonal" and those above it need a square.
GROUPS: dict[str, tuple[Turn, ...]] = {
    "quarter turns and mirrors": (*_QUARTERS, *(_M @ q for q in _QUARTERS)),
    "quarter turns": tuple(_QUARTERS),
    "diagonal": (_I, _D),
    "two mirrors": (_I, _M, -_I, -_M),
    "half turn": (_I, -_I),
    "mirror": (_I, _M),
    "none": (_I,),
}
OF_A_SQUARE = tuple(GROUPS)
OF_AN_OBLONG = tuple(
    name for name in GROUPS if name not in ("quarter turns and mirrors", "quarter turns", "diagonal")
)


def image(piece: Points, by: Turn, centre: Points) -> Points:
    """The piece turned or mirrored about a centre, still counter-clockwise."""
    there = (piece - centre) @ by.T + centre
    return there if np.linalg.det(by) > 0 else there[::-1]


def place_of(piece: Points) -> frozenset[tuple[float, float]]:
    """What is equal for equal pieces: the corners, but for rounding."""
    return frozenset((round(float(x), 6) + 0.0, round(float(y), 6) + 0.0) for x, y in piece)


def all_images(pieces: Iterable[Points], group: Sequence[Turn], centre: Points) -> Pieces:
    """The pieces and all their images, each once."""
    seen: dict[frozenset[tuple[float, float]], Points] = {}
    for piece in pieces:
        for by in group:
            there = image(piece, by, centre)
            seen.setdefault(place_of(there), there)
    return list(seen.values())


def kept(pieces: Sequence[Points], group: Sequence[Turn], centre: Points) -> bool:
    """Whether the pieces are their own images."""
    return len(all_images(pieces, group, centre)) == len(pieces)


def repeated(
    cells: Sequence[Box], group: Sequence[Turn], centre: Points, fill: Callable[[Box], list[Unit]]
) -> Pieces:
    """Cells that the group lays on one another, filled alike.

    `fill` gives a cell the units it may have, those liked best first; the first is taken that is kept by what
    keeps its cell. Raises NotDrawnError when there is none.
    """
    pieces: Pieces = []
    done: set[frozenset[tuple[float, float]]] = set()
    for cell in cells:
        here = box(*cell)
        if place_of(here) in done:
            continue
        keeping = [by for by in group if place_of(image(here, by, centre)) == place_of(here)]
        filled = next((p for p in (unit(*cell) for unit in fill(cell)) if kept(p, keeping, centre)), None)
        if filled is None:
            raise NotDrawnError("no unit has the symmetry of its cell")
        for by in group:
            there = place_of(image(here, by, centre))
            if there not in done:
                done.add(there)
                pieces += [image(piece, by, centre) for piece in filled]
    return pieces
