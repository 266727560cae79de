"""A section larger than a page, printed as tiles that overlap and are glued along cut lines."""

import math
from collections.abc import Sequence

import attrs
import numpy as np
import shapely
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Array, Block, Section
from seamsurvey.sheets.drawing import INK, QUIET, Line, Mark, Pen, Text, box, placed, polygon, segment
from seamsurvey.sheets.labels import inside
from seamsurvey.sheets.page import Region
from seamsurvey.sheets.section_figure import Figure, piece_label, printed, section_figure
from seamsurvey.sheets.type import cap_mm

OVERLAP_MM = 12.0
STRIP_MM = 11.0  # above the tile: its name and the map
CROSS_MM = 3.0  # half a registration cross

_GLUE = Pen(0.25, QUIET, (6.0, 1.2, 1.0, 1.2))
_CROSS = Pen(0.18)
_WORDS_PT = 7.5


@frozen(kw_only=True)
class Tile:
    """One page of a tiled section: its marks, already in the page frame."""

    name: str  # "A 1/6"
    marks: tuple[Mark, ...]


@frozen
class _Grid:
    """Windows of ``width`` × ``height`` from ``x``, ``y`` (the figure's lower left), rows from the top."""

    x: float
    y: float
    width: float
    height: float
    columns: int
    rows: int

    def window(self, row: int, column: int) -> Region:
        x = self.x + column * (self.width - OVERLAP_MM)
        y = self.y + (self.rows - 1 - row) * (self.height - OVERLAP_MM)
        return Region(x, y, self.width, self.height)


def tiles(section: Section, block: Block, region: Region, *, allowance_mm: float, caption: str) -> list[Tile]:
    """The tiles of a section in rows from the top, in the turn that takes the fewest."""
    strip, region = region, Region(region.x, region.y, region.width, region.height - STRIP_MM)
    upright, turned = (
        section_figure(section, block, turn_deg=turn, allowance_mm=allowance_mm, caption=caption)
        for turn in (0, 90)
    )
    figure, turn, grid = min(
        ((f, turn, _grid(f, region)) for f, turn in ((upright, 0), (turned, 90))),
        key=lambda choice: choice[2].rows * choice[2].columns,
    )
    lines = [mark for mark in figure.marks if isinstance(mark, Line) and mark.layer != "labels"]
    pieces = [(printed(piece.outline, turn), piece_label(piece, block)) for piece in section.pieces]
    result = []
    total = grid.rows * grid.columns
    # Tiles that hold nothing of the section (an L's empty corner) are not printed, but keep their number.
    for row in range(grid.rows):
        for column in range(grid.columns):
            window = grid.window(row, column)
            pane = shapely.box(window.x, window.y, window.x + window.width, window.y + window.height)
            if not pane.intersects(figure.footprint):
                continue
            number = row * grid.columns + column + 1
            # Labels stay clear of the lines the tiles are glued on.
            core = pane.buffer(-OVERLAP_MM / 2, join_style="mitre")
            marks: list[Mark] = [part for line in lines for part in _clipped(line, pane)]
            for outline, label in pieces:
                for part in _parts(shapely.Polygon(outline).intersection(core)):
                    marks += inside(np.asarray(part.exterior.coords)[:-1], label) or []
            name = f"{section.name} {number}/{total}"
            marks += _glue(grid, row, column, section.name, total)
            onto = (region.x - window.x, region.y - window.y)
            result.append(
                Tile(
                    name=name,
                    marks=(
                        *placed(marks, 0, onto),
                        Text(
                            at=(strip.x, strip.y + strip.height - 4),
                            text=f"{caption}: tile {name}",
                            size_pt=9,
                            weight="bold",
                        ),
                        *_map(grid, row, column, strip),
                    ),
                )
            )
    return result


def _grid(figure: Figure, region: Region) -> _Grid:
    """The fewest windows that cover the figure, centred over it."""
    x0, y0, x1, y1 = figure.footprint.bounds
    columns = max(1, math.ceil((x1 - x0 - OVERLAP_MM) / (region.width - OVERLAP_MM)))
    rows = max(1, math.ceil((y1 - y0 - OVERLAP_MM) / (region.height - OVERLAP_MM)))
    wide = columns * (region.width - OVERLAP_MM) + OVERLAP_MM
    high = rows * (region.height - OVERLAP_MM) + OVERLAP_MM
    x, y = (x0 + x1 - wide) / 2, (y0 + y1 - high) / 2
    return _Grid(x, y, region.width, region.height, columns, rows)


def _clipped(line: Line, pane: shapely.Polygon) -> list[Line]:
    """The parts of a line inside a window, as open lines; a closed line wholly inside stays closed."""
    points = np.vstack([line.points, line.points[:1]]) if line.closed else line.points
    path = shapely.LineString(points)
    if pane.contains(path):
        return [line]
    cut = path.intersection(pane)
    parts = shapely.line_merge(cut) if cut.geom_type == "MultiLineString" else cut
    return [
        attrs.evolve(line, points=np.asarray(part.coords), closed=False)
        for part in getattr(parts, "geoms", [parts])
        if part.geom_type == "LineString" and not part.is_empty
    ]


def _parts(shape: BaseGeometry) -> Sequence[shapely.Polygon]:
    return [part for part in getattr(shape, "geoms", [shape]) if part.geom_type == "Polygon" and not part.is_empty]


def _glue(grid: _Grid, row: int, column: int, section: str, total: int) -> list[Mark]:
    """The lines to cut or glue on, in the middle of each overlap, with crosses and the neighbour's name."""
    window, half = grid.window(row, column), OVERLAP_MM / 2
    left, right = window.x + half, window.x + window.width - half
    low, high = window.y + half, window.y + window.height - half
    number = row * grid.columns + column + 1
    marks: list[Mark] = []

    def line(start: Array, end: Array, neighbour: int, turn: float, outwards: Array) -> None:
        marks.append(segment(start, end, _GLUE, "tiles"))
        for share in (0.2, 0.8):
            marks.extend(_cross(start + (end - start) * share))
        # Beside the line, on the neighbour's side; a word that stands below or right of it needs its own height.
        below = outwards[1] < 0 or outwards[0] > 0
        at = (start + end) / 2 + outwards * (1.4 + (cap_mm(_WORDS_PT) if below else 0.0))
        marks.append(
            Text(
                at=(float(at[0]), float(at[1])), text=f"meets tile {section} {neighbour}/{total}",
                size_pt=_WORDS_PT, anchor="middle", turn_deg=turn, colour=QUIET, layer="tiles",
            )
        )  # fmt: skip

    ends = np.array([[window.x, window.y], [window.x + window.width, window.y + window.height]])
    if column > 0:
        line(np.array([left, ends[0, 1]]), np.array([left, ends[1, 1]]), number - 1, 90, np.array([-1.0, 0.0]))
    if column < grid.columns - 1:
        line(np.array([right, ends[0, 1]]), np.array([right, ends[1, 1]]), number + 1, 90, np.array([1.0, 0.0]))
    if row > 0:
        line(
            np.array([ends[0, 0], high]),
            np.array([ends[1, 0], high]),
            number - grid.columns,
            0,
            np.array([0.0, 1.0]),
        )
    if row < grid.rows - 1:
        line(
            np.array([ends[0, 0], low]),
            np.array([ends[1, 0], low]),
            number + grid.columns,
            0,
            np.array([0.0, -1.0]),
        )
    return marks


def _cross(at: Array) -> list[Mark]:
    x, y = at
    return [
        segment((x - CROSS_MM, y), (x + CROSS_MM, y), _CROSS, "tiles"),
        segment((x, y - CROSS_MM), (x, y + CROSS_MM), _CROSS, "tiles"),
    ]


def _map(grid: _Grid, row: int, column: int, region: Region) -> list[Mark]:
    """A tiny plan of all tiles in the head's right corner, this one filled."""
    cell = min(3.4, 9.0 / grid.rows)
    x0, top = region.x + region.width - grid.columns * cell, region.y + region.height
    return [
        polygon(
            box(x0 + c * cell, top - (r + 1) * cell, cell, cell),
            pen=Pen(0.18),
            fill=INK if (r, c) == (row, column) else "#ffffff",
            layer="map",
        )
        for r in range(grid.rows)
        for c in range(grid.columns)
    ]
