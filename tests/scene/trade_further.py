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


def further_blocks() -> Iterator[TradeBlock]:
    """All of them, family by family."""
    for family in FAMILIES.values():
        yield from family()
