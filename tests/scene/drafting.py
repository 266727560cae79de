"""What a drawing of a block is, and the few constructions that drawings share."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .geometry import Points, polygon

Corner = tuple[float, float]


@dataclass(frozen=True)
class Drawing:
    """A block drawn in its own unit: `size` (width, height) and its pieces, counter-clockwise, y up."""

    size: tuple[float, float]
    pieces: tuple[Points, ...]


@dataclass(frozen=True)
class Design:
    """A drawing with free sizes. `step` is the grid its sizes are varied on, in its own unit."""

    name: str
    draw: Callable[..., Drawing]
    unit: str  # "in" or "mm"
    step: float
    notes: str
    set_in: bool = False  # some region of it has no straight cut from edge to edge
    grid: bool = False  # squares and rectangles only: rotary cutting is quicker


def spelled(corners: Mapping[str, Corner], words: str) -> list[Points]:
    """The pieces spelled as the letters of their corners, counter-clockwise."""
    return [polygon([corners[letter] for letter in word]) for word in words.split()]


def between(a: Corner, b: Corner, share: float) -> Corner:
    """The point `share` of the way from a to b."""
    return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))


def crossing(a: Corner, b: Corner, c: Corner, d: Corner) -> Corner:
    """Where the line a-b meets the line c-d."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    return between(a, b, ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / (ux * vy - uy * vx))


def quarter_turns(cell: Iterable[Points], side: float) -> Drawing:
    """The cell (its own corner (0, 0) at the block's centre) four times round a block of twice its side."""
    pieces: list[Points] = []
    for quarter in range(4):
        for piece in cell:
            turned = piece
            for _ in range(quarter):
                turned = np.column_stack([-turned[:, 1], turned[:, 0]])
            pieces.append(turned + side)
    return Drawing((2.0 * side, 2.0 * side), tuple(pieces))


def grid_of(columns: Sequence[float], rows: Sequence[float]) -> list[list[Points]]:
    """Rectangles by row, then column, from the lower left."""
    x, y = np.concatenate([[0.0], np.cumsum(columns)]), np.concatenate([[0.0], np.cumsum(rows)])
    return [
        [
            polygon([(x[i], y[j]), (x[i + 1], y[j]), (x[i + 1], y[j + 1]), (x[i], y[j + 1])])
            for i in range(len(columns))
        ]
        for j in range(len(rows))
    ]
