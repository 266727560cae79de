"""Blocks made of rows, columns, courses and wings, each a function of its sizes."""

from __future__ import annotations

import math

import numpy as np

from .drafting import Design, Drawing, between, grid_of, spelled
from .geometry import Points, polygon


def lakeside_fir(
    *,
    trunk: float = 1.25,
    skirt: float = 2.0,
    crown: float = 2.75,
    trunk_left: float = 1.75,
    trunk_wide: float = 1.25,
    skirt_right: float = 4.25,
    shoulder_left: float = 1.75,
    shoulder_right: float = 3.5,
    crown_left: float = 0.75,
    crown_right: float = 4.25,
    tip: float = 2.25,
) -> Drawing:
    """A fir tree in three rows, no two of its nine pieces alike."""
    width, low, mid, top = 5.0, trunk, trunk + skirt, trunk + skirt + crown
    c = {
        "a": (0.0, 0.0), "b": (trunk_left, 0.0), "c": (trunk_left + trunk_wide, 0.0), "d": (width, 0.0),
        "e": (0.0, low), "f": (trunk_left, low), "g": (trunk_left + trunk_wide, low),
        "h": (skirt_right, low), "i": (width, low),
        "j": (0.0, mid), "k": (shoulder_left, mid), "l": (shoulder_right, mid), "m": (width, mid),
        "n": (crown_left, mid), "o": (crown_right, mid),
        "p": (0.0, top), "q": (tip, top), "r": (width, top),
    }  # fmt: skip
    return Drawing((width, top), tuple(spelled(c, "abfe bcgf cdig ekj ehlk himl jnqp noq omrq")))


def pantry_tiles(border: float = 2.0, middle: float = 3.0) -> Drawing:
    """Nine plain patches in three rows."""
    sizes = [border, middle, border]
    side = 2.0 * border + middle
    return Drawing((side, side), tuple(piece for row in grid_of(sizes, sizes) for piece in row))


def snail_path(centre: float = 1.5, thin: float = 0.875, thick: float = 1.125) -> Drawing:
    """Strips laid round a square in a spiral, thin and thick by turns."""
    left, low, right, high = 0.0, 0.0, centre, centre
    boxes = [(left, low, right, high)]
    for turn in range(8):
        if turn % 4 == 0:
            boxes.append((left, high, right, high + thin))
            high += thin
        elif turn % 4 == 1:
            boxes.append((right, low, right + thick, high))
            right += thick
        elif turn % 4 == 2:
            boxes.append((left, low - thin, right, low))
            low -= thin
        else:
            boxes.append((left - thick, low, left, high))
            left -= thick
    corner = np.array([left, low])
    pieces = [polygon([(x, y), (X, y), (X, Y), (x, Y)]) - corner for x, y, X, Y in boxes]
    return Drawing((right - left, high - low), tuple(pieces))


def goose_ladder(width: float = 4.0, sill: float = 1.25) -> Drawing:
    """Four right-angled geese flying up a ladder, with a sill below and above."""
    half = width / 2.0
    rows: list[Points] = [polygon([(0.0, 0.0), (width, 0.0), (width, sill), (0.0, sill)])]
    y = sill
    for _ in range(4):
        rows += [
            polygon([(0.0, y), (width, y), (half, y + half)]),
            polygon([(0.0, y), (half, y + half), (0.0, y + half)]),
            polygon([(width, y), (width, y + half), (half, y + half)]),
        ]
        y += half
    rows.append(polygon([(0.0, y), (width, y), (width, y + sill), (0.0, y + sill)]))
    return Drawing((width, y + sill), tuple(rows))


def brick_ledge(
    *, low: float = 2.0, mid: float = 1.5, high: float = 1.75, a: float = 3.0, b: float = 4.25, c: float = 1.75
) -> Drawing:
    """Three courses of bricks whose joints never line up: T seams throughout."""
    width = 7.5
    pieces: list[Points] = []
    y = 0.0
    courses = ((low, (a, width - a)), (mid, (b, 1.25, width - b - 1.25)), (high, (c, 3.25, width - c - 3.25)))
    for height, lengths in courses:
        pieces += [brick + np.array([0.0, y]) for brick in grid_of(lengths, [height])[0]]
        y += height
    return Drawing((width, y), tuple(pieces))


def ferry_panel(
    *,
    width: float = 5.25,
    height: float = 8.125,
    left: float = 2.625,
    right: float = 3.875,
    left_high: float = 5.5,
    right_high: float = 6.375,
    keel: float = 2.125,
    bow: float = 1.875,
    mast: float = 3.5,
) -> Drawing:
    """A tall rectangle of slanted cuts in eighths of an inch."""
    low_l, low_r, high_l, high_r = (0.0, left), (width, right), (0.0, left_high), (width, right_high)
    c = {
        "a": (0.0, 0.0), "b": (keel, 0.0), "c": (width, 0.0), "d": (width, bow),
        "e": low_l, "f": low_r, "g": between(low_l, low_r, 0.5), "h": between(low_l, low_r, 0.25),
        "i": high_l, "j": high_r, "k": between(high_l, high_r, 0.5), "l": between(high_l, high_r, 0.75),
        "m": (0.0, height), "n": (mast, height), "o": (width, height),
    }  # fmt: skip
    return Drawing((width, height), tuple(spelled(c, "abge bcd bdfg ehli hfjl iknm kjon")))


def moth_wing(
    *,
    height: float = 5.25,
    hip: float = 0.75,
    brow: float = 0.375,
    wing: float = 2.5,
    fold: float = 2.0,
    heel: float = 1.5,
    shoulder: float = 1.75,
) -> Drawing:
    """Two wings, each the mirror image of the other, on a tapering body: their templates serve both ways up."""
    half = hip + wing
    c = {
        "a": (hip, 0.0), "b": (half - heel, 0.0), "c": (half, 0.0), "d": (half, fold), "e": (half, height),
        "f": (half - shoulder, height), "g": (brow, height), "w": between((hip, 0.0), (brow, height), 0.5),
    }  # fmt: skip
    wing_pieces = spelled(c, "abdw bcd wdfg def")
    other = [(piece * np.array([-1.0, 1.0]))[::-1] for piece in wing_pieces]
    body = polygon([(-hip, 0.0), (hip, 0.0), (brow, height), (-brow, height)])
    middle = np.array([half, 0.0])
    return Drawing((2.0 * half, height), tuple(p + middle for p in (body, *wing_pieces, *other)))


def eighth_note(
    *, a: float = 1.875, b: float = 2.625, c: float = 2.375, p: float = 2.125, q: float = 1.625, r: float = 3.125
) -> Drawing:
    """Three uneven columns by three uneven rows in eighths of an inch, two corners halved."""
    rows = grid_of([a, b, c], [p, q, r])
    first, last = rows[0][0], rows[2][2]
    halves = [first[[0, 1, 2]], first[[0, 2, 3]], last[[0, 1, 3]], last[[1, 2, 3]]]
    whole = [cell for row in rows for cell in row if cell is not first and cell is not last]
    return Drawing((a + b + c, p + q + r), (*halves, *whole))


def metric_mosaic(
    *,
    width: float = 174.0,
    height: float = 138.0,
    foot: float = 62.0,
    head: float = 81.0,
    foot_right: float = 128.0,
    head_right: float = 119.0,
    slope: float = 55.0,
) -> Drawing:
    """Slanted columns in whole millimetres, each cut once across."""
    a, b, e, f = (foot, 0.0), (head, height), (foot_right, 0.0), (head_right, height)
    c = {
        "a": (0.0, 0.0), "b": a, "c": e, "d": (width, 0.0), "e": (width, height), "f": f, "g": b,
        "h": (0.0, height), "s": between(a, b, 0.375), "t": between(e, f, 0.625), "u": (width, slope),
        "v": (0.0, height - slope), "w": between(e, f, 0.25),
    }  # fmt: skip
    return Drawing((width, height), tuple(spelled(c, "absv vsgh bcts stfg cduw wuef")))


def trellis_sixty(side: float = 3.0) -> Drawing:
    """Two rows of equilateral triangles, closed at the ends by halves that are mirror images."""
    h = side * math.sqrt(3.0) / 2.0
    half = side / 2.0
    row = [
        polygon([(0.0, 0.0), (half, h), (0.0, h)]),
        polygon([(0.0, 0.0), (side, 0.0), (half, h)]),
        polygon([(half, h), (side, 0.0), (side + half, h)]),
        polygon([(side, 0.0), (2.0 * side, 0.0), (side + half, h)]),
        polygon([(2.0 * side, 0.0), (2.0 * side, h), (side + half, h)]),
    ]
    upper = [(piece * np.array([1.0, -1.0]))[::-1] + np.array([0.0, 2.0 * h]) for piece in row]
    return Drawing((2.0 * side, 2.0 * h), (*row, *upper))


PANELS = (
    Design("lakeside-fir", lakeside_fir, "in", 0.25, "5 x 6 in: a fir tree of nine pieces, all different"),
    Design(
        "pantry-tiles",
        pantry_tiles,
        "in",
        0.25,
        "7 in: nine plain patches, quicker with a rotary cutter",
        grid=True,
    ),
    Design("snail-path", snail_path, "in", 0.125, "6 x 5 in: strips spiralling round a square, all different"),
    Design("goose-ladder", goose_ladder, "in", 0.25, "4 x 10 1/2 in: four geese on a ladder"),
    Design("brick-ledge", brick_ledge, "in", 0.25, "7 1/2 x 5 1/4 in: bricks in courses, T seams", grid=True),
    Design("ferry-panel", ferry_panel, "in", 0.125, "5 1/4 x 8 1/8 in: slanted cuts in eighths of an inch"),
    Design("moth-wing", moth_wing, "in", 0.125, "6 1/2 x 5 1/4 in: wings that are mirror twins"),
    Design("eighth-note", eighth_note, "in", 0.125, "6 7/8 in: uneven columns and rows in eighths of an inch"),
    Design("metric-mosaic", metric_mosaic, "mm", 3.0, "174 x 138 mm: slanted columns in whole millimetres"),
    Design("trellis-sixty", trellis_sixty, "in", 0.125, "6 x 5.196 in: equilateral triangles, mirrored halves"),
)
