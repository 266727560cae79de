"""Old picture blocks for the catalogue: leaves, ships, a goblet, baskets, trees.

Names are the trade's common property, from memory; where one drawing has several, the commonest is taken.
"""

from __future__ import annotations

from collections.abc import Iterator

from .geometry import Points, polygon
from .trade_block import TradeBlock, drafted
from .trade_cells import in_cells
from .trade_units import Pieces, box, boxed, halves, moved_by

_CELLS = {
    "cactus flower": ("\\\\.", "B \\", "  \\"),
    "maple leaf": ("\\\\.", "..\\", "S.\\"),
    "maple leaf, three points a side": ("\\\\\\.", "B .\\", "  .\\", "S..\\"),
    "tea leaf": ("\\\\..", "..\\.", "...\\", "S..\\"),
    "little ship": ("./.", "/..", "\\./"),
    "sailboat": ("./\\.", "/..\\", "\\../", "[ [ "),
    "ship with two sails": ("././", "/./.", "\\../", "[ [ "),
    "goblet": ("IB I", "    ", ".\\/.", "./\\."),
}


def picture_blocks() -> Iterator[TradeBlock]:
    """Leaves and ships, then baskets and trees."""
    for name, rows in _CELLS.items():
        yield drafted(name, "square", boxed(in_cells(*rows), len(rows)), 9)
    for teeth, name in ((1, "little basket"), (2, "cake stand"), (4, "basket of eight teeth")):
        yield drafted(name, "square", boxed(basket(teeth, _plain_half(teeth)), teeth + 2), 10)
    yield drafted("grape basket", "square", boxed(basket(3, _flock(3)), 5), 10)
    yield drafted("fruit basket", "square", boxed(basket(2, _flock(2)), 4), 10)
    for needles, name in ((1, "little pine tree"), (3, "tree of paradise")):
        yield drafted(name, "square", boxed(_tree(needles), 3 + needles), 12)


def basket(teeth: int, body: Pieces) -> Pieces:
    """A basket that leans to the left: teeth along its rim, its body below the diagonal of a square, two feet."""
    far = teeth + 1.0
    rim = [box(0, far, 1), *(p for k in range(teeth) for p in halves(1 + k, far, 1, rising=True))]
    rim += [p for k in range(teeth) for p in halves(0, 1 + k, 1, rising=True)]
    feet = [*halves(far, 1, 1, rising=True), *halves(far - 1, 0, 1, rising=True), box(far, 0, 1)]
    above = polygon([(1, 1), (far, far), (1, far)])
    return [*rim, above, *moved_by(body, 1, 1), *feet, box(far, 2, 1, teeth), box(0, 0, teeth, 1)]


def _plain_half(side: int) -> Pieces:
    return [polygon([(0, 0), (side, 0), (side, side)])]


def _flock(side: int) -> Pieces:
    """The lower half of a square in small triangles."""
    ends: list[Points] = [polygon([(k, k), (k + 1, k), (k + 1, k + 1)]) for k in range(side)]
    return [*ends, *(p for i in range(side) for j in range(i) for p in halves(i, j, 1, rising=True))]


def _tree(rows: int) -> Pieces:
    """Rows of needles along two sides, squares where they meet, a trunk in a square of side 3."""
    needles: Pieces = []
    for k in range(rows):
        for along in range(3 + k):
            needles += [*halves(along, 3 + k, 1, rising=False), *halves(3 + k, along, 1, rising=False)]
        needles.append(box(3 + k, 3 + k, 1))
    trunk = [
        [(3, 0), (3, 3), (0, 3)], [(1, 0), (2, 1), (1, 2), (0, 1)], [(0, 0), (1, 0), (0, 1)],
        [(1, 0), (3, 0), (2, 1)], [(0, 1), (1, 2), (0, 3)],
    ]  # fmt: skip
    return [*needles, *(polygon(corners) for corners in trunk)]
