"""Plane geometry shared by the rooms: polygons as (n, 2) arrays, lines, rigid motions.

Polygons are simple, without a repeated last vertex. Nothing here knows a unit or a frame; "left of" and
"counter-clockwise" are meant with y up.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Points = NDArray[np.float64]

_PARALLEL = 1e-12  # the sine of an angle that is rounding alone


def signed_area(polygon: Points) -> float:
    """Area of a (n, 2) polygon, positive when counter-clockwise (the surveyor's formula)."""
    x, y = (polygon - polygon[0]).T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def counter_clockwise(polygon: Points) -> Points:
    """The same polygon, counter-clockwise, with the same first vertex."""
    return polygon if signed_area(polygon) > 0 else np.vstack([polygon[:1], polygon[:0:-1]])


def edge_vectors(polygon: Points) -> Points:
    """(n, 2): edge k runs from vertex k to vertex k + 1."""
    return np.roll(polygon, -1, axis=0) - polygon


def edge_lengths(polygon: Points) -> NDArray[np.float64]:
    """(n,): length of edge k, from vertex k to vertex k + 1."""
    along = edge_vectors(polygon)
    return np.asarray(np.hypot(along[:, 0], along[:, 1]))


def interior_angles(polygon: Points) -> NDArray[np.float64]:
    """(n,) degrees, 0..360: the inner angle at vertex k of a counter-clockwise polygon."""
    out = edge_vectors(polygon)
    back = -np.roll(out, 1, axis=0)
    angles = np.arctan2(back[:, 1], back[:, 0]) - np.arctan2(out[:, 1], out[:, 0])
    return np.asarray(np.degrees(angles) % 360)


def turn_left_deg(before: Points, after: Points) -> float:
    """By how much a direction (2,) turns to the left into another, -180 to 180 degrees."""
    return math.degrees(math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after)))


def centroid(polygon: Points) -> Points:
    """(2,): the centre of area of a (n, 2) polygon."""
    origin = polygon[0]
    p = polygon - origin
    q = np.roll(p, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    return np.asarray(origin + ((p + q) * cross[:, None]).sum(axis=0) / (3 * cross.sum()))


def intersect_lines(point_a: Points, along_a: Points, point_b: Points, along_b: Points) -> Points:
    """(2,): where two lines, each a point and a direction, meet. ValueError when they are parallel."""
    determinant = along_a[0] * along_b[1] - along_a[1] * along_b[0]
    if abs(determinant) <= _PARALLEL * math.hypot(*along_a) * math.hypot(*along_b):
        raise ValueError("parallel lines do not meet")
    to_b = point_b - point_a
    step = (to_b[0] * along_b[1] - to_b[1] * along_b[0]) / determinant
    return np.asarray(point_a + step * along_a)


def neighbours_meet(points: Points, along: Points) -> Points:
    """(n, 2): where line k, a point and a direction, meets line k - 1. ValueError where they are parallel."""
    before, way = np.roll(points, 1, axis=0), np.roll(along, 1, axis=0)
    determinant = way[:, 0] * along[:, 1] - way[:, 1] * along[:, 0]
    if np.any(np.abs(determinant) <= _PARALLEL * np.hypot(*way.T) * np.hypot(*along.T)):
        raise ValueError("parallel lines do not meet")
    on = points - before
    step = (on[:, 0] * along[:, 1] - on[:, 1] * along[:, 0]) / determinant
    return np.asarray(before + step[:, None] * way)


def offset_polygon(polygon: Points, distance: ArrayLike) -> Points:
    """(n, 2): each edge of a counter-clockwise polygon moved outwards by ``distance``, corners mitred.

    ``distance`` is one number or one for each edge (edge k from vertex k to k + 1); negative moves inwards.
    Corner k of the result belongs to corner k of the input. ValueError when neighbouring edges are parallel
    (a corner of 180°) or when the polygon turns inside out (some edge would have no length left).
    """
    moves = np.broadcast_to(np.asarray(distance, dtype=float), (len(polygon),))
    along = edge_vectors(polygon)
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(along[:, 0], along[:, 1])[:, None]
    starts = polygon + outward * moves[:, None]
    result = neighbours_meet(starts, along)
    if np.any(np.sum(edge_vectors(result) * along, axis=1) <= 0):
        raise ValueError("the polygon has no room for this offset")
    return result


def rotation(turn_deg: float) -> Points:
    """(2, 2): the counter-clockwise turn by ``turn_deg``; quarter turns are exact."""
    quarter = round(turn_deg / 90)
    if turn_deg == 90 * quarter:
        cosine, sine = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarter % 4]
    else:
        cosine, sine = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    return np.array([[cosine, -sine], [sine, cosine]])


def moved(points: Points, turn_deg: float, shift: ArrayLike) -> Points:
    """(n, 2): points turned about the origin, then shifted."""
    return np.asarray(points @ rotation(turn_deg).T + np.asarray(shift, dtype=float))


def reversed_face(polygon: Points) -> Points:
    """(n, 2): the polygon turned over (mirrored in the y axis), counter-clockwise again.

    Vertex k of the input becomes vertex (n - k) mod n, so that edge k becomes edge n - 1 - k.
    """
    flipped = polygon * np.array([-1.0, 1.0])
    return np.asarray(np.roll(flipped[::-1], 1, axis=0))


def same_shape(one: Points, other: Points, tolerance: float) -> bool:
    """Whether a polygon can be turned and shifted so that its corners lie within ``tolerance`` of the other's.

    Both counter-clockwise; nothing is turned over. The turn is fitted by least squares (Procrustes).
    """
    if len(one) != len(other):
        return False
    start = one - one.mean(axis=0)
    for step in range(len(other)):
        end = np.roll(other, -step, axis=0) - other.mean(axis=0)
        cross = float(np.sum(start[:, 0] * end[:, 1] - start[:, 1] * end[:, 0]))
        turned = moved(start, math.degrees(math.atan2(cross, float(np.sum(start * end)))), (0.0, 0.0))
        if float(np.hypot(*(turned - end).T).max()) <= tolerance:
            return True
    return False
