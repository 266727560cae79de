"""Where a label stands: upright, inside its piece, clear of every line; else outside with a leader."""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Array
from seamsurvey.sheets.drawing import Mark, Pen, Text, centred, segment
from seamsurvey.sheets.type import SMALLEST_PT, cap_mm, width_mm

CLEAR_MM = 0.8  # least white between a label and a line: two widths of the heaviest line and a little air
LEADER = Pen(0.18)
_GAP = 0.45  # white between the label and the small line under it, of the label's capital height
_REACH_MM = 3.0  # from the shape to a label outside it


@frozen
class Label:
    """What a piece is called: a name, and a smaller line under it, which may be left out for want of room."""

    name: str
    under: str = ""
    largest_pt: float = 14.0
    under_pt: float = SMALLEST_PT

    def size(self, pt: float, *, with_under: bool) -> tuple[float, float]:
        """Width and height in mm of the whole label with its name at ``pt``."""
        width, height = width_mm(self.name, pt, "bold"), cap_mm(pt)
        if with_under:
            width = max(width, width_mm(self.under, self.under_pt))
            height += cap_mm(self.under_pt) + _GAP * cap_mm(pt) + 0.4
        return width, height

    def set(self, at: Array, pt: float, *, with_under: bool, colour: str) -> list[Text]:
        """The label's texts, centred on ``at``."""
        if not with_under:
            return [centred(at, self.name, pt, weight="bold", colour=colour)]
        height = self.size(pt, with_under=True)[1]
        top, bottom = at[1] + height / 2, at[1] - height / 2
        return [
            centred((at[0], top - cap_mm(pt) / 2), self.name, pt, weight="bold", colour=colour),
            centred((at[0], bottom + cap_mm(self.under_pt) / 2), self.under, self.under_pt, colour=colour),
        ]


def room_for(outline: Array, width: float, height: float) -> Array | None:
    """Where the centre of an upright ``width`` × ``height`` box can stand inside an outline, as (2,), or None.

    The places of the centre are the erosion of the polygon by the box; for a convex polygon that is the
    intersection of the polygon moved by the box's four corners. Otherwise the found box is checked.
    The middle of that room is taken, or of its largest circle where the room is not convex.
    """
    shape = shapely.Polygon(outline)
    w, h = width / 2 + CLEAR_MM, height / 2 + CLEAR_MM
    room = shapely.intersection_all([shapely.affinity.translate(shape, x, y) for x in (-w, w) for y in (-h, h)])
    if room.is_empty or room.area < 1e-9:
        return None
    room = max((part for part in getattr(room, "geoms", [room])), key=lambda part: part.area)
    middle = room.centroid
    if not room.contains(middle):
        middle = shapely.Point(shapely.maximum_inscribed_circle(shapely.Polygon(room.exterior), 0.1).coords[0])
    centre = np.array(middle.coords[0])
    x, y = centre
    return centre if shape.contains(shapely.box(x - w, y - h, x + w, y + h)) else None


def inside(outline: Array, label: Label, colour: str = "#1a1a1a") -> list[Text] | None:
    """The label inside the outline, as large as has room; None when not even the smallest name has.

    The name is set in whole points from ``largest_pt`` down to 7; its small line goes before the name
    shrinks below 9 pt.
    """
    tries = [(pt, True) for pt in range(int(label.largest_pt), 8, -1) if label.under]
    tries += [(pt, False) for pt in range(int(label.largest_pt), int(SMALLEST_PT) - 1, -1)]
    for pt, with_under in tries:
        at = room_for(outline, *label.size(pt, with_under=with_under))
        if at is not None:
            return label.set(at, pt, with_under=with_under, colour=colour)
    return None


def outside(
    outline: Array, label: Label, around: BaseGeometry, taken: Sequence[BaseGeometry]
) -> tuple[list[Mark], shapely.Polygon]:
    """The label outside ``around`` with a leader to the outline's middle, and the room it takes.

    Of 24 directions and growing distances the nearest place is taken that is clear of ``around`` and of the
    rooms already ``taken``.
    """
    circle = shapely.maximum_inscribed_circle(shapely.Polygon(outline), tolerance=0.1)
    heart = np.array(circle.coords[0])
    width, height = label.size(8, with_under=False)
    w, h = width / 2 + CLEAR_MM, height / 2 + CLEAR_MM
    best: tuple[float, Array, shapely.Polygon] | None = None
    for k in range(24):
        along = np.array([math.cos(k * math.pi / 12), math.sin(k * math.pi / 12)])
        for distance in np.arange(_REACH_MM, 400.0, 2.0):
            x, y = heart + along * distance
            room = shapely.box(x - w, y - h, x + w, y + h)
            if not room.intersects(around):
                break
        if (best is None or distance < best[0]) and not any(room.intersects(other) for other in taken):
            best = (float(distance), np.array([x, y]), room)
    if best is None:
        raise AssertionError("24 directions and 400 mm leave some free place")
    _, at, room = best
    return [
        segment(heart, _border(heart, at, w, h), LEADER, "labels"),
        *label.set(at, 8, with_under=False, colour="#1a1a1a"),
    ], room


def _border(heart: Array, at: Array, w: float, h: float) -> Array:
    """Where the leader from ``heart`` to the box round ``at`` meets the box."""
    away = heart - at
    share = min(w / abs(away[0]) if away[0] else math.inf, h / abs(away[1]) if away[1] else math.inf)
    return np.asarray(at + away * share)
