"""From a card's lines to the finished outline and how its corners move with every error."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from seamsurvey.geometry import offset_polygon
from seamsurvey.model import Plane
from seamsurvey.templates.fitted import FittedEdge
from seamsurvey.templates.wobble import Wobble

Floats = NDArray[np.float64]

_STEP_MM = 1e-4  # of the difference quotients; corners are nearly linear in one another over this


def corner_moves(lines: Sequence[FittedEdge], corners: Floats) -> Floats:
    """(2n, 2n): how corners (x0, y0, x1, ...) move with each line's offset and slope (o0, b0, o1, ...).

    ``corners`` (n, 2) may be the cut or the finished ones: the offset's lines are parallel to the edges. Corner k
    lies on lines k - 1 and k; a line moved outwards by eta at the corner moves it so that normal · move = eta.
    """
    count = len(lines)
    result = np.zeros((2 * count, 2 * count))
    for k in range(count):
        pair = ((k - 1) % count, k)
        inverse = np.linalg.inv(np.array([lines[i].outward for i in pair]))
        for column, i in enumerate(pair):
            place = float((corners[k] - lines[i].middle) @ lines[i].along)
            result[2 * k : 2 * k + 2, 2 * i] += inverse[:, column]
            result[2 * k : 2 * k + 2, 2 * i + 1] += inverse[:, column] * place
    return result


def own_covariance(lines: Sequence[FittedEdge], corners: Floats, wobble: Wobble) -> Floats:
    """(2n, 2n) mm²: of the corners, from the errors of this template's own lines."""
    moves = corner_moves(lines, corners)
    total = np.zeros_like(moves)
    for k, line in enumerate(lines):
        part = moves[:, 2 * k : 2 * k + 2]
        total += part @ line.covariance(wobble) @ part.T
    return total


def shared_sensitivity(
    lines: Sequence[FittedEdge], cut: Floats, allowance_mm: float | Floats, plane: Plane
) -> Floats:
    """(2n, p + 1): how the finished corners move with the plane's p parameters and the edge bias (mm)."""
    of_plane = plane.sensitivity(plane.to_px(cut)).reshape(cut.size, -1)
    return np.column_stack([finishing(cut, allowance_mm) @ of_plane, corner_moves(lines, cut)[:, ::2].sum(axis=1)])


def finishing(cut: Floats, allowance_mm: float | Floats) -> Floats:
    """(2n, 2n): how the finished corners move with the cut ones; ``allowance_mm`` is one, or (n,) of each edge."""
    size = cut.size
    if not np.any(allowance_mm):
        return np.eye(size)
    columns = []
    for step in _STEP_MM * np.eye(size):
        ahead = offset_polygon(cut + step.reshape(-1, 2), -np.asarray(allowance_mm))
        behind = offset_polygon(cut - step.reshape(-1, 2), -np.asarray(allowance_mm))
        columns.append((ahead - behind).ravel() / (2 * _STEP_MM))
    return np.column_stack(columns)
