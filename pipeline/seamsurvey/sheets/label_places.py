"""Where a label has room in a picture: beside what it belongs to, else farther off with a line that leads to it.

Frame: *canvas* px, y down. Nothing is drawn here.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Array

_WAYS = 16  # directions that are tried round the thing
_RINGS = 40  # one behind the other, each half a height of the type farther off
_GAP = 1.0  # px between two labels


@frozen
class LabelPlace:
    """A label's middle (x, y), how it is turned (degrees counter-clockwise as seen), and its leader, if any."""

    point: tuple[float, float]
    turn_deg: float
    leader: BaseGeometry | None = None


def room_at(size: tuple[float, float], point: Array, turn_deg: float) -> shapely.Polygon:
    """The turned box of a label of this width and height, centred on a point."""
    width, height = size
    turn = math.radians(-turn_deg)  # y down
    along = np.array([math.cos(turn), math.sin(turn)]) * width / 2
    up = np.array([-math.sin(turn), math.cos(turn)]) * height / 2
    return shapely.Polygon(np.asarray(point) + np.array([-along - up, along - up, along + up, up - along]))


def place_for(
    size: tuple[float, float],
    wanted: Sequence[tuple[Array, float]],
    taken: Sequence[BaseGeometry],
    frame: tuple[float, float],
) -> LabelPlace | None:
    """The first of the places (point, turn) ``wanted`` where a label crosses nothing ``taken`` and is in the frame.

    Where none is, each is moved in from the frame's sides; then ever wider rings round the first are tried, upright
    and with a leader from there. None where no room is left.
    """
    tree = shapely.STRtree(list(taken))

    def is_free(room: BaseGeometry) -> bool:
        x0, y0, x1, y1 = room.bounds
        inside = x0 >= 0 and y0 >= 0 and x1 <= frame[0] and y1 <= frame[1]
        return inside and not len(tree.query(room.buffer(_GAP), predicate="intersects"))

    for point, turn in (*wanted, *((_moved_in(size, *each, frame), each[1]) for each in wanted)):
        if is_free(room_at(size, point, turn)):
            return LabelPlace((float(point[0]), float(point[1])), turn)
    start = np.asarray(wanted[0][0], dtype=float)
    crossing = None  # a leader through a label is better than no label
    for point in (*_round_about(start, size), *_everywhere(size, frame, start)):
        room = room_at(size, point, 0.0)
        if not is_free(room):
            continue
        leader = shapely.LineString([start, point]).difference(room)
        place = LabelPlace((float(point[0]), float(point[1])), 0.0, None if leader.is_empty else leader)
        if not _crosses(tree, leader, start):
            return place
        crossing = crossing or place
    return crossing


def _crosses(tree: shapely.STRtree, leader: BaseGeometry, start: Array) -> bool:
    """Whether a leader runs through a label that does not itself lie where it starts."""
    met = tree.geometries[tree.query(leader, predicate="intersects")]
    return any(not each.covers(shapely.Point(start)) for each in met)


def _moved_in(size: tuple[float, float], point: Array, turn_deg: float, frame: tuple[float, float]) -> Array:
    """The nearest point at which the label does not run off the frame."""
    x0, y0, x1, y1 = room_at(size, point, turn_deg).bounds
    half = np.array([x1 - x0, y1 - y0]) / 2 + 1
    return np.asarray(np.clip(point, half, np.maximum(half, np.array(frame) - half)))


def _round_about(start: Array, size: tuple[float, float]) -> Iterator[Array]:
    """Points on ellipses about a start, the nearest first, wider by as much as a label is."""
    for ring in range(2, _RINGS):
        reach = ring * size[1] / 2
        for k in range(_WAYS):
            turn = 2 * math.pi * k / _WAYS
            way = np.array([math.cos(turn), math.sin(turn)])
            yield start + way * (reach + abs(way[0]) * size[0] / 2)


def _everywhere(size: tuple[float, float], frame: tuple[float, float], start: Array) -> list[Array]:
    """Points all over the frame, the nearest to a start first."""
    x = np.arange(size[0] / 2, frame[0] - size[0] / 2 + 1, max(4.0, size[0] / 2))
    y = np.arange(size[1] / 2, frame[1] - size[1] / 2 + 1, max(4.0, size[1] / 2))
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return list(points[np.argsort(np.hypot(*(points - start).T), kind="stable")])
