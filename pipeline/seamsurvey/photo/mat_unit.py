"""Whether a mat's squares are inches or centimetres: what the marks between its lines, and its heavier lines, tell.

Common practice of mat makers, no source: inches are divided in 8 or 16, centimetres in 10; every fifth line of a
centimetre grid is heavier. Halves and quarters are no evidence: both units are halved. Nor is a heavier second or
fourth line with marks between: half inches in eighths look like inches in quarters with every other line heavier.
"""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.photo.mat_grid import Grid
from seamsurvey.photo.mat_lines import Measured
from seamsurvey.units import INCH

Array = NDArray[np.float64]

PARTS = (16, 10, 8, 5, 4, 2)  # of a square, finest first
UNCLEAR = 0
GROUPS = (2, 4, 5, 10)  # lines from one heavier line to the next
STEADY = 0.9  # the heavier lines' lightest tenth over the others' heaviest tenth must exceed 1 / this
SAMPLES = 160  # along a square: divisible by 16 and by 10
NODES_PER_STEP = 4
MIN_PART_PX = 4.0  # marks closer than this melt into one another
OUTER = 4  # lines at either end of a family that are all looked at
MIN_SQUARES = 3  # along a line, to tell marks from figures and scratches
NEXT_TO_LINE_PX = 2.5  # beyond the line's own half width
DEPTHS = (0.0, 1.5, 3.0)  # px further out: marks are at least so long
MIN_MARK = 0.12  # of the lines' own contrast
NOISE_FACTOR = 5.0
BETWEEN = 0.37  # of a square from a line: no even division of it
FINER = (2, 4, 5, 10)
MOST = 0.6  # of the places between lines that must show the finer ones
ALIKE = 1.5  # the tenths' even marks over their odd ones: more, and they are ten halves of five centimetres


@frozen
class Unit:
    """What a square of the grid is."""

    unit: str | None  # "inch", "cm", or None: nothing tells
    step_mm: float | None  # of a square
    text: str  # what tells, as a person would say it


def read_unit(
    light: NDArray[np.float32], grid: Grid, lines: list[NDArray[np.intp]], measured: Measured, dark: bool
) -> Unit:
    """The unit of the grid's squares; of two contradicting tellings, none."""
    group = _group(grid, measured, lines)
    parts = _parts(light, grid, lines, measured, dark)
    told: set[tuple[str, float]] = set()
    if parts in (8, 16) and group in (1, 5, 10):
        told.add(("inch", INCH))
    if parts == 10 and group in (1, 2, 5, 10):
        told.add(("cm", 10.0))
    if group == 5 and parts not in (8, 16):
        told.add(("cm", 10.0))
    said = [f"every {_ORDINAL[group]} line heavier"] if group > 1 else []
    said += [f"squares divided in {parts}"] if parts > 1 else []
    text = ", ".join(said) or "no marks between its lines, all of them alike"
    if len(told) != 1:
        return Unit(None, None, text)
    unit, step = told.pop()
    return Unit(unit, step, text)


_ORDINAL = {2: "second", 4: "fourth", 5: "fifth", 10: "tenth"}


def _group(grid: Grid, measured: Measured, lines: list[NDArray[np.intp]]) -> int:
    """Lines from one heavier line to the next, the same for both axes; 1 when all are alike; or UNCLEAR."""
    found = []
    for axis in (0, 1):
        numbers = lines[axis]
        mine = measured.axis == axis
        # In squares: far lines look thinner.
        weight = measured.weight_px[mine] * np.linalg.norm(grid.slopes(measured.points_px[mine])[:, axis], axis=1)
        middling = np.array([np.median(weight[measured.number[mine] == number]) for number in numbers])
        found.append(_period(numbers, np.log(np.maximum(middling, 1e-4))))
    if found[0] == found[1]:
        return found[0]
    short = found.index(1) if 1 in found else None
    if short is not None and len(lines[short]) < _enough(found[1 - short]):
        return found[1 - short]
    return UNCLEAR


def _enough(group: int) -> int:
    """How many lines are enough to see every ``group``-th heavier."""
    return 2 * group + 1


def _period(numbers: NDArray[np.intp], weight: Array) -> int:
    for group in GROUPS:
        if len(numbers) < _enough(group):
            break
        for rest in range(group):
            heavy = numbers % group == rest
            if heavy.sum() < 2 or (~heavy).sum() < 2:
                continue
            lightest, heaviest = np.percentile(weight[heavy], 10), np.percentile(weight[~heavy], 90)
            if lightest - heaviest > -np.log(STEADY):
                return group
    return 1


def sublines(light: NDArray[np.float32], grid: Grid, lines: list[NDArray[np.intp]], dark: bool) -> int:
    """How many times as dense the printed lines are: between those of ``grid`` finer, fainter ones may run."""
    found = []
    for axis in (0, 1):
        nodes, square_px = _stretch(grid, axis, lines)
        places = _chosen(np.arange(lines[axis][0], lines[axis][-1])) + BETWEEN
        counted = [
            _divided(_inked(_along(light, grid, axis, float(place), nodes), dark), square_px) for place in places
        ]
        found.append([parts for parts in FINER if np.mean(np.array(counted) == parts) > MOST])
    return found[0][0] if found[0] and found[0] == found[1] else 1


def _chosen(lines: NDArray[np.intp]) -> NDArray[np.intp]:
    """The outer lines, where marks mostly stand, and some of those between."""
    if len(lines) <= 4 * OUTER:
        return lines
    between = np.linspace(OUTER, len(lines) - 1 - OUTER, 2 * OUTER).astype(np.intp)
    return np.concatenate([lines[:OUTER], lines[between], lines[-OUTER:]])


def _stretch(grid: Grid, axis: int, lines: list[NDArray[np.intp]]) -> tuple[Array, float]:
    """Nodes along the lines of an axis, in squares, and how long a square is there, px."""
    low, high = int(lines[1 - axis][0]), int(lines[1 - axis][-1])
    heart = np.array([[(lines[a][0] + lines[a][-1]) / 2.0 for a in (0, 1)]])
    steep = np.linalg.norm(grid.slopes(grid.to_image(heart))[0, 1 - axis])
    return np.linspace(low, high, (high - low) * NODES_PER_STEP + 1), float(1 / steep)


def _inked(values: Array, dark: bool) -> Array:
    return -values if dark else values


def _parts(
    light: NDArray[np.float32], grid: Grid, lines: list[NDArray[np.intp]], measured: Measured, dark: bool
) -> int:
    """Into how many parts marks beside a line divide the squares; 1 when nothing does."""
    best = 1
    for axis in (0, 1):
        nodes, _ = _stretch(grid, axis, lines)
        for number in _chosen(lines[axis]):
            mine = (measured.axis == axis) & (measured.number == number)
            half_width = float(np.median(measured.width_px[mine])) / 2 + NEXT_TO_LINE_PX
            heart = np.array([[float(number)] * 2])
            heart[0, 1 - axis] = (nodes[0] + nodes[-1]) / 2
            steep = np.linalg.norm(grid.slopes(grid.to_image(heart))[0], axis=1)
            for side in (-1, 1):
                beside = [
                    _along(light, grid, axis, number + side * (half_width + depth) * float(steep[axis]), nodes)
                    for depth in DEPTHS
                ]
                contrast = np.median(np.stack(beside), axis=0)
                parts = _divided(_inked(contrast, dark), 1 / float(steep[1 - axis]))
                best = max(best, parts)
    return best


def _along(light: NDArray[np.float32], grid: Grid, axis: int, place: float, nodes: Array) -> Array:
    """(squares, SAMPLES) the light along a line of the grid beside a printed one; nan outside the picture."""
    squares = np.full((len(nodes), 2), place)
    squares[:, 1 - axis] = nodes
    points = grid.to_image(squares)
    fine = nodes[0] + np.arange(int(nodes[-1] - nodes[0]) * SAMPLES) / SAMPLES
    x, y = np.interp(fine, nodes, points[:, 0]), np.interp(fine, nodes, points[:, 1])
    column, row = np.floor(x).astype(np.intp), np.floor(y).astype(np.intp)
    inside = (column >= 0) & (row >= 0) & (column < light.shape[1] - 1) & (row < light.shape[0] - 1)
    column, row = np.where(inside, column, 0), np.where(inside, row, 0)
    right, down = x - column, y - row
    value = (1 - down) * ((1 - right) * light[row, column] + right * light[row, column + 1])
    value += down * ((1 - right) * light[row + 1, column] + right * light[row + 1, column + 1])
    return np.where(inside, value, np.nan).reshape(-1, SAMPLES)


def _divided(contrast: Array, square_px: float) -> int:
    """The finest even division of squares that stands out in most of them."""
    whole = contrast[np.isfinite(contrast).all(axis=1)]
    if len(whole) < MIN_SQUARES:
        return 1
    level = np.median(whole, axis=1, keepdims=True)
    share = whole / np.where(np.abs(level) > 1e-3, np.abs(level), np.inf) - np.sign(level)
    folded = np.median(share, axis=0)
    noise = 1.4826 * float(np.median(np.abs(share - folded))) / np.sqrt(len(whole))
    # Where no mark can be: the marks of any division stand at least a share of a part from there.
    for parts in PARTS:
        if square_px / parts < MIN_PART_PX:
            continue
        part = SAMPLES // parts
        k = np.arange(1, parts) * part
        gap = (folded[k - part // 2] + folded[(k + part // 2) % SAMPLES]) / 2
        if parts == 2:
            gap = (folded[SAMPLES // 4] + folded[3 * SAMPLES // 4]) / 2 * np.ones(1)
        slack = max(round(SAMPLES / square_px), 1)  # a mark's own place, to a pixel
        peak = np.max([folded[k + shift] for shift in range(-slack, slack + 1)], axis=0)
        mark = peak - gap
        if np.all(mark > max(MIN_MARK, NOISE_FACTOR * noise)):
            uneven = parts == 10 and mark[[1, 3, 5, 7]].mean() > ALIKE * mark[[0, 2, 6, 8]].mean()
            return 1 if uneven else parts
    return 1
