"""How many edges an outline of straight edges has, and which points belong to which: decided by evidence.

The outline is cut into runs so that the straight lines through them explain the points best (dynamic
programming over all cuts). The number of runs is at first the one with the lowest Bayesian information criterion
(Schwarz 1978); then every shallow corner must stand out from the wobble of all the edges together.
"""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np
import shapely
from attrs import field, frozen
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.arcs import SAGITTA_MM, drawn_out
from seamsurvey.geometry import (
    Points,
    centroid,
    counter_clockwise,
    edge_lengths,
    edge_vectors,
    interior_angles,
    intersect_lines,
)
from seamsurvey.templates.chords import CORNER_MM, OFF_MM, are_chords
from seamsurvey.templates.stray import NOISE_MM, cleaned
from seamsurvey.templates.wobble import estimate, evidence, kink, line_design, thinned, turn_in_sigmas

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

NOT_STRAIGHT = "its outline is not made of straight edges"
MOST_EDGES = 24  # no template of the trade has more
MIN_EDGE_MM = 3.0  # shorter straight runs are wear; no patch has a finished edge this short
LEAST_TURN_DEG = 0.4  # the flattest corner: half of the kink that must be kept
CLEAR_TURN_DEG = 12.0  # no wobble turns an edge by this: 0.2 mm over 8 mm is 1.4 degrees on the average
LONG_MM = 8.0  # a kink is looked for this far from an edge's ends; on shorter runs wobble looks like one
KINK_SIGMAS = 5.0  # a kink is the best of thirty places on each edge, and the wobble's size is itself an estimate
WOBBLIEST_MM = 0.45  # root mean square: cut with more wobble than this, a line is not meant to be straight
WORN_EDGE_MM = 4.0  # an edge shorter than this that can't be followed is a worn tip
UNSEEN_EDGE_MM = 8.0  # an edge shorter than this that nothing is seen of is none: a shadow or print hides a corner
_LEAST_POINTS = 24  # eight for each edge of a triangle
SPARE_RUNS = 6  # cut finer at first than any outline has edges, then put together what wobble explains
_TERMS_PER_EDGE = 3  # a line's two, and where it ends
_CLEARLY_BETTER = 0.04  # of all points: an outline cut more coarsely must explain so many more


@frozen(kw_only=True)
class Outline:
    """An outline through points: corner k is where edge k - 1 meets edge k.

    ``corners`` is (n, 2) plane mm, counter-clockwise; ``bulges`` of each edge as in ``arcs``, empty when all are
    straight; ``rms`` is the points' distance from their edges, mm.
    """

    corners: Floats = field(eq=False, repr=False)
    bulges: tuple[float, ...] = ()
    rms: float = 0.0

    def drawn(self, sagitta_mm: float = SAGITTA_MM) -> Floats:
        """(m, 2) plane mm: the corners, arcs as chords no further from them than this."""
        return drawn_out(self.corners, self.bulges, sagitta_mm)


class NoOutlineError(Exception):
    """The points are not explained by at most MOST_EDGES edges; the message says why, in words."""


class FreeCurveError(NoOutlineError):
    """An edge is curved, but along no arc."""

    def __init__(self) -> None:
        super().__init__("its edge is curved, but not along arcs of circles")


def straight_outline(points: Points) -> Outline:
    """The straight-edged outline of (n, 2) points in plane mm, counter-clockwise along a card's edge.

    Raises NoOutlineError when there is none.
    """
    if len(points) < _LEAST_POINTS:
        raise NoOutlineError("its edge can't be told from the ground")
    try:
        return _through(cleaned(cleaned(points)))
    except NoOutlineError:
        # An edge on a patterned cloth shows less clearly than the others: judged by their measure nothing is left.
        return _through(cleaned(cleaned(points, forgiving=True), forgiving=True))


def _through(points: Points) -> Outline:
    """As ``straight_outline``, of points that all lie on the edge but for some."""
    if len(points) < _LEAST_POINTS:
        raise NoOutlineError("its edge can't be told from the ground")
    points = np.roll(points, -definite_corner(points), axis=0)
    ring = np.vstack([points, points[:1]])
    cost, trim = run_costs(ring)
    cuts = _best_cuts(cost, MOST_EDGES + SPARE_RUNS)
    finest = (_off_line(ring[a + trim : b - trim + 1]) for a, b in pairwise(cuts[max(cuts)]))
    effective = independent_points(finest, len(ring))
    best = min(cuts, key=lambda k: _criterion(_total(cost, cuts[k]), len(ring), effective, k))
    # Cut most finely, then more coarsely: where many points lie on a letter, a side or a shadow, they must not cut.
    tried = [cuts[best], *(cuts[k] for k in sorted(cuts, reverse=True) if k < best)]
    outlines: list[tuple[float, list[int]]] = []
    for some in tried:
        clear = _clear_corners(ring, some, trim)
        if all(clear != known for _, known in outlines):
            margin = _CLEARLY_BETTER * len(ring) if some is not cuts[best] else 0.0
            outlines.append((_unexplained(ring, clear, trim) + margin, clear))
    coarse = min(outlines)[1]
    runs = _with_kinks(ring, coarse, trim)
    if math.isinf(_unexplained(ring, runs, trim)):
        runs = coarse
    if len(runs) - 1 > MOST_EDGES:
        raise NoOutlineError(NOT_STRAIGHT)
    lines = [line_through(ring[a + trim : b - trim + 1]) for a, b in pairwise(runs)]
    residuals = [_off_line(ring[a + trim : b - trim + 1]) for a, b in pairwise(runs)]
    rms = float(np.sqrt(np.mean(np.concatenate(residuals) ** 2)))
    corners = corners_where_meet(lines, points)
    if corners is None or rms > WOBBLIEST_MM or are_chords(corners, residuals):
        raise NoOutlineError(NOT_STRAIGHT)
    return Outline(corners=corners, rms=rms)


def corners_where_meet(lines: Sequence[tuple[Floats, Floats]], points: Points) -> Floats | None:
    """(n, 2) where lines, each a point and a direction, meet their neighbours; None where that is no outline."""
    if len(lines) < 3:
        return None
    try:
        corners = np.array([intersect_lines(*lines[k - 1], *lines[k]) for k in range(len(lines))])
    except ValueError:
        return None
    reach = np.ptp(points, axis=0).max()
    if np.any(np.abs(corners - centroid(points)) > 2 * reach) or not is_sound(corners):
        return None
    return corners


def _unexplained(ring: Points, cuts: list[int], trim: int) -> float:
    """What the outline of these cuts leaves unexplained."""
    corners = corners_where_meet(
        [line_through(ring[a + trim : b - trim + 1]) for a, b in pairwise(cuts)], ring[:-1]
    )
    return math.inf if corners is None else unexplained(Outline(corners=corners), ring)


def simplified(corners: Points, *, worn_mm: float = WORN_EDGE_MM) -> Floats | None:
    """The outline (n, 2) with one corner less; None when all are clear.

    It is the shallowest corner, if wobble may have made it, else the shortest edge, if wear may have: where that is
    no longer than ``worn_mm``.
    """
    if len(corners) < 4:
        return None
    turns = np.abs(180 - interior_angles(corners))
    if turns.min() < CLEAR_TURN_DEG:
        return np.asarray(np.delete(corners, int(np.argmin(turns)), axis=0))
    lengths = edge_lengths(corners)
    k = int(np.argmin(lengths))
    if lengths[k] > worn_mm:
        return None
    ways = edge_vectors(corners)
    after = (k + 1) % len(corners)
    try:
        tip = intersect_lines(corners[k], ways[k - 1], corners[after], ways[after])
    except ValueError:
        return None
    shorter = corners.copy()
    shorter[k] = tip
    return np.asarray(np.delete(shorter, after, axis=0))


def unexplained(
    outline: Outline, points: Points, *, off_mm: float = OFF_MM, least_edge_mm: float = MIN_EDGE_MM
) -> float:
    """How many of the points (n, 2) lie off an outline, and for each edge as many as the shortest edge has."""
    off = np.asarray(shapely.distance(shapely.LinearRing(outline.drawn()), shapely.points(points)))
    spacing = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    return float(np.minimum((off / off_mm) ** 2, 1.0).sum()) + len(outline.corners) * least_edge_mm / spacing


def definite_corner(points: Points) -> int:
    """The point farthest from the middle: on a polygon it lies at a corner."""
    return int(np.argmax(np.hypot(*(points - centroid(points)).T)))


def run_costs(ring: Points) -> tuple[Floats, int]:
    """(n, n): the squared distances of points i..j, without their ends, from their line; infinite if too short.

    Also the number of points left out at each end. Those count as fitting as well as the noise allows.
    """
    spacing = float(np.median(np.hypot(*np.diff(ring, axis=0).T)))
    trim = max(1, round(CORNER_MM / spacing))
    least = max(2 * trim + 2, round(MIN_EDGE_MM / spacing))
    x, y = (ring - ring.mean(axis=0)).T
    sums = [np.concatenate([[0.0], np.cumsum(v)]) for v in (np.ones_like(x), x, y, x * x, x * y, y * y)]
    i, j = np.meshgrid(np.arange(len(ring)), np.arange(len(ring)), indexing="ij")
    first, last = np.minimum(i + trim, len(ring)), np.maximum(j - trim + 1, 0)
    n, sx, sy, sxx, sxy, syy = (s[last] - s[first] for s in sums)
    n = np.where(n > 0, n, 1)
    xx, xy, yy = sxx - sx * sx / n, sxy - sx * sy / n, syy - sy * sy / n
    smallest = (xx + yy) / 2 - np.sqrt(((xx - yy) / 2) ** 2 + xy**2)
    return np.where(j - i >= least, np.maximum(smallest, 0), np.inf), trim


def _best_cuts(cost: Floats, most: int) -> dict[int, list[int]]:
    """For each number of runs the cuts (from 0 to n - 1) with the least total cost."""
    count = len(cost)
    total = cost[0].copy()
    back: list[Indices] = []
    result: dict[int, list[int]] = {}
    for runs in range(2, most + 1):
        through = total[:, None] + cost
        before = np.argmin(through, axis=0)
        total = through[before, np.arange(count)]
        back.append(before)
        if runs < 3 or not np.isfinite(total[-1]):
            continue
        cuts = [count - 1]
        for step in reversed(back):
            cuts.append(int(step[cuts[-1]]))
        result[runs] = [0, *reversed(cuts)]
    if not result:
        raise NoOutlineError("it has no three straight edges")
    return result


def _total(cost: Floats, cuts: list[int]) -> float:
    return float(sum(cost[a, b] for a, b in pairwise(cuts)))


def _criterion(squares: float, count: int, effective: float, runs: int) -> float:
    noise = squares / count + NOISE_MM**2
    return effective * math.log(noise) + _TERMS_PER_EDGE * runs * math.log(effective)


def independent_points(offs: Iterable[Floats], count: int) -> float:
    """How many independent points an outline of ``count`` is worth, by its runs' residuals (m,) at the finest cut.

    By their autocorrelation.
    """
    lags = 40
    products, weights = np.zeros(lags), np.zeros(lags)
    for off in offs:
        for lag in range(min(lags, len(off) - 1)):
            products[lag] += float(off[lag:] @ off[: len(off) - lag])
            weights[lag] += len(off) - lag
    correlation = products / np.maximum(weights, 1)
    correlation = correlation[1:] / max(float(correlation[0]), 1e-12)
    ends = np.nonzero(correlation < 0.05)[0]
    last = int(ends[0]) if len(ends) else len(correlation)
    return max(12.0, count / (1 + 2 * float(correlation[:last].sum())))


def _off_line(points: Points) -> Floats:
    """(n,) how far points lie from the line through them."""
    point, along = line_through(points)
    return np.asarray((points - point) @ np.array([along[1], -along[0]]))


def line_through(points: Points) -> tuple[Floats, Floats]:
    """A point on the line nearest to the points, and its direction, pointing the way they run."""
    middle = points.mean(axis=0)
    along = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    return middle, along * math.copysign(1.0, float(along @ (points[-1] - points[0])))


def _clear_corners(ring: Points, cuts: list[int], trim: int) -> list[int]:
    """The cuts where the outline turns so much that no wobble explains it."""
    cuts = list(cuts)
    while len(cuts) > 4:
        lines = [line_through(ring[a + trim : b - trim + 1])[1] for a, b in pairwise(cuts)]
        excess = [turn_deg(before, after) - CLEAR_TURN_DEG for before, after in pairwise(lines)]
        if min(excess) > 0:
            break
        del cuts[int(np.argmin(excess)) + 1]
    return cuts


def _with_kinks(ring: Points, cuts: list[int], trim: int) -> list[int]:
    """The cuts, and those shallow corners besides that stand out from the wobble of all edges together."""
    while len(cuts) <= MOST_EDGES:
        edges = []
        for a, b in pairwise(cuts):
            part = ring[a + trim : b - trim + 1]
            point, along = line_through(part)
            edges.append(thinned((part - point) @ along, (part - point) @ np.array([along[1], -along[0]])))
        straight = [evidence(places, off, line_design(places)) for places, off in edges]
        best, clearest = 0, KINK_SIGMAS
        for k, (places, off) in enumerate(edges):
            if np.ptp(places) < 3 * LONG_MM:
                continue
            at, design = kink(places, off, LONG_MM)
            bent = [*straight[:k], evidence(places, off, design), *straight[k + 1 :]]
            sigmas = turn_in_sigmas(places, off, design, estimate(bent))
            if sigmas > clearest:  # an edge that shows less clearly than the others is judged by itself, too
                sigmas = min(sigmas, turn_in_sigmas(places, off, design, estimate([bent[k]])))
            turn = np.linalg.lstsq(design, off, rcond=None)[0][2]
            if sigmas > clearest and abs(turn) > math.radians(LEAST_TURN_DEG):
                first = cuts[k] + trim
                here = (ring[first : cuts[k + 1] - trim + 1] - ring[first]) @ line_through(
                    ring[first : cuts[k + 1]]
                )[1]
                best, clearest = first + int(np.argmin(np.abs(here - (at - places[0])))), sigmas
        if not best or min(abs(best - cut) for cut in cuts) < 2 * trim + 2:
            break
        cuts = sorted([*cuts, best])
    return cuts


def turn_deg(before: Floats, after: Floats) -> float:
    """By how much a direction differs from another, 0 to 180 degrees."""
    return abs(math.degrees(math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after))))


def is_sound(corners: Points) -> bool:
    """Whether the corners make a simple polygon, the right way round."""
    angles = interior_angles(corners)
    return bool(
        Polygon(corners).is_valid
        and np.array_equal(counter_clockwise(corners), corners)
        and abs(angles.sum() - 180 * (len(corners) - 2)) < 1e-6
    )
