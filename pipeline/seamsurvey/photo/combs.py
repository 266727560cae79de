"""Combs: marks that start on one straight line at even distances, whatever they may stand for.

Nothing here knows a unit. A comb's steps are counted, its marks' lines and lengths measured in pixels.
"""

from collections.abc import Iterator

import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from seamsurvey.photo.marks import ALIGNED_PX, ALIGNED_SHARE, Marks, gather
from seamsurvey.photo.spacing import even_spacing
from seamsurvey.photo.strokes import Strokes

MIN_MARKS = 20
MAX_TILT_DEG = 2.0  # of the graduated edge against the square to the marks: a scan or a print is far squarer
TILT_STEP_DEG = 0.05
MAX_TRIES = 60  # lines looked at for one direction: a page of text has about so many
MIN_SLOPE_PX = 8.0  # a stroke this long says something about its direction


@frozen(eq=False)
class Comb:
    """Evenly spaced marks along one edge; image frame, px, of the level they were found on.

    Mark i crosses the edge's line at ``points[i]`` and runs to ``ends[i]``; it is number ``index[i]`` of the
    comb, at ``index[i] * step`` along ``edge`` from the comb's zero, up to ``residuals[i]``.
    """

    points: NDArray[np.float64]  # (n, 2)
    ends: NDArray[np.float64]  # (n, 2)
    index: NDArray[np.intp]  # (n,) ascending
    lengths: NDArray[np.float64]  # (n,) px along the mark from the edge's line
    residuals: NDArray[np.float64]  # (n,) px
    step: float  # px
    step_sigma: float  # one standard deviation of it
    edge: NDArray[np.float64]  # (2,) unit vector of ascending index
    edge_sigma: float  # radians, of its direction
    marks: NDArray[np.float64]  # (2,) unit vector of the marks, from the edge to their far ends
    marks_sigma: float  # radians
    stretch: float  # change of the step over the whole comb, as a share of it
    stretch_sigma: float
    fan_deg: float  # change of the marks' direction over the whole comb
    fan_sigma_deg: float
    dark: bool

    def places(self, numbers: NDArray[np.float64], inward: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 2) px of places given by number and by px inward from the edge along the marks."""
        along = (numbers - self.index[0]) * self.step
        return np.asarray(self.points[0] + along[..., None] * self.edge + inward[..., None] * self.marks)

    def scaled(self, factor: int) -> "Comb":
        """The same comb in the pixels of a picture ``factor`` times as fine (pixel centres are integers)."""
        shift = (factor - 1) / 2
        sizes = ("lengths", "residuals", "step", "step_sigma")
        return evolve(
            self,
            points=self.points * factor + shift,
            ends=self.ends * factor + shift,
            **{name: getattr(self, name) * factor for name in sizes},
        )


def find_combs(strokes: Strokes) -> Iterator[Comb]:
    """Every comb among strokes of one direction, those with most marks first."""
    strokes = _of_common_direction(strokes)
    for upper in (False, True):
        left = np.ones(len(strokes), dtype=bool)
        for _ in range(MAX_TRIES):
            chosen = np.flatnonzero(left)
            if len(chosen) < MIN_MARKS:
                break
            some = strokes.keep(chosen)
            line = _edge_line(some, upper)
            if line is None:
                break
            members, intercept, tilt = line
            u = some.middle_u[members]
            u = u + some.slope[members] * (intercept + tilt * u - some.middle_v[members])
            spacing = even_spacing(u)
            if spacing is None:
                left[chosen[members]] = False
                continue
            begun = members[spacing.members]
            left[chosen[begun]] = False
            marks = gather(strokes, some.keep(begun), spacing.index, upper)
            if len(marks.index) >= MIN_MARKS:
                yield _comb(strokes, marks, upper)


def _of_common_direction(strokes: Strokes) -> Strokes:
    """The strokes within a degree and a half of the direction most of them share."""
    long = strokes.slope_weight > MIN_SLOPE_PX**3 / 12
    if long.sum() < MIN_MARKS:
        return strokes
    degrees = np.degrees(np.arctan(strokes.slope))
    centres = np.arange(-6, 6.01, 0.1)
    votes = [float(np.sum(long & (np.abs(degrees - centre) <= 0.3))) for centre in centres]
    return strokes.keep(np.abs(degrees - centres[int(np.argmax(votes))]) <= 1.5 + 40 / (strokes.high - strokes.low))


def _edge_line(strokes: Strokes, upper: bool) -> tuple[NDArray[np.intp], float, float] | None:
    """The straight line v = intercept + tilt u on which most strokes begin (or end), and those strokes."""
    ends = strokes.high if upper else strokes.low
    common = float(np.average(strokes.slope, weights=strokes.slope_weight))
    u = strokes.middle_u + common * (ends - strokes.middle_v)
    half = np.radians(MAX_TILT_DEG)
    best, best_votes = (0.0, 0.0), 0
    for extra in np.arange(-half, half + 1e-9, np.radians(TILT_STEP_DEG)):
        tilt = extra - common  # square to the marks, and a little to either side
        level = ends - tilt * u
        bins = np.floor((level - level.min()) / ALIGNED_PX).astype(int)
        votes = np.bincount(bins, minlength=2)
        pairs = votes[:-1] + votes[1:]
        top = int(np.argmax(pairs))
        if pairs[top] > best_votes:
            best_votes = int(pairs[top])
            best = (float(level.min() + (top + 1) * ALIGNED_PX), float(tilt))
    if best_votes < MIN_MARKS:
        return None
    intercept, tilt = best
    tolerance = ALIGNED_PX
    for _ in range(3):
        near = np.flatnonzero(np.abs(ends - intercept - tilt * u) <= tolerance)
        if len(near) < MIN_MARKS:
            return None
        tilt, intercept = (float(value) for value in np.polyfit(u[near], ends[near], 1))
        usual = float(np.median(strokes.high[near] - strokes.low[near]))
        tolerance = max(ALIGNED_PX, ALIGNED_SHARE * usual)
    return near, intercept, tilt


def _comb(strokes: Strokes, found: Marks, upper: bool) -> Comb:
    index, far, u = found.index, found.far, found.middle_u
    slope, fan, slope_sigma, fan_sigma = _common_slope(found.slope, found.weight, index)
    tilt, intercept, tilt_sigma = _robust_line(u, found.start)
    # Marks all run one way, so a mark's place on the edge is carried there along the common direction: the
    # single stroke's own slope would be carried along with it.
    at_edge = (intercept + tilt * (u - slope * found.middle_v)) / (1 - slope * tilt)
    u_edge = u + slope * (at_edge - found.middle_v)
    fit = np.polynomial.Polynomial.fit(index, u_edge, 1)
    step, zero = float(fit.deriv()(0)), float(fit(0))
    residuals = u_edge - (zero + step * index)
    scatter = float(np.sqrt(np.sum(residuals**2) / max(len(index) - 2, 1)))
    spread = float(np.sqrt(np.sum((index - index.mean()) ** 2)))
    span = int(index[-1] - index[0])
    bend = np.polynomial.Polynomial.fit(index, u_edge, 2)
    stretch = float(bend.deriv(2)(0)) * span / step
    shape = index - index.mean()
    shape = shape**2 - np.polynomial.Polynomial.fit(shape, shape**2, 1)(shape)
    stretch_sigma = 2 * scatter / float(np.sqrt(np.sum(shape**2)) + 1e-12) * span / step

    across, along = strokes.across, strokes.along
    edge = across + tilt * along
    longer = float(np.hypot(*edge))
    marks = (along + slope * across) * (-1.0 if upper else 1.0)
    per_v = float(np.hypot(1.0, slope))
    u_far = u_edge + slope * (far - at_edge)
    return Comb(
        points=u_edge[:, None] * across + at_edge[:, None] * along,
        ends=u_far[:, None] * across + far[:, None] * along,
        index=index,
        lengths=np.abs(far - at_edge) * per_v,
        residuals=residuals * longer,
        step=step * longer,
        step_sigma=scatter / spread * longer,
        edge=edge / longer,
        edge_sigma=tilt_sigma,
        marks=marks / per_v,
        marks_sigma=slope_sigma,
        stretch=stretch,
        stretch_sigma=stretch_sigma,
        fan_deg=float(np.degrees(fan * span)),
        fan_sigma_deg=float(np.degrees(fan_sigma * span)),
        dark=strokes.dark,
    )


def _common_slope(
    slopes: NDArray[np.float64], weights: NDArray[np.float64], index: NDArray[np.intp]
) -> tuple[float, float, float, float]:
    """The marks' slope, its change from one index to the next, and the standard deviation of both."""
    middle = float(np.average(index, weights=weights))
    design = np.column_stack([np.ones(len(index)), index - middle])
    for _ in range(3):
        normal = design.T @ (design * weights[:, None])
        solution = np.linalg.solve(normal, design.T @ (slopes * weights))
        rest = (slopes - design @ solution) * np.sqrt(weights)
        scale = 1.4826 * float(np.median(np.abs(rest))) + 1e-12
        weights = weights * (np.abs(rest) <= 4 * scale) + 1e-12
    covariance = np.linalg.inv(normal) * scale**2
    slope, fan = (float(value) for value in solution)
    return slope, fan, float(np.sqrt(covariance[0, 0])), float(np.sqrt(covariance[1, 1]))


def _robust_line(u: NDArray[np.float64], v: NDArray[np.float64]) -> tuple[float, float, float]:
    """Tilt, intercept and the tilt's standard deviation of v = intercept + tilt u, outliers left out."""
    good = np.ones(len(u), dtype=bool)
    for _ in range(4):
        tilt, intercept = (float(value) for value in np.polyfit(u[good], v[good], 1))
        rest = v - intercept - tilt * u
        scale = max(1.4826 * float(np.median(np.abs(rest[good]))), 0.2)
        good = np.abs(rest) <= 3 * scale
    return tilt, intercept, scale / float(np.sqrt(np.sum((u[good] - u[good].mean()) ** 2)))
