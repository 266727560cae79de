"""A page's own grid: squared paper that templates are drawn over with stronger lines.

It is known by many equal squares side by side, or, where templates leave few squares whole, by long lines at even
steps in two directions.
"""

from typing import Any

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from seamsurvey.model import Plane
from seamsurvey.templates.line_art import GAP_MM, LEAST_INK, LineArt
from seamsurvey.templates.masks import Floats, closed, contour_of, disc

_LEAST_CELLS = 6  # so many equal squares, each with two more beside it, are a grid
_LEAST_BESIDE = 2
_NEXT_MM = 1.5  # squares that share a line are no farther apart
_CELL_SHARE = 0.04  # by which the sides of its squares differ
_SMALLEST_CELL_MM2, _LARGEST_CELL_MM2 = 6.0, 1700.0  # squares of an eighth of an inch to an inch and a half
_STRONGER, _STRONGEST = 1.3, 0.7
_EDGE_MM = 0.5  # round a square, its line lies within this
_MOST_POINTS = 60_000
_BIN_MM = 0.4
_CELL_MM = 2.0  # a line is followed in steps of this
_COVERED = 0.5  # of the page's extent: so much of a grid's line is seen, templates and all
_LEAST_LINES = 4  # in either direction
_EVEN = 0.06  # of a step, by which a line may be off
_MOST_STRAY = 0.34  # of the long lines may be others than the grid's: a border's, a long edge's
_ANGLES_DEG = np.arange(-45.0, 45.0, 0.25)


@frozen(kw_only=True)
class Grid:
    """A page's own grid: ``centres`` (n, 2) of its squares, coarse (x, y); its lines have no more than ``ink``."""

    centres: Floats = field(eq=False, repr=False)
    ink: float


def find_grid(art: LineArt, plane: Plane) -> Grid | None:
    """The page's own grid, known by its many equal squares, or by its long lines; None where it has none."""
    return _by_squares(art) or _by_lines(art, plane)


def _by_squares(art: LineArt) -> Grid | None:
    free = ~closed(np.asarray(art.ink > LEAST_INK), GAP_MM * art.per_mm)
    _, labels, stats, centres = cv2.connectedComponentsWithStats(free.astype(np.uint8), connectivity=4)
    areas = stats[:, cv2.CC_STAT_AREA] / art.per_mm**2
    label = np.flatnonzero((areas > _SMALLEST_CELL_MM2) & (areas < _LARGEST_CELL_MM2))
    squares = np.array([k for k in label.tolist() if _is_square(labels, stats[k], k)], dtype=np.intp)
    if len(squares) < _LEAST_CELLS:
        return None
    sizes = np.sqrt(areas[squares])
    alike = np.abs(sizes[:, None] / sizes[None, :] - 1) < _CELL_SHARE
    cells = squares[alike[int(np.argmax(alike.sum(axis=1)))]]
    side = float(np.sqrt(np.median(areas[cells]))) * art.per_mm
    apart = cdist(centres[cells], centres[cells])
    beside = (apart > 0) & (apart < side + _NEXT_MM * art.per_mm)
    cells = cells[beside.sum(axis=1) >= _LEAST_BESIDE]
    if len(cells) < _LEAST_CELLS:
        return None
    round_it = disc(_EDGE_MM * art.per_mm)
    margin = len(round_it)
    inks = []
    for k in cells[:: max(1, len(cells) // 200)]:
        left, top, wide, high = (int(v) for v in stats[k][:4])
        box = np.s_[max(0, top - margin) : top + high + margin, max(0, left - margin) : left + wide + margin]
        own = labels[box] == k
        edge = cv2.dilate(own.astype(np.uint8), round_it).astype(bool) & ~own
        inks.append(float(np.percentile(art.ink[box][edge], 70)))
    # Every fourth or fifth line may be a stronger one; a border or a letter touches few squares.
    strong = min(_STRONGEST, _STRONGER * float(np.percentile(inks, 80)))
    return Grid(centres=np.asarray(centres[cells], dtype=float), ink=strong)


def _is_square(labels: NDArray[Any], stats: NDArray[Any], label: int) -> bool:
    left, top, wide, high, area = (int(v) for v in stats)
    contour = contour_of(labels[top : top + high, left : left + wide] == label)
    _, (one, other), _ = cv2.minAreaRect(contour.astype(np.float32))
    return bool(abs(one - other) < 0.05 * one + 2 and area > 0.88 * (one + 1) * (other + 1))


def _by_lines(art: LineArt, plane: Plane) -> Grid | None:
    ys, xs = np.nonzero(art.ink > LEAST_INK)
    if len(xs) < 1000:
        return None
    some = np.s_[:: max(1, len(xs) // _MOST_POINTS)]
    ink = art.ink[ys[some], xs[some]]
    at = plane.to_mm(art.to_px(np.column_stack([xs[some], ys[some]]).astype(float)))
    at = at - np.median(at, axis=0)
    turns = np.radians(_ANGLES_DEG)
    few = at[:: max(1, len(at) // 8000)]
    best = float(turns[int(np.argmax([_sharpness(few, turn) for turn in turns]))])
    best = float(max(best + np.radians(np.arange(-0.3, 0.31, 0.05)), key=lambda turn: _sharpness(at, float(turn))))
    turned = at @ np.array([[np.cos(best), -np.sin(best)], [np.sin(best), np.cos(best)]])
    inks: list[float] = []
    steps = []
    for axis in (0, 1):
        across, along = turned[:, axis], turned[:, 1 - axis]
        places = _long_lines(across, along)
        if len(places) < _LEAST_LINES:
            return None
        step, on = _even(places)
        if on.mean() < 1 - _MOST_STRAY or on.sum() < _LEAST_LINES:
            return None
        steps.append(step)
        inks += [float(np.median(ink[np.abs(across - place) < _BIN_MM / 2])) for place in places[on]]
    if abs(steps[0] / steps[1] - 1) > _EVEN:
        return None
    return Grid(centres=np.empty((0, 2)), ink=min(_STRONGEST, _STRONGER * float(np.percentile(inks, 85))))


def _sharpness(at: Floats, turn: float) -> float:
    """How much points pile up in two directions at a right angle, turned so."""
    total = 0.0
    for way in ((np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))):
        count, _ = np.histogram(at @ np.array(way), bins=400)
        total += float(np.sum(count.astype(float) ** 2))
    return total


def _long_lines(across: Floats, along: Floats) -> Floats:
    """Where lines run that are seen over much of the extent along them, mm across."""
    low, high = np.percentile(along, [1, 99])
    bins = np.floor((across - across.min()) / _BIN_MM).astype(int)
    cells = np.floor((along - low) / _CELL_MM).astype(int)
    inside = (along >= low) & (along <= high)
    pairs = np.unique(np.column_stack([bins, cells])[inside], axis=0)
    # A line may lie between two bins: each with its neighbour.
    seen = np.zeros((int(bins.max()) + 2, int(cells[inside].max()) + 1), dtype=bool)
    seen[pairs[:, 0], pairs[:, 1]] = True
    covered = (seen[:-1] | seen[1:]).mean(axis=1)
    strong = covered > _COVERED
    edges = np.flatnonzero(np.diff(np.concatenate([[0], strong.astype(int), [0]])))
    middles = [(a + b) / 2 for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return np.asarray([across.min() + (middle + 0.5) * _BIN_MM for middle in middles])


def _even(places: Floats) -> tuple[float, NDArray[np.bool_]]:
    """The step that most of the places keep, and which of them do."""
    best, on = 0.0, np.zeros(len(places), dtype=bool)
    for start in places:
        for end in places[places > start + 2.0]:
            step = float(end - start)
            off = np.abs((places - start) / step - np.round((places - start) / step)) * step
            keeps = off < max(_EVEN * step, _BIN_MM) if step > 5 * _BIN_MM else off < 0.2 * step
            if keeps.sum() > on.sum() or (keeps.sum() == on.sum() and step > best):
                best, on = step, keeps
    return best, on
