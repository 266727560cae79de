"""Where a label stands: upright, inside its piece, clear of every line; else in a free place with a leader."""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Array
from seamsurvey.sheets.drawing import INK, Mark, Pen, Text, centred, placed, polygon, segment
from seamsurvey.sheets.fabrics import Fabric, swatch_marks
from seamsurvey.sheets.type import SMALLEST_PT, cap_mm, width_mm

CLEAR_MM = 0.8  # least white between a label and a line: two widths of the heaviest line and a little air
LEADER = Pen(0.18)
_LEADER_DOT_MM = 0.45
_GAP = 0.45  # white between the label and the small line under it, of the label's capital height
_STEP_MM = 1.0  # from one place tried for a led label to the next
_SWATCH_MM = 2.8
_SWATCH_GAP_MM = 0.8
FULL, SWATCH, BARE = "full", "swatch", "bare"  # a label with its small line, with the swatch alone, with neither


@frozen
class Label:
    """What a piece is called: a name, and under it, where there is room, its fabric's swatch and a smaller line."""

    name: str
    under: str = ""
    largest_pt: float = 14.0
    under_pt: float = SMALLEST_PT
    fabric: Fabric | None = None

    def size(self, pt: float, kind: str) -> tuple[float, float]:
        """Width and height in mm of the label with its name at ``pt``."""
        width, height = width_mm(self.name, pt, "bold"), cap_mm(pt)
        if kind == FULL:
            width = max(width, self._under_width())
            height += max(cap_mm(self.under_pt), _SWATCH_MM if self.fabric else 0.0) + _GAP * cap_mm(pt) + 0.4
        elif kind == SWATCH:
            width += _SWATCH_GAP_MM + _SWATCH_MM
            height = max(height, _SWATCH_MM)
        return width, height

    def _under_width(self) -> float:
        return width_mm(self.under, self.under_pt) + (_SWATCH_MM + _SWATCH_GAP_MM if self.fabric else 0.0)

    def set(self, at: Array, pt: float, kind: str, colour: str = INK) -> list[Mark]:
        """The label's marks, centred on ``at``."""
        width, height = self.size(pt, kind)
        left, x, y = float(at[0]) - width / 2, float(at[0]), float(at[1])
        if kind == BARE:
            return [centred((x, y), self.name, pt, weight="bold", colour=colour)]
        if kind == SWATCH and self.fabric:
            name = Text(at=(left, y - cap_mm(pt) / 2), text=self.name, size_pt=pt, weight="bold", colour=colour)
            corner = (left + width - _SWATCH_MM, y - _SWATCH_MM / 2)
            return [name, *placed(swatch_marks(self.fabric, _SWATCH_MM), 0, corner)]
        row = max(cap_mm(self.under_pt), _SWATCH_MM if self.fabric else 0.0)
        middle = y - height / 2 + row / 2
        marks: list[Mark] = [
            centred((x, y + height / 2 - cap_mm(pt) / 2), self.name, pt, weight="bold", colour=colour)
        ]
        start = x - self._under_width() / 2
        if self.fabric:
            marks += placed(swatch_marks(self.fabric, _SWATCH_MM), 0, (start, middle - _SWATCH_MM / 2))
            start += _SWATCH_MM + _SWATCH_GAP_MM
        at_under = (start, middle - cap_mm(self.under_pt) / 2)
        return [*marks, Text(at=at_under, text=self.under, size_pt=self.under_pt, colour=colour)]


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


def inside(outline: Array, label: Label, colour: str = INK) -> tuple[list[Mark], shapely.Polygon] | None:
    """The label inside the outline, as large as has room, and its room; None when not even the smallest name has.

    The name is set in whole points from ``largest_pt`` down to 7; its small line goes before the name shrinks
    below 9 pt, and then the swatch.
    """
    sizes = range(int(label.largest_pt), int(SMALLEST_PT) - 1, -1)
    tries = [(pt, FULL) for pt in sizes if pt >= 9 and label.under]
    tries += [(pt, SWATCH) for pt in sizes if pt >= 8 and label.fabric]
    tries += [(pt, BARE) for pt in sizes]
    for pt, kind in tries:
        width, height = label.size(pt, kind)
        at = room_for(outline, width, height)
        if at is not None:
            x, y = at
            room = shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
            return label.set(at, pt, kind, colour), room
    return None


def led(
    outline: Array, label: Label, free: BaseGeometry, taken: Sequence[BaseGeometry]
) -> tuple[list[Mark], shapely.Polygon] | None:
    """The smallest label in the nearest place inside ``free``, clear of all ``taken``, with a leader to its piece.

    The leader itself keeps clear of other labels, too. None when there is no such place.
    """
    circle = shapely.maximum_inscribed_circle(shapely.Polygon(outline), tolerance=0.1)
    heart = np.array(circle.coords[0])
    width, height = label.size(SMALLEST_PT, BARE)
    w, h = width / 2 + CLEAR_MM / 2, height / 2 + CLEAR_MM / 2
    x0, y0, x1, y1 = free.bounds
    x, y = (v.ravel() for v in np.meshgrid(np.arange(x0 + w, x1, _STEP_MM), np.arange(y0 + h, y1, _STEP_MM)))
    shapely.prepare(free)
    rooms = shapely.box(x - w, y - h, x + w, y + h)
    kept = shapely.contains_properly(free, rooms)
    order = np.argsort(np.hypot(x - heart[0], y - heart[1]), kind="stable")
    others = shapely.union_all([*taken]) if taken else shapely.Polygon()
    shapely.prepare(others)
    for k in order[kept[order]]:
        at = np.array([x[k], y[k]])
        end = _border(heart, at, w, h)
        if others.intersects(rooms[k]) or others.intersects(shapely.LineString([heart, end])):
            continue
        dot = np.array([[1, 0], [0, 1], [-1, 0], [0, -1]]) * _LEADER_DOT_MM
        return [
            polygon(heart + dot, fill=LEADER.colour, layer="leaders"),
            segment(heart, end, LEADER, "leaders"),
            *label.set(at, SMALLEST_PT, BARE),
        ], rooms[k]
    return None


def _border(heart: Array, at: Array, w: float, h: float) -> Array:
    """Where the leader from ``heart`` to the box round ``at`` meets the box."""
    away = heart - at
    share = min(w / abs(away[0]) if away[0] else math.inf, h / abs(away[1]) if away[1] else math.inf)
    return np.asarray(at + away * min(share, 1.0))
