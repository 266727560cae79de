"""More of the trade's blocks for the catalogue of those that are known: other numbers of rounds, rows and blades.

Names are the trade's common property, from memory; where none comes to mind, what is drawn is said.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .geometry import polygon
from .trade_block import Sketch, TradeBlock, drafted
from .trade_cells import in_cells
from .trade_grid import economy_patch, half_log_cabin, log_cabin, pineapple, snails_trail
from .trade_set_in import cornered, cube, fan, ring, spider_web, star_in_square
from .trade_units import (
    bars,
    box,
    boxed,
    clipped,
    four_patch,
    goose,
    halves,
    moved_by,
    nine_patch,
    on_point,
    quarters,
    round_about,
    trimmed,
)

# Each a block of equal cells, as it is drawn on squared paper (`trade_cells.in_cells`).
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
    yield from _pictures()
    yield from _cubes_and_windows()
    yield from _hexagons_trimmed()


def _pictures() -> Iterator[TradeBlock]:
    """Plainer baskets, houses and trees than `trade_grid.pictures` has."""
    roof = goose(0, 2, 4, 2, "N")
    walls = [box(0, 0, 1.5, 2), box(1.5, 0, 1, 2), box(2.5, 0, 1.5, 2)]
    yield drafted("house, plain", "square", boxed([*roof, *walls], 4), 8)
    window = [box(0, 0, 1, 2), box(1, 0, 1, 2), box(2, 0, 1, 2), box(3, 0, 1, 1), box(3, 1, 1, 1)]
    yield drafted("house, with a window", "square", boxed([*roof, *window], 4), 8)
    chimneys = [box(0, 4, 1), box(1, 4, 0.5, 1), box(1.5, 4, 1, 1), box(2.5, 4, 0.5, 1), box(3, 4, 1)]
    yield drafted("house, with chimneys", "rectangle", boxed([*roof, *walls, *chimneys], 4, 5), 8)
    for tiers in (2, 3, 4):
        tiers_of_geese = [piece for k in range(tiers) for piece in goose(0, 1 + k, 2, 1, "N")]
        trunk = [box(0, 0, 0.75, 1), box(0.75, 0, 0.5, 1), box(1.25, 0, 0.75, 1)]
        yield drafted(f"tree of {tiers} tiers", "rectangle", boxed([*trunk, *tiers_of_geese], 2, 1 + tiers), 6)
    plain = [*halves(0, 1, 3, rising=False), box(3, 1, 1, 3), box(0, 0, 3, 1), *halves(3, 0, 1, rising=True)]
    yield drafted("basket, plain", "square", boxed(plain, 4), 8)


def _cubes_and_windows() -> Iterator[TradeBlock]:
    """Cubes, windows and spools, fewer or more than `trade_set_in` has."""
    for side in (1, 3):
        yield drafted(f"building blocks, {side}", "hexagon", cube(side), 8, set_in=True)
    pane = [box(1, 1, 3), polygon([(0, 0), (1, 1), (1, 4), (0, 4)]), polygon([(0, 0), (4, 0), (4, 1), (1, 1)])]
    for many in (1, 3):
        panes = [p for x in range(many) for y in range(many) for p in moved_by(pane, 4 * x, 4 * y)]
        yield drafted(f"attic windows, {many}", "square", boxed(panes, 4 * many), 8, set_in=True)
    spool = [box(1, 1, 2), *round_about([polygon([(0, 0), (4, 0), (3, 1), (1, 1)])], (2, 2), 4)]
    spools = [p for x in (0, 4) for y in (0, 4) for p in moved_by(spool, x, y)]
    yield drafted("spool, 4", "square", boxed(spools, 8), 8, set_in=True)
    tie = [*clipped(0, 1, 1, 0.4, (1,)), box(0, 0, 1), box(1, 1, 1), *clipped(1, 0, 1, 0.4, (3,))]
    yield drafted("bow tie, of two squares and two clipped ones", "square", boxed(tie, 2), 6)
    ring = [box(1, 1, 2), *round_about([box(0, 0, 3, 1)], (2, 2), 4)]
    hopes = [p for x in (0, 4) for y in (0, 4) for p in moved_by(ring, x, y)]
    yield drafted("bright hopes, 4", "square", boxed(hopes, 8), 8, set_in=True)


def _hexagons_trimmed() -> Iterator[TradeBlock]:
    """Hexagons side by side, trimmed to a rectangle through middles or corners; the middle one whole or cut up."""
    whole, high = ring(6, 1.0), np.sqrt(3)
    middles = {
        "whole": [whole],
        "a cube": list(cube(1).pieces),
        "six triangles": [polygon([(0, 0), a, b]) for a, b in zip(whole, np.roll(whole, -1, axis=0), strict=True)],
        "two halves": [whole[[0, 1, 2, 3]], whole[[3, 4, 5, 0]]],
    }
    for width in (3.0, 4.0):
        for middle, pieces in middles.items():
            field = _trimmed([whole], pieces, width, 2 * high)
            yield drafted(f"hexagons trimmed, {width:g} wide, {middle}", "rectangle", field, 10, set_in=True)
    for columns, rows in ((6.0, 2), (3.0, 4), (6.0, 4)):
        field = _trimmed([whole], [whole], columns, rows * high)
        yield drafted(f"hexagons trimmed, {columns:g} by {rows}", "rectangle", field, 12, set_in=True)
    cubes = list(cube(1).pieces)
    field = _trimmed(cubes, cubes, 3.0, 2 * high)
    yield drafted("tumbling blocks trimmed", "rectangle", field, 10, set_in=True)


def _trimmed(each: list[np.ndarray], middle: list[np.ndarray], width: float, height: float) -> Sketch:
    """A field of hexagons of side 1, made of `each`, the one in the middle of `middle`, cut to a rectangle."""
    room = box(-width / 2, -height / 2, width, height)
    pieces = [
        piece + np.array([1.5 * column, np.sqrt(3) * (row + 0.5 * (column % 2))])
        for column in range(-4, 5)
        for row in range(-4, 5)
        for piece in (middle if column == row == 0 else each)
    ]
    return Sketch(room, tuple(trimmed(pieces, room)))


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
    for count in (1, 2, 3, 5, 6, 8):
        geese = [piece for k in range(count) for piece in goose(0, k, 2, 1, "N")]
        yield drafted(f"flying geese, {count}", "square" if count == 2 else "rectangle", boxed(geese, 2, count), 6)


def _plain(x: float, y: float, w: float) -> list[np.ndarray]:
    return [box(x, y, w)]


def _rounds() -> Iterator[TradeBlock]:
    """As many rounds as one likes."""
    for middle, rounds in ((1, 1), (1, 2), (1, 3), (1, 4), (2, 1), (2, 2), (2, 4)):
        side = middle + 2.0 * rounds
        cabin, steps = log_cabin(middle, rounds, paired=False), log_cabin(middle, rounds, paired=True)
        yield drafted(f"log cabin, {middle} and {rounds}", "square", boxed(cabin, side), side)
        yield drafted(f"courthouse steps, {middle} and {rounds}", "square", boxed(steps, side), side)
    for rounds in (2, 3, 4):
        yield drafted(f"half log cabin, rounds: {rounds}", "square", boxed(half_log_cabin(rounds), rounds + 1), 8)
        yield drafted(f"economy patch, rounds: {rounds}", "square", economy_patch(rounds), 8)
    for rounds in (2, 4):
        yield drafted(f"pineapple, rounds: {rounds}", "square", pineapple(rounds), 10)
        yield drafted(f"snail's trail, rounds: {rounds}", "square", snails_trail(rounds), 10)
    for rounds in (1, 3, 4):
        yield drafted(f"spider web, rounds: {rounds}", "square", cornered(spider_web(rounds)), 12)
    for blades in (3, 4, 6, 7, 8):
        yield drafted(f"fan of {blades} blades", "square", fan(blades, 0.3, 0.9), 9, set_in=True)
