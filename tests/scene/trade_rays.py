"""Old blocks about a middle for the catalogue: compasses, stars of four and eight points, fans.

Names are the trade's common property, from memory; where none comes to mind, what is drawn is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from .geometry import Points, polygon
from .trade_block import Sketch, TradeBlock, drafted
from .trade_five_and_six import five_and_six, wedges
from .trade_set_in import compass, cornered, ray, star_in_square
from .trade_units import Pieces, box, boxed, middle, round_about

Corners = list[list[tuple[float, float]]]


def blocks_of_rays() -> Iterator[TradeBlock]:
    """Compasses, then stars of eight points, of five and six, fans."""
    yield from _compasses()
    yield from _eights()
    yield from five_and_six()
    yield from _fans()


def _compasses() -> Iterator[TradeBlock]:
    eight, twelve, many = compass(4, 0.25), compass(6), _thirty_two()
    yield drafted("compass of eight points", "square", eight, 9, set_in=True)
    yield drafted("compass of twelve points", "hexagon", twelve, 10, set_in=True)
    yield drafted("compass of twelve points in a rectangle", "rectangle", cornered(twelve), 12, set_in=True)
    yield drafted("compass of thirty-two points", "octagon", many, 14, set_in=True)
    yield drafted("compass of thirty-two points in a square", "square", cornered(many), 15, set_in=True)
    ray_and_side: Corners = [[(0, 0), (0.3, 0), (1, 1), (0, 0.3)], [(0.3, 0), (1, -1), (1, 1)]]
    yield drafted("periwinkle", "square", _four_times(ray_and_side), 8, set_in=True)
    halves: Corners = [[(0, 0), (0.3, 0.3), (0, 1)], [(0, 0), (1, 0), (0.3, 0.3)]]
    corner: Corners = [[(1, 0), (1, 1), (0.3, 0.3)], [(0, 1), (0.3, 0.3), (1, 1)]]
    yield drafted("four-pointed star of halves", "square", _four_times([*halves, *corner]), 9)


def _four_times(quarter: Corners) -> Sketch:
    """A quarter of a square of side 2 four times round the origin."""
    return Sketch(box(-1, -1, 2), tuple(round_about([polygon(corners) for corners in quarter], (0, 0), 4)))


def _thirty_two() -> Sketch:
    """A compass of sixteen points in an octagon, with sixteen more in what lies between."""
    plain = compass(8)
    pieces: Pieces = []
    for k in range(8):
        long, short, *between = plain.pieces[4 * k : 4 * k + 4]
        pieces += [long, short]
        for tip, left, right in map(_from_the_shoulder, between):
            base = middle(left, right)
            a, b = middle(tip, left), middle(tip, right)
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
        striped = [stripe for p in points for stripe in _stripes(p, many)]
        yield drafted(name, "square", Sketch(star.outline, (*striped, *fills)), 12, set_in=True)
    squares = [half for p in fills[4:] for half in (p[[0, 1, 2]], p[[0, 2, 3]])]
    halved_corners = Sketch(star.outline, (*points, *fills[:4], *squares))
    yield drafted("star with halved corners", "square", halved_corners, 12, set_in=True)
    for rows in (1, 2, 3):
        name = "star in an octagon" if rows == 1 else f"blazing star of {rows} rows in an octagon"
        yield drafted(name, "octagon", _star_in_octagon(rows), 12, set_in=True)
    yield drafted("star in an octagon in a square", "square", cornered(_star_in_octagon(1)), 12, set_in=True)
    wheel = wedges(8, 22.5)
    yield drafted("wheel of sixteen wedges", "octagon", wheel, 10)
    yield drafted("wheel of sixteen wedges in a square", "square", cornered(wheel), 12)


def _stripes(diamond: Points, many: int) -> Pieces:
    """A diamond in equal stripes along the side that runs from its last corner to its first."""
    a, b, _, d = diamond
    steps = [(b - a) * k / many for k in range(many + 1)]
    return [polygon([a + near, a + far, d + far, d + near]) for near, far in pairwise(steps)]


def _star_in_octagon(rows: int) -> Sketch:
    """A star of eight points, rows by rows diamonds each, whose tips are the corners of an octagon."""
    e = [ray(45.0 * k) for k in range(8)]
    tips = np.array([e[k] + e[(k + 1) % 8] for k in range(8)])
    notches = [polygon([e[k], tips[k - 1], tips[k]]) for k in range(8)]
    return Sketch(tips, (*star_in_square(rows).pieces[: 8 * rows * rows], *notches))


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
    return np.array([edge[0], (1, 0), (1, 1), (0, 1), *edge[:0:-1]])


def _pointed_fan(blades: int) -> Sketch:
    inner, outer = _rays(blades, 0.3), _rays(blades, 0.75)
    tips = [ray(90.0 * (k + 0.5) / blades, 0.92) for k in range(blades)]
    pieces = [polygon([inner[k], outer[k], tips[k], outer[k + 1], inner[k + 1]]) for k in range(blades)]
    edge = [corner for k in range(blades) for corner in (outer[k], tips[k])] + [outer[blades]]
    return boxed([np.array([(0, 0), *inner]), *pieces, _beyond(edge)], 1)


def _fan_of_rings(blades: int) -> Sketch:
    rings = [_rays(blades, length) for length in (0.25, 0.55, 0.9)]
    pieces = [polygon([a[k], b[k], b[k + 1], a[k + 1]]) for a, b in pairwise(rings) for k in range(blades)]
    return boxed([np.array([(0, 0), *rings[0]]), *pieces, _beyond(list(rings[-1]))], 1)
