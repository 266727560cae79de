"""Write the catalogue of known blocks that the block room carries: ``python -m tests.write_tradition``.

Each block of `trade_blocks`, `trade_more`, `trade_regular` and `trade_further` as its points and, for each piece,
the number of its shape and of its corners; shapes are numbered as templates are named.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import numpy as np

from tests.scene.trade_block import TradeBlock
from tests.scene.trade_blocks import TRADE_BLOCKS
from tests.scene.trade_further import further_blocks
from tests.scene.trade_more import more_blocks
from tests.scene.trade_regular import regular_blocks

CATALOGUE = Path(__file__).parents[1] / "pipeline" / "seamsurvey" / "block" / "tradition.json"
_UNIT = 1000  # the width of every block: points are whole numbers of tenths of it
_DIGITS = 1
_NAMES = frozenset({
    "andy", "barbara", "california", "clay's", "dutch", "dutchman's", "eliza's", "frietchie", "greek", "irish",
    "jacob's", "kansas", "louisiana", "martha", "ohio", "pandora's", "roman", "susannah", "t", "texas",
    "washington", "x",
})  # fmt: skip


def entry(block: TradeBlock, *, famous: bool) -> dict[str, object]:
    """One block as the catalogue has it; `famous` ones every quilter knows by name."""
    low = block.outline.min(axis=0)
    scale = _UNIT / block.size[0]
    points: list[list[float]] = []

    def number(corner: np.ndarray) -> int:
        at = [round(float(x), _DIGITS) for x in (corner - low) * scale]
        known = next((k for k, p in enumerate(points) if abs(p[0] - at[0]) + abs(p[1] - at[1]) < 1), None)
        if known is None:
            points.append(at)
            return len(points) - 1
        return known

    shape = {copy.piece: k for k, one in enumerate(block.templates) for copy in one.copies}
    pieces = [[shape[k], *(number(corner) for corner in piece)] for k, piece in enumerate(block.pieces)]
    return {"name": named(block), "famous": famous, "outline": block.kind, "points": points, "pieces": pieces}


def named(block: TradeBlock) -> str:
    """The name without what follows a comma, with the capitals of names of places and people."""
    words = block.name.partition(",")[0].split()
    return " ".join(word.capitalize() if word in _NAMES else word for word in words)


@cache
def drawings() -> tuple[TradeBlock, ...]:
    """All blocks of the catalogue, in its order."""
    return (*TRADE_BLOCKS, *more_blocks(), *regular_blocks(), *further_blocks())


def catalogue() -> str:
    """The whole file."""
    entries = [entry(block, famous=k < len(TRADE_BLOCKS)) for k, block in enumerate(drawings())]
    rows = [json.dumps(one, separators=(",", ":")) for one in entries]
    return "[\n" + ",\n".join(rows) + "\n]\n"


if __name__ == "__main__":
    CATALOGUE.write_text(catalogue(), encoding="utf-8")
