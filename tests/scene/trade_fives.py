"""Old blocks of five by five cells and more for the catalogue, most of them with bars through the middle.

Names are the trade's common property, from memory; where one drawing has several, the commonest is taken. Guild
lists disagree on which of the blocks of halves about a cross bears which name.
"""

from __future__ import annotations

from collections.abc import Iterator

from .trade_block import TradeBlock, drafted
from .trade_cells import MIRRORED, TURNED, in_symmetry
from .trade_units import boxed

# What lays the whole on itself, how many cells it is wide, and its upper left part.
_PARTS = {
    # Five cells wide.
    "wedding ring": (MIRRORED, 5, "/\\.", "\\/.", "  ."),
    "crown of thorns": (MIRRORED, 5, "\\\\.", "\\\\.", "  ."),
    "farmer's daughter": (MIRRORED, 5, "./.", "/..", "  ."),
    "sister's choice with bars": (MIRRORED, 5, ".\\I", "\\. ", "  ."),
    "jack in the box": (MIRRORED, 5, "/\\.", "\\..", "  ."),
    "handy andy": (MIRRORED, 5, "./I", "/. ", "  ."),
    "hen and chickens": (MIRRORED, 5, "//I", "/. ", "  ."),
    "shoofly with bars": (MIRRORED, 5, "/.I", ".. ", "  ."),
    "shoofly with a narrow cross": (MIRRORED, 5, "R I", "   ", "  ."),
    "grandmother's choice": (MIRRORED, 5, "/.I", "./ ", "  ."),
    "squares on point and bars": (MIRRORED, 5, "P I", "   ", "  ."),
    "cross and crown": (MIRRORED, 5, "//I", "/\\ ", "  ."),
    "goose in the pond": (MIRRORED, 5, "//.", "/#M", "  ."),
    "pinwheels and bars": (MIRRORED, 5, "\\/I", "/\\ ", "  ."),
    "star and cross": (MIRRORED, 5, "/\\I", "\\. ", "  ."),
    "hourglasses and bars": (MIRRORED, 5, "H I", "   ", "  ."),
    "four patches and bars": (MIRRORED, 5, "..I", ".. ", "  ."),
    "dutchman's puzzle with bars": (TURNED, 5, "n I", "n  ", "  ."),
    # Six cells wide.
    "corn and beans": (MIRRORED, 6, "///", "/..", "/.\\"),
    "weather vane": (MIRRORED, 6, ".\\/", "\\..", "/.."),
    "swing in the centre": (MIRRORED, 6, "/\\.", "\\/.", "../"),
    "four paws": (MIRRORED, 6, ".//", "/B ", "/  "),
    "birds in the air, four turned": (TURNED, 6, "///", "//.", "/.."),
    # Seven cells wide.
    "bear's paw with squares in the bars": (MIRRORED, 7, ".//.", "/B .", "/  .", "   ."),
    "dove in the window": (MIRRORED, 7, "B /I", "  . ", "/.\\.", "   ."),
}


def five_cells() -> Iterator[TradeBlock]:
    """Those of five, six and seven cells."""
    for name, (group, side, *rows) in _PARTS.items():
        yield drafted(name, "square", boxed(in_symmetry(group, side, *rows), side), 2 * side)
