"""Laying figures on pages: each at the first free place of the first page that has one, large ones first.

Free places are found on a raster: where the figure's cells meet no taken cell, for all places at once by a
correlation. Turns by quarters are tried; of the free places the one nearest the top, then the left, is taken.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from attrs import define, field, frozen
from numpy.typing import NDArray
from scipy.signal import correlate

from seamsurvey.sheets.page import Region
from seamsurvey.sheets.section_figure import Figure

CELL_MM = 2.0
GAP_MM = 3.0  # white between two figures: room for scissors
TURNS = (0, 90, 180, 270)

_Cells = NDArray[np.bool_]


@frozen
class Laid:
    """A figure and the shift (mm) that puts it on its page."""

    figure: Figure
    shift: tuple[float, float]


@define
class _Page:
    taken: _Cells
    laid: list[Laid] = field(factory=list)


def fits(figure: Figure, region: Region) -> bool:
    """Whether the figure has room in the region at all, as it is turned."""
    needed, free = _raster(figure), _raster_of(region)
    return bool(needed[0] <= free[0] and needed[1] <= free[1])


def _raster_of(region: Region) -> tuple[int, int]:
    """Rows and columns of a region and half a gap round it, so that a figure may touch the region's border."""
    return int((region.height + GAP_MM) // CELL_MM), int((region.width + GAP_MM) // CELL_MM)


def _raster(figure: Figure) -> tuple[int, int]:
    """Rows and columns a figure needs with half a gap round it."""
    x0, y0, x1, y1 = figure.footprint.bounds
    return math.ceil((y1 - y0 + GAP_MM) / CELL_MM), math.ceil((x1 - x0 + GAP_MM) / CELL_MM)


def lay(copies: Sequence[Mapping[int, Figure]], region: Region) -> list[list[Laid]]:
    """The pages, each a list of placed figures.

    Each copy is given as its figure at every turn (degrees) in which it fits the region. The same copies give
    the same pages.
    """
    shape = _raster_of(region)
    pages: list[_Page] = []
    order = sorted(range(len(copies)), key=lambda k: -min(f.footprint.area for f in copies[k].values()))
    masks: dict[int, _Cells] = {}
    for k in order:
        choices = [(figure, masks.setdefault(id(figure), _cells(figure))) for figure in copies[k].values()]
        if not any(_laid(page, choices, region) for page in pages):
            pages.append(_Page(np.zeros(shape, dtype=bool)))
            if not _laid(pages[-1], choices, region):
                raise ValueError(f"section {choices[0][0].name} has no room on an empty page")
    return [page.laid for page in pages]


def _laid(page: _Page, choices: Sequence[tuple[Figure, _Cells]], region: Region) -> bool:
    """Lay one of the turned figures on the page if any has room."""
    best: tuple[tuple[float, int, int], Figure, _Cells, int, int] | None = None
    for figure, cells in choices:
        if any(c > t for c, t in zip(cells.shape, page.taken.shape, strict=True)):
            continue
        overlap = correlate(page.taken.astype(np.float32), cells.astype(np.float32), mode="valid", method="fft")
        rows, columns = np.nonzero(overlap < 0.5)
        if not len(rows):
            continue
        row, column = int(rows[0]), int(columns[0])  # nonzero runs row by row: the topmost, then leftmost
        key = (row + cells.shape[0], row, column)
        if best is None or key < best[0]:
            best = (key, figure, cells, row, column)
    if best is None:
        return False
    _, figure, cells, row, column = best
    page.taken[row : row + cells.shape[0], column : column + cells.shape[1]] |= cells
    x0, _, _, y1 = figure.footprint.bounds
    shift = (region.x + column * CELL_MM - x0, region.y + region.height - row * CELL_MM - y1)
    page.laid.append(Laid(figure, shift))
    return True


def _cells(figure: Figure) -> _Cells:
    """(rows from the top, columns): the cells a figure needs with half a gap round it."""
    x0, _, _, y1 = figure.footprint.bounds
    needed = figure.footprint.buffer(GAP_MM / 2, join_style="mitre", mitre_limit=1.5)
    rows, columns = _raster(figure)
    left, top = np.meshgrid(
        x0 - GAP_MM / 2 + CELL_MM * np.arange(columns), y1 + GAP_MM / 2 - CELL_MM * np.arange(rows)
    )
    shapely.prepare(needed)
    return np.asarray(shapely.intersects(needed, shapely.box(left, top - CELL_MM, left + CELL_MM, top)))
