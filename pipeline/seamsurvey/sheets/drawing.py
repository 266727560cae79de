"""One neutral drawing in millimetres, which the writers (PDF, SVG) replay.

Frame: *page* = mm, x right, y up, origin at the drawing's lower left. Marks stand in the order they are drawn;
writers draw all texts after all lines, so that no line ever runs over a word.
"""

from collections.abc import Iterable

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import ArrayLike

from seamsurvey.geometry import rotation
from seamsurvey.model import Array, array_field
from seamsurvey.sheets.type import cap_mm

INK = "#1a1a1a"
QUIET = "#5f6368"  # second voice: still 6:1 on white
HAIR = "#b9bec4"  # rules and construction lines


@frozen
class Pen:
    """How a line is drawn. ``dash`` is on, off, ... in mm; empty is solid."""

    width_mm: float
    colour: str = INK
    dash: tuple[float, ...] = ()


# Line widths are of the series of ISO 128-2:2020 (0.13, 0.18, 0.25, 0.35, 0.5, 0.7 mm; the series from memory).
SEWING = Pen(0.5)
OUTLINE = Pen(0.7)
ALLOWANCE = Pen(0.25, INK, (3.0, 1.5))
TICK = Pen(0.25)
HAIRLINE = Pen(0.18, HAIR)


@frozen(kw_only=True)
class Line:
    """A polyline, or a polygon when ``closed``."""

    points: Array = array_field()  # (n, 2) page
    closed: bool = False
    pen: Pen | None = None
    fill: str | None = None
    layer: str = "drawing"


@frozen(kw_only=True)
class Text:
    """One line of text; ``at`` is the anchor on the baseline, ``turn_deg`` counter-clockwise about it."""

    at: tuple[float, float]
    text: str
    size_pt: float
    weight: str = "regular"
    anchor: str = "start"  # "start", "middle", "end"
    turn_deg: float = 0.0
    colour: str = INK
    layer: str = "labels"


Mark = Line | Text


@frozen
class Drawing:
    """What stands on one sheet."""

    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]


def polygon(points: Array, *, pen: Pen | None = None, fill: str | None = None, layer: str = "drawing") -> Line:
    """A closed line."""
    return Line(points=points, closed=True, pen=pen, fill=fill, layer=layer)


def segment(start: ArrayLike, end: ArrayLike, pen: Pen, layer: str = "drawing") -> Line:
    """One straight stroke."""
    return Line(points=np.array([start, end], dtype=float), pen=pen, layer=layer)


def box(x: float, y: float, width: float, height: float) -> Array:
    """(4, 2) page: a rectangle from its lower left corner, counter-clockwise."""
    return np.array([[x, y], [x + width, y], [x + width, y + height], [x, y + height]])


def centred(at: ArrayLike, text: str, size_pt: float, *, weight: str = "regular", colour: str = INK) -> Text:
    """A text whose capitals are centred on a point."""
    x, y = np.asarray(at, dtype=float)
    return Text(
        at=(float(x), float(y) - cap_mm(size_pt) / 2),
        text=text,
        size_pt=size_pt,
        anchor="middle",
        weight=weight,
        colour=colour,
    )


def placed(marks: Iterable[Mark], turn_deg: float, shift: ArrayLike, scale: float = 1.0) -> tuple[Mark, ...]:
    """The marks scaled and turned about the origin, then shifted. Texts and pens keep their size."""
    matrix, offset = rotation(turn_deg).T * scale, np.asarray(shift, dtype=float)

    def one(mark: Mark) -> Mark:
        if isinstance(mark, Line):
            return attrs.evolve(mark, points=mark.points @ matrix + offset)
        x, y = np.asarray(mark.at) @ matrix + offset
        return attrs.evolve(mark, at=(float(x), float(y)), turn_deg=mark.turn_deg + turn_deg)

    return tuple(map(one, marks))
