"""Window templates: a frame as wide as the allowance, with the finished outline cut out of it.

Through the window one sees what lies under the card, so that its middle has the ground's colour and its border the
card's. The window's own edges are measured, as the card's are: the inner outline is the finished one.
"""

import math

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.geometry import counter_clockwise, edge_vectors
from seamsurvey.model import Plane
from seamsurvey.templates.contour import Crop, stations
from seamsurvey.templates.corners import NoOutlineError, Outline
from seamsurvey.templates.fitted import FittedEdge, corners_of
from seamsurvey.templates.lines import fit_edges
from seamsurvey.templates.masks import contour_of
from seamsurvey.templates.seam_line import FARTHEST_MM, NEAREST_MM, SeamLine
from seamsurvey.templates.sides import straight_outline

Floats = NDArray[np.float64]

_RIM_MM = (0.8, 2.0)  # inside the card's edge there is card, in every window template
_BEYOND_MM = 1.5  # outside it there is ground, past the worst of the shadow
_LEAST_CONTRAST = 0.15  # ln: of card and ground, of light or of a colour; a hole must show
_SEEN_THROUGH = 0.8  # of the card's middle has the ground's colour
_PARALLEL_DEG = 3.0
_EVEN_MM = 1.5  # a frame cut by hand is as even as this


@frozen(kw_only=True)
class Window:
    """The inner outline as ``lines``, and how far it lies inside the card's edges."""

    lines: tuple[FittedEdge, ...]
    frame: SeamLine


def find_window(crop: Crop, corners: Floats, plane: Plane) -> Window | None:
    """The window cut out of a card (``corners`` (n, 2) plane mm), or None where it has none."""
    hole = _hole(crop, corners, plane)
    if hole is None:
        return None
    try:
        rough = straight_outline(hole).corners
        if len(rough) != len(corners):
            return None
        lines = fit_edges(crop, Outline(corners=rough), plane)
    except NoOutlineError:
        return None
    inner = corners_of(lines)
    first = int(np.argmin(np.hypot(*(inner - corners[0]).T)))
    lines = (*lines[first:], *lines[:first])
    frame = _frame(lines, corners)
    return None if frame is None else Window(lines=lines, frame=frame)


def _hole(crop: Crop, corners: Floats, plane: Plane) -> Floats | None:
    """(m, 2) plane mm along the rough outline of what one sees through; None where one sees the card."""
    light = np.log(np.asarray(crop.light, dtype=float) + 0.01)
    height, width = light.shape[:2]
    px = plane.to_px(corners) - np.array(crop.corner, dtype=float)
    inside = np.zeros((height, width), np.uint8)
    cv2.fillPoly(inside, [np.round(px).astype(np.int32)], 1)
    per_mm = 1 / plane.mm_per_px
    depth = cv2.distanceTransform(np.pad(inside, 1), cv2.DIST_L2, 5)[1:-1, 1:-1] / per_mm
    away = cv2.distanceTransform(np.pad(1 - inside, 1, constant_values=1), cv2.DIST_L2, 5)[1:-1, 1:-1] / per_mm
    rim = (depth > _RIM_MM[0]) & (depth < _RIM_MM[1])
    ground = away > _BEYOND_MM
    deep = depth > max(0.6 * float(depth.max()), NEAREST_MM)
    if not (rim.any() and ground.any() and deep.any()):
        return None
    of_card, of_ground = np.median(light[rim], axis=0), np.median(light[ground], axis=0)
    way = of_ground - of_card
    if np.abs(way).max() < _LEAST_CONTRAST:
        return None
    # How far each pixel's colour has gone from the card's to the ground's: 0 to 1.
    share = cv2.GaussianBlur((light - of_card) @ way / float(way @ way), (0, 0), 0.15 * per_mm)
    through = np.asarray((share > 0.5) & (depth > _RIM_MM[1]))
    if np.mean(through[deep]) < _SEEN_THROUGH:
        return None
    outline = contour_of(np.pad(through, 1)) - 1 + np.array(crop.corner, dtype=float)
    return counter_clockwise(plane.to_mm(stations(outline, per_mm)[0]))


def _frame(lines: tuple[FittedEdge, ...], corners: Floats) -> SeamLine | None:
    """The frame's width; None where the hole is not the card's shape at one distance."""
    ways = edge_vectors(corners)
    ways = ways / np.hypot(*ways.T)[:, None]
    inner = corners_of(lines)
    if not Polygon(corners).buffer(-NEAREST_MM / 2).contains(Polygon(inner)):
        return None
    widths = []
    for k, line in enumerate(lines):
        turn = math.degrees(math.asin(min(1.0, abs(float(ways[k] @ line.outward)))))
        if turn > _PARALLEL_DEG or float(ways[k] @ line.along) < 0:
            return None
        outward = np.array([ways[k][1], -ways[k][0]])
        widths.append(float((corners[k] - line.middle) @ outward))
    width = float(np.mean(widths))
    if not NEAREST_MM <= width <= FARTHEST_MM or np.ptp(widths) > 2 * _EVEN_MM:
        return None
    return SeamLine(width, 2 * float(np.std(widths, ddof=1)) / math.sqrt(len(widths)))
