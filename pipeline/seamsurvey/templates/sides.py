"""How many edges an outline has, which are straight and which are arcs: decided by evidence.

The outline is cut into runs that explain the points best (``runs``). Then what is left must stand out from the
wobble of all the edges together: every shallow corner and every arc from a line, every smooth joint from none.
"""

import math
from collections.abc import Sequence
from contextlib import suppress
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.curves import bulge_between, meet
from seamsurvey.geometry import Points, turn_left_deg
from seamsurvey.templates.cards import ROUND
from seamsurvey.templates.chords import are_chords, may_be_chords
from seamsurvey.templates.corners import (
    CLEAR_TURN_DEG,
    MOST_EDGES,
    NOT_STRAIGHT,
    SPARE_RUNS,
    FreeCurveError,
    NoOutlineError,
    Outline,
    corners_where_meet,
    unexplained,
)
from seamsurvey.templates.runs import LEAST_SAGITTA_MM, LINE_TERMS, Ring, Run, cleaned, run_through
from seamsurvey.templates.wobble import CLEAR_SIGMAS, estimate, evidence, kink, turn_in_sigmas

Floats = NDArray[np.float64]

LEAST_TURN_DEG = 0.4  # the flattest corner: half of the kink that must be kept
LONG_MM = 8.0  # a kink is looked for this far from an edge's ends; on shorter runs wobble looks like one
WOBBLIEST_MM = 0.45  # root mean square: cut with more wobble than this, a line is not meant to be straight
CLEAR_SAGITTA_MM = 3.0  # no wobble bows an edge by this
_LEAST_POINTS = 24  # eight for each edge of a triangle
_CLEARLY_BETTER = 0.04  # of all points: an outline cut more coarsely must explain so many more
_MOST_POINTS = 360  # of an outline with arcs: enough for the runs; every point counts again when they are fitted
_MOST_SIDES = 12  # where some are arcs: of more of them any round thing can be made
_STANDS_OUT = 2.5  # times what other runs leave over: short runs tell too little of the wobble
_OFF_JOINT_MM = 8.0  # a corner lies this near to where the points turn; a smooth joint is known no better
_CORNER_DEG = 20.0  # an outline that nowhere turns by more at once has no corner to begin from
TWO_CORNERS = "it has only two corners; a template needs three to be laid in a block"


def find_edges(points: Points) -> Outline:
    """The outline of (n, 2) points in plane mm, counter-clockwise along a card's edge.

    Raises NoOutlineError when there is none of few enough edges.
    """
    try:
        return _outline_with_arcs(points) or straight_outline(points)
    except FreeCurveError:
        # A letter or a shadow at an edge bends what is seen of it.
        with suppress(NoOutlineError):
            straight = straight_outline(points)
            if not may_be_chords(straight.corners, points):
                return straight
        raise


# --- straight edges alone ---


def straight_outline(points: Points) -> Outline:
    """The same of straight edges alone."""
    try:
        return _through(cleaned(cleaned(points)))
    except NoOutlineError:
        # An edge on a patterned cloth shows less clearly than the others: judged by their measure nothing is left.
        return _through(cleaned(cleaned(points, forgiving=True), forgiving=True))


def _through(points: Points) -> Outline:
    """As ``straight_outline``, of points that all lie on the edge but for some."""
    if len(points) < _LEAST_POINTS:
        raise NoOutlineError("its edge can't be told from the ground")
    ring = Ring.of(points)
    ways, best = ring.cut(LINE_TERMS * (MOST_EDGES + SPARE_RUNS), arcs=False, least=3 * LINE_TERMS)
    if not ways:
        raise NoOutlineError("it has no three straight edges")
    # Cut most finely, then more coarsely: where many points lie on a letter, a side or a shadow, they must not cut.
    outlines: list[tuple[float, list[int]]] = []
    for terms in (best, *(each for each in sorted(ways, reverse=True) if each < best)):
        clear = _turning(ring, ways[terms])
        if all(clear != known for _, known in outlines):
            margin = _CLEARLY_BETTER * len(ring.points) if terms != best else 0.0
            outlines.append((_unexplained(ring, clear) + margin, clear))
    coarse = min(outlines)[1]
    cuts = _with_kinks(ring, coarse)
    if math.isinf(_unexplained(ring, cuts)):
        cuts = coarse
    residuals = [run.off for run in ring.runs(cuts, bent=False)]
    corners = _corners(ring, cuts) if len(residuals) <= MOST_EDGES else None
    if corners is None or _rms(residuals) > WOBBLIEST_MM or are_chords(corners, residuals):
        raise NoOutlineError(NOT_STRAIGHT)
    return Outline(corners=corners)


def _rms(residuals: Sequence[Floats]) -> float:
    return float(np.sqrt(np.mean(np.concatenate(residuals) ** 2)))


def _corners(ring: Ring, cuts: list[int]) -> Floats | None:
    """(n, 2) where the lines between cuts meet; None where that is no outline."""
    lines = [run.curve for run in ring.runs(cuts, bent=False)]
    return corners_where_meet([(line.point, line.along) for line in lines], ring.points[:-1])


def _unexplained(ring: Ring, cuts: list[int]) -> float:
    """What the outline of these cuts leaves unexplained."""
    corners = _corners(ring, cuts)
    return math.inf if corners is None else unexplained(Outline(corners=corners), ring.points)


def _turning(ring: Ring, cuts: list[int]) -> list[int]:
    """The cuts where the outline turns so much that no wobble explains it."""
    cuts = list(cuts)
    while len(cuts) > 4:
        turns = [_turn(*pair) for pair in pairwise(ring.runs(cuts, bent=False))]
        if min(turns) > CLEAR_TURN_DEG:
            break
        del cuts[int(np.argmin(turns)) + 1]
    return cuts


def _with_kinks(ring: Ring, cuts: list[int]) -> list[int]:
    """The cuts, and those shallow corners besides that stand out from the wobble of all edges together."""
    while len(cuts) <= MOST_EDGES:
        runs = ring.runs(cuts, bent=False)
        straight = [run.evidence() for run in runs]
        best, clearest = 0, CLEAR_SIGMAS
        for k, run in enumerate(runs):
            places, off = run.thin
            if np.ptp(places) < 3 * LONG_MM:
                continue
            at, design = kink(places, off, LONG_MM)
            bent = evidence(places, off, design)
            sigmas = turn_in_sigmas(places, off, design, estimate([*straight[:k], bent, *straight[k + 1 :]]))
            if sigmas > clearest:  # an edge that shows less clearly than the others is judged by itself, too
                sigmas = min(sigmas, turn_in_sigmas(places, off, design, estimate([bent])))
            turn = np.linalg.lstsq(design, off, rcond=None)[0][2]
            if sigmas > clearest and abs(turn) > math.radians(LEAST_TURN_DEG):
                best, clearest = cuts[k] + ring.trim + int(np.argmin(np.abs(run.places - at))), sigmas
        if not best or min(abs(best - cut) for cut in cuts) < 2 * ring.trim + 2:
            break
        cuts = sorted([*cuts, best])
    return cuts


# --- arcs among them ---


def _outline_with_arcs(points: Points) -> Outline | None:
    """The outline, when one of its edges at least is an arc."""
    points = cleaned(cleaned(points, bent=True), bent=True)
    if len(points) < _LEAST_POINTS:
        return None
    points = points[:: math.ceil(len(points) / _MOST_POINTS)]
    whole = run_through(points, bent=True)
    if whole.curve.bend and whole.rms < WOBBLIEST_MM:
        raise NoOutlineError(ROUND)
    ring = Ring.of(points)
    ways, best = ring.cut(LINE_TERMS * (_MOST_SIDES + 4), arcs=True)
    if not ways or len(ways[best]) < 3:
        return None
    cuts, removed = _clear_corners(ring, ways[best])
    cuts = _shifted(ring, _with_smooth_joints(ring, _shifted(ring, cuts), removed))
    runs = _decided(ring, cuts)
    if not any(run.curve.bend for run in runs):
        return None
    if max(_turn(runs[k - 1], run) for k, run in enumerate(runs)) < _CORNER_DEG:
        raise NoOutlineError(ROUND)  # an oval, which arcs can be made to follow
    return _outline(ring, cuts, runs)


def _turn(before: Run, after: Run) -> float:
    """Degrees by which the outline turns from one run to the next."""
    return abs(turn_left_deg(before.curve.along_at(before.points[-1]), after.curve.along_at(after.points[0])))


def _clear_corners(ring: Ring, cuts: list[int]) -> tuple[list[int], list[int]]:
    """The cuts that the outline turns at, or that no one line or arc can do without; and the others."""
    cuts, removed = list(cuts), []
    while len(cuts) > 3:
        doubtful = {}
        for k, pair in enumerate(pairwise(ring.runs(cuts)), 1):
            if _turn(*pair) < CLEAR_TURN_DEG and (rms := ring.run(cuts[k - 1], cuts[k + 1]).rms) < WOBBLIEST_MM:
                doubtful[k] = rms
        if not doubtful:
            break
        removed.append(cuts.pop(min(doubtful, key=lambda k: doubtful[k])))
    return cuts, removed


def _shifted(ring: Ring, cuts: list[int]) -> list[int]:
    """The cuts, those at smooth joints moved to where the runs beside them fit best: their neighbours changed."""
    cuts = list(cuts)
    for _ in range(2):
        for k in range(1, len(cuts) - 1):
            before, here, after = cuts[k - 1 : k + 2]
            first, last = before + 4 * ring.trim, after - 4 * ring.trim
            if _turn(ring.run(before, here), ring.run(here, after)) > CLEAR_TURN_DEG or last <= first:
                continue
            reach = round(_OFF_JOINT_MM / ring.spacing)
            tried = range(max(first, here - reach), min(last, here + reach) + 1, 2)
            squares = {at: sum(float(np.sum(run.off**2)) for run in ring.runs([before, at, after])) for at in tried}
            cuts[k] = min(squares, key=lambda at: squares[at], default=here)
    return cuts


def _with_smooth_joints(ring: Ring, cuts: list[int], removed: Sequence[int]) -> list[int]:
    """The cuts, and those of the doubtful ones that stand out from the wobble of all edges together."""
    waiting = list(removed)
    while waiting and len(cuts) <= _MOST_SIDES:
        spans, runs = list(pairwise(cuts)), ring.runs(cuts)
        said = [run.evidence() for run in runs]
        best, clearest = None, 0.0
        for cut in waiting:
            k = next((k for k, (a, b) in enumerate(spans) if a < cut < b), None)
            if k is None or min(cut - spans[k][0], spans[k][1] - cut) < 3 * ring.trim:
                continue  # it is a cut already, or too near one
            halves = ring.runs([spans[k][0], cut, spans[k][1]])
            usual = float(np.median([run.rms for run in (*runs[:k], *halves, *runs[k + 1 :])]))
            if runs[k].rms < _STANDS_OUT * usual:
                continue
            wobble = estimate([*said[:k], *(half.evidence() for half in halves), *said[k + 1 :]])
            gain = runs[k].misfit(wobble) - sum(half.misfit(wobble) for half in halves)
            more = sum(3 if half.curve.bend else 2 for half in halves) - (3 if runs[k].curve.bend else 2)
            if gain / (more + 1) - CLEAR_SIGMAS**2 > clearest:
                best, clearest = cut, gain / (more + 1) - CLEAR_SIGMAS**2
        if best is None:
            break
        waiting.remove(best)
        cuts = sorted([*cuts, best])
    return cuts


def _decided(ring: Ring, cuts: list[int]) -> list[Run]:
    """For each run between two cuts the line or the arc, whichever stands out from the wobble."""
    runs = ring.runs(cuts)
    wobble = estimate([run.evidence() for run in runs])
    decided = []
    for run in runs:
        line, arc = run_through(run.points, bent=False), run_through(run.points, bent=True)
        stands_out = line.misfit(wobble) - arc.misfit(wobble) > CLEAR_SIGMAS**2 or arc.sagitta > CLEAR_SAGITTA_MM
        decided.append(arc if arc.sagitta > LEAST_SAGITTA_MM and stands_out else line)
    return decided


def _outline(ring: Ring, cuts: list[int], runs: list[Run]) -> Outline:
    """The outline of these runs; raises NoOutlineError where they make none."""
    if len(runs) > _MOST_SIDES:
        raise NoOutlineError("its outline has too many edges")
    if len(runs) < 3:
        raise NoOutlineError(TWO_CORNERS)
    smooth = [k for k in range(len(runs)) if _turn(runs[k - 1], runs[k]) < CLEAR_TURN_DEG]
    one_way = any(runs[k - 1].curve.bend * runs[k].curve.bend > 0 for k in smooth)
    if _rms([run.off for run in runs]) > WOBBLIEST_MM or one_way:
        raise FreeCurveError
    turns = ring.points[cuts[:-1]]
    try:
        corners = np.array([meet(runs[k - 1].curve, runs[k].curve, near) for k, near in enumerate(turns)])
    except ValueError as error:
        raise FreeCurveError from error
    ends = zip(runs, corners, np.roll(corners, -1, axis=0), strict=True)
    outline = Outline(corners=corners, bulges=tuple(bulge_between(run.curve, *both) for run, *both in ends))
    shape, seen = Polygon(outline.drawn()), Polygon(ring.points).buffer(0)
    far = np.any(np.hypot(*(corners - turns).T) > _OFF_JOINT_MM)
    if far or not shape.is_valid or not shape.exterior.is_ccw:
        raise FreeCurveError
    if shape.symmetric_difference(seen).area > 2 * WOBBLIEST_MM * shape.length:
        raise FreeCurveError
    return outline
