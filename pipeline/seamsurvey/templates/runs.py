"""The points of an outline cut into runs, so that the lines and circles through them explain the points best.

By dynamic programming over all cuts, each run at the price of its numbers; how many numbers the points are worth
says the Bayesian information criterion (Schwarz 1978).
"""

import math
from itertools import pairwise

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from seamsurvey.curves import Curve
from seamsurvey.geometry import Points, centroid
from seamsurvey.templates.chords import CORNER_MM, OFF_MM
from seamsurvey.templates.fitted import arc_design, fitted_arc
from seamsurvey.templates.wobble import Evidence, Wobble, evidence, line_design, thinned, whitened

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

NOISE_MM = 0.01  # no scan shows the shape of an edge better than this
_CLEAN_MM = 2.5  # a point is judged by the lines through this much of its neighbours
_LEAST_REACH = 4  # points to each side: through fewer no line says anything of another
MIN_EDGE_MM = 3.0  # shorter straight runs are wear; no patch has a finished edge this short
LEAST_ARC_MM = 7.0  # a shorter bend is a worn corner
LEAST_RADIUS_MM, GREATEST_RADIUS_MM = 5.0, 1500.0
LEAST_SAGITTA_MM = 0.3  # an edge that bows by less was meant to be straight
LINE_TERMS, ARC_TERMS = 3, 4  # a line's two numbers, an arc's three, and where it ends


@frozen
class Run:
    """Some of an outline's points, (n, 2) plane mm one after another, and the line or circle through them."""

    points: Floats = field(eq=False, repr=False)
    curve: Curve

    @property
    def off(self) -> Floats:
        """(n,) mm: how far the points lie outwards of it."""
        return self.curve.off(self.points)

    @property
    def rms(self) -> float:
        """The same, root mean square."""
        return float(np.sqrt(np.mean(self.off**2)))

    @property
    def sagitta(self) -> float:
        """How far an arc bows from its chord, mm; 0 for a line."""
        if not self.curve.bend:
            return 0.0
        steps = np.diff(self.points, axis=0)
        turn = float(np.hypot(*steps.T).sum()) * self.curve.bend
        return self.curve.radius * (1 - math.cos(min(math.pi, abs(turn) / 2)))

    @property
    def places(self) -> Floats:
        """(n,) mm: where along it the points lie."""
        places = self.curve.places(self.points)
        return np.asarray(np.unwrap(places, period=2 * math.pi * self.curve.radius)) if self.curve.bend else places

    @property
    def thin(self) -> tuple[Floats, Floats]:
        """Places and distances of some of the points, far enough apart."""
        return thinned(self.places, self.off)

    def evidence(self) -> Evidence:
        """What the run says of the wobble."""
        places, off = self.thin
        return evidence(places, off, self._design(places))

    def misfit(self, wobble: Wobble) -> float:
        """The weighted squares that the run leaves over under this wobble, at its best."""
        places, off = self.thin
        return float(whitened(wobble.covariance(places), self._design(places), off)[-1, -1] ** 2)

    def _design(self, places: Floats) -> Floats:
        return arc_design(places, self.curve.bend) if self.curve.bend else line_design(places)


def run_through(points: Points, *, bent: bool | None = None) -> Run:
    """The run of points as a line, as an arc (``bent``), or (None) as whichever explains it better."""
    line = Run(points, Curve(*line_through(points)))
    if bent is False or len(points) < 6:
        return line
    arc = _arc_through(points)
    if bent:
        return arc or line
    clearly = arc is not None and arc.sagitta > LEAST_SAGITTA_MM and arc.rms < 0.9 * line.rms
    return arc if arc is not None and clearly else line


def line_through(points: Points) -> tuple[Floats, Floats]:
    """A point on the line nearest to the points, and its direction, pointing the way they run."""
    middle = points.mean(axis=0)
    along = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    return middle, along * math.copysign(1.0, float(along @ (points[-1] - points[0])))


def _arc_through(points: Points) -> Run | None:
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
    return Run(points, curve) if LEAST_RADIUS_MM < curve.radius < GREATEST_RADIUS_MM else None


@frozen
class Ring:
    """The points of an outline from a corner on, the first again at the end; a cut is the index of one of them.

    ``trim`` of a run's points at each of its ends may be worn, and say nothing of it.
    """

    points: Floats = field(eq=False, repr=False)
    spacing: float
    trim: int

    @classmethod
    def of(cls, points: Points) -> "Ring":
        """From the point farthest from the middle on: on a polygon it lies at a corner."""
        start = int(np.argmax(np.hypot(*(points - centroid(points)).T)))
        ring = np.roll(points, -start, axis=0)
        ring = np.vstack([ring, ring[:1]])
        spacing = float(np.median(np.hypot(*np.diff(ring, axis=0).T)))
        return cls(ring, spacing, max(1, round(CORNER_MM / spacing)))

    def run(self, start: int, end: int, *, bent: bool | None = None) -> Run:
        """What lies between two cuts; ``bent`` as in ``run_through``."""
        return run_through(self.points[start + self.trim : end - self.trim + 1], bent=bent)

    def runs(self, cuts: list[int], *, bent: bool | None = None) -> list[Run]:
        """What lies between each two neighbouring cuts."""
        return [self.run(start, end, bent=bent) for start, end in pairwise(cuts)]

    def cut(self, most: int, *, arcs: bool, least: int = 0) -> tuple[dict[int, list[int]], int]:
        """For each number of terms, ``least`` to ``most``, the cuts that leave over least; and the best number.

        Into lines, and into ``arcs`` besides. Where there are no such cuts, none and 0.
        """
        kinds = [(self._line_costs(), LINE_TERMS), *([(self._arc_costs(), ARC_TERMS)] if arcs else [])]
        ways = {terms: way for terms, way in _cheapest(kinds, most).items() if terms >= least}
        if not ways:
            return {}, 0
        count = len(self.points)
        effective = _independent(self.runs(ways[max(ways)][1], bent=None if arcs else False), count)

        def criterion(terms: int) -> float:
            return effective * math.log(ways[terms][0] / count + NOISE_MM**2) + terms * math.log(effective)

        return {terms: cuts for terms, (_, cuts) in ways.items()}, min(ways, key=criterion)

    def _line_costs(self) -> Floats:
        """(n, n): the squared distances of points i..j, without their ends, from their line; infinite if too short.

        Ends count as fitting as well as the noise allows.
        """
        x, y = (self.points - self.points.mean(axis=0)).T
        n, sx, sy, sxx, sxy, syy = self._over_runs(x, y, x * x, x * y, y * y)
        xx, xy, yy = sxx - sx * sx / n, sxy - sx * sy / n, syy - sy * sy / n
        smallest = (xx + yy) / 2 - np.sqrt(((xx - yy) / 2) ** 2 + xy**2)
        least = max(2 * self.trim + 2, round(MIN_EDGE_MM / self.spacing))
        return np.where(self._long(least), np.maximum(smallest, 0), np.inf)

    def _arc_costs(self) -> Floats:
        """(n, n): the same from their circle (Kåsa 1976)."""
        x, y = (self.points - self.points.mean(axis=0)).T
        z = x * x + y * y
        n, *sums = self._over_runs(x, y, z, x * x, x * y, y * y, x * z, y * z, z * z)
        mx, my, mz, sxx, sxy, syy, sxz, syz, szz = (each / n for each in sums)
        xx, xy, yy = sxx - mx * mx, sxy - mx * my, syy - my * my
        xz, yz, zz = sxz - mx * mz, syz - my * mz, szz - mz * mz
        determinant = np.maximum(xx * yy - xy * xy, 1e-9 / n**2)
        a, b = (yy * xz - xy * yz) / determinant, (xx * yz - xy * xz) / determinant
        left = n * np.maximum(zz - a * xz - b * yz, 0.0)
        squared = mz - a * mx - b * my + (a * a + b * b) / 4
        usual = self._long(2 * self.trim + max(4, round(LEAST_ARC_MM / self.spacing)))
        usual &= (squared > LEAST_RADIUS_MM**2) & (squared < GREATEST_RADIUS_MM**2)
        return np.where(usual, left / (4 * np.maximum(squared, 1.0)), np.inf)

    def _over_runs(self, *values: Floats) -> list[Floats]:
        """(n, n) each, of points i..j without their ends: how many they are, and the sums of the values (n,)."""
        count = len(self.points)
        i, j = np.indices((count, count))
        first, last = np.minimum(i + self.trim, count), np.maximum(j - self.trim + 1, 0)
        sums = [np.concatenate([[0.0], np.cumsum(v)]) for v in values]
        return [np.maximum(last - first, 1).astype(float), *(s[last] - s[first] for s in sums)]

    def _long(self, least: int) -> NDArray[np.bool_]:
        number = np.arange(len(self.points))
        return np.asarray(number - number[:, None] >= least)


def _cheapest(kinds: list[tuple[Floats, int]], most: int) -> dict[int, tuple[float, list[int]]]:
    """For each number of terms up to ``most`` the least total cost from first to last point, and its cuts.

    ``kinds``: (n, n) what a run of each kind costs, and its terms. Without those that no cuts have.
    """
    count = len(kinds[0][0])
    total = {price: costs[0] for costs, price in kinds}
    back: dict[int, tuple[Indices, Indices]] = {}
    for terms in range(min(total) * 2, most + 1):
        able = [(total[terms - price][:, None] + costs, price) for costs, price in kinds if terms - price in total]
        if not able:
            continue
        before = np.array([np.argmin(through, axis=0) for through, _ in able])
        least = np.array([through[at, np.arange(count)] for at, (through, _) in zip(before, able, strict=True)])
        kind = np.argmin(least, axis=0)
        back[terms] = before[kind, np.arange(count)], np.array([price for _, price in able])[kind]
        total[terms] = least[kind, np.arange(count)]

    def traced(terms: int) -> list[int]:
        cuts = [count - 1]
        while terms in back:
            places, prices = back[terms]
            terms -= int(prices[cuts[-1]])
            cuts.append(int(places[cuts[-1]]))
        return [0, *reversed(cuts)]

    return {t: (float(costs[-1]), traced(t)) for t, costs in total.items() if np.isfinite(costs[-1])}


def _independent(runs: list[Run], count: int) -> float:
    """How many independent points an outline of ``count`` is worth, by its runs' residuals at the finest cut.

    By their autocorrelation.
    """
    lags = 40
    products, weights = np.zeros(lags), np.zeros(lags)
    for off in (run.off for run in runs):
        for lag in range(min(lags, len(off) - 1)):
            products[lag] += float(off[lag:] @ off[: len(off) - lag])
            weights[lag] += len(off) - lag
    correlation = products / np.maximum(weights, 1)
    correlation = correlation[1:] / max(float(correlation[0]), 1e-12)
    ends = np.nonzero(correlation < 0.05)[0]
    last = int(ends[0]) if len(ends) else len(correlation)
    return max(12.0, count / (1 + 2 * float(correlation[:last].sum())))


# --- points that lie astray: on dust, a letter or a nick, and not on the edge their neighbours show ---


def cleaned(points: Points, *, bent: bool = False, forgiving: bool = False) -> Points:
    """The points without those that fit neither the line through their neighbours before, after nor around.

    With ``bent``, nor the parabola through those around. ``forgiving``: each edge has a limit of its own, up to a
    letter's.
    """
    count = len(points)
    if count < 4 * _LEAST_REACH:
        return points  # of none at all there is no spacing
    spacing = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    reach = max(_LEAST_REACH, round(_CLEAN_MM / spacing))
    if count < 4 * reach:
        return points
    steps = np.arange(1, reach + 1)
    here = np.arange(count)[:, None]
    half = steps[: reach // 2 + 1]
    windows = (here - steps, here + steps, np.concatenate([here - half, here + half], axis=1))
    off: Floats = np.min([_off_line(points, points[window % count]) for window in windows], axis=0)
    if bent:
        off = np.minimum(off, _off_parabola(points, here, half))
    limit = max(4 * 1.4826 * float(np.median(off)), 3 * NOISE_MM)
    limits = np.full(count, limit)
    if forgiving:
        nearby: Floats = median_filter(off, 4 * reach + 1, mode="wrap")
        limits = np.clip(4 * 1.4826 * nearby, limit, max(limit, OFF_MM))
    return np.asarray(points[off <= limits])


def _off_line(points: Points, neighbours: Floats) -> Floats:
    """(n,) distance of each point from the line through its (n, m, 2) neighbours."""
    middle = neighbours.mean(axis=1)
    spread = neighbours - middle[:, None]
    turn = 0.5 * np.arctan2(
        2 * np.sum(spread[..., 0] * spread[..., 1], axis=1),
        np.sum(spread[..., 0] ** 2 - spread[..., 1] ** 2, axis=1),
    )
    gap = points - middle
    return np.asarray(np.abs(gap[:, 1] * np.cos(turn) - gap[:, 0] * np.sin(turn)))


def _off_parabola(points: Points, here: Indices, half: Indices) -> Floats:
    """(n,) distance of each point from the parabola through as many neighbours before as after."""
    steps = np.concatenate([-half[::-1], half]).astype(float)
    shares = np.linalg.pinv(np.column_stack([np.ones_like(steps), steps, steps**2]))[0]
    neighbours = points[(here + np.concatenate([-half[::-1], half])) % len(points)]
    along = neighbours[:, -1] - neighbours[:, 0]
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    gap = points - np.einsum("j,njk->nk", shares, neighbours)
    return np.asarray(np.abs(gap[:, 1] * along[:, 0] - gap[:, 0] * along[:, 1]))
