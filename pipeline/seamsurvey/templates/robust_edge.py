"""A line or an arc through an edge's measured points: robust, worn ends, nicks and dust do not pull it."""

import math

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.stats import theilslopes

from seamsurvey.curves import Curve
from seamsurvey.model import Plane
from seamsurvey.templates.edges import EdgePoints
from seamsurvey.templates.fitted import FittedEdge, fitted_arc

Floats = NDArray[np.float64]

OWN_BIAS_PX = 0.08  # one edge's offset from the truth, standard: shadow, colour fringe; differs from edge to edge
_POINT_PX = 0.1  # no stretch is known better: grain of the card, unevenness of the scan
_OUTLIER = 5.0  # standard deviations of a stretch from its neighbours, but at least:
NICK_PX = 1.5
_WORN_STRETCHES = 2  # at each end, beyond what is never looked at: a corner worn by more is another shape
LEAST_STRETCHES = 3


def robust_edge(points: EdgePoints, plane: Plane, rough: Curve | None = None) -> FittedEdge:
    """The line through an edge's points, or the arc where ``rough`` is one; nicks and worn ends do not pull it."""
    at = plane.to_mm(points.points)
    mm_per_px = float(plane.mm_per_px_at(points.points.mean(axis=0)[None])[0])
    known = 1 / (_POINT_PX**2 + points.u_px**2)
    known /= known.max()
    if rough is None or not rough.bend:
        known = known * ~_elsewhere(at, NICK_PX * mm_per_px)
    weights = known
    for _ in range(6):
        curve = _through(at, weights, rough)
        off = curve.off(at)
        used = weights > 0
        scatter = max(float(np.sqrt(np.average(off[used] ** 2, weights=weights[used]))), _POINT_PX * mm_per_px)
        weights = known * ~(_stands_out(off, NICK_PX * mm_per_px) | _worn_ends(off, scatter))
        if np.count_nonzero(weights) < LEAST_STRETCHES:
            weights = known
    curve = _through(at, weights, rough)
    return FittedEdge(
        middle=curve.point,
        along=curve.along,
        bend=curve.bend,
        places=curve.places(at),
        off=curve.off(at),
        weights=weights,
        u=points.u_px * mm_per_px,
        own_bias_mm=math.hypot(OWN_BIAS_PX, points.doubt_px, points.strayed_px) * mm_per_px,
    )


def _through(at: Floats, weights: Floats, rough: Curve | None) -> Curve:
    """The line through points in order, from their weighted middle on; the arc where ``rough`` is one."""
    if rough is not None and rough.bend:
        return fitted_arc(at, weights, rough)
    middle: Floats = np.average(at, axis=0, weights=weights)
    direction = np.linalg.svd((at - middle) * np.sqrt(weights)[:, None], full_matrices=False)[2][0]
    return Curve(middle, direction * math.copysign(1.0, float(direction @ (at[-1] - at[0]))))


def _elsewhere(at: Floats, least: float) -> NDArray[np.bool_]:
    """The points (n, 2) that do not lie on the line that most of them do: a run of them is on something else.

    Neighbours that are wrong alike hide from ``_stands_out``, and pull a line of few points. The line's slope is
    the median of all pairs' (Theil and Sen; Sen 1968).
    """
    middle: Floats = np.median(at, axis=0)
    along = np.linalg.svd(at - middle, full_matrices=False)[2][0]
    place, off = (at - middle) @ along, (at - middle) @ np.array([along[1], -along[0]])
    left = off - theilslopes(off, place).slope * place
    left = np.abs(left - np.median(left))
    return np.asarray(left > max(_OUTLIER * 1.4826 * float(np.median(left)), least))


def _stands_out(off: Floats, least: float) -> NDArray[np.bool_]:
    """The points away from their neighbours: dust, nicks. Wobble moves neighbours alike, and is no outlier."""
    away = np.abs(off - median_filter(off, 5, mode="mirror"))
    return np.asarray(away > max(_OUTLIER * 1.4826 * float(np.median(away)), least))


def _worn_ends(off: Floats, scatter: float) -> NDArray[np.bool_]:
    """The points at both ends that lie inside the line without a break: worn away."""
    inside = off < -2.5 * scatter
    inside[_WORN_STRETCHES : len(off) - _WORN_STRETCHES] = False
    worn = np.logical_and.accumulate(inside) | np.logical_and.accumulate(inside[::-1])[::-1]
    return worn if np.count_nonzero(~worn) >= LEAST_STRETCHES else np.zeros(len(off), dtype=bool)
