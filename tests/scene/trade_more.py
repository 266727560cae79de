"""More of the trade's blocks for the catalogue of those that are known: other numbers of rounds, rows and blades.

Names are the trade's common property, from memory; where none comes to mind, what is drawn is said.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .trade_block import TradeBlock, drafted
from .trade_grid import economy_patch, half_log_cabin, log_cabin, pineapple, snails_trail
from .trade_set_in import cornered, fan, spider_web, star_in_square
from .trade_units import (
    bars,
    box,
    boxed,
    four_patch,
    goose,
    halves,
    in_cells,
    moved_by,
    nine_patch,
    on_point,
    quarters,
    round_about,
)

# Each a block of equal cells, as it is drawn on squared paper (`trade_units.in_cells`).
_CELLS = {
    "big dipper": ("XX", "XX"),
    "calico puzzle": ("\\./", "...", "/.\\"),
    "split nine patch": ("/..", "./.", "../"),
    "evening star": (".\\/.", "\\../", "/..\\", "./\\."),
    "square of halves": ("/\\", "\\/"),
    "halves all alike": ("//", "//"),
    "sixteen halves all alike": ("////", "////", "////", "////"),
    "sunshine and shadow of halves": ("//\\\\", "//\\\\", "\\\\//", "\\\\//"),
    "zigzag of halves": ("/\\/\\", "/\\/\\", "/\\/\\", "/\\/\\"),
    "sister's choice": (".\\./.", "\\.../", ".....", "/...\\", "./.\\."),
    "sixteen patch": ("....", "....", "....", "...."),
    "twenty-five patch": (".....",) * 5,
    "four patches by turns": ("+.+", ".+.", "+.+"),
    "four patches and strips": ("+=+", "|.|", "+=+"),
    "squares and strips": (".|.", "=.=", ".|."),
    "squares on point by turns": ("Q.", ".Q"),
    "nine squares on point by turns": (".Q.", "Q.Q", ".Q."),
    "four snowballs": ("OO", "OO"),
    "hourglass and squares": ("X.", ".X"),
    "two rail fence": ("=|", "|="),
    "nine rail fences": ("EME", "MEM", "EME"),
    "windmill": ("34", "21"),
}


def more_blocks() -> Iterator[TradeBlock]:
    """Blocks of equal cells, then stars and patches, then rounds."""
    for name, rows in _CELLS.items():
        yield drafted(name, "square", boxed(in_cells(*rows), len(rows)), 12)
    yield from _stars()
    yield from _patches()
    yield from _rounds()


def _stars() -> Iterator[TradeBlock]:
    """Sawtooth stars by what is in their middle."""
    corners = in_cells(".  .", "    ", "    ", ".  .")
    points = goose(1, 3, 2, 1, "S") + goose(1, 0, 2, 1, "N") + goose(0, 1, 1, 2, "E") + goose(3, 1, 1, 2, "W")
    star = [*corners, *points]
    small = [0.5 * piece + 1.0 for piece in (*star, box(1, 1, 2))]
    middles = {
        "star with a four patch": four_patch(1, 1, 2),
        "star with a nine patch": nine_patch(1, 1, 2),
        "star with a square on point": on_point(1, 1, 2),
        "star with an hourglass": quarters(1, 1, 2),
        "star with a pinwheel": moved_by(in_cells("\\/", "/\\"), 1, 1),
        "rising star": small,
    }
    for name, middle in middles.items():
        yield drafted(name, "square", boxed([*star, *middle], 4), 12)
    for rows in (2, 4):
        yield drafted(f"lone star of {rows} rows", "square", star_in_square(rows), 12, set_in=True)


def _patches() -> Iterator[TradeBlock]:
    """Nine patches of patches, fences, geese."""
    nines = [p for x in range(3) for y in range(3) for p in (nine_patch if (x + y) % 2 == 0 else _plain)(x, y, 1)]
    yield drafted("double nine patch", "square", boxed(nines, 3), 9)
    flock = [*halves(0, 2, 2, rising=True), *halves(2, 0, 2, rising=True)]
    four = [piece for x in (0, 1) for y in (0, 1) for piece in halves(x, y, 1, rising=True)]
    flock += [*four, *moved_by(four, 2, 2)]
    yield drafted("flock of geese", "square", boxed(flock, 4), 8)
    weave = round_about(bars(0, 0, 2, 2, 4, upright=False), (2, 2), 4)
    yield drafted("four rail fence", "square", boxed(weave, 4), 8)
    for count in (2, 3, 5, 6):
        geese = [piece for k in range(count) for piece in goose(0, k, 2, 1, "N")]
        yield drafted(f"flying geese, {count}", "rectangle" if count > 2 else "square", boxed(geese, 2, count), 6)


def _plain(x: float, y: float, w: float) -> list[np.ndarray]:
    return [box(x, y, w)]


def _rounds() -> Iterator[TradeBlock]:
    """As many rounds as one likes."""
    for rounds in (1, 2, 4):
        side = 2 + 2 * rounds
        yield drafted(
            f"log cabin, rounds: {rounds}", "square", boxed(log_cabin(2, rounds, paired=False), side), side
        )
        yield drafted(
            f"courthouse steps, rounds: {rounds}", "square", boxed(log_cabin(2, rounds, paired=True), side), side
        )
    for rounds in (2, 3, 4):
        yield drafted(f"half log cabin, rounds: {rounds}", "square", boxed(half_log_cabin(rounds), rounds + 1), 8)
        yield drafted(f"economy patch, rounds: {rounds}", "square", economy_patch(rounds), 8)
    for rounds in (2, 4):
        yield drafted(f"pineapple, rounds: {rounds}", "square", pineapple(rounds), 10)
        yield drafted(f"snail's trail, rounds: {rounds}", "square", snails_trail(rounds), 10)
    for rounds in (1, 3, 4):
        yield drafted(f"spider web, rounds: {rounds}", "square", cornered(spider_web(rounds)), 12)
    for blades in (3, 4, 6):
        yield drafted(f"fan of {blades} blades", "square", fan(blades, 0.3, 0.9), 9, set_in=True)
