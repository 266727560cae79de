"""The trade's best-known blocks as exact drawings, each from its grid.

The blocks and their names are the trade's common property; the drawings are our own, at usual finished sizes.
"""

from __future__ import annotations

from itertools import chain

from .trade_block import TradeBlock, is_right_block
from .trade_grid import courses, patches, pictures, setting_triangles, stars_and_geese
from .trade_set_in import eight_pointed_stars, octagons, set_in_squares, sixty_degrees

__all__ = ["TRADE_BLOCKS", "TradeBlock", "is_right_block", "trade_block"]

TRADE_BLOCKS: tuple[TradeBlock, ...] = tuple(
    chain(
        patches(), stars_and_geese(), courses(), pictures(), setting_triangles(), eight_pointed_stars(), octagons(),
        sixty_degrees(), set_in_squares(),
    )
)  # fmt: skip


def trade_block(name: str) -> TradeBlock:
    """The block of this name; KeyError when there is none."""
    return {block.name: block for block in TRADE_BLOCKS}[name]
