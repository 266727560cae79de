"""Cutting mats: their printed grid of squares tells the table's shape, and the scale where their unit shows."""

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.photo.mat_grid import Grid, fit_grid
from seamsurvey.photo.mat_lattice import MIN_CROSS_LINES, MIN_LINES, find_lattice
from seamsurvey.photo.mat_lines import Measured, measure_lines, stands_out
from seamsurvey.photo.mat_unit import read_unit, sublines
from seamsurvey.photo.observed import KNOWN, Observed
from seamsurvey.photo.ridges import find_ridges
from seamsurvey.photo.segments import find_segments
from seamsurvey.units import INCH

Array = NDArray[np.float64]

LEVEL_PIXELS = 3_500_000  # lines are looked for on the picture reduced to this; they are measured on all of it
SIGMAS = (1.0, 2.0)  # px of the level: of lines to 3.5 px wide, then of broader ones
SCALE_SIGMA = 0.003  # of a mat's whole scale: measuring.md, "Design that follows"
MARK_SIGMA_MM = 0.1  # of a printed line's place on the mat
HEIGHT_SIGMA_MM = 0.05  # templates lie on the mat, so its face is the table: only its waves count
MAX_WANDER_PX = 0.3  # rms of the points about their own line, which is straight but for the lens
MAX_ASTRAY_PX, MAX_ASTRAY = 0.3, 0.005  # rms of the lines' places about the grid, px or squares: 0.1 mm of an inch
OUTLIER = 4.0  # robust standard deviations
LEAST_SIGMA_PX = 0.02
MIN_POINTS_OF_LINE = 3
MIN_LINES_KEPT = 0.75  # of those seen: a few even ones can be picked from any uneven lot
ROUNDS = 3
SOFT_PX = 0.2


@frozen(eq=False)
class FoundMat:
    """A mat's grid.

    ``unit``: "inch" or "cm", or None when nothing on it tells; then ``observed`` has squares of one inch and
    ``scale_sigma`` inf: it tells the table's shape and can set no scale.
    """

    observed: Observed
    unit: str | None
    text: str  # what tells the unit, as a person would say it
    outline_px: Array  # (4, 2) image: the corners of the grid's found part, counter-clockwise as seen
    residuals_px: Array  # (m,) of the observed points about a free grid of the detector's own
    lens: tuple[float, float]  # k1, k2 of the division model that fits the grid best


def find_mats(light: NDArray[np.float32]) -> list[FoundMat]:
    """The cutting mats' grids in a picture, surest first; ``light`` is (h, w) linear luminance in 0..1.

    A grid has straight thin lines, light or dark, at least 5 by 4 of them, evenly spaced in both directions but for
    perspective and the lens. A clear quilting ruler has such a grid, too: `evidence` leaves it out.
    """
    factor = 1
    while light.size > LEVEL_PIXELS * factor**2:
        factor += 1
    height, width = (side // factor for side in light.shape)
    level = light[: height * factor, : width * factor]
    if factor > 1:
        level = np.asarray(cv2.resize(level, (width, height), interpolation=cv2.INTER_AREA), dtype=np.float32)
    found: list[FoundMat] = []
    for sigma in SIGMAS:
        ridges = find_ridges(level, sigma)
        seen = [(find_lattice(find_segments(ridges, dark), (width, height)), dark) for dark in (False, True)]
        lattices = [(lattice, dark) for lattice, dark in seen if lattice is not None]
        for lattice, dark in sorted(lattices, key=lambda pair: -pair[0].weight):
            start = Grid(lattice.grid.matrix, lattice.grid.lens, (light.shape[1], light.shape[0]))
            numbers = [np.unique(lattice.number[lattice.axis == axis]) for axis in (0, 1)]
            # The gaps between two lines are lines of the other kind, and less of a grid.
            if any(_overlap(_outline(start, numbers), mat.outline_px) for mat in found):
                continue
            mat = _mat(light, start, numbers, dark)
            if mat is not None:
                found.append(mat)
        if found:
            break
    kept: list[FoundMat] = []
    for mat in sorted(found, key=lambda mat: -len(mat.observed.axis)):
        if not any(_overlap(mat.outline_px, other.outline_px) for other in kept):
            kept.append(mat)
    return kept


def _mat(light: NDArray[np.float32], grid: Grid, numbers: list[NDArray[np.intp]], dark: bool) -> FoundMat | None:
    measured = measure_lines(light, grid, numbers, dark)
    checked = _checked(grid, measured)
    if checked is None or not stands_out(light, checked[0], checked[1], dark):
        return None
    lines = [np.unique(checked[1].number[checked[1].axis == axis]) for axis in (0, 1)]
    denser = sublines(light, checked[0], lines, dark)
    if denser > 1:
        finer = checked[0].renumbered(np.diag([denser, denser, 1.0]))
        numbers = [np.arange(own[0] * denser, own[-1] * denser + 1) for own in lines]
        checked = _checked(finer, measure_lines(light, finer, numbers, dark)) or checked
    grid, measured, sigma = checked
    grid, measured = _turned(grid, measured)
    lines = [np.unique(measured.number[measured.axis == axis]) for axis in (0, 1)]
    unit = read_unit(light, grid, lines, measured, dark)
    step = unit.step_mm if unit.step_mm is not None else INCH
    observed = Observed(
        kind="mat",
        points_px=measured.points_px,
        axis=measured.axis,
        nominal_mm=measured.number.astype(float) * step,
        edge=np.full(len(measured.axis), KNOWN, dtype=np.intp),
        mark=measured.number + measured.axis * (int(lines[0][-1]) + 1),
        sigma_px=sigma,
        mark_sigma_mm=MARK_SIGMA_MM,
        scale_sigma=SCALE_SIGMA if unit.unit is not None else np.inf,
        height_mm=0.0,
        height_sigma_mm=HEIGHT_SIGMA_MM,
        rough=grid.homography(step),
    )
    residuals = grid.off_px(measured.points_px, measured.axis, measured.number.astype(float))
    return FoundMat(observed, unit.unit, unit.text, _outline(grid, lines), residuals, grid.lens)


def _checked(grid: Grid, measured: Measured) -> tuple[Grid, Measured, Array] | None:
    """The grid fitted to the points that belong to it, those points and their sigma (px); None if it is uneven."""
    line = _lines_left(measured)
    if line is None:
        return None
    seen = int(np.sum(np.bincount(line) >= MIN_POINTS_OF_LINE))
    for _ in range(ROUNDS):
        if _lines_left(measured) is None:
            return None
        number = measured.number.astype(float)
        grid = fit_grid(grid, measured.points_px, measured.axis, number, terms=2, soft_px=SOFT_PX)
        off = grid.off_px(measured.points_px, measured.axis, number)
        spread = 1.4826 * float(np.median(np.abs(off)))
        measured = measured.keep(np.abs(off) <= max(OUTLIER * spread, OUTLIER * LEAST_SIGMA_PX))
        line = _lines_left(measured)
        if line is None:
            return None
        measured = measured.keep(np.bincount(line)[line] >= MIN_POINTS_OF_LINE)
    line = _lines_left(measured)
    if line is None:
        return None
    off = grid.off_px(measured.points_px, measured.axis, measured.number.astype(float))
    count = np.bincount(line)
    if len(count) < MIN_LINES_KEPT * seen:
        return None
    astray = np.bincount(line, off) / count
    within = off - astray[line]
    wander = float(np.sqrt(np.mean(within**2)))
    steep = np.linalg.norm(grid.slopes(measured.points_px), axis=2)[np.arange(len(line)), measured.axis]
    step_px = float(np.median(1 / steep))
    if wander > MAX_WANDER_PX or np.sqrt(np.mean(astray**2)) > max(MAX_ASTRAY_PX, MAX_ASTRAY * step_px):
        return None
    # Each line's own scatter, leaning on that of all: a line's few points tell theirs badly.
    common = 20.0
    variance = (np.bincount(line, within**2) + common * wander**2) / (count + common)
    return grid, measured, np.hypot(np.sqrt(variance)[line], LEAST_SIGMA_PX)


def _lines_left(measured: Measured) -> NDArray[np.intp] | None:
    """Which line, from 0, each point is on; None when too few lines are left for a grid."""
    lines = [len(np.unique(measured.number[measured.axis == axis])) for axis in (0, 1)]
    if max(lines) < MIN_LINES or min(lines) < MIN_CROSS_LINES:
        return None
    low = int(measured.number.min())
    key = (measured.number - low) + measured.axis * (int(np.ptp(measured.number)) + 1)
    return np.asarray(np.unique(key, return_inverse=True)[1], dtype=np.intp)


def _turned(grid: Grid, measured: Measured) -> tuple[Grid, Measured]:
    """The grid numbered from 0, x to the picture's right and y up as far as may be: right-handed as seen."""
    heart = np.array([[np.median(measured.number[measured.axis == axis]) for axis in (0, 1)]])
    slope = grid.slopes(grid.to_image(heart))[0]
    swap = bool(abs(slope[0, 0]) < abs(slope[1, 0]))
    turn = np.eye(3)[[1, 0, 2]] if swap else np.eye(3)
    axis = 1 - measured.axis if swap else measured.axis
    slope = slope[::-1] if swap else slope
    sign = np.array([1 if slope[0, 0] > 0 else -1, 1 if slope[1, 1] < 0 else -1])
    number = measured.number * sign[axis]
    first = np.array([number[axis == a].min() for a in (0, 1)])
    turn = np.array([[sign[0], 0, -first[0]], [0, sign[1], -first[1]], [0, 0, 1]]) @ turn
    # "across" is kept in the old count: it told crossings apart, and nothing asks for it any more.
    return grid.renumbered(turn), Measured(
        measured.points_px, axis.astype(np.intp), (number - first[axis]).astype(np.intp), measured.across,
        measured.height, measured.weight_px, measured.width_px,
    )  # fmt: skip


def _outline(grid: Grid, lines: list[NDArray[np.intp]]) -> Array:
    """(4, 2) image: the corners of the grid between its outermost lines, in the order of its own frame."""
    low, high = (np.array([float(lines[axis][end]) for axis in (0, 1)]) for end in (0, -1))
    return grid.to_image(np.array([low, [high[0], low[1]], high, [low[0], high[1]]]))


def _overlap(outline: Array, other: Array) -> bool:
    """Whether either grid's middle lies in the other: a ruler's grid on a mat, the gaps between two lines."""
    for one, two in ((outline, other), (other, outline)):
        x, y = (float(value) for value in np.mean(one, axis=0))
        if cv2.pointPolygonTest(two.astype(np.float32), (x, y), False) >= 0:
            return True
    return False
