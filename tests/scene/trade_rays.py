"""Old blocks about a middle for the catalogue: compasses, stars of four to eight points, fans, hexagons.

Names are the trade's common property, from memory; where none comes to mind, what is drawn is said.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from .geometry import Points, polygon
from .trade_block import Sketch, TradeBlock, drafted
from .trade_set_in import cornered, diamond, ray, ring, star_in_square
from .trade_units import Pieces, box, boxed, middle, round_about

Corner = tuple[float, float]


def blocks_of_rays() -> Iterator[TradeBlock]:
    """Compasses, then stars of eight points and of five and six, hexagons, fans."""
    yield from _compasses()
    yield from _eights()
    yield drafted("five-pointed star", "square", _five_points(), 10, set_in=True)
    yield from _hexagons()
    yield from _fans()


def compass(sides: int, near: float) -> Sketch:
    """Long points from the middle to the corners of a regular polygon, short ones between to its sides' middles."""
    corners = ring(sides, 1.0, 180.0 / sides if sides != 6 else 0.0)
    pieces: Pieces = []
    for k in range(sides):
        here, onward = corners[k], corners[(k + 1) % sides]
        before, shoulder = (
            near * middle(a, b) / np.hypot(*middle(a, b)) for a, b in ((corners[k - 1], here), (here, onward))
        )
        side = middle(here, onward)
        left, right = (shoulder + 0.45 * (tip - shoulder) for tip in (here, onward))
        pieces += [polygon([(0, 0), before, here, shoulder]), polygon([shoulder, left, side, right])]
        pieces += [polygon([left, here, side]), polygon([right, side, onward])]
    return Sketch(corners, tuple(pieces))


def _compasses() -> Iterator[TradeBlock]:
    yield drafted("compass of eight points", "square", compass(4, 0.25), 9, set_in=True)
    yield drafted("compass of twelve points", "hexagon", compass(6, 0.3), 10, set_in=True)
    yield drafted(
        "compass of twelve points in a rectangle", "rectangle", cornered(compass(6, 0.3)), 12, set_in=True
    )
    yield drafted("compass of thirty-two points", "octagon", _thirty_two(), 14, set_in=True)
    yield drafted("compass of thirty-two points in a square", "square", cornered(_thirty_two()), 15, set_in=True)
    four = round_about(
        [polygon([(0, 0), (0.3, 0), (1, 1), (0, 0.3)]), polygon([(0.3, 0), (1, -1), (1, 1)])], (0, 0), 4
    )
    yield drafted("periwinkle", "square", Sketch(box(-1, -1, 2), tuple(four)), 8, set_in=True)
    split = [polygon([(0, 0), (0.3, 0.3), (0, 1)]), polygon([(0, 0), (1, 0), (0.3, 0.3)])]
    split += [polygon([(1, 0), (1, 1), (0.3, 0.3)]), polygon([(0, 1), (0.3, 0.3), (1, 1)])]
    yield drafted(
        "four-pointed star of halves", "square", Sketch(box(-1, -1, 2), tuple(round_about(split, (0, 0), 4))), 9
    )


def _thirty_two() -> Sketch:
    """A compass of sixteen points in an octagon, with sixteen more in what lies between."""
    plain = compass(8, 0.3)
    pieces: Pieces = []
    for k in range(8):
        long, short, one, other = plain.pieces[4 * k : 4 * k + 4]
        pieces += [long, short]
        for tip, left, right in (_from_the_shoulder(one), _from_the_shoulder(other)):
            base = middle(left, right)
            a, b = tip + 0.5 * (left - tip), tip + 0.5 * (right - tip)
            pieces += [polygon([tip, a, base, b]), polygon([a, left, base]), polygon([b, base, right])]
    return Sketch(plain.outline, tuple(pieces))


def _from_the_shoulder(triangle: Points) -> tuple[Points, Points, Points]:
    """Its corners, the one that lies nearest the middle of the block first."""
    first = int(np.argmin(np.hypot(*triangle.T)))
    a, b, c = np.roll(triangle, -first, axis=0)
    return a, b, c


def _eights() -> Iterator[TradeBlock]:
    """Stars of eight diamonds, cut up or in an octagon; a star of wedges; rings of blades."""
    star = star_in_square(1)
    points, fills = star.pieces[:8], star.pieces[8:]
    across = [half for p in points for half in (p[[0, 1, 3]], p[[1, 2, 3]])]
    yield drafted("star of points cut across", "square", Sketch(star.outline, (*across, *fills)), 12, set_in=True)
    for many, name in ((2, "striped star"), (3, "star of three stripes")):
        striped = [
            polygon(
                [
                    p[0] + s * (p[1] - p[0]),
                    p[0] + t * (p[1] - p[0]),
                    p[3] + t * (p[1] - p[0]),
                    p[3] + s * (p[1] - p[0]),
                ]
            )
            for p in points
            for s, t in pairwise(np.linspace(0, 1, many + 1))
        ]
        yield drafted(name, "square", Sketch(star.outline, (*striped, *fills)), 12, set_in=True)
    squares = [half for p in fills[4:] for half in (p[[0, 1, 2]], p[[0, 2, 3]])]
    yield drafted(
        "star with halved corners", "square", Sketch(star.outline, (*points, *fills[:4], *squares)), 12, set_in=True
    )
    for rows in (1, 2, 3):
        name = "star in an octagon" if rows == 1 else f"blazing star of {rows} rows in an octagon"
        yield drafted(name, "octagon", _star_in_octagon(rows), 12, set_in=True)
    yield drafted("star in an octagon in a square", "square", cornered(_star_in_octagon(1)), 12, set_in=True)
    eighth = ring(8, 1.0, 22.5)
    halved = [
        half
        for a, b in zip(eighth, np.roll(eighth, -1, axis=0), strict=True)
        for half in (polygon([(0, 0), a, middle(a, b)]), polygon([(0, 0), middle(a, b), b]))
    ]
    yield drafted("wheel of sixteen wedges", "octagon", Sketch(eighth, tuple(halved)), 10)
    yield drafted("wheel of sixteen wedges in a square", "square", cornered(Sketch(eighth, tuple(halved))), 12)


def _star_in_octagon(rows: int) -> Sketch:
    """A star of eight points, rows by rows diamonds each, whose tips are the corners of an octagon."""
    e = [ray(45.0 * k) for k in range(8)]
    tips = np.array([e[k] + e[(k + 1) % 8] for k in range(8)])
    notches = [polygon([e[k], tips[k - 1], tips[k]]) for k in range(8)]
    return Sketch(tips, (*star_in_square(rows).pieces[: 8 * rows * rows], *notches))


def _five_points() -> Sketch:
    """Five kites about a middle; from each tip and each notch a seam to the side of the square."""
    tips = [ray(90.0 + 72.0 * k, 0.8) for k in range(5)]
    notches = [
        ray(126.0 + 72.0 * k, 0.8 * math.sin(math.radians(18)) / math.sin(math.radians(54))) for k in range(5)
    ]
    pieces: Pieces = [polygon([(0, 0), notches[k - 1], tips[k], notches[k]]) for k in range(5)]
    for k in range(5):
        pieces.append(
            polygon(
                [
                    tips[k],
                    _to_the_side(tips[k]),
                    *_corners_between(tips[k], notches[k]),
                    _to_the_side(notches[k]),
                    notches[k],
                ]
            )
        )
        onward = tips[(k + 1) % 5]
        pieces.append(
            polygon(
                [
                    notches[k],
                    _to_the_side(notches[k]),
                    *_corners_between(notches[k], onward),
                    _to_the_side(onward),
                    onward,
                ]
            )
        )
    return Sketch(box(-1, -1, 2), tuple(pieces))


def _to_the_side(point: Points) -> Points:
    """Where the line from the origin through a point leaves the square of side 2 about the origin."""
    return np.asarray(point / np.abs(point).max())


def _corners_between(a: Points, b: Points) -> list[Corner]:
    """The square's corners between the directions of two points, counter-clockwise."""
    start = math.degrees(math.atan2(a[1], a[0]))
    turn = (math.degrees(math.atan2(b[1], b[0])) - start) % 360
    return [
        (float(np.sign(math.cos(math.radians(at)))), float(np.sign(math.sin(math.radians(at)))))
        for at in (45.0, 135.0, 225.0, 315.0)
        if 0 < (at - start) % 360 < turn
    ]


def _hexagons() -> Iterator[TradeBlock]:
    """Stars of six points cut up, and hexagons of equal triangles."""
    e = [ray(60.0 * k) for k in range(6)]
    inner = [diamond(e[0] * 0.0, e[k], e[(k + 1) % 6]) for k in range(6)]
    outer = [diamond(e[k], e[k - 1], e[(k + 1) % 6]) for k in range(6)]
    lengthwise = [half for p in inner for half in (p[[0, 1, 2]], p[[0, 2, 3]])]
    across = [half for p in inner for half in (p[[0, 1, 3]], p[[1, 2, 3]])]
    whole = ring(6, 2.0)
    yield drafted("six-pointed star of halves", "hexagon", Sketch(whole, (*lengthwise, *outer)), 10, set_in=True)
    yield drafted("six-pointed star cut across", "hexagon", Sketch(whole, (*across, *outer)), 10)
    for side in (1, 2, 3):
        name = "hexagon of six triangles" if side == 1 else f"thousand pyramids in a hexagon, {side} deep"
        yield drafted(name, "hexagon", Sketch(ring(6, side), tuple(_triangles(side))), 9)
    yield drafted(
        "hexagon of six triangles in a rectangle",
        "rectangle",
        cornered(Sketch(ring(6, 1), tuple(_triangles(1)))),
        9,
    )
    halves = tuple(
        round_about(
            [polygon([(0, 0), e[0], middle(e[0], e[1])]), polygon([(0, 0), middle(e[0], e[1]), e[1]])], (0, 0), 6
        )
    )
    yield drafted("wheel of twelve wedges", "hexagon", Sketch(ring(6, 1), halves), 9)


def _triangles(side: int) -> Pieces:
    """A hexagon of side `side` in equilateral triangles of side 1."""
    e = [ray(60.0 * k) for k in range(6)]
    found: Pieces = []
    for k in range(6):
        a, b = e[k], e[(k + 1) % 6]
        found += [
            polygon([i * a + j * b, (i + 1) * a + j * b, i * a + (j + 1) * b])
            for i in range(side)
            for j in range(side - i)
        ]
        found += [
            polygon([(i + 1) * a + j * b, (i + 1) * a + (j + 1) * b, i * a + (j + 1) * b])
            for i in range(side - 1)
            for j in range(side - 1 - i)
        ]
    return found


def _fans() -> Iterator[TradeBlock]:
    """Blades that end in points round a corner, and blades in two rings."""
    for blades in (3, 4, 5, 6):
        yield drafted(f"pointed fan of {blades} blades", "square", _pointed_fan(blades), 9, set_in=True)
    for blades in (3, 5):
        yield drafted(f"fan of two rings, {blades} blades", "square", _fan_of_rings(blades), 9, set_in=True)


def _rays(blades: int, length: float) -> Points:
    return np.array([ray(90.0 * k / blades, length) for k in range(blades + 1)])


def _beyond(edge: Sequence[Points]) -> Points:
    """What is left of the square of side 1 beyond a line from its lower side to its left side."""
    return polygon([edge[0], (1, 0), (1, 1), (0, 1), *edge[:0:-1]])


def _pointed_fan(blades: int) -> Sketch:
    inner, outer = _rays(blades, 0.3), _rays(blades, 0.75)
    tips = [ray(90.0 * (k + 0.5) / blades, 0.92) for k in range(blades)]
    pieces = [polygon([inner[k], outer[k], tips[k], outer[k + 1], inner[k + 1]]) for k in range(blades)]
    edge = [corner for k in range(blades) for corner in (outer[k], tips[k])] + [outer[blades]]
    return boxed([polygon([(0, 0), *inner]), *pieces, _beyond(edge)], 1)


def _fan_of_rings(blades: int) -> Sketch:
    rings = [_rays(blades, length) for length in (0.25, 0.55, 0.9)]
    pieces = [polygon([a[k], b[k], b[k + 1], a[k + 1]]) for a, b in pairwise(rings) for k in range(blades)]
    return boxed([polygon([(0, 0), *rings[0]]), *pieces, _beyond(list(rings[-1]))], 1)
