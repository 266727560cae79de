"""Old blocks on point for the catalogue: a block in four triangles, and fields of squares trimmed to triangles.

Names are the trade's common property, from memory; where none comes to mind, what is drawn is said.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from .geometry import Points, polygon
from .trade_block import Sketch, TradeBlock, drafted
from .trade_cells import MIRRORED, in_cells, in_symmetry
from .trade_grid import log_cabin
from .trade_units import Pieces, box, goose, moved_by, round_about, trimmed, turned_about

_BLOCKS = {
    "four patch": ("..", ".."),
    "nine patch": ("...", "...", "..."),
    "sixteen patch": ("....", "....", "....", "...."),
    "rail fence": ("EM", "ME"),
    "friendship star": ("./.", "\\.\\", "./."),
    "shoofly": ("/.\\", "...", "\\./"),
    "churn dash": ("/=\\", "|.|", "\\=/"),
    "ohio star": (".X.", "X.X", ".X."),
}


def blocks_on_point() -> Iterator[TradeBlock]:
    """Blocks set on point, then fields and crosses that run to the corners."""
    for name, rows in _BLOCKS.items():
        yield drafted(f"{name} set on point", "square", set_on_point(in_cells(*rows), len(rows)), 12)
    star = in_symmetry(MIRRORED, 4, ".s  ", "eB  ")
    yield drafted("sawtooth star set on point", "square", set_on_point(star, 4), 12)
    cabin = log_cabin(1, 2, paired=False)
    yield drafted("log cabin set on point", "square", set_on_point(cabin, 5), 10)
    for reach, name in ((2, "five squares on point"), (3, "thirteen squares on point")):
        yield drafted(name, "square", on_point_within(_field(reach), reach), 8)
    yield drafted("chimney sweep", "square", on_point_within(_chimney_sweep(), 4), 12)
    for count, name in ((1, "odd fellow's cross"), (2, "wild goose chase")):
        yield drafted(name, "square", on_point_within(_chase(count), count + 2), 12)
    yield drafted("crossed bars", "square", on_point_within(_crossed(), 4), 9)
    yield drafted("four patches in crossed bars", "square", on_point_within(_four_in_bars(), 4), 12)


def set_on_point(pieces: Sequence[Points], side: float) -> Sketch:
    """A square block from the origin, an eighth of a turn on, in the square whose corners are four triangles."""
    half = side / 2
    turned = turned_about(moved_by(pieces, -half, -half), (0, 0), 45.0)
    reach = half * math.sqrt(2)
    corner = polygon([(reach, 0), (reach, reach), (0, reach)])
    return Sketch(box(-reach, -reach, 2 * reach), (*turned, *round_about([corner], (0, 0), 4)))


def on_point_within(pieces: Sequence[Points], reach: float) -> Sketch:
    """Pieces trimmed to the square with corners `reach` from the origin along x and y, and that laid straight."""
    room = polygon([(reach, 0), (0, reach), (-reach, 0), (0, -reach)])
    turned = turned_about(trimmed(pieces, room), (0, 0), 45.0)
    half = reach / math.sqrt(2)
    return Sketch(box(-half, -half, 2 * half), tuple(turned))


def _field(reach: int) -> Pieces:
    """Squares of side 1, one in the middle."""
    return [box(i - 0.5, j - 0.5, 1) for i in range(-reach, reach + 1) for j in range(-reach, reach + 1)]


def _chimney_sweep() -> Pieces:
    """An album block: a strip to write on in the middle, squares on either side of it, strips about the whole."""
    inner = [box(-1.5, -0.5, 3, 1), *(box(i - 0.5, j - 0.5, 1) for i in (-1, 0, 1) for j in (-1, 1))]
    strips = round_about([box(-1.5, 1.5, 3, 1)], (0, 0), 4)
    taken = [(x, y) for x in (-1, 0, 1) for y in (-2, -1, 0, 1, 2)] + [(x, y) for x in (-2, 2) for y in (-1, 0, 1)]
    rest = [
        box(i - 0.5, j - 0.5, 1)
        for i in range(-4, 5)
        for j in range(-4, 5)
        if abs(i) + abs(j) <= 4 and (i, j) not in taken
    ]
    return [*inner, *strips, *rest]


def _chase(count: int) -> Pieces:
    """Geese from the middle to the four corners, and what lies between."""
    arm = [p for k in range(count) for p in goose(-1, 1 + k, 2, 1, "N")]
    end = count + 1.0
    arm += [polygon([(-1, end), (1, end), (0, end + 1)]), box(1, 1, 2 * end)]
    return [box(-1, -1, 2), *round_about(arm, (0, 0), 4)]


def _crossed() -> Pieces:
    """Bars from corner to corner, a square where they cross."""
    arm = [box(-0.5, 0.5, 1, 9), box(0.5, 0.5, 9)]
    return [box(-0.5, -0.5, 1), *round_about(arm, (0, 0), 4)]


def _four_in_bars() -> Pieces:
    """A four patch where bars cross, each bar of two strips."""
    arm = [box(-1, 1, 1, 9), box(0, 1, 1, 9), box(1, 1, 9)]
    return [*moved_by(in_cells("..", ".."), -1, -1), *round_about(arm, (0, 0), 4)]
