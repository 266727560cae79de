"""Laying outlines on pages: each at the first free place of the first page that has one.

Free places are found on a raster: where the outline's cells meet no taken cell, for all places at once by a
correlation. Several orders, corners to lay into, and ways to part what is too large are tried; the fewest pages
are kept.
"""

import functools
import itertools
import math
from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np
import shapely
from attrs import define, field, frozen
from numpy.typing import NDArray
from scipy import fft
from scipy.ndimage import binary_dilation
from shapely.geometry.base import BaseGeometry

from seamsurvey.sheets.page import Region

CELL_MM = 1.5
GAP_MM = 1.5  # white between two dashed lines: enough to cut them apart roughly
# Trials of one outline at one turn on one page, about a third of a millisecond each. A count, not a clock, so
# that the same job gives the same pages.
TRIALS = 4000
_BLAME = 1.25  # how much earlier an outline comes in the next try that found no room in this one

Turns = Mapping[float, BaseGeometry]  # an outline at every turn (degrees) it may be laid in
Way = Sequence[Turns]  # one outline, or the parts of one, all to be laid

_Cells = NDArray[np.bool_]
_RULES = ("top", "touching", "left")  # which of the free places is taken: the tidiest way first


@frozen
class Laid:
    """One outline on its page: of which item in which way which part; its turn, then its shift in mm."""

    item: int
    way: int
    part: int
    turn: float
    shift: tuple[float, float]


@frozen(eq=False)
class _Shape:
    """An outline at one turn: its cells, their transform, and how far it may go on the page."""

    turn: float
    cells: _Cells
    spectrum: NDArray[np.complex64]
    ring: NDArray[np.complex64]  # transform of the cells round it
    ring_count: int
    count: int  # of its cells
    left: float
    top: float
    last: tuple[int, int]  # the last row and column at which it still lies in the region


@define
class _Page:
    taken: _Cells
    spectrum: NDArray[np.complex64]
    around: NDArray[np.complex64]  # the same with the region's border taken too
    free: int
    laid: list[Laid] = field(factory=list)


@frozen
class _Piece:
    """One outline to lay in a try."""

    item: int
    way: int
    part: int
    choices: list[_Shape]


def fits(shape: BaseGeometry, region: Region) -> bool:
    """Whether the outline has room in the region as it is turned."""
    x0, y0, x1, y1 = shape.bounds
    return bool(x1 - x0 <= region.width + 1e-6 and y1 - y0 <= region.height + 1e-6)


def lay(
    items: Sequence[Sequence[Way]], region: Region, *, least: int = 1, trials: int = TRIALS
) -> list[list[Laid]]:
    """The pages, each a list of placed outlines.

    Each item is laid in one of its ways; equal items (the same object) in the same one. ``least`` is a number of
    pages below which none is possible: the search ends there. The same items give the same pages. ValueError when
    an outline has no room on an empty page.
    """
    raster = _Raster(region)
    made: dict[int, list[_Shape]] = {}

    def shapes(turns: Turns) -> list[_Shape]:
        if id(turns) not in made:
            made[id(turns)] = raster.shapes({t: shape for t, shape in turns.items() if fits(shape, region)})
        return made[id(turns)]

    blame: dict[tuple[int, int], float] = {}
    best: list[_Page] | None = None
    for ways, measure, rule in _tries(items):
        pieces = [
            _Piece(k, way, part, shapes(turns))
            for k, way in enumerate(ways)
            for part, turns in enumerate(items[k][way])
        ]
        if any(not piece.choices for piece in pieces):
            raise ValueError("an outline has no room on an empty page")
        weights = [measure(p.choices[0]) * blame.get((p.item, p.part), 1.0) for p in pieces]
        pages: list[_Page] = []
        for _, piece in sorted(zip(weights, pieces, strict=True), key=lambda pair: -pair[0]):
            trials -= len(piece.choices) * len(pages)
            if any(raster.put(page, piece, rule) for page in pages):
                continue
            if best is not None and len(pages) + 1 >= len(best):
                key = (piece.item, piece.part)
                blame[key] = blame.get(key, 1.0) * _BLAME
                break
            pages.append(raster.page())
            raster.put(pages[-1], piece, rule)
        else:
            best = pages
        if best is not None and (len(best) <= least or trials < 0):
            break
    return [page.laid for page in best or []]


def _tries(items: Sequence[Sequence[Way]]) -> Iterator[tuple[list[int], Callable[[_Shape], float], str]]:
    """Without end: the way of each item, the measure by which large ones come first, the rule for places."""
    kinds = {id(item): item for item in items}
    rng = np.random.default_rng(1)
    for attempt in itertools.count():
        first = attempt < 3 * len(_RULES)
        ways = {key: 0 if first else int(rng.integers(len(item))) for key, item in kinds.items()}
        yield (
            [ways[id(item)] for item in items],
            functools.partial(_measure, attempt % 3, rng=None if first else rng),
            _RULES[attempt // 3 % len(_RULES)],
        )


def _measure(kind: int, shape: _Shape, *, rng: np.random.Generator | None) -> float:
    """How large an outline counts: by area, by extent, or by both; with ``rng`` up to 60 % off."""
    extent = max(shape.cells.shape)
    size = float((shape.count, extent, shape.count * extent)[kind])
    return size * float(rng.uniform(0.4, 1.6)) if rng else size


def _bordered(taken: _Cells) -> _Cells:
    """The cells with a taken one all round."""
    return np.pad(taken, 1, constant_values=True)


class _Raster:
    """The region as cells, rows from the top; half a gap lies round it, so that an outline may touch its border."""

    def __init__(self, region: Region) -> None:
        self.region = region
        self.rows = math.ceil((region.height + GAP_MM) / CELL_MM)
        self.columns = math.ceil((region.width + GAP_MM) / CELL_MM)
        self.size = (fft.next_fast_len(self.rows + 2, real=True), fft.next_fast_len(self.columns + 2, real=True))

    def page(self) -> _Page:
        """An empty page."""
        taken = np.zeros((self.rows, self.columns), dtype=bool)
        return _Page(taken, self._spectrum(taken), self._spectrum(_bordered(taken)), taken.size)

    def shapes(self, turns: Turns) -> list[_Shape]:
        """An outline at its turns; of turns that take the same cells, the first."""
        found: dict[bytes, _Shape] = {}
        for turn, outline in turns.items():
            shape = self._shape(turn, outline)
            found.setdefault(bytes(shape.cells.shape[:1]) + shape.cells.tobytes(), shape)
        return list(found.values())

    def _shape(self, turn: float, outline: BaseGeometry) -> _Shape:
        """An outline with half a gap round it, as cells from its upper left."""
        x0, y0, x1, y1 = outline.bounds
        # A cell is needed when its middle is nearer than half a gap and half the cell's diagonal.
        needed = outline.buffer(GAP_MM / 2 + CELL_MM * math.sqrt(0.5), join_style="mitre", mitre_limit=1.5)
        rows = min(math.ceil((y1 - y0 + GAP_MM) / CELL_MM - 1e-9), self.rows)
        columns = min(math.ceil((x1 - x0 + GAP_MM) / CELL_MM - 1e-9), self.columns)
        x, y = np.meshgrid(
            x0 - GAP_MM / 2 + CELL_MM * (np.arange(columns) + 0.5),
            y1 + GAP_MM / 2 - CELL_MM * (np.arange(rows) + 0.5),
        )
        shapely.prepare(needed)
        cells = np.asarray(shapely.contains_xy(needed, x, y))
        last = (
            int((self.region.height - (y1 - y0)) / CELL_MM + 1e-6),
            int((self.region.width - (x1 - x0)) / CELL_MM + 1e-6),
        )
        ring = binary_dilation(np.pad(cells, 1)) & ~np.pad(cells, 1)
        return _Shape(
            turn, cells, np.conj(self._spectrum(cells)), np.conj(self._spectrum(ring)), int(ring.sum()),
            int(cells.sum()), x0, y1, last,
        )  # fmt: skip

    def put(self, page: _Page, piece: _Piece, rule: str) -> bool:
        """Lay the piece on the page at one of its turns, if any has room."""
        best: tuple[float, _Shape, int, int] | None = None
        for shape in piece.choices:
            if shape.count > page.free:
                continue
            # A circular correlation of the page's size is right wherever the outline does not wrap round.
            overlap = fft.irfft2(page.spectrum * shape.spectrum, s=self.size)
            rows, columns = np.nonzero(overlap[: shape.last[0] + 1, : shape.last[1] + 1] < 0.5)
            if not len(rows):
                continue
            keys = self._keys(page, shape, rows, columns, rule)
            k = int(np.argmin(keys))
            if best is None or keys[k] < best[0]:
                best = (float(keys[k]), shape, int(rows[k]), int(columns[k]))
        if best is None:
            return False
        _, shape, row, column = best
        high, wide = shape.cells.shape
        room = page.taken[row : row + high, column : column + wide]
        room |= shape.cells[: room.shape[0], : room.shape[1]]
        page.free = page.taken.size - int(page.taken.sum())
        page.spectrum = self._spectrum(page.taken)
        page.around = self._spectrum(_bordered(page.taken))
        shift = (
            self.region.x + column * CELL_MM - shape.left,
            self.region.y + self.region.height - row * CELL_MM - shape.top,
        )
        page.laid.append(Laid(piece.item, piece.way, piece.part, shape.turn, shift))
        return True

    def _keys(
        self, page: _Page, shape: _Shape, rows: NDArray[np.int_], columns: NDArray[np.int_], rule: str
    ) -> NDArray[np.float64]:
        """How little each free place is liked."""
        if rule == "touching":  # most of its border against others and the page's border
            met = np.round(fft.irfft2(page.around * shape.ring, s=self.size)[rows, columns])
            return np.asarray(1e-6 * (rows + columns) - met / shape.ring_count)
        if rule == "top":
            return np.asarray((rows + shape.cells.shape[0]) * 1e6 + rows * 1e3 + columns)
        return np.asarray((columns + shape.cells.shape[1]) * 1e6 + columns * 1e3 + rows)

    def _spectrum(self, cells: _Cells) -> NDArray[np.complex64]:
        return np.asarray(fft.rfft2(cells.astype(np.float32), s=self.size))
