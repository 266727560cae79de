"""The table's own grid over a photo: straight and square on the table, bent in the picture by tilt and lens.

It runs along the first reference and through its first mark, so that an eye can check it against the reference.
"""

import math
from collections.abc import Iterator

import numpy as np
from attrs import frozen

from seamsurvey.model import Array, Plane
from seamsurvey.sheets.canvas import Canvas
from seamsurvey.units import INCH

GRID = "#005f73"

_FINE_MM, _PARTS = {"inch": INCH, "mm": 10.0}, {"inch": 2, "mm": 5}  # fine lines, and every so many a labelled one
FINE_SHARE, LABELLED_SHARE = 0.22, 0.6  # of their ink
_NODES = 80  # along a line: between two, no lens bends it by a canvas pixel
_MOST_LINES = 200  # of one direction: beyond, the table runs to the horizon
_AT_BORDER = 3.0  # heights of the type: a line that ends farther off has met another border
_MARGIN = 1.0  # heights of the type from the picture's border to a label


@frozen(eq=False)
class Grid:
    """A grid's lines in view, as polylines in canvas pixels.

    A labelled one has its distance from the first of them as text, and whether it stands upright on the table.
    """

    fine: list[Array]
    labelled: list[tuple[Array, str, bool]]
    text: str  # what the legend says of it

    @classmethod
    def of(cls, canvas: Canvas, plane: Plane, unit: str) -> "Grid | None":
        """The grid over a photo; ``unit`` is "inch" or "mm". None where the table runs to the horizon."""
        step, parts = _FINE_MM[unit], _PARTS[unit]
        origin, axes = _frame(plane)
        own = (plane.to_mm(canvas.back(_border(canvas.size))) - origin) @ axes.T
        if not np.isfinite(own).all():
            return None
        low, high = np.floor(own.min(axis=0) / step), np.ceil(own.max(axis=0) / step)
        if (high - low).max() > _MOST_LINES:
            return None
        first = np.ceil(low / parts) * parts  # lengths are counted from the first labelled line in view
        fine: list[Array] = []
        labelled: list[tuple[Array, str, bool]] = []
        for way in (0, 1):
            for number in np.arange(low[way], high[way] + 1):
                nodes = np.full((_NODES, 2), number * step)
                nodes[:, 1 - way] = np.linspace(low[1 - way], high[1 - way], _NODES) * step
                for run in _in_view(canvas.at(plane.to_px(nodes @ axes + origin)), canvas.size):
                    if number % parts:
                        fine.append(run)
                    else:
                        labelled.append((run, _text((number - first[way]) * step, unit), way == 0))
        each, every = ("inch", "2 inches") if unit == "inch" else ("10 mm", "50 mm")
        text = f"Grid: the table at the height of the cards' faces, a line each {each}, a heavy one every {every}."
        return cls(fine, labelled, text)

    def draw(self, canvas: Canvas) -> None:
        """Draw the lines, as a veil: what lies under them stays to be seen."""
        canvas.veil(self.fine, GRID, 1, FINE_SHARE)
        canvas.veil([run for run, _, _ in self.labelled], GRID, max(1, canvas.text_px // 14), LABELLED_SHARE)

    def label(self, canvas: Canvas) -> None:
        """Write the lengths at the lines' ends, where there is room."""
        for run, text, upright in self.labelled:
            _label(canvas, run, text, upright)


def _text(length_mm: float, unit: str) -> str:
    return f"{length_mm / INCH:.0f}″" if unit == "inch" else f"{length_mm:.0f}"


def _frame(plane: Plane) -> tuple[Array, Array]:
    """Where the grid begins (2,) mm, and its directions (2, 2), rows: rightwards and upwards, plane frame."""
    # Square to itself either way, so a reference that stands upright gives the same grid as one that lies.
    turn = (math.atan2(plane.axis[1], plane.axis[0]) + math.pi / 4) % (math.pi / 2) - math.pi / 4
    along, across = (math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))
    return _start(plane), np.array([along, across])


def _start(plane: Plane) -> Array:
    """(2,) mm: a ruler's first mark, a grid's or an outline's corner."""
    if not plane.references:
        return np.zeros(2)
    first = plane.references[0]
    return np.asarray(plane.to_mm((first.outline_px if len(first.spots_px) else first.marks_px)[:1])[0])


def _border(size: tuple[int, int]) -> Array:
    """(m, 2) canvas points all along the border."""
    width, height = size
    share = np.linspace(0.0, 1.0, 20)
    sides = [np.column_stack([share * (width - 1), np.full(20, y)]) for y in (0, height - 1)]
    sides += [np.column_stack([np.full(20, x), share * (height - 1)]) for x in (0, width - 1)]
    return np.concatenate(sides)


def _in_view(line: Array, size: tuple[int, int]) -> Iterator[Array]:
    """The runs of a line's nodes that the picture shows, with one more at either end."""
    width, height = size
    with np.errstate(invalid="ignore"):
        inside = (line >= 0).all(axis=1) & (line[:, 0] < width) & (line[:, 1] < height)
    places = np.flatnonzero(inside)
    for run in np.split(places, np.flatnonzero(np.diff(places) > 1) + 1):
        if len(run) > 1:
            yield line[max(run[0] - 1, 0) : run[-1] + 2]


def _label(canvas: Canvas, run: Array, text: str, upright: bool) -> None:
    """A label where a line meets the left border, or an upright one the lower; else the opposite border."""
    width, height = canvas.size
    margin = _MARGIN * canvas.text_px
    inside = run[(run >= margin).all(axis=1) & (run[:, 0] < width - margin) & (run[:, 1] < height - margin)]
    if not len(inside):
        return
    place = height - inside[:, 1] if upright else inside[:, 0]
    side = height if upright else width
    ends = [(int(np.argmin(place)), place.min()), (int(np.argmax(place)), side - place.max())]
    near = [(inside[end], 0.0) for end, off in ends if off < _AT_BORDER * canvas.text_px]
    canvas.label(text, round(canvas.text_px * 0.85), near, GRID)
