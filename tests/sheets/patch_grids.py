"""Blocks of squares, rectangles and triangles on uneven grids, as a rotary cutter makes them; drawn at random."""

from collections.abc import Sequence

import numpy as np
from attrs import frozen

from seamsurvey.model import Block
from tests.foundation.blocks import block_of, rectangle

INCH = 25.4
Points = np.ndarray


@frozen
class Cell:
    """One cell of a grid: its lower left, its size, and into how many triangles it is split; 1 is whole."""

    corner: tuple[float, float]
    size: tuple[float, float]
    parts: int


def random_grid(seed: int) -> tuple[Block, list[list[Cell]]]:
    """A block of 1 to 6 columns and rows, and its cells by row; squares may be split in two or four triangles.

    Widths are on 1/16 in, on 1/8 in, on whole millimetres, or anywhere.
    """
    rng = np.random.default_rng([90210, seed])
    step = [INCH / 16, INCH / 8, 1.0, 0.0137][seed % 4]
    even = bool(rng.integers(2))
    columns, rows = (_widths(rng, step, even) for _ in range(2))
    if even:
        rows = [columns[0]] * len(rows)
    cells = [
        [
            Cell(
                (sum(columns[:i]), sum(rows[:j])),
                (wide, high),
                int(rng.choice([1, 1, 2, 4])) if wide == high else 1,
            )
            for i, wide in enumerate(columns)
        ]
        for j, high in enumerate(rows)
    ]
    pieces = [piece for row in cells for cell in row for piece in _pieces(cell)]
    return block_of(pieces, rectangle(0, 0, sum(columns), sum(rows))), cells


def _widths(rng: np.random.Generator, step: float, even: bool) -> list[float]:
    number = int(rng.integers(1, 7))
    drawn = [round(float(rng.uniform(20, 90)) / step) * step for _ in range(number)]
    return [drawn[0]] * number if even else drawn


def _pieces(cell: Cell) -> Sequence[Points]:
    (x, y), (wide, high) = cell.corner, cell.size
    corners = [np.array(c, dtype=float) for c in ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))]
    if cell.parts == 1:
        return [rectangle(x, y, wide, high)]
    if cell.parts == 2:
        return [np.array([corners[0], corners[1], corners[2]]), np.array([corners[0], corners[2], corners[3]])]
    middle = np.array([x + wide / 2, y + high / 2])
    return [np.array([corners[k], corners[(k + 1) % 4], middle]) for k in range(4)]
