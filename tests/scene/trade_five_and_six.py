"""Old blocks on 72 and 60 degrees for the catalogue: a star of five points, stars and pyramids in hexagons.

Names are the trade's common property, from memory; where none comes to mind, what is drawn is said.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from .geometry import Points, polygon
from .trade_block import Sketch, TradeBlock, drafted
from .trade_set_in import cornered, diamond, ray, ring
from .trade_units import Pieces, box, middle

Corner = tuple[float, float]
_MIDDLE: Corner = (0.0, 0.0)


def five_and_six() -> Iterator[TradeBlock]:
    """The star of five points, then stars of six, pyramids, wedges."""
    yield drafted("five-pointed star", "square", _five_points(), 10, set_in=True)
    e = [ray(60.0 * k) for k in range(6)]
    inner = [diamond(e[0] * 0.0, e[k], e[(k + 1) % 6]) for k in range(6)]
    outer = [diamond(e[k], e[k - 1], e[(k + 1) % 6]) for k in range(6)]
    lengthwise = [half for p in inner for half in (p[[0, 1, 2]], p[[0, 2, 3]])]
    across = [half for p in inner for half in (p[[0, 1, 3]], p[[1, 2, 3]])]
    whole = ring(6, 2.0)
    yield drafted("six-pointed star of halves", "hexagon", Sketch(whole, (*lengthwise, *outer)), 10, set_in=True)
    yield drafted("six-pointed star cut across", "hexagon", Sketch(whole, (*across, *outer)), 10)
    for side, many in ((1, "six"), (2, "twenty-four"), (3, "fifty-four")):
        yield drafted(f"hexagon of {many} pyramids", "hexagon", _pyramids(side), 9)
    yield drafted("hexagon of six pyramids in a rectangle", "rectangle", cornered(_pyramids(1)), 9)
    yield drafted("wheel of twelve wedges", "hexagon", wedges(6), 9)


def wedges(sides: int, first: float = 0.0) -> Sketch:
    """A regular polygon cut from its middle to its corners and to the middles of its sides."""
    outline = ring(sides, 1.0, first)
    rim = [corner for a, b in pairwise([*outline, outline[0]]) for corner in (a, middle(a, b))]
    return Sketch(outline, tuple(np.array([_MIDDLE, a, b]) for a, b in pairwise([*rim, rim[0]])))


def _pyramids(side: int) -> Sketch:
    """A hexagon of that side in equilateral triangles of side 1."""
    pieces: Pieces = []
    for k in range(6):
        a, b = ray(60.0 * k), ray(60.0 * k + 60.0)
        for i in range(side):
            for j in range(side - i):
                at = i * a + j * b
                pieces.append(polygon([at, at + a, at + b]))
                if i + j < side - 1:
                    pieces.append(polygon([at + a, at + a + b, at + b]))
    return Sketch(ring(6, side), tuple(pieces))


def _five_points() -> Sketch:
    """Five kites about a middle; from each tip and each notch a seam to the side of the square."""
    far, near = 0.8, 0.8 * math.sin(math.radians(18)) / math.sin(math.radians(54))
    star = [ray(90.0 + 36.0 * k, near if k % 2 else far) for k in range(10)]
    kites = [np.array([_MIDDLE, star[k - 1], star[k], star[k + 1]]) for k in range(0, 10, 2)]
    beyond = [
        np.array([a, _to_the_side(a), *_corners_between(a, b), _to_the_side(b), b])
        for a, b in pairwise([*star, star[0]])
    ]
    return Sketch(box(-1, -1, 2), (*kites, *beyond))


def _to_the_side(point: Points) -> Points:
    """Where the line from the origin through a point leaves the square of side 2 about the origin."""
    return np.asarray(point / np.abs(point).max())


def _corners_between(a: Points, b: Points) -> list[Corner]:
    """The square's corners between the directions of two points, counter-clockwise."""
    start, end = (math.degrees(math.atan2(y, x)) for x, y in (a, b))
    corners = {45.0: (1.0, 1.0), 135.0: (-1.0, 1.0), 225.0: (-1.0, -1.0), 315.0: (1.0, -1.0)}
    return [corner for at, corner in corners.items() if 0 < (at - start) % 360 < (end - start) % 360]
