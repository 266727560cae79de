"""Invented layouts of one set of templates that all fit, drawn by hand: what a person may choose from."""

from collections.abc import Mapping

import attrs
import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Block, LayoutProof, Reason
from tests.sheets.examples import block_of

SIDE = 50.8
HALF = "half"
SQUARE = "square"
# Two squares and four half squares fill two by two cells. A sign is a cell: S a square, / and | its two halves, cut
# one way or the other. No two of these are one block turned.
DRAWN = ("S//S", "S||S", "S/|S", "SS//")


MEASURED = {
    "format": "seamsurvey.measured/1",
    "templates": [
        {"name": HALF, "finished_outline_mm": [[0, 0], [SIDE, 0], [0, SIDE]], "count": 4},
        {"name": SQUARE, "finished_outline_mm": [[0, 0], [SIDE, 0], [SIDE, SIDE], [0, SIDE]], "count": 2},
    ],
}


def layout(cells: str, *, side: float = SIDE, names: Mapping[str, str] | None = None) -> Block:
    """The block whose four cells, from the lower left row by row, are these."""
    called = {HALF: HALF, SQUARE: SQUARE, **(names or {})}
    pieces: dict[str, NDArray[np.float64]] = {}
    count = {HALF: 0, SQUARE: 0}
    corners = np.array([[0, 0], [side, 0], [side, side], [0, side]], dtype=float)
    for k, cell in enumerate(cells):
        at = corners + np.array([k % 2, k // 2]) * side
        parts = {"S": [[0, 1, 2, 3]], "/": [[0, 1, 2], [0, 2, 3]], "|": [[0, 1, 3], [1, 2, 3]]}[cell]
        name = SQUARE if cell == "S" else HALF
        for part in parts:
            count[name] += 1
            pieces[f"{called[name]}-{count[name]}"] = at[part]
    return block_of(pieces)


def layouts(*cells: str, searched_all: bool = True, work_s: float = 3.0) -> tuple[Block, ...]:
    """Blocks as a search gives them: with what it can claim, and a reason that speaks less for each next one."""
    proof = LayoutProof(searched_all, len(cells), work_s)
    return tuple(
        attrs.evolve(layout(each), proof=proof, reasons=(Reason("symmetry", f"as in drawing {k}", 3.0 - k),))
        for k, each in enumerate(cells)
    )
