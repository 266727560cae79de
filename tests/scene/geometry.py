"""Polygons as (n, 2) float arrays: areas, moves, the mitred margin, corners cut or worn away.

Every outline is counter-clockwise, y up, and says its unit where it is made; nothing here depends on it.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Points = NDArray[np.float64]  # (n, 2)
Matrix = NDArray[np.float64]  # (2, 3): an affine map, applied to column vectors (x, y, 1)


def polygon(points: ArrayLike) -> Points:
    """The points as an (n, 2) float array."""
    return np.asarray(points, dtype=np.float64).reshape(-1, 2)


def signed_area(outline: Points) -> float:
    """Area by the shoelace sum, positive when counter-clockwise."""
    x, y = outline[:, 0], outline[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def centroid(outline: Points) -> Points:
    """(2,) centre of area."""
    x, y = outline[:, 0], outline[:, 1]
    x_next, y_next = np.roll(x, -1), np.roll(y, -1)
    cross = x * y_next - x_next * y
    total = cross.sum()
    return np.array([np.sum((x + x_next) * cross) / (3.0 * total), np.sum((y + y_next) * cross) / (3.0 * total)])


def edge_lengths(outline: Points) -> NDArray[np.float64]:
    """(n,) lengths; edge k runs from corner k to corner k + 1."""
    return np.asarray(np.hypot(*(np.roll(outline, -1, axis=0) - outline).T))


def corner_angles(outline: Points) -> NDArray[np.float64]:
    """(n,) inner angles in degrees, 0 to 360."""
    incoming = outline - np.roll(outline, 1, axis=0)
    outgoing = np.roll(outline, -1, axis=0) - outline
    cross = incoming[:, 0] * outgoing[:, 1] - incoming[:, 1] * outgoing[:, 0]
    dot = np.sum(incoming * outgoing, axis=1)
    return np.asarray(180.0 - np.degrees(np.arctan2(cross, dot)))


def outward_normals(outline: Points) -> Points:
    """(n, 2) unit normals of the edges, pointing out of a counter-clockwise outline."""
    along = np.roll(outline, -1, axis=0) - outline
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    return np.column_stack([along[:, 1], -along[:, 0]])


def placement(turn_deg: float, to: ArrayLike, about: ArrayLike = (0.0, 0.0)) -> Matrix:
    """The rigid map that turns by `turn_deg` counter-clockwise and takes `about` to `to`."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    turn = np.array([[c, -s], [s, c]])
    shift = np.asarray(to, dtype=np.float64) - turn @ np.asarray(about, dtype=np.float64)
    return np.column_stack([turn, shift])


def move(matrix: Matrix, points: Points) -> Points:
    """The points under an affine map."""
    return np.asarray(points @ matrix[:, :2].T + matrix[:, 2])


def mirrored(outline: Points) -> Points:
    """The outline reflected in the y axis, still counter-clockwise, corner 0 still first."""
    flipped = outline * np.array([-1.0, 1.0])
    return np.roll(flipped[::-1], 1, axis=0)


def meeting_point(normal_a: Points, offset_a: float, normal_b: Points, offset_b: float) -> Points:
    """(2,) where the lines n_a . x = offset_a and n_b . x = offset_b cross."""
    return np.linalg.solve(np.array([normal_a, normal_b]), np.array([offset_a, offset_b]))


def with_margin(outline: Points, margin: float) -> Points:
    """The outline with every edge moved outward by `margin`, its corners mitred."""
    normals = outward_normals(outline)
    offsets = np.sum(normals * outline, axis=1) + margin
    n = len(outline)
    corners = [meeting_point(normals[k - 1], offsets[k - 1], normals[k], offsets[k]) for k in range(n)]
    return np.array(corners)


def with_trimmed_tips(finished: Points, cut: Points, reach: float) -> Points:
    """`cut` with each mitred corner that lies farther than `reach` from its finished corner cut off.

    The trimming cut is square to the line from the finished corner to the tip, at the distance `reach`.
    """
    normals = outward_normals(cut)
    offsets = np.sum(normals * cut, axis=1)
    corners: list[Points] = []
    for k, (corner, tip) in enumerate(zip(finished, cut, strict=True)):
        distance = float(np.hypot(*(tip - corner)))
        if distance <= reach:
            corners.append(tip)
            continue
        square = (tip - corner) / distance
        level = float(square @ corner) + reach
        corners.append(meeting_point(normals[k - 1], offsets[k - 1], square, level))
        corners.append(meeting_point(square, level, normals[k], offsets[k]))
    return np.array(corners)


def with_steps(outline: Points, step: float) -> Points:
    """The outline with points added so that no two neighbours are farther apart than `step`."""
    pieces = []
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        count = max(1, math.ceil(float(np.hypot(*(b - a))) / step))
        pieces.append(a + np.linspace(0.0, 1.0, count, endpoint=False)[:, None] * (b - a))
    return np.concatenate(pieces)


def is_simple(outline: Points) -> bool:
    """Whether no two edges of the outline cross or touch, neighbours at their shared corner excepted."""
    n = len(outline)
    nexts = np.roll(outline, -1, axis=0)
    for i in range(n):
        for j in range(i + 1, n):
            if j - i in (1, n - 1):
                continue
            if _segments_meet(outline[i], nexts[i], outline[j], nexts[j]):
                return False
    return True


def _segments_meet(a: Points, b: Points, c: Points, d: Points) -> bool:
    def side(p: Points, q: Points, r: Points) -> float:
        return float((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]))

    return side(a, b, c) * side(a, b, d) <= 0.0 and side(c, d, a) * side(c, d, b) <= 0.0
