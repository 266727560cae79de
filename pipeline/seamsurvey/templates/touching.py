"""Two cards that touch or overlap, told from one card with a hollow corner.

Where two cards meet, the outline has a hollow (reflex) corner, and one card's edge runs straight on from there
into the inside, to be seen as a step or a dark gap. In one card with a hollow corner there is nothing to see.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon

from seamsurvey.geometry import edge_vectors, interior_angles
from seamsurvey.model import Plane
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.corners import CLEAR_TURN_DEG

Floats = NDArray[np.float64]

HOLLOW_DEG = 180.0 + CLEAR_TURN_DEG  # a shallower hollow may be wobble, or the ground's pattern at an edge
_IN_LINE_DEG = 2.0  # a short edge's direction is known no better, cut by hand
_FOLLOWED_MM = 12.0  # the hidden edge is followed from the hollow corner so far at most
_START_MM = 1.0
_STRETCH_MM = 1.5
_SIDE_MM = 2.0  # the texture beside the prolonged edge is looked at so far to both sides
_NEAR_MM = 0.4  # an edge going straight on lies no farther from the prolongation
_SIGMAS = 5.0
_SHARE = 0.75  # of the stretches must show an edge


def hidden_edge(crop: Crop, corners: Floats, plane: Plane) -> Floats | None:
    """(2,) plane mm, on another card's edge inside this outline, or None; ``corners`` (n, 2) plane mm."""
    ways = edge_vectors(corners)
    ways /= np.hypot(*ways.T)[:, None]
    for k in np.nonzero(interior_angles(corners) > HOLLOW_DEG)[0]:
        for way in (ways[k - 1], -ways[k]):
            length = _inside_length(corners, corners[k], way)
            if length > 4 * _STRETCH_MM and _shows_edge(crop, corners[k], way, length, plane):
                return np.asarray(corners[k] + way * length / 2)
    return None


def laid_along(corners: Floats) -> Floats | None:
    """(2,) plane mm, on the line that one card's edge lies along another's, or None; ``corners`` (n, 2) plane mm.

    Where two cards of one stuff touch exactly nothing is to be seen between them. But the edge that the one lies
    along goes on behind it: it leads up to a hollow corner, and goes on in one line from another.
    """
    count = len(corners)
    ways = edge_vectors(corners)
    hollow = np.nonzero(interior_angles(corners) > HOLLOW_DEG)[0]
    for first in hollow:
        for second in hollow:
            across = corners[second] - corners[first]
            if first == second or (second - first) % count < 2:
                continue
            if all(_ahead_deg(across, way) < _IN_LINE_DEG for way in (ways[first - 1], ways[second])):
                return np.asarray(corners[first] + across / 2)
    return None


def _ahead_deg(one: Floats, other: Floats) -> float:
    """Degrees between two directions, 0 to 180."""
    return float(np.degrees(np.abs(np.arctan2(one[0] * other[1] - one[1] * other[0], one @ other))))


def _inside_length(corners: Floats, start: Floats, way: Floats) -> float:
    """How far one can follow the prolonged edge inside the outline, but for a margin at its end."""
    far = LineString([start + 0.01 * way, start + (_FOLLOWED_MM + _SIDE_MM) * way])
    inside = far.intersection(Polygon(corners))
    parts = [part for part in getattr(inside, "geoms", [inside]) if not part.is_empty]
    first = min(parts, key=lambda part: part.distance(far.boundary.geoms[0]), default=None)
    return 0.0 if first is None else min(_FOLLOWED_MM, float(first.length) - _SIDE_MM)


def _shows_edge(crop: Crop, start: Floats, way: Floats, length: float, plane: Plane) -> bool:
    px_per_mm = 1 / float(plane.mm_per_px_at(plane.to_px(start[None]))[0])
    across = np.arange(-_SIDE_MM * px_per_mm, _SIDE_MM * px_per_mm + 0.5, 0.5) / px_per_mm
    along = np.arange(_START_MM, length, 0.5 / px_per_mm)
    normal = np.array([way[1], -way[0]])
    at = start + along[:, None, None] * way + across[None, :, None] * normal
    grid = (plane.to_px(at.reshape(-1, 2)) - np.array(crop.corner)).astype(np.float32).reshape(*at.shape)
    light = cv2.remap(
        crop.luminance(), grid[..., 0], grid[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    stretches = np.array_split(light.astype(float), max(1, round(length / _STRETCH_MM)))
    slopes = np.abs(np.array([np.gradient(part.mean(axis=0)) for part in stretches]))
    near = np.abs(across) <= _NEAR_MM
    beside = slopes[:, (np.abs(across) > 2 * _NEAR_MM) & (np.abs(across) < _SIDE_MM - 0.1)]
    usual = np.median(beside) + 1e-6
    return bool(np.mean(slopes[:, near].max(axis=1) > _SIGMAS * usual) >= _SHARE)
