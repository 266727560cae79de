"""A grid's lines measured in the picture's own pixels.

Each row of pixels that a steep line crosses (each column, for a flat one) gives the line's centre there: the
centroid of its light over what lies beside it, under a bell-shaped window that is moved until it stands on that
centroid. No pixel is resampled. A stretch of such rows is one point.
"""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.photo.mat_grid import Grid

Array = NDArray[np.float64]

REACH = (4, 9)  # px to either side of a line: room for what lies beside it, not for the next line
REACH_STEPS = 0.22  # ... and that share of a step
POINTS_WANTED = 3000  # of a whole grid; more only cost time
SHORTEST_STRETCH = 12  # rows
MIN_ROWS_KEPT = 0.4  # of a stretch's rows
CROSSING_PX = 5.0  # from a crossing line, and from the end of a line
NODES_PER_STEP = 4  # a line is bent by far less than a thousandth px between them
MAX_OFF_PX = 1.5  # from where the coarser level has the line
MAX_UNEVEN = 0.2  # the two sides' difference, of the line's height above them: a tick, a card's edge
MIN_HEIGHT = 0.4  # of the median height of the line's rows
CENTRING_ROUNDS = 5
BESIDE = 0.3  # squares to either side of a line: the squares' faces
MIN_STANDING_OUT = 0.5  # of a line's height over what is next to it, that it has over the squares' faces too

_FIELDS = ("points_px", "axis", "number", "across", "height", "weight_px", "width_px")
_ROW_FIELDS = ("line", "row", "at", "across", "slant")


@frozen(eq=False)
class Measured:
    """Points on the lines of a grid, m of them, and the light across each line."""

    points_px: Array  # (m, 2) image
    axis: NDArray[np.intp]  # (m,)
    number: NDArray[np.intp]  # (m,)
    across: Array  # (m,) the other coordinate, in squares
    height: Array  # (m,) the line's light over that beside it (under it, for a dark one)
    weight_px: Array  # (m,) the line's light over that beside it, as the width of a line twice as light (or black)
    width_px: Array  # (m,) the same as the width of a line that is as light all over as at its height

    def keep(self, chosen: NDArray[np.bool_]) -> "Measured":
        """The chosen points."""
        return Measured(*(getattr(self, name)[chosen] for name in _FIELDS))


@frozen(eq=False)
class _Rows:
    """Where lines cross rows of pixels (columns, when ``flat``), r of them."""

    line: NDArray[np.intp]  # (r,) which line
    row: NDArray[np.intp]  # (r,)
    at: Array  # (r,) px along the row
    across: Array  # (r,) squares
    slant: Array  # (r,) cosine of the angle between the row and the line's normal


def measure_lines(light: NDArray[np.float32], grid: Grid, lines: list[NDArray[np.intp]], dark: bool) -> Measured:
    """Points on the lines of ``grid``; ``lines``: the numbers of those of either axis, ascending."""
    traced = [(axis, int(number)) for axis in (0, 1) for number in lines[axis]]
    spans = [(float(lines[1][0]), float(lines[1][-1])), (float(lines[0][0]), float(lines[0][-1]))]
    steep, flat = _trace(grid, traced, spans, light.shape)
    stretch = max(SHORTEST_STRETCH, (len(steep.row) + len(flat.row)) // POINTS_WANTED)
    parts = [
        _measure(light, steep, grid, traced=traced, lines=lines, stretch=stretch, dark=dark, flat=False),
        _measure(light.T, flat, grid, traced=traced, lines=lines, stretch=stretch, dark=dark, flat=True),
    ]
    return Measured(*(np.concatenate([getattr(part, name) for part in parts]) for name in _FIELDS))


def _trace(
    grid: Grid, traced: list[tuple[int, int]], spans: list[tuple[float, float]], shape: tuple[int, ...]
) -> tuple[_Rows, _Rows]:
    found: tuple[list[_Rows], list[_Rows]] = ([], [])
    for line, (axis, number) in enumerate(traced):
        low, high = spans[axis]
        along = np.linspace(low, high, int((high - low) * NODES_PER_STEP) + 1)
        nodes = np.full((len(along), 2), float(number))
        nodes[:, 1 - axis] = along
        nodes = grid.to_image(nodes)
        is_flat = bool(np.ptp(nodes[:, 0]) > np.ptp(nodes[:, 1]))
        if is_flat:
            nodes = nodes[:, ::-1]
        rows_in, columns_in = shape[::-1] if is_flat else shape
        order = np.argsort(nodes[:, 1])
        x, y, along = nodes[order, 0], nodes[order, 1], along[order]
        row = np.arange(max(int(np.ceil(y[0])), 0), min(int(np.floor(y[-1])), rows_in - 1) + 1)
        at = np.interp(row, y, x)
        inside = (at > REACH[1] + 1) & (at < columns_in - REACH[1] - 2)
        row, at = row[inside], at[inside]
        slant = np.cos(np.arctan(np.interp(row, y, np.gradient(x, y)))) if len(row) else at
        ids = np.full(len(row), line, dtype=np.intp)
        found[is_flat].append(_Rows(ids, row, at, np.interp(row, y, along), slant))
    return _joined(found[0]), _joined(found[1])


def _joined(parts: list[_Rows]) -> _Rows:
    if not parts:
        none = np.zeros(0)
        return _Rows(none.astype(np.intp), none.astype(np.intp), none, none, none)
    return _Rows(*(np.concatenate([getattr(part, name) for part in parts]) for name in _ROW_FIELDS))


def _measure(
    light: NDArray[np.float32], rows: _Rows, grid: Grid, *, traced: list[tuple[int, int]],
    lines: list[NDArray[np.intp]], stretch: int, dark: bool, flat: bool,
) -> Measured:  # fmt: skip
    """The points of one bundle of rows; x runs along the rows."""
    axis_of, number_of = (np.array([line[k] for line in traced], dtype=np.intp) for k in (0, 1))
    if not len(rows.row):
        none = np.zeros(0)
        return Measured(np.zeros((0, 2)), none.astype(np.intp), none.astype(np.intp), none, none, none, none)
    points = np.column_stack([rows.at, rows.row])
    image = points[:, ::-1] if flat else points
    axis = axis_of[rows.line]
    steep = np.linalg.norm(grid.slopes(image), axis=2)  # squares per px
    index = np.arange(len(axis))
    reach = int(np.clip(REACH_STEPS / np.median(steep[index, axis]), *REACH))
    offset, height, uneven, area, background = _centred(light, rows, reach, dark)
    crossings = _to_nearest(rows.across, axis, lines) / steep[index, 1 - axis]
    usual = _median_by(rows.line, height, len(traced))[rows.line]
    good = (crossings > CROSSING_PX) & (np.abs(offset) <= MAX_OFF_PX) & (height > MIN_HEIGHT * usual)
    good &= uneven <= MAX_UNEVEN
    run = rows.line * (max(light.shape) // stretch + 1) + rows.row // stretch
    _, run = np.unique(run, return_inverse=True)
    good &= np.abs(offset - _median_by(run, np.where(good, offset, np.nan), int(run.max()) + 1)[run]) <= 0.5
    kept = np.bincount(run, good)
    # An outlier within a stretch is left out once more, now judged by the stretch's own scatter.
    mean = np.bincount(run, np.where(good, offset, 0)) / np.maximum(kept, 1)
    scatter = np.sqrt(np.bincount(run, np.where(good, (offset - mean[run]) ** 2, 0)) / np.maximum(kept, 1))
    good &= np.abs(offset - mean[run]) <= 2.5 * scatter[run] + 0.02
    kept = np.bincount(run, good)
    enough = kept >= MIN_ROWS_KEPT * stretch

    def mean_of(values: Array) -> Array:
        return np.asarray((np.bincount(run, np.where(good, values, 0)) / np.maximum(kept, 1))[enough])

    first = np.zeros(len(kept), dtype=np.intp)
    first[run[::-1]] = index[::-1]
    line = rows.line[first[enough]]
    # The lines are straight over a stretch to a thousandth px, so the mean of the rows' points lies on them.
    points = np.column_stack([mean_of(rows.at + offset), mean_of(rows.row.astype(float))])
    weight = mean_of(area * rows.slant / np.maximum(background, 1e-3))
    width = mean_of(area * rows.slant / np.maximum(height, 1e-9))
    points = points[:, ::-1] if flat else points
    return Measured(points, axis_of[line], number_of[line], mean_of(rows.across), mean_of(height), weight, width)


def _centred(
    light: NDArray[np.float32], rows: _Rows, reach: int, dark: bool
) -> tuple[Array, Array, Array, Array, Array]:
    """Per row: the line's centre from ``at`` (px), its height, the sides' unevenness, its area, the background."""
    base = np.rint(rows.at).astype(np.intp)
    x = np.arange(-reach, reach + 1)
    values = light[rows.row[:, None], base[:, None] + x]  # single precision: a millionth of the line's height
    left, right = values[:, :2].mean(axis=1), values[:, -2:].mean(axis=1)
    share = ((x + reach) / (2.0 * reach)).astype(np.float32)
    beside = left[:, None] + (right - left)[:, None] * share
    above = (beside - values) if dark else (values - beside)
    height = above[:, reach - 1 : reach + 2].max(axis=1)
    uneven = np.abs(right - left) / np.maximum(height, 1e-9)
    area = above.sum(axis=1)
    usable = height > 0
    spread = float(np.median(area[usable] / height[usable])) / np.sqrt(2 * np.pi) if usable.any() else 1.0
    sigma = float(np.clip(spread, 1.0, reach / 2.5))
    start = rows.at - base
    centre = start.copy()
    places = x.astype(np.float32)
    for _ in range(CENTRING_ROUNDS):
        window = (places - centre[:, None].astype(np.float32)) * np.float32(np.sqrt(0.5) / sigma)
        np.square(window, out=window)
        np.negative(window, out=window)
        np.exp(window, out=window)
        window *= above
        total = window.sum(axis=1, dtype=float)
        # Twice, as the centroid under a window as wide as the line itself goes half the way.
        step = 2 * ((window @ places) / np.where(total > 1e-9, total, np.inf) - centre * (total > 1e-9))
        centre = np.clip(centre + np.clip(step, -1, 1), -reach / 2, reach / 2)
    return centre - start, height.astype(float), uneven.astype(float), area.astype(float), (left + right) / 2.0


def stands_out(light: NDArray[np.float32], grid: Grid, measured: Measured, dark: bool) -> bool:
    """Whether the lines are lighter (darker) than the squares, not just than two dark (light) lines beside each."""
    squares = grid.to_squares(measured.points_px)
    row = np.arange(len(squares))
    faces = []
    for way in (-1, 1):
        aside = squares.copy()
        aside[row, measured.axis] += way * BESIDE
        faces.append(_nearest(light, grid.to_image(aside)))
    over = _nearest(light, measured.points_px) - np.mean(faces, axis=0)
    over = (-over if dark else over) / measured.height
    return bool(np.median(over[np.isfinite(over)]) > MIN_STANDING_OUT)


def _nearest(light: NDArray[np.float32], points_px: Array) -> Array:
    """(n,) the light of the nearest pixels; nan outside the picture."""
    column, row = np.rint(points_px).T
    inside = (column >= 0) & (row >= 0) & (column < light.shape[1]) & (row < light.shape[0])
    result = np.full(len(points_px), np.nan)
    result[inside] = light[row[inside].astype(np.intp), column[inside].astype(np.intp)]
    return result


def _to_nearest(across: Array, axis: NDArray[np.intp], lines: list[NDArray[np.intp]]) -> Array:
    """Squares from each place to the nearest line of the other axis."""
    result = np.empty(len(across))
    for own in (0, 1):
        mine = axis == own
        others = lines[1 - own].astype(float)
        after = np.clip(np.searchsorted(others, across[mine]), 1, len(others) - 1)
        result[mine] = np.minimum(np.abs(across[mine] - others[after - 1]), np.abs(across[mine] - others[after]))
    return result


def _median_by(group: NDArray[np.intp], values: Array, groups: int) -> Array:
    """(groups,) the median of each group's values, nan left out (nan when nothing is left)."""
    known = np.isfinite(values)
    order = np.lexsort((values[known], group[known]))
    ordered, owner = values[known][order], group[known][order]
    count = np.bincount(owner, minlength=groups)
    start = np.concatenate([[0], np.cumsum(count)[:-1]])
    result = np.full(groups, np.nan)
    some = count > 0
    low, high = start + (count - 1) // 2, start + count // 2
    result[some] = (ordered[low[some]] + ordered[high[some]]) / 2
    return result
