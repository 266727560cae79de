"""Old blocks of four by four cells for the catalogue, and of eight by eight that are four such turned.

Names are the trade's common property, from memory; where one drawing has several, the commonest is taken.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .geometry import polygon
from .trade_block import TradeBlock, drafted
from .trade_cells import MIRRORED, TURNED, in_cells, in_symmetry
from .trade_symmetry import GROUPS, all_images
from .trade_units import Pieces, boxed, halves, moved_by, round_about

# Their upper left quarters, and what lays the whole on itself.
_QUARTERS = {
    "ribbon star": (MIRRORED, "/\\", "\\."),
    "barbara frietchie star": (MIRRORED, "/\\", "\\/"),
    "martha washington star": (MIRRORED, ".\\", "\\\\"),
    "mosaic star about a square on point": (MIRRORED, ".\\", "\\/"),
    "mosaic of arrowheads": (MIRRORED, "./", "//"),
    "mosaic of peaks": (MIRRORED, "//", "/."),
    "mosaic of peaks turned in": (MIRRORED, "\\/", "/."),
    "mosaic star with corners turned in": (MIRRORED, "\\\\", "\\."),
    "king's crown of halves": (MIRRORED, "./", "/."),
    "star with squares on point": (MIRRORED, "Q\\", "\\."),
    "star with four patch corners": (MIRRORED, "+\\", "\\."),
    "union square": (MIRRORED, "+n ", "wB  ", "    "),
    "clay's choice": (TURNED, "./", "./"),
    "louisiana": (TURNED, "n ", "[ "),
    "oh susannah": (TURNED, "[ ", "./"),
    "mosaic of hooks": (TURNED, "\\\\", "./"),
    "double windmill mosaic": (TURNED, "\\/", ".\\"),
}
_WHOLE = {
    "crosses and losses": ("F ./", "  /.", "./F ", "/.  "),
    "fox and geese": ("F .\\", "  \\.", ".\\F ", "\\.  "),
    "old maid's puzzle": ("R .\\", "  \\.", ".\\R ", "\\.  "),
    "hovering hawks": (".//.", "/.//", "//./", ".//."),
    "four buckeye beauties": ("+/+/", "/+/+", "+/+/", "/+/+"),
    "broken dishes and squares": ("\\/..", "/\\..", "..\\/", "../\\"),
}


def sixteen_cells() -> Iterator[TradeBlock]:
    """Those of halves and squares, then those with sawteeth in each quarter."""
    for name, (group, *rows) in _QUARTERS.items():
        yield drafted(name, "square", boxed(in_symmetry(group, 4, *rows), 4), 10)
    for name, cells in _WHOLE.items():
        yield drafted(name, "square", boxed(in_cells(*cells), 4), 10)
    yield from _sawtooth_quarters()


def sawtooth_quarter(teeth: int) -> Pieces:
    """A square halved; in its upper left half a row of teeth along either leg, and what is left."""
    side = float(teeth + 2)
    top = [p for k in range(teeth) for p in halves(k + 1, side - 1, 1, rising=True)]
    left = [p for k in range(teeth) for p in halves(0, side - 2 - k, 1, rising=True)]
    ends = [polygon([(0, 0), (1, 1), (0, 1)]), polygon([(side - 1, side - 1), (side, side), (side - 1, side)])]
    rest = polygon([(1, 1), (side - 1, side - 1), (1, side - 1)])
    corner = polygon([(0, side - 1), (1, side - 1), (1, side), (0, side)])
    return [polygon([(0, 0), (side, 0), (side, side)]), rest, corner, *top, *left, *ends]


def _sawtooth_quarters() -> Iterator[TradeBlock]:
    """Sawteeth along two sides of a halved square: one, four turned, four alike."""
    for teeth, one, turned in ((1, "lost ship", "forest path"), (2, "sawtooth", "kansas troubles")):
        side = float(teeth + 2)
        quarter = sawtooth_quarter(teeth)
        yield drafted(one, "square", boxed(quarter, side), 6)
        whole = round_about(quarter, (side, side), 4)
        yield drafted(turned, "square", boxed(whole, 2 * side), 12)
    alike = [p for x in (0, 3) for y in (0, 3) for p in moved_by(sawtooth_quarter(1), x, y)]
    yield drafted("lost ships", "square", boxed(alike, 6), 12)
    slopes = all_images(sawtooth_quarter(3), GROUPS["mirror"], np.array([5.0, 2.5]))
    yield drafted("delectable mountains", "rectangle", boxed(slopes, 10, 5), 12)
