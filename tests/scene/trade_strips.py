"""Old blocks of strips for the catalogue: rails, strings, logs with a log more or less, frames, lightning.

Names are the trade's common property, from memory; where none comes to mind, what is drawn is said.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .geometry import Points, polygon
from .trade_block import Sketch, TradeBlock, drafted
from .trade_cells import in_cells
from .trade_grid import half_log_cabin, log_cabin, pineapple
from .trade_set_in import cornered, ring
from .trade_units import Pieces, bars, box, boxed, halves, moved_by, round_about, trimmed

_RAILS = {
    "two rail fence of nine": ("=|=", "|=|", "=|="),
    "endless stairs": ("=|=|", "|=|=", "=|=|", "|=|="),
    "rail fence of sixteen": ("EMEM", "MEME", "EMEM", "MEME"),
    "rails and squares": ("E.", ".E"),
}


def blocks_of_strips() -> Iterator[TradeBlock]:
    """Rails, then strings, logs, frames, lightning."""
    for name, rows in _RAILS.items():
        yield drafted(name, "square", boxed(in_cells(*rows), len(rows)), 12)
    for rails in (5, 6):
        weave = round_about(bars(0, 0, 1, 1, rails, upright=False), (1, 1), 4)
        yield drafted(f"rail fence, {rails} rails", "square", boxed(weave, 2), 12)
    yield from _strings()
    yield from _logs()
    yield from _frames()
    for columns, many in ((2, 3), (4, 3), (4, 4)):
        pieces = [p for k in range(columns) for p in moved_by(slanted_column(many, rising=k % 2 == 0), k, 0)]
        kind = "square" if columns == many + 1 else "rectangle"
        yield drafted(f"streak of lightning of {columns} by {many}", kind, boxed(pieces, columns, many + 1), 9)


def strings(many: int) -> Pieces:
    """A square of side 1 in strips along its rising diagonal, equally wide but for those at the ends."""
    return _along_the_diagonal(np.linspace(-1, 1, many + 1))


def _along_the_diagonal(levels: NDArray[np.float64]) -> Pieces:
    """The parts of a square of side 1 between lines y = x + level."""
    strips = [polygon([(-1, a - 1), (2, 2 + a), (2, 2 + b), (-1, b - 1)]) for a, b in pairwise(levels)]
    return trimmed(strips, box(0, 0, 1))


def _strings() -> Iterator[TradeBlock]:
    for many in (3, 5, 7):  # a strip lies along the diagonal
        yield drafted(f"string block, {many}", "square", boxed(strings(many), 1), 6)
    for many in (3, 4, 5):
        four = round_about(strings(many), (1, 1), 4)
        yield drafted(f"string blocks, four of {many}", "square", boxed(four, 2), 10)
    for many in (3, 4, 5):
        striped = [polygon([(0, 0), (1, 0), (1, 1)]), *_striped_half(many)]
        yield drafted(f"roman stripe, {many}", "square", boxed(striped, 1), 8)
    four = round_about([polygon([(0, 0), (1, 0), (1, 1)]), *_striped_half(3)], (1, 1), 4)
    yield drafted("roman stripes round and round", "square", boxed(four, 2), 12)


def _striped_half(many: int) -> Pieces:
    """Half of a square of side 1, above its rising diagonal, in strips along that diagonal."""
    return _along_the_diagonal(np.linspace(0, 1, many + 1))


def _logs() -> Iterator[TradeBlock]:
    """Log cabins that end half-way round, cabins in the corners, and a long middle."""
    for logs in (6, 10, 14):
        pieces = _cut_short(log_cabin(1, 4, paired=False)[: logs + 1])
        yield drafted(f"log cabin off the middle, {logs} logs", "square", pieces, 9)
    yield drafted("half log cabin, rounds: 5", "square", boxed(half_log_cabin(5), 6), 9)
    for rounds in (1, 2, 3):
        quarter = moved_by(half_log_cabin(rounds), 0, 0)
        four = round_about(quarter, (rounds + 1.0, rounds + 1.0), 4)
        yield drafted(f"patience corners, rounds: {rounds}", "square", boxed(four, 2 * rounds + 2), 10)
    yield drafted("pineapple, rounds: 5", "square", pineapple(5), 12)


def _cut_short(pieces: Pieces) -> Sketch:
    every = np.concatenate(pieces)
    low, high = every.min(axis=0), every.max(axis=0)
    return Sketch(box(*low, *(high - low)), tuple(pieces))


def _frames() -> Iterator[TradeBlock]:
    """Frames that meet in mitres, about a square, a hexagon, an octagon."""
    for rounds in (2, 3):
        pieces = _mitred_rounds(4, rounds)
        yield drafted(f"mitred housetop, rounds: {rounds}", "square", pieces, 9, set_in=True)
    yield drafted("mitred hexagon, rounds: 2", "hexagon", _mitred_rounds(6, 2), 9, set_in=True)
    for rounds in (1, 2):
        octagon = _mitred_rounds(8, rounds)
        yield drafted(f"mitred octagon, rounds: {rounds}", "octagon", octagon, 9, set_in=True)
        name = "straight plate of eight blades" if rounds == 1 else "straight plate of eight blades, two rings"
        yield drafted(name, "square", cornered(octagon), 12, set_in=True)
    halved = [*halves(1, 1, 2, rising=True), *_frame_of_four()]
    yield drafted("spool with a halved middle", "square", boxed(halved, 4), 6, set_in=True)


def _frame_of_four() -> Pieces:
    return round_about([polygon([(0, 0), (4, 0), (3, 1), (1, 1)])], (2, 2), 4)


def _mitred_rounds(sides: int, rounds: int) -> Sketch:
    """A regular polygon that lies straight, and so many mitred frames about it."""
    first = 180.0 / sides if sides != 6 else 0.0
    rings: list[Points] = [ring(sides, 1.0 + k, first) for k in range(rounds + 1)]
    frames = [
        polygon([inner[k - 1], outer[k - 1], outer[k], inner[k]])
        for inner, outer in pairwise(rings)
        for k in range(sides)
    ]
    return Sketch(rings[-1], (rings[0], *frames))


def slanted_column(many: int, *, rising: bool) -> Pieces:
    """A column 1 wide of rhomboids 1 high that rise or fall to the right, a triangle at either end."""
    rhomboids = [polygon([(0, k), (1, k + 1), (1, k + 2), (0, k + 1)]) for k in range(many)]
    column = [polygon([(0, 0), (1, 0), (1, 1)]), *rhomboids, polygon([(0, many), (1, many + 1), (0, many + 1)])]
    return column if rising else [(p * (-1, 1) + (1, 0))[::-1] for p in column]
