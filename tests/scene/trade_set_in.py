"""Blocks of the trade about a middle, on 45 and 60 degrees, and those with set-in seams."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from .drafting import spelled
from .geometry import Points, polygon
from .trade_block import Sketch, TradeBlock, drafted
from .trade_units import Pieces, box, boxed, clipped, round_about

ROOT_2, ROOT_3 = math.sqrt(2.0), math.sqrt(3.0)


def ray(degrees: float, length: float = 1.0) -> Points:
    """(2,) the point so far from the origin in that direction."""
    return length * np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees))])


def ring(corners: int, radius: float, first: float = 0.0) -> Points:
    """A regular polygon about the origin; `first` is the direction of its first corner."""
    return np.array([ray(first + 360.0 * k / corners, radius) for k in range(corners)])


def diamond(at: Points, a: Points, b: Points) -> Points:
    """The parallelogram from a corner along two sides, counter-clockwise when b is left of a."""
    return polygon([at, at + a, at + a + b, at + b])


def cornered(sketch: Sketch) -> Sketch:
    """A hexagon or octagon with its corners filled up to the rectangle round it."""
    low, high = sketch.outline.min(axis=0), sketch.outline.max(axis=0)
    fills = []
    for a, b in zip(sketch.outline, np.roll(sketch.outline, -1, axis=0), strict=True):
        dx, dy = b - a
        if min(abs(dx), abs(dy)) > 1e-9:
            # The right angle that lies right of the side, for the outline is left of it.
            fills.append(polygon([a, (b[0], a[1]) if dx * dy > 0 else (a[0], b[1]), b]))
    return Sketch(box(*low, *(high - low)), (*sketch.pieces, *fills))


def eight_pointed_stars() -> Iterator[TradeBlock]:
    """Stars of eight 45 degree diamonds."""
    yield drafted("eight-pointed star", "square", star_in_square(1), 12, set_in=True)
    yield drafted("lone star", "square", star_in_square(3), 300, unit="mm", set_in=True)
    split = star_in_square(1)
    points = [half for p in split.pieces[:8] for half in (p[[0, 1, 2]], p[[0, 2, 3]])]
    yield drafted("morning star", "square", Sketch(split.outline, (*points, *split.pieces[8:])), 15, set_in=True)
    yield drafted("rolling star", "octagon", _rolling_star(), 12, set_in=True)
    yield drafted("rolling star in a square", "square", cornered(_rolling_star()), 14, set_in=True)
    yield drafted("dutch rose", "square", cornered(_dutch_rose()), 15, set_in=True)


def star_in_square(rows: int) -> Sketch:
    """A star of eight points, each of rows by rows diamonds, with squares and triangles set in."""
    e = [ray(45.0 * k) for k in range(8)]
    half = 1.0 + 1.0 / ROOT_2
    points = [
        diamond((i * e[k] + j * e[(k + 1) % 8]) / rows, e[k] / rows, e[(k + 1) % 8] / rows)
        for k in range(8) for i in range(rows) for j in range(rows)
    ]  # fmt: skip
    tips = [e[k] + e[(k + 1) % 8] for k in range(8)]
    sides = [polygon([e[k], tips[k - 1], tips[k]]) for k in range(0, 8, 2)]
    corners = [
        polygon([e[k], tips[k - 1], half * ROOT_2 * e[k], tips[k]]) for k in range(1, 8, 2)
    ]  # fmt: skip
    return Sketch(box(-half, -half, 2 * half), (*points, *sides, *corners))


def _rolling_star() -> Sketch:
    """Diamonds, squares in their notches, diamonds between the squares: a regular octagon with sides of 2."""
    e = [ray(45.0 * k) for k in range(8)]
    pieces: Pieces = []
    corners = []
    for k in range(8):
        before, here, after, beyond = e[k - 1], e[k], e[(k + 1) % 8], e[(k + 2) % 8]
        pieces += [diamond(here * 0.0, here, after), diamond(here, before, after)]
        pieces.append(diamond(here + after, before, beyond))
        corners.append(here + after + before + beyond)
    return Sketch(np.array(corners), tuple(pieces))


def _dutch_rose() -> Sketch:
    """The same star and squares, three diamonds at each of its points, triangles: an octagon with sides of 2.8."""
    e = [ray(45.0 * k) for k in range(8)]
    pieces: Pieces = []
    for k in range(8):
        before, here, after, beyond = e[k - 1], e[k], e[(k + 1) % 8], e[(k + 2) % 8]
        tip = here + after
        pieces += [diamond(here * 0.0, here, after), diamond(here, before, after)]
        pieces += [diamond(tip, a, b) for a, b in ((before, here), (here, after), (after, beyond))]
        pieces += [
            polygon([tip + here, tip + here + before, 2 * tip]),
            polygon([tip + after, 2 * tip, tip + after + beyond]),
        ]
    return Sketch(np.array([2 * (e[k] + e[(k + 1) % 8]) for k in range(8)]), tuple(pieces))


def octagons() -> Iterator[TradeBlock]:
    """Wedges round a middle."""
    eighth = ring(8, 1.0, 22.5)
    wedges = tuple(polygon([(0, 0), eighth[k - 1], eighth[k]]) for k in range(8))
    yield drafted("kaleidoscope octagon", "octagon", Sketch(eighth, wedges), 8)
    yield drafted("kaleidoscope", "square", cornered(Sketch(eighth, wedges)), 250, unit="mm")
    yield drafted("spider web", "square", cornered(spider_web(2)), 12)
    yield drafted("castle wall", "square", cornered(_castle()), 12, set_in=True)
    yield drafted("mariner's compass", "octagon", compass(8), 14, set_in=True)
    yield drafted("mariner's compass in a square", "square", cornered(compass(8)), 15, set_in=True)
    shaped = [p for x in (0, 3) for y in (0, 3) for p in clipped(x, y, 3, 1)[:1]]
    edges = round_about([polygon([(0, 0), (1, 0), (0, 1)]), polygon([(2, 0), (4, 0), (3, 1)])], (3, 3), 4)
    patch = [*shaped, *edges, polygon([(3, 2), (4, 3), (3, 4), (2, 3)])]
    yield drafted("octagons and squares", "square", boxed(patch, 6), 12, set_in=True)


def spider_web(rounds: int, near: float = 0.4) -> Sketch:
    """Eight wedges of an octagon, each in so many strips beyond its tip."""
    outer = ring(8, 1.0, 22.5)
    steps = [near + (1.0 - near) * k / rounds for k in range(rounds + 1)]
    pieces: Pieces = []
    for k in range(8):
        a, b = outer[k - 1], outer[k]
        pieces.append(polygon([(0, 0), a * near, b * near]))
        pieces += [polygon([a * s, a * t, b * t, b * s]) for s, t in pairwise(steps)]
    return Sketch(outer, tuple(pieces))


def _castle() -> Sketch:
    """An octagon, squares on its sides, and kites between them to the corners of a larger one."""
    inner = ring(8, 1.0, 22.5)
    side = float(np.hypot(*(inner[1] - inner[0])))
    outer = inner * (1.0 + side / math.cos(math.pi / 8))
    pieces = [inner]
    for k in range(8):
        a, b = inner[k - 1], inner[k]
        out, onward = ray(45.0 * k, side), ray(45.0 * (k + 1), side)
        pieces += [polygon([a, a + out, b + out, b]), polygon([b, b + out, outer[k], b + onward])]
    return Sketch(outer, tuple(pieces))


def compass(sides: int, near: float = 0.3) -> Sketch:
    """Long points from the middle to the corners of a regular polygon, short ones to the middles of its sides."""
    turn = 360.0 / sides
    first = 0.0 if sides == 6 else turn / 2  # so that it lies straight
    corners = ring(sides, 1.0, first)
    pieces: Pieces = []
    for k in range(sides):
        here, onward = corners[k], corners[(k + 1) % sides]
        before = ray(first + turn * (k - 0.5), near)
        shoulder = ray(first + turn * (k + 0.5), near)
        side = (here + onward) / 2
        left, right = (shoulder + 0.45 * (tip - shoulder) for tip in (here, onward))
        pieces += [polygon([(0, 0), before, here, shoulder]), polygon([shoulder, left, side, right])]
        pieces += [polygon([left, here, side]), polygon([right, side, onward])]
    return Sketch(corners, tuple(pieces))


def sixty_degrees() -> Iterator[TradeBlock]:
    """Diamonds of 60 degrees, hexagons, and what fills them up."""
    star, tumbling = _six_points(), _tumbling()
    yield drafted("building blocks", "hexagon", cube(2), 8, set_in=True)
    yield drafted("tumbling blocks", "hexagon", tumbling, 12, set_in=True)
    yield drafted("tumbling blocks in a rectangle", "rectangle", cornered(tumbling), 14, set_in=True)
    yield drafted("six-pointed star", "hexagon", star, 10, set_in=True)
    yield drafted("six-pointed star in a rectangle", "rectangle", cornered(star), 9, set_in=True)
    yield drafted("texas star", "hexagon", _texas(), 10)
    yield drafted("hexagon flower", "hexagon", _flower(), 12, set_in=True)
    yield drafted("hexagon flower in a rectangle", "rectangle", cornered(_flower()), 300, unit="mm", set_in=True)
    inner, outer = ring(6, 1.0), ring(6, 2.0)
    frame = [polygon([inner[k - 1], outer[k - 1], outer[k], inner[k]]) for k in range(6)]
    yield drafted("mitred hexagon", "hexagon", Sketch(outer, (inner, *frame)), 6, set_in=True)


def cube(side: int) -> Sketch:
    """A hexagon as a cube looks from a corner: three faces, each of side by side diamonds."""
    e = [ray(60.0 * k) for k in range(6)]
    pieces = [
        diamond(i * a + j * b, a, b)
        for a, b in ((e[0], e[2]), (e[2], e[4]), (e[4], e[0]))
        for i in range(side) for j in range(side)
    ]  # fmt: skip
    return Sketch(ring(6, side), tuple(pieces))


def _tumbling() -> Sketch:
    """Seven small cubes, placed as the hexagons of a flower are, and its notches."""
    flower = _flower()
    cubes = [face + hexagon.mean(axis=0) for hexagon in flower.pieces[:7] for face in cube(1).pieces]
    return Sketch(flower.outline, (*cubes, *flower.pieces[7:]))


def _six_points() -> Sketch:
    """Six diamonds round a middle, six set in between their points."""
    e = [ray(60.0 * k) for k in range(6)]
    points = [diamond(e[0] * 0.0, e[k], e[(k + 1) % 6]) for k in range(6)]
    between = [diamond(e[k], e[k - 1], e[(k + 1) % 6]) for k in range(6)]
    return Sketch(ring(6, 2.0), (*points, *between))


def _texas() -> Sketch:
    """A hexagon, triangles on its sides, diamonds set in between them."""
    e = [ray(60.0 * k) for k in range(6)]
    points = [polygon([e[k], e[k] + e[(k + 1) % 6], e[(k + 1) % 6]]) for k in range(6)]
    between = [diamond(e[k], e[k - 1], e[(k + 1) % 6]) for k in range(6)]
    return Sketch(ring(6, 2.0), (ring(6, 1.0), *points, *between))


def _flower() -> Sketch:
    """A hexagon, six round it, and a diamond in each notch: a hexagon three times as wide."""
    petals = [ring(6, 1.0) + ray(30.0 + 60.0 * k, ROOT_3) for k in range(6)]
    e = [ray(60.0 * k) for k in range(6)]
    notches = [diamond(2.0 * e[k], e[k - 1], e[(k + 1) % 6]) for k in range(6)]
    return Sketch(ring(6, 3.0), (ring(6, 1.0), *petals, *notches))


def set_in_squares() -> Iterator[TradeBlock]:
    """Blocks on squared paper with Y seams or a partial seam."""
    pane = [box(1, 1, 3), polygon([(0, 0), (1, 1), (1, 4), (0, 4)]), polygon([(0, 0), (4, 0), (4, 1), (1, 1)])]
    panes = [p + np.array([x, y]) for x in (0, 4) for y in (0, 4) for p in pane]
    yield drafted("attic windows", "square", boxed(panes, 8), 8, set_in=True)
    spool = round_about([polygon([(0, 0), (4, 0), (3, 1), (1, 1)])], (2, 2), 4)
    yield drafted("spool", "square", boxed([box(1, 1, 2), *spool], 4), 6, set_in=True)
    hopes = [box(1, 1, 2), *round_about([box(0, 0, 3, 1)], (2, 2), 4)]
    yield drafted("bright hopes", "square", boxed(hopes, 4), 8, set_in=True)
    c = {
        "a": (0.0, 0.0), "b": (2.0, 0.0), "c": (3.0, 0.0), "d": (3.0, 1.0), "e": (2.0, 2.0), "f": (3.0, 3.0),
        "g": (1.0, 3.0), "h": (0.0, 3.0), "i": (0.0, 2.0),
    }  # fmt: skip
    yield drafted("pandora's box", "square", boxed(spelled(c, "abei iefg bdfe igh bcd"), 3), 9, set_in=True)
    yield drafted("fan", "square", fan(5, 0.3, 0.9), 9, set_in=True)


def fan(blades: int, near: float, far: float) -> Sketch:
    """Straight-edged blades round a corner, and what is left of the square."""
    inner, outer = (np.array([ray(90.0 * k / blades, r) for k in range(blades + 1)]) for r in (near, far))
    pieces = [polygon([inner[k], outer[k], outer[k + 1], inner[k + 1]]) for k in range(blades)]
    beyond = polygon([outer[0].tolist(), [1, 0], [1, 1], [0, 1], *outer[:0:-1].tolist()])
    return boxed([polygon([[0, 0], *inner.tolist()]), *pieces, beyond], 1)
