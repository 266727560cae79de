"""A line or an arc through an edge's measured points: worn ends, nicks and dust do not pull it.

Some points may lie on something straight beside the card: a line of a mat, a shadow's end, or the far side of a
thick card may run so near an edge, and so nearly along it, that some stretches show the one and some the other. A
hand that cuts makes no such step.
"""

import math

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.stats import theilslopes

from seamsurvey.curves import Curve
from seamsurvey.model import Plane
from seamsurvey.templates.edges import EdgePoints
from seamsurvey.templates.fitted import FittedEdge, fitted_arc
from seamsurvey.templates.runs import line_through
from seamsurvey.templates.wobble import CLEAR_SIGMAS, estimate, evidence, kink, line_design, turn_in_sigmas

Floats = NDArray[np.float64]

OWN_BIAS_PX = 0.08  # one edge's offset from the truth, standard: shadow, colour fringe; differs from edge to edge
_POINT_PX = 0.1  # no stretch is known better: grain of the card, unevenness of the scan
_OUTLIER = 5.0  # standard deviations of a stretch from its neighbours, but at least:
NICK_PX = 1.5
_WORN_STRETCHES = 2  # at each end, beyond what is never looked at: a corner worn by more is another shape
LEAST_STRETCHES = 3
_LEAST_RUN = 4  # points: fewer are nicks and dust, which the line's own fit leaves out
_MOST_POINTS = 60
_CLEARLY = 0.5  # of what a step leaves over a nick must not


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


# --- points on two lines ---


@frozen
class Step:
    """Where points leave one line for another: the index of the first beyond, and by how far, mm outwards."""

    at: int
    by: float


@frozen
class TwoLines:
    """The lines that the two runs of points lie on, each a point and a direction, plane mm."""

    first: tuple[Floats, Floats] = field(eq=False)
    second: tuple[Floats, Floats] = field(eq=False)


def step_in(at: Floats, least: float) -> Step | None:
    """The step of at least so much in points (n, 2) along an edge, in order; None where there is none.

    It must explain the points better than any kink does, nearly as well as a nick could, and stand out from the
    wobble that it leaves.
    """
    if len(at) < 2 * _LEAST_RUN:
        return None
    middle, along = line_through(at)
    place, off = (at - middle) @ along, (at - middle) @ np.array([along[1], -along[0]])
    number = np.arange(len(at))
    line = line_design(place)
    steps = {k: np.column_stack([line, number >= k]) for k in range(_LEAST_RUN, len(at) - _LEAST_RUN + 1)}
    fits = {k: _fit(design, off) for k, design in steps.items()}
    first = min(fits, key=lambda k: fits[k][0])
    squares, by = fits[first]
    if abs(by) < least or _fit(kink(place, off, float(np.ptp(place)) / 10)[1], off)[0] < squares:
        return None
    nicks = (
        np.column_stack([line, (number >= start) & (number < end)])
        for start in range(1, len(at) - 1)
        for end in range(start + 1, min(start + len(at) // 4, len(at)))
    )
    if min(_fit(design, off)[0] for design in nicks) < _CLEARLY * squares:
        return None
    some = np.unique(np.linspace(0, len(at) - 1, _MOST_POINTS).astype(int))
    design = steps[first][some]
    wobble = estimate([evidence(place[some], off[some], design)])
    return Step(first, by) if turn_in_sigmas(place[some], off[some], design, wobble) > CLEAR_SIGMAS else None


def _fit(design: Floats, off: Floats) -> tuple[float, float]:
    """What the best sum of a design's columns leaves over, squared, and the last column's share."""
    shares = np.linalg.lstsq(design, off, rcond=None)[0]
    return float(np.sum((off - design @ shares) ** 2)), float(shares[-1])


def two_lines(at: Floats, step: Step) -> TwoLines:
    """The lines through the points (n, 2) before a step and beyond it."""
    return TwoLines(line_through(at[: step.at]), line_through(at[step.at :]))
