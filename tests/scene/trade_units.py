"""The units that blocks of the trade are made of, each drawn into a box of a grid.

Boxes are (x, y, width, height) in the sketch's unit, y up. `trade_cells` draws a block of them from rows of signs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
import shapely

from .geometry import Points, polygon, signed_area
from .trade_block import Sketch

Pieces = list[Points]
_QUARTER_TURNS = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
# The side of a box on which a unit stands when it points north, west, south, east.
_STANDS_ON = {"N": 0, "W": 1, "S": 2, "E": 3}
_NOTHING, _FLAT = 1e-6, 1e-9  # areas and bends that are rounding only


def box(x: float, y: float, w: float, h: float | None = None) -> Points:
    """A rectangle; a square without `h`."""
    h = w if h is None else h
    return polygon([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])


def boxed(pieces: Iterable[Points], w: float, h: float | None = None) -> Sketch:
    """The pieces in the rectangle from the origin."""
    return Sketch(box(0.0, 0.0, w, h), tuple(pieces))


def middle(a: Points, b: Points) -> Points:
    """The point half-way."""
    return np.asarray((a + b) / 2.0)


def bars(x: float, y: float, w: float, h: float, many: int, *, upright: bool) -> Pieces:
    """Strips of equal width, side by side or one on the other."""
    if upright:
        return [box(x + k * w / many, y, w / many, h) for k in range(many)]
    return [box(x, y + k * h / many, w, h / many) for k in range(many)]


def halves(x: float, y: float, w: float, h: float | None = None, *, rising: bool) -> Pieces:
    """A half-square triangle unit: cut from the lower left to the upper right when `rising`, else the other way."""
    a, b, c, d = box(x, y, w, h)
    return [polygon([a, b, c]), polygon([a, c, d])] if rising else [polygon([a, b, d]), polygon([b, c, d])]


def quarters(x: float, y: float, w: float, h: float | None = None) -> Pieces:
    """A quarter-square triangle unit: an hourglass."""
    corners = box(x, y, w, h)
    centre = middle(corners[0], corners[2])
    return [polygon([corners[k], corners[(k + 1) % 4], centre]) for k in range(4)]


def half_and_quarters(x: float, y: float, s: float, corner: int) -> Pieces:
    """A square halved, the half away from `corner` (0 lower left, then counter-clockwise) halved again."""
    c = np.roll(box(x, y, s), -corner, axis=0)
    centre = middle(c[0], c[2])
    return [polygon([c[3], c[0], c[1]]), polygon([c[1], c[2], centre]), polygon([c[2], c[3], centre])]


def goose(x: float, y: float, w: float, h: float, toward: str) -> Pieces:
    """A flying goose: a large triangle that points N, E, S or W, and its two wings."""
    c = np.roll(box(x, y, w, h), -_STANDS_ON[toward], axis=0)
    tip = middle(c[2], c[3])
    return [polygon([c[0], c[1], tip]), polygon([c[1], c[2], tip]), polygon([c[0], tip, c[3]])]


def on_point(x: float, y: float, w: float, h: float | None = None) -> Pieces:
    """A square in a square, or a diamond in a rectangle: corners on the middles of the sides."""
    c = box(x, y, w, h)
    m = [middle(c[k], c[(k + 1) % 4]) for k in range(4)]
    return [polygon(m), *(polygon([m[k - 1], c[k], m[k]]) for k in range(4))]


def clipped(x: float, y: float, s: float, clip: float, corners: Iterable[int] = range(4)) -> Pieces:
    """A square with corners (0 lower left, then counter-clockwise) cut off `clip` along the sides: a snowball."""
    c, gone = box(x, y, s), set(corners)
    ring: list[Points] = []
    tips: Pieces = []
    for k in range(4):
        if k not in gone:
            ring.append(c[k])
            continue
        before = c[k] + (c[k - 1] - c[k]) * clip / s
        after = c[k] + (c[(k + 1) % 4] - c[k]) * clip / s
        ring += [before, after]
        tips.append(polygon([before, c[k], after]))
    return [polygon(ring), *tips]


def four_patch(x: float, y: float, w: float) -> Pieces:
    """Four squares."""
    return [box(x + i * w / 2, y + j * w / 2, w / 2) for j in range(2) for i in range(2)]


def moved_by(pieces: Iterable[Points], x: float, y: float) -> Pieces:
    """The pieces shifted."""
    return [piece + np.array([x, y]) for piece in pieces]


def turned_about(pieces: Iterable[Points], centre: tuple[float, float], degrees: float) -> Pieces:
    """The pieces turned counter-clockwise; quarter turns are exact."""
    angle = math.radians(degrees)
    c, s = _QUARTER_TURNS.get(degrees % 360.0, (math.cos(angle), math.sin(angle)))
    turn, about = np.array([[c, -s], [s, c]]), np.array(centre)
    return [(piece - about) @ turn.T + about for piece in pieces]


def round_about(pieces: Sequence[Points], centre: tuple[float, float], times: int) -> Pieces:
    """The pieces so many times round a centre."""
    return [turned for k in range(times) for turned in turned_about(pieces, centre, 360.0 * k / times)]


def cut(outline: Points, a: Points, b: Points) -> tuple[Points, Points]:
    """A convex outline cut along the line from a to b: what lies left of it, and right. Both must be there."""
    along = np.asarray(b, dtype=np.float64) - a
    side = along[0] * (outline[:, 1] - a[1]) - along[1] * (outline[:, 0] - a[0])
    side[np.abs(side) < 1e-9 * np.hypot(*along)] = 0.0
    left: list[Points] = []
    right: list[Points] = []
    for k, here in enumerate(side):
        onward = (k + 1) % len(side)
        if here >= 0:
            left.append(outline[k])
        if here <= 0:
            right.append(outline[k])
        if here * side[onward] < 0:
            crossing = outline[k] + (outline[onward] - outline[k]) * here / (here - side[onward])
            left.append(crossing)
            right.append(crossing)
    parts = polygon(left), polygon(right)
    if any(len(part) < 3 or signed_area(part) <= 0 for part in parts):
        raise ValueError("the line does not cross the outline")
    return parts


def trimmed(pieces: Iterable[Points], room: Points) -> Pieces:
    """What of the pieces lies in a convex outline, without corners at which an outline goes straight on."""
    found = []
    for piece in pieces:
        part = shapely.Polygon(piece).intersection(shapely.Polygon(room))
        if part.area > _NOTHING:
            found.append(_without_flat(shapely.get_coordinates(shapely.simplify(part, _FLAT))[:-1]))
    return found


def _without_flat(corners: Points) -> Points:
    """Counter-clockwise, without corners at which the outline goes straight on."""
    ring = corners if signed_area(corners) > 0 else corners[::-1]
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turns = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return polygon(ring[np.abs(turns) > _NOTHING])


def nine_patch(x: float, y: float, w: float) -> Pieces:
    """Nine squares."""
    return [box(x + i * w / 3, y + j * w / 3, w / 3) for j in range(3) for i in range(3)]


def kite(x: float, y: float, s: float, corner: int, share: float = 0.5) -> Pieces:
    """A kite across a square from a corner (0 lower left, then counter-clockwise), a triangle on either side."""
    c = np.roll(box(x, y, s), -corner, axis=0)
    right, left = c[1] + share * (c[2] - c[1]), c[3] + share * (c[2] - c[3])
    return [polygon([c[0], right, c[2], left]), polygon([c[0], c[1], right]), polygon([c[0], left, c[3]])]


def cornerstone(x: float, y: float, s: float, corner: int, share: float = 2 / 3) -> Pieces:
    """A square in a corner of a square, two strips beside it and a small square across."""
    c = np.roll(box(x, y, s), -corner, axis=0)
    a, b = share * (c[1] - c[0]), share * (c[3] - c[0])
    return [
        polygon([c[0], c[0] + a, c[0] + a + b, c[0] + b]),
        polygon([c[0] + a, c[1], c[1] + b, c[0] + a + b]),
        polygon([c[0] + b, c[0] + a + b, c[3] + a, c[3]]),
        polygon([c[0] + a + b, c[1] + b, c[2], c[3] + a]),
    ]


def mitred(x: float, y: float, s: float, corner: int, share: float = 2 / 3) -> Pieces:
    """A square in a corner of a square and two strips beside it that meet in a mitre: a window with its sill."""
    c = np.roll(box(x, y, s), -corner, axis=0)
    a, b = share * (c[1] - c[0]), share * (c[3] - c[0])
    return [
        polygon([c[0], c[0] + a, c[0] + a + b, c[0] + b]),
        polygon([c[0] + a, c[1], c[2], c[0] + a + b]),
        polygon([c[0] + b, c[0] + a + b, c[2], c[3]]),
    ]


def fanned(x: float, y: float, s: float, corner: int) -> Pieces:
    """Three logs on two sides of a small square in a corner: half a log cabin."""
    c = np.roll(box(x, y, s), -corner, axis=0)
    a, b = (c[1] - c[0]) / 3, (c[3] - c[0]) / 3
    o = c[0]
    return [
        polygon([o, o + a, o + a + b, o + b]),
        polygon([o + a, o + 2 * a, o + 2 * a + b, o + a + b]),
        polygon([o + b, o + b + 2 * a, o + 2 * a + 2 * b, o + 2 * b]),
        polygon([o + 2 * a, c[1], c[1] + 2 * b, o + 2 * a + 2 * b]),
        polygon([o + 2 * b, c[1] + 2 * b, c[2], c[3]]),
    ]
