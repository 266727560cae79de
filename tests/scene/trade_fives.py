"""Old blocks of five by five cells and more for the catalogue, most of them with bars through the middle.

Names are the trade's common property, from memory; where one drawing has several, the commonest is taken. Guild
lists disagree on which of the blocks of halves about a cross bears which name.
"""

from __future__ import annotations

from collections.abc import Iterator

from .trade_block import TradeBlock, drafted
from .trade_cells import MIRRORED, TURNED, in_symmetry
from .trade_units import boxed

# What lays the whole on itself, and its upper left part.
_OF_FIVE = {
    "wedding ring": (MIRRORED, "/\\.", "\\/.", "  ."),
    "crown of thorns": (MIRRORED, "\\\\.", "\\\\.", "  ."),
    "farmer's daughter": (MIRRORED, "./.", "/..", "  ."),
    "sister's choice with bars": (MIRRORED, ".\\I", "\\. ", "  ."),
    "jack in the box": (MIRRORED, "/\\.", "\\..", "  ."),
    "handy andy": (MIRRORED, "./I", "/. ", "  ."),
    "hen and chickens": (MIRRORED, "//I", "/. ", "  ."),
    "shoofly with bars": (MIRRORED, "/.I", ".. ", "  ."),
    "shoofly with a narrow cross": (MIRRORED, "R I", "   ", "  ."),
    "grandmother's choice": (MIRRORED, "/.I", "./ ", "  ."),
    "squares on point and bars": (MIRRORED, "P I", "   ", "  ."),
    "cross and crown": (MIRRORED, "//I", "/\\ ", "  ."),
    "goose in the pond": (MIRRORED, "//.", "/#M", "  ."),
    "pinwheels and bars": (MIRRORED, "\\/I", "/\\ ", "  ."),
    "star and cross": (MIRRORED, "/\\I", "\\. ", "  ."),
    "hourglasses and bars": (MIRRORED, "H I", "   ", "  ."),
    "four patches and bars": (MIRRORED, "..I", ".. ", "  ."),
    "dutchman's puzzle with bars": (TURNED, "n I", "n  ", "  ."),
}
_OF_SIX = {
    "corn and beans": (MIRRORED, "///", "/..", "/.\\"),
    "weather vane": (MIRRORED, ".\\/", "\\..", "/.."),
    "swing in the centre": (MIRRORED, "/\\.", "\\/.", "../"),
    "four paws": (MIRRORED, ".//", "/B ", "/  "),
    "four birds in the air": (TURNED, "///", "//.", "/.."),
}
_OF_SEVEN = {
    "bear's paw with squares in the bars": (MIRRORED, ".//.", "/B .", "/  .", "   ."),
    "dove in the window": (MIRRORED, "B /I", "  . ", "/.\\.", "   ."),
}


def five_cells() -> Iterator[TradeBlock]:
    """Those of five, six and seven cells."""
    for side, parts in ((5, _OF_FIVE), (6, _OF_SIX), (7, _OF_SEVEN)):
        for name, (group, *rows) in parts.items():
            yield drafted(name, "square", boxed(in_symmetry(group, side, *rows), side), 2 * side)
