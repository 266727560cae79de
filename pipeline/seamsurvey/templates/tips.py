"""Short edges that are no edges: worn or blunted points, and tips trimmed off an allowance.

Where one is found, its neighbours are prolonged until they meet.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from seamsurvey.geometry import edge_lengths, interior_angles, turn_left_deg
from seamsurvey.templates.fitted import FittedEdge, corners_of

Floats = NDArray[np.float64]

WORN_MM = 3.5  # a point blunted by wear or scissors is no wider; no patch has so short an edge
SHARP_DEG = 62.0  # tips are trimmed where they are long and sharp: 45 and 60 degrees, with room for the cutting
_SQUARE_DEG = 8.0  # a trimming cut is made square to the tip's middle line, by eye


def without_tips(lines: Sequence[FittedEdge], allowance_mm: float) -> tuple[FittedEdge, ...]:
    """The lines without those that cut off a point.

    With an allowance that is certain: an edge of which less than WORN_MM is left when the allowance is taken off
    can't be an edge of the patch. Without one, only wear is undone.
    """
    lines = list(lines)
    while len(lines) > 3:
        corners = corners_of(lines)
        left = finished_lengths(corners, allowance_mm)
        worn = (edge_lengths(corners) < WORN_MM) | ((left < WORN_MM) & (allowance_mm > 0))
        candidates = [k for k in np.argsort(left) if worn[k] and tip_angle_deg(lines, int(k)) is not None]
        if not candidates:
            break
        del lines[int(candidates[0])]
    return tuple(lines)


def looks_trimmed(lines: Sequence[FittedEdge]) -> list[int]:
    """The short edges square to the middle line of a sharp tip: maybe trimmed, if there is an allowance at all."""
    corners = corners_of(lines)
    lengths = edge_lengths(corners)
    found = []
    for k in range(len(lines)):
        angle = tip_angle_deg(lines, k)
        if (
            angle is None
            or angle > SHARP_DEG
            or lengths[k] > 0.35 * min(lengths[k - 1], lengths[(k + 1) % len(lines)])
        ):
            continue
        before, after = lines[k - 1].along, lines[(k + 1) % len(lines)].along
        middle_line = (before - after) / np.linalg.norm(before - after)
        if abs(float(middle_line @ lines[k].along)) < math.sin(math.radians(_SQUARE_DEG)):
            found.append(k)
    return found


def finished_lengths(corners: Floats, allowance_mm: float) -> Floats:
    """(n,) mm: what is left of each edge when the allowance is taken off; negative when it is gone."""
    lost = allowance_mm / np.tan(np.radians(interior_angles(corners)) / 2)
    return edge_lengths(corners) - lost - np.roll(lost, -1)


def tip_angle_deg(lines: Sequence[FittedEdge], k: int) -> float | None:
    """The angle at which the neighbours of edge k meet beyond it; None when they do not, or one is an arc."""
    if any(lines[i % len(lines)].bend for i in (k - 1, k, k + 1)):
        return None
    before, after = lines[k - 1].along, lines[(k + 1) % len(lines)].along
    turns = [turn_left_deg(before, lines[k].along), turn_left_deg(lines[k].along, after)]
    if min(turns) <= 0 or sum(turns) >= 175:
        return None
    return 180 - sum(turns)
