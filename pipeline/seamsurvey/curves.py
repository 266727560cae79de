"""Lines and circles that an outline's edges run along: where two of them meet, and moved sideways.

An outline is its corners and the bulge of every edge (``arcs``); here each edge is the whole line or circle it lies
on, with the way it runs. Outward is to the right of that way, as on a counter-clockwise outline.
"""

import math
from collections.abc import Sequence

import numpy as np
from attrs import field, frozen
from numpy.typing import ArrayLike, NDArray

from seamsurvey.arcs import bulge_of, heading, radius_of, sweep_of
from seamsurvey.geometry import edge_lengths, edge_vectors, intersect_lines, offset_polygon

Points = NDArray[np.float64]

# Two curves that touch, as a line runs smoothly into an arc, cross twice or not at all when each is known to some
# hundredths of a millimetre. What overlaps by no more than this, or turns by no more, was drafted to touch (common
# practice, no source): the joint is where they come closest.
TOUCH_MM = 0.1
TOUCH_DEG = 3.0
WIDEST_GAP_MM = 0.6  # and two that miss one another by more have no joint
_SAME_WAY = 0.9  # cosine


@frozen
class Curve:
    """A line (``bend`` 0) or a circle, through ``point`` (2,) in the direction ``along`` (2,), of unit length.

    ``bend`` is its curvature, 1 / radius, positive where it turns left: on a counter-clockwise outline, where it
    bulges out.
    """

    point: Points = field(eq=False)
    along: Points = field(eq=False)
    bend: float = 0.0

    @property
    def outward(self) -> Points:
        """(2,) the unit normal at ``point``, to the right."""
        return np.array([self.along[1], -self.along[0]])

    @property
    def centre(self) -> Points:
        """(2,); of a circle only."""
        return np.asarray(self.point - self.outward / self.bend)

    @property
    def radius(self) -> float:
        """Of a circle; infinite for a line."""
        return 1 / abs(self.bend) if self.bend else math.inf

    def outward_at(self, at: Points) -> Points:
        """(2,) the unit normal to the right, where the curve comes nearest to a point."""
        if not self.bend:
            return self.outward
        away = at - self.centre
        return np.asarray(away * math.copysign(1 / float(np.hypot(*away)), self.bend))

    def along_at(self, at: Points) -> Points:
        """(2,) its direction, where it comes nearest to a point."""
        normal = self.outward_at(at)
        return np.array([-normal[1], normal[0]])

    def nearest(self, at: Points) -> Points:
        """(2,) the curve's point nearest to another."""
        return np.asarray(at - float(self.off(at[None])[0]) * self.outward_at(at))

    def off(self, points: Points) -> NDArray[np.float64]:
        """(n,) how far points lie outwards of it."""
        if not self.bend:
            return np.asarray((points - self.point) @ self.outward)
        gap = np.hypot(*(points - self.centre).T) - self.radius
        return np.asarray(gap * math.copysign(1.0, self.bend))

    def places(self, points: Points) -> NDArray[np.float64]:
        """(n,) how far along the curve from ``point`` it comes nearest to points; half round a circle at most."""
        if not self.bend:
            return np.asarray((points - self.point) @ self.along)
        away = (points - self.centre) * math.copysign(1.0, self.bend)
        return np.asarray(np.arctan2(away @ self.along, away @ self.outward) / self.bend)

    def at(self, places: ArrayLike) -> Points:
        """(n, 2) its points at places along it."""
        places = np.asarray(places, dtype=float)[:, None]
        if not self.bend:
            return np.asarray(self.point + places * self.along)
        turn = places * self.bend
        return np.asarray(self.centre + (np.cos(turn) * self.outward + np.sin(turn) * self.along) / self.bend)

    def parallel(self, distance: float) -> "Curve":
        """The curve moved outwards: a circle's stays concentric. ValueError where nothing of it is left."""
        room = 1 + self.bend * distance
        if room <= 0:
            raise ValueError("the arc has no room for this offset")
        return Curve(self.point + distance * self.outward, self.along, self.bend / room)


def curves_of(corners: Points, bulges: Sequence[float]) -> list[Curve]:
    """The curve of every edge of an outline; ``bulges`` as in ``arcs``, empty when all are straight."""
    result = []
    chords = edge_lengths(corners)
    for k, bulge in enumerate(bulges or [0.0] * len(corners)):
        turn = math.radians(heading(corners[k], corners[(k + 1) % len(corners)], bulge))
        bend = math.copysign(1 / radius_of(float(chords[k]), bulge), bulge) if bulge else 0.0
        result.append(Curve(corners[k], np.array([math.cos(turn), math.sin(turn)]), bend))
    return result


def bulge_between(curve: Curve, start: Points, end: Points) -> float:
    """The bulge of the stretch of a curve from one of its points to another; 0 on a line."""
    if not curve.bend:
        return 0.0
    (x, y), (u, v) = start - curve.centre, end - curve.centre
    side = math.copysign(1.0, curve.bend)
    turn = (side * (math.atan2(v, u) - math.atan2(y, x))) % (2 * math.pi)
    return bulge_of(side * math.degrees(turn))


def meet(before: Curve, after: Curve, near: Points, touch: float = TOUCH_MM) -> Points:
    """(2,): where one curve goes over into the next, near a point: where they cross, or where they touch.

    They touch where they overlap by no more than ``touch``. ValueError when they do neither.
    """
    if not before.bend and not after.bend:
        return intersect_lines(before.point, before.along, after.point, after.along)
    crossings = sorted(_crossings(before, after), key=lambda at: float(np.hypot(*(at - near))))
    ends = [curve.nearest(_closest(curve, other, near)) for curve, other in ((before, after), (after, before))]
    gap, middle = float(np.hypot(*(ends[1] - ends[0]))), (ends[0] + ends[1]) / 2
    touches = float(before.along_at(middle) @ after.along_at(middle)) > _SAME_WAY
    if crossings:
        cosine = float(before.along_at(crossings[0]) @ after.along_at(crossings[0]))
        flat = cosine > math.cos(math.radians(TOUCH_DEG)) or gap < touch
        return middle if touches and flat else crossings[0]
    if touches and gap < max(WIDEST_GAP_MM, touch):
        return middle
    raise ValueError("the two curves do not meet")


def _closest(curve: Curve, other: Curve, near: Points) -> Points:
    """A point straight beyond the place where a curve comes closest to another, on the side of ``near``."""
    if not curve.bend:
        return other.centre
    if not other.bend:
        return other.nearest(curve.centre)
    between = other.centre - curve.centre
    length = float(np.hypot(*between))
    if length < 1e-9 * curve.radius:
        return near
    way = between / length * math.copysign(1.0, float(between @ (near - curve.centre)))
    return np.asarray(curve.centre + way * curve.radius)


def _crossings(one: Curve, other: Curve) -> list[Points]:
    """The points, none or two, where two curves of which at least one is a circle cross."""
    if not one.bend:
        one, other = other, one
    if not other.bend:
        foot = other.nearest(one.centre)
        across, way = float(np.hypot(*(foot - one.centre))), other.along
    else:
        between = other.centre - one.centre
        length = float(np.hypot(*between))
        if length < 1e-12:
            return []
        across = (length**2 + one.radius**2 - other.radius**2) / (2 * length)
        foot = one.centre + between * across / length
        way = np.array([-between[1], between[0]]) / length
    room = one.radius**2 - across**2
    if room < 0:
        return []
    return [np.asarray(foot + side * math.sqrt(room) * way) for side in (-1.0, 1.0)]


def offset_outline(
    corners: Points, bulges: Sequence[float], distance: ArrayLike
) -> tuple[Points, tuple[float, ...]]:
    """Each edge of a counter-clockwise outline moved outwards: corners (n, 2) and bulges, empty when all straight.

    As ``geometry.offset_polygon``, which does it where all edges are straight. An arc becomes a concentric one; a
    corner is where the moved curves meet, mitred. ValueError when an edge would have no length left.
    """
    if not any(bulges):
        return offset_polygon(corners, distance), ()
    count = len(corners)
    moves = np.broadcast_to(np.asarray(distance, dtype=float), (count,))
    curves = curves_of(corners, bulges)
    moved = [curve.parallel(float(by)) for curve, by in zip(curves, moves, strict=True)]
    result = np.array(
        [
            meet(
                moved[k - 1], moved[k], corners[k] + _mitre(curves[k - 1], curves[k], corners[k], moves[[k - 1, k]])
            )
            for k in range(count)
        ]
    )
    after = tuple(bulge_between(moved[k], result[k], result[(k + 1) % count]) for k in range(count))
    same_way = np.sum(edge_vectors(result) * edge_vectors(corners), axis=1) > 0
    for k, bulge in enumerate(bulges):
        if (bulge and abs(sweep_of(after[k]) - sweep_of(bulge)) > 180) or (not bulge and not same_way[k]):
            raise ValueError("the outline has no room for this offset")
    return result, after


def _mitre(before: Curve, after: Curve, corner: Points, by: NDArray[np.float64]) -> Points:
    """How far a corner moves when its two curves, taken as straight there, move outwards."""
    normals = np.array([before.outward_at(corner), after.outward_at(corner)])
    turn = float(normals[0, 0] * normals[1, 1] - normals[0, 1] * normals[1, 0])
    if abs(turn) < 0.05:
        return np.asarray((by[:, None] * normals).mean(axis=0))
    return np.asarray(np.linalg.solve(normals, by))
