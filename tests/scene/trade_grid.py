"""Blocks of the trade that are drawn on squared paper."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from .drafting import spelled
from .geometry import Points, polygon
from .trade_block import Sketch, TradeBlock, drafted
from .trade_cells import in_cells
from .trade_units import (
    Pieces,
    bars,
    box,
    boxed,
    clipped,
    cut,
    four_patch,
    goose,
    halves,
    moved_by,
    on_point,
    round_about,
    turned_about,
)


def patches() -> Iterator[TradeBlock]:
    """Blocks of equal cells, each cell a unit."""
    yield drafted("nine patch", "square", boxed(in_cells("...", "...", "..."), 3), 9)
    yield drafted("four patch", "square", boxed(in_cells("..", ".."), 2), 6)
    yield drafted("double four patch", "square", boxed(in_cells("+.", ".+"), 2), 8)
    yield drafted("rail fence", "square", boxed(in_cells("EM", "ME"), 2), 12)
    yield drafted("pinwheel", "square", boxed(in_cells("\\/", "/\\"), 2), 8)
    yield drafted("broken dishes", "square", boxed(in_cells("\\/\\/", "/\\/\\", "\\/\\/", "/\\/\\"), 4), 8)
    yield drafted("hourglass", "square", boxed(in_cells("X"), 1), 6)
    yield drafted("square in a square", "square", boxed(in_cells("Q"), 1), 8)
    yield drafted("friendship star", "square", boxed(in_cells("./.", "\\.\\", "./."), 3), 9)
    yield drafted("shoofly", "square", boxed(in_cells("/.\\", "...", "\\./"), 3), 9)
    yield drafted("ohio star", "square", boxed(in_cells(".X.", "X.X", ".X."), 3), 12)
    yield drafted("churn dash", "square", boxed(in_cells("/=\\", "|.|", "\\=/"), 3), 9)
    yield drafted("jacob's ladder", "square", boxed(in_cells("+/+", "/+/", "+/+"), 3), 12)
    yield drafted("card trick", "square", boxed(in_cells("/1\\", "2X4", "\\3/"), 3), 9)
    yield drafted("snowball", "square", boxed(in_cells("O"), 1), 9)
    birds = [*in_cells("\\\\\\", " \\\\", "  \\")]
    # The cells on the diagonal are halved: their lower halves belong to the large triangle.
    small = [piece for piece in birds if piece.sum(axis=1).mean() > 3]
    yield drafted("birds in the air", "square", boxed([polygon([(0, 0), (3, 0), (0, 3)]), *small], 3), 6)


def stars_and_geese() -> Iterator[TradeBlock]:
    """Blocks with geese, and stars made of them."""
    geese = [piece for k in range(4) for piece in goose(0, k, 2, 1, "N")]
    yield drafted("flying geese", "rectangle", boxed(geese, 2, 4), 6)
    star = [*in_cells(".  .", "    ", "    ", ".  ."), box(1, 1, 2)]
    star += goose(1, 3, 2, 1, "S") + goose(1, 0, 2, 1, "N") + goose(0, 1, 1, 2, "E") + goose(3, 1, 1, 2, "W")
    yield drafted("sawtooth star", "square", boxed(star, 4), 12)
    puzzle = round_about([*goose(0, 0, 2, 1, "S"), *goose(0, 1, 2, 1, "S")], (2, 2), 4)
    yield drafted("dutchman's puzzle", "square", boxed(puzzle, 4), 8)
    storm = [*on_point(1, 1, 2), *on_point(1, 0, 2, 1), *on_point(1, 3, 2, 1), *on_point(0, 1, 1, 2)]
    storm += [*on_point(3, 1, 1, 2), *(p for x in (0, 3) for y in (0, 3) for p in on_point(x, y, 1))]
    yield drafted("storm at sea", "square", boxed(storm, 4), 12)
    yield drafted("snail's trail", "square", snails_trail(3), 10)


def economy_patch(rounds: int) -> Sketch:
    """A square in a square, so many times; the outermost lies straight."""
    start = 45.0 * (rounds % 2)
    (ring,) = turned_about([box(-1, -1, 2)], (0, 0), start)
    pieces = [ring]
    for _ in range(rounds):
        onward = np.roll(ring, -1, axis=0)
        along = onward - ring
        tips = (ring + onward) / 2 + np.column_stack([along[:, 1], -along[:, 0]]) / 2
        pieces += [polygon([ring[k], tips[k], onward[k]]) for k in range(4)]
        ring = tips
    return Sketch(ring, tuple(pieces))


def snails_trail(rounds: int) -> Sketch:
    """A four patch in a square in a square, an eighth of a turn on each time; the outermost lies straight."""
    around = economy_patch(rounds)
    start = 45.0 * (rounds % 2)
    return Sketch(around.outline, (*turned_about(four_patch(-1, -1, 2), (0, 0), start), *around.pieces[1:]))


def courses() -> Iterator[TradeBlock]:
    """Blocks of strips round a middle."""
    yield drafted("log cabin", "square", boxed(log_cabin(2, 3, paired=False), 8), 8)
    yield drafted("courthouse steps", "square", boxed(log_cabin(2, 3, paired=True), 8), 10)
    yield drafted("puss in the corner", "square", boxed(_puss(), 4), 8)
    yield drafted("pineapple", "square", pineapple(3), 250, unit="mm")
    arm = [*halves(0, 0, 2, rising=False), *bars(2, 0, 1, 2, 2, upright=False)]
    yield drafted("greek cross", "square", boxed([*round_about(arm, (2.5, 2.5), 4), box(2, 2, 1)], 5), 10)


def log_cabin(middle: float, rounds: int, *, paired: bool) -> Pieces:
    """Logs round a middle one after another; `paired`: on opposite sides, as in courthouse steps."""
    x0, y0 = float(rounds), float(rounds)
    x1, y1 = x0 + middle, y0 + middle
    pieces = [box(x0, y0, middle)]
    for k in range(4 * rounds):
        side = "ESWN"[k % 4] if not paired else "NSEW"[k % 4]
        if side == "E":
            pieces.append(box(x1, y0, 1, y1 - y0))
            x1 += 1
        elif side == "N":
            pieces.append(box(x0, y1, x1 - x0, 1))
            y1 += 1
        elif side == "W":
            pieces.append(box(x0 - 1, y0, 1, y1 - y0))
            x0 -= 1
        else:
            pieces.append(box(x0, y0 - 1, x1 - x0, 1))
            y0 -= 1
    return pieces


def half_log_cabin(rounds: int) -> Pieces:
    """Logs on two sides of a square, again and again: the other two sides stay where they are."""
    pieces = [box(0, 0, 1)]
    for k in range(1, rounds + 1):
        pieces += [box(k, 0, 1, k), box(0, k, k + 1, 1)]
    return pieces


def _puss() -> Pieces:
    return [
        *in_cells(".  .", "    ", "    ", ".  ."), box(1, 1, 2), box(1, 0, 2, 1), box(1, 3, 2, 1),
        box(0, 1, 1, 2), box(3, 1, 1, 2),
    ]  # fmt: skip


def pineapple(rounds: int) -> Sketch:
    """Straight and slanting strips by turns round a square, cut off from outside in."""
    half = rounds + 1.0
    outline = box(0, 0, 2 * half)
    centre, rest = np.array([half, half]), outline
    pieces: list[Points] = []
    for k in reversed(range(rounds)):
        # Slanting strips 1.1 wide at the corners, then straight ones 1 wide; the last leave a square.
        for start, reach in ((45.0, math.sqrt(2.0) + 1.1 * k), (0.0, 1.0 + k)):
            for quarter in range(4):
                angle = math.radians(start + 90.0 * quarter)
                normal = np.array([math.cos(angle), math.sin(angle)])
                at = centre + reach * normal
                rest, off = cut(rest, at, at + np.array([-normal[1], normal[0]]))
                pieces.append(off)
    return Sketch(outline, (*pieces, rest))


def pictures() -> Iterator[TradeBlock]:
    """A paw, a basket, a house, a tree, a bow."""
    paw = [*halves(2, 0, 1, rising=False), *halves(2, 1, 1, rising=False), box(2, 2, 1), box(0, 0, 2)]
    paw = [*moved_by(paw, 4, 4), *halves(4, 6, 1, rising=False), *halves(5, 6, 1, rising=False)]
    lattice = [box(3, 4, 1, 3)]
    bear = [box(3, 3, 1), *round_about([*paw, *lattice], (3.5, 3.5), 4)]
    yield drafted("bear's paw", "square", boxed(bear, 7), 14)
    basket = [*in_cells("./// ", "/    ", "/    ", "/   /", "   /."), *halves(1, 1, 3, rising=True)]
    yield drafted("basket", "square", boxed([*basket, box(4, 2, 1, 3), box(0, 0, 3, 1)], 5), 10)
    yield drafted("house", "square", boxed(_house(), 9), 9)
    tree = [*in_cells("\\\\\\\\.", "\\\\\\.\\", "   \\\\", "   \\\\", "   \\\\")]
    tree += [polygon(corners) for corners in (
        [(3, 0), (3, 3), (0, 3)], [(1, 0), (2, 1), (1, 2), (0, 1)], [(0, 0), (1, 0), (0, 1)],
        [(1, 0), (3, 0), (2, 1)], [(0, 1), (1, 2), (0, 3)],
    )]  # fmt: skip
    yield drafted("pine tree", "square", boxed(tree, 5), 10)
    bow = round_about([clipped(0, 0, 3, 1, (2,))[0]], (3, 3), 4)
    yield drafted("bow tie", "square", boxed([*bow, polygon([(3, 2), (4, 3), (3, 4), (2, 3)])], 6), 6, set_in=True)


def _house() -> Pieces:
    c = {
        "a": (0, 5), "b": (4, 5), "c": (9, 5), "d": (9, 7), "e": (7, 7), "f": (2, 7), "g": (0, 7),
    }  # fmt: skip
    roof = spelled({k: (float(x), float(y)) for k, (x, y) in c.items()}, "abf bcef cde afg")
    sky = [box(0, 7, 2, 2), box(2, 7, 1, 2), box(3, 7, 3, 2), box(6, 7, 1, 2), box(7, 7, 2, 2)]
    front = [box(0, 4, 4, 1), box(0, 0, 1.5, 4), box(1.5, 0, 1, 4), box(2.5, 0, 1.5, 4)]
    side = [box(4, 4, 5, 1), *(box(4 + k, 2, 1, 2) for k in range(5)), box(4, 0, 5, 2)]
    return [*roof, *sky, *front, *side]


def setting_triangles() -> Iterator[TradeBlock]:
    """Half blocks for the sides of a quilt set on point."""
    steps = [box(i, j, 1) for i in range(3) for j in range(3 - i)]
    steps += [polygon([(i, 3 - i), (i + 1, 3 - i), (i, 4 - i)]) for i in range(4)]
    outline = polygon([(0, 0), (4, 0), (0, 4)])
    yield drafted("half patch setting triangle", "triangle", Sketch(outline, tuple(steps)), 12)
    pyramid = [piece for i in range(2) for j in range(2 - i) for piece in halves(i, j, 1, rising=False)]
    pyramid += [polygon([(i, 2 - i), (i + 1, 2 - i), (i, 3 - i)]) for i in range(3)]
    outline = polygon([(0, 0), (3, 0), (0, 3)])
    yield drafted("sawtooth setting triangle", "triangle", Sketch(outline, tuple(pyramid)), 9)
    logs = [polygon([(0, 0), (2, 0), (0, 2)])]
    logs += [polygon([(0, k), (k, 0), (k + 1, 0), (0, k + 1)]) for k in (2, 3)]
    outline = polygon([(0, 0), (4, 0), (0, 4)])
    yield drafted("striped setting triangle", "triangle", Sketch(outline, tuple(logs)), 8)
