"""Further old blocks of the trade for the catalogue, by family: nothing in the search was tuned on them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from .trade_block import TradeBlock
from .trade_fives import five_cells
from .trade_nines import nine_cells
from .trade_on_point import blocks_on_point
from .trade_pictures import picture_blocks
from .trade_rays import blocks_of_rays
from .trade_sixteens import sixteen_cells
from .trade_strips import blocks_of_strips

FAMILIES: Mapping[str, Callable[[], Iterator[TradeBlock]]] = {
    "two and three cells": nine_cells,
    "four cells": sixteen_cells,
    "five cells and more": five_cells,
    "on point": blocks_on_point,
    "strips, logs, frames": blocks_of_strips,
    "stars, compasses, fans": blocks_of_rays,
    "pictures": picture_blocks,
}


# Drawn and measured, but not in the catalogue: their names only say what is drawn, and their cards are those of a
# block that every quilter knows, which they would stand in the way of.
HELD_BACK = frozenset({
    "broken dishes and squares", "double windmill mosaic", "five hourglasses", "four birds in the air",
    "four buckeye beauties", "four nine patches", "friendship star with corners", "king's crown of halves",
    "ladder about the middle", "little basket", "little ship", "mosaic of arrowheads", "mosaic of hooks",
    "mosaic of peaks", "mosaic of peaks turned in", "mosaic star about a square on point",
    "mosaic star with corners turned in", "nine patch of nine patches", "pinwheel set on point",
    "shoofly with an hourglass",
})  # fmt: skip


def further_blocks() -> Iterator[TradeBlock]:
    """Those for the catalogue, family by family."""
    for family in FAMILIES.values():
        yield from (block for block in family() if block.name not in HELD_BACK)
