"""How far a grid or an outline lies off the fit, place by place: the picture of a sheet that is bent or misprinted.

A ruler's marks have one residual each and need none of this.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from seamsurvey.photo.observed import KNOWN, Observed

Floats = NDArray[np.float64]

PARTS = 24  # of the whole reference's longer side: a mat's squares, some millimetres of a card's edge
_LEAST_WEIGHT = 0.05  # under it the fit has left the point out
_STEP_PX = 0.5


def misses(observed: Observed, residuals_px: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """(m, 2) image places all over a reference, and there (m, 2) px of seen minus fit; none for a ruler.

    ``residuals_px`` (n,) are the points', towards the growing coordinate of the reference's own frame; ``weights``
    (n,) in 0..1 how far the fit believed each. Points of one line that lie close together are taken as one.
    """
    if observed.kind == "ruler":
        return np.zeros((0, 2)), np.zeros((0, 2))
    points = observed.points_px
    vectors = residuals_px[:, None] * _ways(observed)
    # A corner is known in both coordinates and stands twice: its misses are the parts of one vector.
    _, first, corner = np.unique(points, axis=0, return_index=True, return_inverse=True)
    whole = np.column_stack([np.bincount(corner, part) for part in vectors.T]).astype(float)
    believed = np.bincount(corner, weights > _LEAST_WEIGHT) == np.bincount(corner)
    _, group = np.unique(_groups(observed)[first], axis=0, return_inverse=True)
    count = np.bincount(group, believed)
    used = count > 0

    def mean(values: Floats) -> Floats:
        sums = [np.bincount(group, np.where(believed, part, 0.0)) for part in values.T]
        return np.asarray((np.column_stack(sums) / np.maximum(count, 1)[:, None])[used])

    return mean(points[first].astype(float)), mean(whole)


def _own(observed: Observed, points: Floats) -> Floats:
    return np.asarray(cv2.perspectiveTransform(points[None], observed.rough)[0], dtype=float)


def _ways(observed: Observed) -> Floats:
    """(n, 2) unit vectors of the picture in which each point's own coordinate grows fastest."""
    row = np.arange(len(observed.axis))
    slopes = [
        (_own(observed, observed.points_px + half) - _own(observed, observed.points_px - half))[row, observed.axis]
        for half in (np.array([_STEP_PX, 0.0]), np.array([0.0, _STEP_PX]))
    ]
    steep = np.column_stack(slopes)
    return np.asarray(steep / np.hypot(steep[:, 0], steep[:, 1])[:, None])


def _groups(observed: Observed) -> NDArray[np.intp]:
    """(n, k): points with the same numbers lie close together on one line; a corner is alone."""
    own = _own(observed, observed.points_px)
    if observed.kind == "target":
        return np.unique(observed.points_px, axis=0, return_inverse=True)[1].reshape(-1, 1).astype(np.intp)
    part = float(np.ptp(own, axis=0).max()) / PARTS
    if observed.kind == "mat":
        part = max(part, float(np.min(np.diff(np.unique(observed.nominal_mm)))))
    along = np.floor(own[np.arange(len(own)), 1 - observed.axis] / part)
    line = np.where(observed.edge == KNOWN, np.rint(observed.nominal_mm / part * PARTS), observed.edge)
    return np.column_stack([observed.axis, line, along]).astype(np.intp)
