"""Blocks pieced in units: as a quilter looks for them, in two steps.

The boxes of a grid are filled first, each with a unit of one piece or of a few (``unit_boxes``), so that the counts
come out even; then each unit is turned. A search by corners lays a hundred small triangles this way and that before
it comes to the second square of two; here a pair of triangles is one thing from the start. Arrangements with the
most symmetry come first, and of those the ones whose equal units all lie alike.
"""

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.groups import Group, Shift
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.tiles import Places
from seamsurvey.block.unit_boxes import UnitBoxes
from seamsurvey.block.unit_grids import Box, Grid, even_lines, uneven_lines, widths
from seamsurvey.block.work import Work

_BOXES_S = 1.0  # of finding units, on even grids, and on others
_ROUNDING = 1e-6
_EVERY = (1, 2)  # rows that are alike: all, or every other one
_MOST_UNEVEN = 200  # grids of columns of several widths
_MOST_TRIED = 10_000  # boxes laid for each grid and group
_MOST_ARRANGED = 60  # arrangements of each grid and group
_MOST_ALIKE, _MOST_TURNED = 8, 32  # of one arrangement: with equal units alike, and with each turned by itself
_MOST_COMPARED = 1024  # of the latter

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Option:
    """A unit in a box and its images: ``ways`` by pose, each the numbers of all their tiles."""

    covers: int
    unit: int
    uses: tuple[int, ...]
    room: Floats  # of each kind at most so many that its boxes could take
    ways: dict[int, tuple[int, ...]]


def layouts_in_units(
    shapes: Shapes,
    places: Places,
    stock: Sequence[int],
    size: tuple[float, float],
    groups: Sequence[Group],
    work: Work,
) -> Iterator[tuple[int, ...]]:
    """Layouts of a rectangle (width, height mm), each as the numbers of its tiles in ``places``."""
    boxes = UnitBoxes(shapes, places, stock, work)
    with work.at_most(_BOXES_S):
        grids = [Grid(places, boxes, xs, ys) for xs, ys in even_lines(size, places.near)]
        for grid in grids:
            grid.look_for_units(work)
    if abs(size[0] - size[1]) <= places.near:
        with work.at_most(_BOXES_S):
            grids += _uneven(shapes, places, stock, boxes, size, work)
    grids = [grid for grid in grids if grid.units]
    regular = [
        *([(grid, _Regular(g.moves, closed=True)) for grid in grids] for g in groups if g.order > 1),
        list(_in_rows(grids)),
        *([(grid, _Regular((), closed=True)) for grid in grids if grid.even] for g in groups if g.order == 1),
    ]
    known: set[tuple[int, ...]] = set()
    left_s = max(0.0, work.limit_s - work.done_s)
    for k, ways in enumerate(regular):
        before = work.done_s
        with work.at_most(left_s / (len(regular) - k)):
            for grid, way in ways:
                if work.over():
                    break
                for numbers in _Arranging(grid, way, tuple(stock), work).layouts():
                    if work.over():
                        break
                    mark = tuple(sorted(places.tiles[number].place for number in numbers))
                    if mark not in known:
                        known.add(mark)
                        work.spend("arranged")
                        yield numbers
        left_s -= work.done_s - before


@dataclass(frozen=True)
class _Regular:
    """Moves that lay each unit again; ``closed``: they carry the block to itself, so that no image lies outside."""

    moves: tuple[Shift, ...]
    closed: bool


def _in_rows(grids: Sequence[Grid]) -> Iterator[tuple[Grid, _Regular]]:
    """Rows, or columns, that are all alike, or every other one."""
    for every, upright, grid in itertools.product(_EVERY, (True, False), grids):
        number, side = (grid.down, grid.ys) if upright else (grid.across, grid.xs)
        if grid.even and number > every:
            step = side[1] * every * (1j if upright else 1)
            moves = tuple(Shift(mirrored=False, turn=1 + 0j, by=k * step) for k in range(1, -(-number // every)))
            yield grid, _Regular(moves, closed=False)


def _uneven(
    shapes: Shapes, places: Places, stock: Sequence[int], boxes: UnitBoxes, size: tuple[float, float], work: Work
) -> Iterator[Grid]:
    """Grids of columns of several widths in which every card has a place."""
    wanted = {t for (t, _), number in zip(places.kinds, stock, strict=True) if number}
    lengths = widths(shapes, {t: n for (t, _), n in zip(places.kinds, stock, strict=True)}, places.near)
    for lines in itertools.islice(uneven_lines(size[0], lengths, places.near), _MOST_UNEVEN):
        if work.over():
            return
        grid = Grid(places, boxes, lines, lines)
        grid.look_for_units(work)
        if grid.used == wanted:
            yield grid


class _Arranging:
    """The search of one grid for what is regular in one way."""

    def __init__(self, grid: Grid, regular: _Regular, stock: tuple[int, ...], work: Work) -> None:
        self._grid, self._regular, self._stock, self._work = grid, regular, stock, work
        self._options: dict[Box, list[_Option]] = {}
        self._failed: set[tuple[int, tuple[int, ...]]] = set()
        self._tried = 0
        self._room = self._room_of_cells()

    def _room_of_cells(self) -> Floats:
        """(cells, kinds): the pieces of each kind that a cell takes at most: its share of any box it lies in."""
        grid, kind = self._grid, self._grid.places.kind
        room = np.zeros((grid.down, grid.across, len(self._stock)))
        most: dict[int, Floats] = {}
        for wide, tall in grid.sizes:
            for left, low in itertools.product(range(grid.across - wide + 1), range(grid.down - tall + 1)):
                for number in grid.of_box((left, low, wide, tall)):
                    if number not in most:
                        uses = np.zeros((len(grid.units[number].poses), len(self._stock)))
                        for pose, laid in enumerate(grid.units[number].poses):
                            for face, _ in laid:
                                uses[pose, kind[face.index]] += 1 / (wide * tall)
                        most[number] = uses.max(axis=0)
                    part = room[low : low + tall, left : left + wide]
                    np.maximum(part, most[number], out=part)
        return room.reshape(grid.across * grid.down, len(self._stock))

    def layouts(self) -> Iterator[tuple[int, ...]]:
        """Each as the numbers of its tiles."""
        arranged = []
        for options in itertools.islice(self._run(0, self._stock, self._room.sum(axis=0), ()), _MOST_ARRANGED):
            arranged.append(options)
            yield from _alike(options)
        for options in arranged:
            yield from _turned(options)

    def _run(
        self, covered: int, stock: tuple[int, ...], room: Floats, chosen: tuple[_Option, ...]
    ) -> Iterator[tuple[_Option, ...]]:
        """Boxes with units that cover the grid and take the stock, from the first open cell on."""
        grid = self._grid
        cells = grid.across * grid.down
        if covered == (1 << cells) - 1:
            if not any(stock):
                yield chosen
            return
        if (covered, stock) in self._failed:
            return
        any_found = False
        first = (~covered & (covered + 1)).bit_length() - 1
        left, low = first % grid.across, first // grid.across
        for wide, tall in grid.sizes:
            if left + wide > grid.across or low + tall > grid.down:
                continue
            for option in self._at((left, low, wide, tall)):
                if self._tried >= _MOST_TRIED or self._work.over():
                    return
                self._tried += 1
                self._work.spend("boxed")
                if option.covers & covered or any(a > b for a, b in zip(option.uses, stock, strict=True)):
                    continue
                rest = tuple(b - a for a, b in zip(option.uses, stock, strict=True))
                left_room = room - option.room
                if (left_room < np.array(rest) - _ROUNDING).any():
                    continue
                for found in self._run(covered | option.covers, rest, left_room, (*chosen, option)):
                    any_found = True
                    yield found
        if not any_found and self._tried < _MOST_TRIED:
            self._failed.add((covered, stock))

    def _at(self, box: Box) -> list[_Option]:
        """What may lie in a box, with its images."""
        if box not in self._options:
            self._options[box] = list(self._made(box))
        return self._options[box]

    def _made(self, box: Box) -> Iterator[_Option]:
        keeping: list[Shift] = []
        covers = self._mask(box)
        laying: list[Shift] = []
        for move in self._regular.moves:
            image = self._image(box, move)
            if image is None:
                if self._regular.closed:
                    return
                continue
            laying.append(move)
            if image == box:
                keeping.append(move)
            elif self._mask(image) & self._mask(box):
                return
            covers |= self._mask(image)
        if covers.bit_count() % (box[2] * box[3]):
            return
        grid, places = self._grid, self._grid.places
        by = complex(grid.xs[box[0]], grid.ys[box[1]])
        room = self._room[[k for k in range(len(self._room)) if covers >> k & 1]].sum(axis=0)
        for number in grid.of_box(box):
            by_uses: dict[tuple[int, ...], dict[int, tuple[int, ...]]] = {}
            for pose, laid in enumerate(grid.units[number].poses):
                tiles = [places.tile(face, [z + by for z in corners]) for face, corners in laid]
                own = [tile.number for tile in tiles]
                if len(places.kept(own, keeping)) < len(keeping):
                    continue
                every = {tile.place: tile for tile in tiles}
                for move in laying:
                    for tile in tiles:
                        image_ = places.image(tile, move)
                        every.setdefault(image_.place, image_)
                uses = [0] * len(self._stock)
                for tile in every.values():
                    uses[places.kind[tile.face.index]] += 1
                if all(a <= b for a, b in zip(uses, self._stock, strict=True)):
                    by_uses.setdefault(tuple(uses), {})[pose] = tuple(tile.number for tile in every.values())
            for taken, ways in by_uses.items():
                yield _Option(covers, number, taken, room, ways)

    def _image(self, box: Box, move: Shift) -> Box | None:
        """Where a move brings a box; None where that is no box of the grid."""
        left, low, wide, tall = box
        xs, ys, near = self._grid.xs, self._grid.ys, 4 * self._grid.places.near
        a, b = (move(complex(xs[i], ys[j])) for i, j in ((left, low), (left + wide, low + tall)))
        across = [_line(xs, x, near) for x in sorted((a.real, b.real))]
        down = [_line(ys, y, near) for y in sorted((a.imag, b.imag))]
        if min(*across, *down) < 0:
            return None
        return across[0], down[0], across[1] - across[0], down[1] - down[0]

    def _mask(self, box: Box) -> int:
        left, low, wide, tall = box
        row = ((1 << wide) - 1) << left
        return sum(row << (y * self._grid.across) for y in range(low, low + tall))


def _line(lines: Sequence[float], at: float, near: float) -> int:
    return next((k for k, line in enumerate(lines) if abs(line - at) <= near), -1)


def _alike(options: Sequence[_Option]) -> Iterator[tuple[int, ...]]:
    """An arrangement with equal units turned alike."""
    kinds = sorted({option.unit for option in options})
    poses = [sorted({pose for o in options if o.unit == kind for pose in o.ways}) for kind in kinds]
    for chosen in itertools.islice(itertools.product(*poses), _MOST_ALIKE):
        pose = dict(zip(kinds, chosen, strict=True))
        yield _numbers(option.ways.get(pose[option.unit], next(iter(option.ways.values()))) for option in options)


def _turned(options: Sequence[_Option]) -> Iterator[tuple[int, ...]]:
    """An arrangement with each unit turned by itself; those with the fewest ways of lying."""
    some = itertools.islice(itertools.product(*(option.ways for option in options)), _MOST_COMPARED)
    fewest = sorted(some, key=lambda ways: len({(o.unit, way) for o, way in zip(options, ways, strict=True)}))
    for each in fewest[:_MOST_TURNED]:
        yield _numbers(option.ways[way] for option, way in zip(options, each, strict=True))


def _numbers(ways: Iterable[tuple[int, ...]]) -> tuple[int, ...]:
    return tuple(itertools.chain.from_iterable(ways))
