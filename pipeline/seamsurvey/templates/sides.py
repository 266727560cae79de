"""How many edges an outline has, which are straight and which are arcs: decided by evidence.

As for straight edges alone (``corners``): the outline is cut into runs so that the lines and circles through them
explain the points best, each at the price of its numbers (Schwarz 1978). Then what is left must stand out from the
wobble of all the edges together: every arc from a line, every smooth joint from none.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.curves import Curve, bulge_between, meet
from seamsurvey.geometry import Points
from seamsurvey.templates.chords import may_be_chords
from seamsurvey.templates.corners import (
    CLEAR_TURN_DEG,
    KINK_SIGMAS,
    WOBBLIEST_MM,
    FreeCurveError,
    NoOutlineError,
    Outline,
    definite_corner,
    independent_points,
    line_through,
    run_costs,
    straight_outline,
    turn_deg,
)
from seamsurvey.templates.fitted import arc_design, fitted_arc
from seamsurvey.templates.stray import NOISE_MM, cleaned
from seamsurvey.templates.wobble import LEAST_VARIANCE, Evidence, Wobble, estimate, evidence, line_design, thinned

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

LEAST_ARC_MM = 7.0  # a shorter bend is a worn corner
LEAST_RADIUS_MM, GREATEST_RADIUS_MM = 5.0, 1500.0
LEAST_SAGITTA_MM = 0.3  # an edge that bows by less was meant to be straight
CLEAR_SAGITTA_MM = 3.0  # no wobble bows an edge by this
_MOST_POINTS = 360  # of an outline: enough for the runs; every point counts again when they are fitted
_LINE_TERMS, _ARC_TERMS = 3, 4  # a line's two numbers, an arc's three, and where it ends
_MOST_SIDES = 12  # where some are arcs: of more of them any round thing can be made
_MOST_TERMS = _LINE_TERMS * (_MOST_SIDES + 4)
_STANDS_OUT = 2.5  # times what other runs leave over: short runs tell too little of the wobble
_OFF_JOINT_MM = 8.0  # a corner lies this near to where the points turn; a smooth joint is known no better

_CORNER_DEG = 20.0  # an outline that nowhere turns by more at once has no corner to begin from
ROUND = "it is round: without a corner no edge has a beginning"
TWO_CORNERS = "it has only two corners; a template needs three to be laid in a block"


def find_edges(points: Points) -> Outline:
    """The outline of (n, 2) points in plane mm, counter-clockwise along a card's edge.

    Raises NoOutlineError when there is none of few enough edges.
    """
    try:
        return _outline_with_arcs(points) or straight_outline(points)
    except FreeCurveError as curved:
        straight = _straight_all_the_same(points)
        if straight is None:
            raise curved from None
        return straight


def _straight_all_the_same(points: Points) -> Outline | None:
    """The straight-edged outline where a letter or a shadow at an edge bent what was seen; None if none is."""
    try:
        outline = straight_outline(points)
    except NoOutlineError:
        return None
    return None if may_be_chords(outline.corners, points) else outline


@frozen
class _Run:
    """Some of the outline's points, one after another, and the line or circle through them."""

    points: Floats = field(eq=False, repr=False)
    curve: Curve

    @property
    def off(self) -> Floats:
        return self.curve.off(self.points)

    @property
    def rms(self) -> float:
        return float(np.sqrt(np.mean(self.off**2)))

    @property
    def sagitta(self) -> float:
        """How far an arc bows from its chord, mm; 0 for a line."""
        if not self.curve.bend:
            return 0.0
        return self.curve.radius * (1 - math.cos(min(math.pi, abs(self._turn) / 2)))

    @property
    def _turn(self) -> float:
        steps = np.diff(self.points, axis=0)
        return float(np.hypot(*steps.T).sum()) * self.curve.bend

    def thin(self) -> tuple[Floats, Floats]:
        """Places and distances of some of the points, far enough apart."""
        return thinned(self._places(), self.off)

    def _places(self) -> Floats:
        places = self.curve.places(self.points)
        if not self.curve.bend:
            return places
        round_once = 2 * math.pi * self.curve.radius
        return np.asarray(np.unwrap(places, period=round_once))

    def evidence(self) -> Evidence:
        """What the run says of the wobble."""
        places, off = self.thin()
        return evidence(places, off, self._design(places))

    def misfit(self, wobble: Wobble) -> float:
        """The weighted squares that the run leaves over under this wobble, at its best."""
        places, off = self.thin()
        root = np.linalg.cholesky(wobble.covariance(places) + LEAST_VARIANCE * np.eye(len(places)))
        whitened = np.linalg.solve(root, np.column_stack([self._design(places), off]))
        return float(np.asarray(np.linalg.qr(whitened, mode="r"))[-1, -1] ** 2)

    def _design(self, places: Floats) -> Floats:
        return arc_design(places, self.curve.bend) if self.curve.bend else line_design(places)


def _outline_with_arcs(points: Points) -> Outline | None:
    """The outline, when one of its edges at least is an arc."""
    points = cleaned(cleaned(points, bent=True), bent=True)
    if len(points) < 24:
        return None
    every = math.ceil(len(points) / _MOST_POINTS)
    points = points[::every]
    whole = _run(points, bent=True)
    if whole.curve.bend and whole.rms < WOBBLIEST_MM:
        raise NoOutlineError(ROUND)
    ring = _from_a_corner(np.roll(points, -definite_corner(points), axis=0))
    cuts, trim = _best_cuts(ring)
    if len(cuts) < 3:
        return None
    cuts, removed = _clear_corners(ring, cuts, trim)
    cuts = _with_smooth_joints(ring, _shifted(ring, cuts, trim), removed, trim)
    cuts, runs = _decided(ring, _shifted(ring, cuts, trim), trim)
    if not any(run.curve.bend for run in runs):
        return None
    if max(abs(_turn(runs[k - 1], run)) for k, run in enumerate(runs)) < _CORNER_DEG:
        raise NoOutlineError(ROUND)  # an oval, which arcs can be made to follow
    return _outline(ring, cuts, runs)


def _from_a_corner(points: Points) -> Floats:
    """The ring of points from a corner on, the first point again at its end.

    The point farthest from the middle lies at a corner of a polygon, but not of every outline with arcs.
    """
    ring = np.vstack([points, points[:1]])
    cuts, trim = _best_cuts(ring)
    runs = [_run(ring[a + trim : b - trim + 1]) for a, b in pairwise(cuts)]
    if len(runs) < 2 or _turn(runs[-1], runs[0]) > CLEAR_TURN_DEG:
        return ring
    # Where no joint turns clearly, the best is one that no single line or arc can do without.
    together = [_run(np.vstack([runs[k - 1].points, runs[k].points])).rms for k in range(len(runs))]
    turns = [_turn(runs[k - 1], runs[k]) for k in range(len(runs))]
    best = max(range(len(runs)), key=lambda k: (max(turns[k], CLEAR_TURN_DEG), together[k]))
    start = np.roll(points, -cuts[best], axis=0)
    return np.vstack([start, start[:1]])


def _run(points: Points, *, bent: bool | None = None) -> _Run:
    """The run of points as a line, as an arc (``bent``), or (None) as whichever explains it better."""
    line = _Run(points, Curve(*line_through(points)))
    if bent is False or len(points) < 6:
        return line
    arc = _arc_run(points)
    if bent:
        return arc or line
    clearly = arc is not None and arc.sagitta > LEAST_SAGITTA_MM and arc.rms < 0.9 * line.rms
    return arc if arc is not None and clearly else line


def _arc_run(points: Points) -> _Run | None:
    """The run as an arc; None where no circle of a usual size fits."""
    x, y = (points - points.mean(axis=0)).T
    # The algebraic fit (Kåsa 1976), to begin with.
    design = np.column_stack([x, y, np.ones_like(x)])
    (half_x, half_y, rest), _, rank, _ = np.linalg.lstsq(design, x**2 + y**2, rcond=None)
    if rank < len(design.T):
        return None  # exactly in a line, as along a pixel's row: the least of its many circles has its centre on it
    centre = np.array([half_x, half_y]) / 2
    radius = math.sqrt(max(0.0, rest + float(centre @ centre)))
    if not LEAST_RADIUS_MM / 2 < radius < 2 * GREATEST_RADIUS_MM:
        return None
    centre = centre + points.mean(axis=0)
    spokes = points - centre
    side = math.copysign(1.0, float(np.sum(spokes[:-1, 0] * spokes[1:, 1] - spokes[:-1, 1] * spokes[1:, 0])))
    middle = spokes[len(spokes) // 2] / np.hypot(*spokes[len(spokes) // 2])
    along = side * np.array([-middle[1], middle[0]])
    curve = fitted_arc(points, np.ones(len(points)), Curve(centre + radius * middle, along, side / radius))
    return _Run(points, curve) if LEAST_RADIUS_MM < curve.radius < GREATEST_RADIUS_MM else None


def _turn(before: _Run, after: _Run) -> float:
    """Degrees by which the outline turns from one run to the next."""
    return turn_deg(before.curve.along_at(before.points[-1]), after.curve.along_at(after.points[0]))


def _arc_costs(ring: Points, trim: int) -> Floats:
    """(n, n): the squared distances of points i..j, without their ends, from their circle; as ``run_costs``."""
    spacing = float(np.median(np.hypot(*np.diff(ring, axis=0).T)))
    least = 2 * trim + max(4, round(LEAST_ARC_MM / spacing))
    x, y = (ring - ring.mean(axis=0)).T
    z = x * x + y * y
    sums = [
        np.concatenate([[0.0], np.cumsum(v)])
        for v in (np.ones_like(x), x, y, z, x * x, x * y, y * y, x * z, y * z, z * z)
    ]
    i, j = np.meshgrid(np.arange(len(ring)), np.arange(len(ring)), indexing="ij")
    first, last = np.minimum(i + trim, len(ring)), np.maximum(j - trim + 1, 0)
    n, sx, sy, sz, sxx, sxy, syy, sxz, syz, szz = (s[last] - s[first] for s in sums)
    n = np.where(n > 0, n, 1)
    mx, my, mz = sx / n, sy / n, sz / n
    xx, xy, yy = sxx - sx * mx, sxy - sx * my, syy - sy * my
    xz, yz, zz = sxz - sx * mz, syz - sy * mz, szz - sz * mz
    determinant = np.maximum(xx * yy - xy * xy, 1e-9)
    a, b = (yy * xz - xy * yz) / determinant, (xx * yz - xy * xz) / determinant
    left = np.maximum(zz - a * xz - b * yz, 0.0)
    squared = mz - a * mx - b * my + (a * a + b * b) / 4
    usual = (j - i >= least) & (squared > LEAST_RADIUS_MM**2) & (squared < GREATEST_RADIUS_MM**2)
    return np.where(usual, left / (4 * np.maximum(squared, 1.0)), np.inf)


def _best_cuts(ring: Points) -> tuple[list[int], int]:
    """The cuts of a ring into lines and arcs that the evidence prefers, and how many points ends leave out."""
    lines, trim = run_costs(ring)
    arcs = _arc_costs(ring, trim)
    count = len(ring)
    total = {_LINE_TERMS: lines[0], _ARC_TERMS: arcs[0]}
    back: dict[int, tuple[Indices, NDArray[np.bool_]]] = {}
    for terms in range(2 * _LINE_TERMS, _MOST_TERMS + 1):
        ways = []
        for cost, price in ((lines, _LINE_TERMS), (arcs, _ARC_TERMS)):
            before = total.get(terms - price)
            through = cost + before[:, None] if before is not None else np.full((count, count), np.inf)
            place = np.argmin(through, axis=0)
            ways.append((through[place, np.arange(count)], place))
        bent = ways[1][0] < ways[0][0]
        back[terms] = np.where(bent, ways[1][1], ways[0][1]), bent
        total[terms] = np.where(bent, ways[1][0], ways[0][0])
    usable = {terms: float(sums[-1]) for terms, sums in total.items() if np.isfinite(sums[-1])}
    if not usable:
        return [0, count - 1], trim
    finest = _traced(back, max(usable), count)
    offs = (_run(ring[a + trim : b - trim + 1]).off for a, b in pairwise(finest))
    effective = independent_points(offs, count)
    best = min(
        usable, key=lambda t: effective * math.log(usable[t] / count + NOISE_MM**2) + t * math.log(effective)
    )
    return _traced(back, best, count), trim


def _traced(back: dict[int, tuple[Indices, NDArray[np.bool_]]], terms: int, count: int) -> list[int]:
    cuts = [count - 1]
    while terms in back:
        places, bent = back[terms]
        terms -= _ARC_TERMS if bent[cuts[-1]] else _LINE_TERMS
        cuts.append(int(places[cuts[-1]]))
    return [0, *reversed(cuts)]


def _clear_corners(ring: Points, cuts: list[int], trim: int) -> tuple[list[int], list[int]]:
    """The cuts that the outline turns at, or that no one line or arc can do without; and the others."""
    cuts, removed = list(cuts), []
    while len(cuts) > 3:
        runs = [_run(ring[a + trim : b - trim + 1]) for a, b in pairwise(cuts)]
        doubtful = {}
        for k, (before, after) in enumerate(pairwise(runs)):
            if _turn(before, after) < CLEAR_TURN_DEG:
                rms = _run(ring[cuts[k] + trim : cuts[k + 2] - trim + 1]).rms
                if rms < WOBBLIEST_MM:
                    doubtful[k + 1] = rms
        if not doubtful:
            break
        removed.append(cuts.pop(min(doubtful, key=lambda k: doubtful[k])))
    return cuts, removed


def _shifted(ring: Points, cuts: list[int], trim: int) -> list[int]:
    """The cuts, those at smooth joints moved to where the runs beside them fit best: their neighbours changed."""
    cuts = list(cuts)
    for _ in range(2):
        for k in range(1, len(cuts) - 1):
            first, last = cuts[k - 1] + 4 * trim, cuts[k + 1] - 4 * trim
            runs = [_run(ring[a + trim : b - trim + 1]) for a, b in pairwise(cuts[k - 1 : k + 2])]
            if _turn(*runs) > CLEAR_TURN_DEG or last <= first:
                continue
            reach = round(_OFF_JOINT_MM / float(np.median(np.hypot(*np.diff(ring, axis=0).T))))
            tried = range(max(first, cuts[k] - reach), min(last, cuts[k] + reach) + 1, 2)
            squares = {
                at: sum(
                    float(np.sum(_run(ring[a + trim : b - trim + 1]).off ** 2))
                    for a, b in ((cuts[k - 1], at), (at, cuts[k + 1]))
                )
                for at in tried
            }
            cuts[k] = min(squares, key=lambda at: squares[at], default=cuts[k])
    return cuts


def _with_smooth_joints(ring: Points, cuts: list[int], removed: Sequence[int], trim: int) -> list[int]:
    """The cuts, and those of the doubtful ones that stand out from the wobble of all edges together."""
    waiting = list(removed)
    while waiting and len(cuts) <= _MOST_SIDES:
        spans = list(pairwise(cuts))
        runs = [_run(ring[a + trim : b - trim + 1]) for a, b in spans]
        said = [run.evidence() for run in runs]
        best, clearest = None, 0.0
        for cut in waiting:
            k = next((k for k, (a, b) in enumerate(spans) if a < cut < b), None)
            if k is None or min(cut - spans[k][0], spans[k][1] - cut) < 3 * trim:
                continue  # it is a cut already, or too near one
            halves = [_run(ring[a + trim : b - trim + 1]) for a, b in ((spans[k][0], cut), (cut, spans[k][1]))]
            wobble = estimate([*said[:k], *(half.evidence() for half in halves), *said[k + 1 :]])
            gain = runs[k].misfit(wobble) - sum(half.misfit(wobble) for half in halves)
            usual = float(np.median([run.rms for run in (*runs[:k], *halves, *runs[k + 1 :])]))
            if runs[k].rms < _STANDS_OUT * usual:
                continue
            more = sum(3 if half.curve.bend else 2 for half in halves) - (3 if runs[k].curve.bend else 2)
            if gain / (more + 1) - KINK_SIGMAS**2 > clearest:
                best, clearest = cut, gain / (more + 1) - KINK_SIGMAS**2
        if best is None:
            break
        waiting.remove(best)
        cuts = sorted([*cuts, best])
    return cuts


def _decided(ring: Points, cuts: list[int], trim: int) -> tuple[list[int], list[_Run]]:
    """The cuts, and for each run between two of them the line or the arc, whichever stands out from the wobble."""
    runs = [_run(ring[a + trim : b - trim + 1]) for a, b in pairwise(cuts)]
    wobble = estimate([run.evidence() for run in runs])
    decided = []
    for run in runs:
        line, arc = _run(run.points, bent=False), _run(run.points, bent=True)
        stands_out = line.misfit(wobble) - arc.misfit(wobble) > KINK_SIGMAS**2 or arc.sagitta > CLEAR_SAGITTA_MM
        decided.append(arc if arc.sagitta > LEAST_SAGITTA_MM and stands_out else line)
    return cuts, decided


def _outline(ring: Points, cuts: list[int], runs: list[_Run]) -> Outline:
    """The outline of these runs; raises NoOutlineError where they make none."""
    if len(runs) > _MOST_SIDES:
        raise NoOutlineError("its outline has too many edges")
    if len(runs) < 3:
        raise NoOutlineError(TWO_CORNERS)
    rms = float(np.sqrt(np.mean(np.concatenate([run.off for run in runs]) ** 2)))
    smooth = [k for k in range(len(runs)) if _turn(runs[k - 1], runs[k]) < CLEAR_TURN_DEG]
    if rms > WOBBLIEST_MM or any(runs[k - 1].curve.bend * runs[k].curve.bend > 0 for k in smooth):
        raise FreeCurveError
    try:
        corners = np.array(
            [meet(runs[k - 1].curve, runs[k].curve, ring[cuts[k]]) for k in range(len(runs))], dtype=float
        )
    except ValueError as error:
        raise FreeCurveError from error
    bulges = tuple(bulge_between(run.curve, corners[k], corners[(k + 1) % len(runs)]) for k, run in enumerate(runs))
    outline = Outline(corners=corners, bulges=bulges, rms=rms)
    off = np.hypot(*(corners - ring[cuts[:-1]]).T)
    shape = Polygon(outline.drawn())
    seen = Polygon(ring)
    if np.any(off > _OFF_JOINT_MM) or not shape.is_valid or not shape.exterior.is_ccw:
        raise FreeCurveError
    if shape.symmetric_difference(seen.buffer(0)).area > 2 * WOBBLIEST_MM * shape.length:
        raise FreeCurveError
    return outline
