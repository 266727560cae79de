"""Whether a grid is a mat's: a clear quilting ruler has one too, and its marks lie elsewhere than on the table."""

from enum import Enum

import numpy as np
from numpy.typing import NDArray

from seamsurvey.photo.mat_grid import Grid
from seamsurvey.photo.mat_lines import Measured

Array = NDArray[np.float64]

INSIDE = 0.5  # squares within the outer lines: between two lines
NEXT = 1.0  # squares beyond: where the next line would be
OUTSIDE = (1.3, 1.7, 2.6, 3.5)  # squares beyond: a rim is an inch, or two or three centimetres wide
BEYOND_ANY_RIM = 2  # the place in OUTSIDE
FARTHEST = 2  # of these that are seen: nearer ones may lie on a ruler's marks, or in its shadow
MIN_SEEN = 0.3  # of the places along a side that must be in the picture
# Logarithms of the light outside over that inside. A clear plate takes light twice and lies in its own shade:
# half of it was seen to be lost. It never adds any, but for a gleam.
DARKER, LIGHTER = 0.9, -0.25
SQUARES_OF_NO_CUT_RULER = 20  # along the shorter side, of a grid that leaves the picture on three sides
# Along the shorter side. Square rulers have 20 in at most, or 24 half inches, or 30 cm, and mostly dark lines
# (common practice, no source).
SQUARES_OF_NO_RULER = {False: 20, True: 32}
BESIDE = 0.3  # squares to either side of a line
MIN_STANDING_OUT = 0.5  # of a line's height over what is next to it, that it has over the squares' faces too


class Face(Enum):
    """What a grid is printed on."""

    MAT = "mat"
    UNSURE = "unsure"  # a mat as dark as the table, or a plate with light lines
    CLEAR = "clear"  # dark lines, and the table may well show between them


def face_of(light: NDArray[np.float32], grid: Grid, lines: list[NDArray[np.intp]], dark: bool) -> Face:
    """What the grid is printed on; ``lines``: the numbers of those of either axis, ``dark`` or light ones."""
    squares_high = min(int(np.ptp(lines[axis])) for axis in (0, 1))
    if squares_high >= SQUARES_OF_NO_RULER[dark]:
        return Face.MAT
    hidden, own, clear = 0, 0, 0
    for axis in (0, 1):
        along = np.arange(lines[1 - axis][0], lines[1 - axis][-1]) + 0.5
        for outer, way in ((float(lines[axis][0]), -1), (float(lines[axis][-1]), 1)):
            hidden += bool(np.mean(np.isfinite(_light_at(light, grid, axis, outer + way * NEXT, along))) < MIN_SEEN)
            inside = _light_at(light, grid, axis, outer - way * INSIDE, along)
            beyond = [_light_at(light, grid, axis, outer + way * squares, along) for squares in OUTSIDE]
            ratios = [_middling(np.log(there / inside)) for there in beyond]
            seen = [ratio for ratio in ratios if ratio is not None][-FARTHEST:]
            lighter = bool(seen) and max(seen) < LIGHTER
            differs = lighter or (not dark and max(seen, default=0.0) > DARKER)
            own += differs
            clear += not differs and ratios[BEYOND_ANY_RIM] is not None
    large = squares_high >= SQUARES_OF_NO_CUT_RULER or not (dark or clear)
    fills = hidden == 4 or (hidden == 3 and large)
    if fills or own > clear or own >= max(clear, 2):
        return Face.MAT
    return Face.CLEAR if dark else Face.UNSURE


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


def _middling(ratios: Array) -> float | None:
    known = ratios[np.isfinite(ratios)]
    return float(np.median(known)) if len(known) >= MIN_SEEN * len(ratios) else None


def _light_at(light: NDArray[np.float32], grid: Grid, axis: int, place: float, along: Array) -> Array:
    """(n,) the median light of 5 × 5 pixels about places on the grid; nan outside the picture."""
    squares = np.full((len(along), 2), place)
    squares[:, 1 - axis] = along
    column, row = np.rint(grid.to_image(squares)).T
    inside = (column >= 2) & (row >= 2) & (column < light.shape[1] - 2) & (row < light.shape[0] - 2)
    result = np.full(len(along), np.nan)
    steps = np.arange(-2, 3)
    rows = row[inside].astype(np.intp)[:, None, None] + steps[:, None]
    columns = column[inside].astype(np.intp)[:, None, None] + steps
    result[inside] = np.median(light[rows, columns].reshape(-1, 25), axis=1)
    return np.asarray(np.maximum(result, 1e-4))
