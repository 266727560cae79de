"""Grids that a block may be drawn on, and the units that boxes of their cells can be.

A grid is the lines of squared paper: even, or with columns that the cards' edges are as wide as, the same from both
sides, and rows like them.
"""

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

from seamsurvey.block.shapes import Shapes
from seamsurvey.block.tiles import Places
from seamsurvey.block.unit_boxes import Unit, UnitBoxes
from seamsurvey.block.work import Work

_MOST_ACROSS, _MOST_CELLS = 9, 100
_LONGEST = 5, 1  # cells along a unit's side, of an even grid and of another
_MOST_WIDTHS = 8  # different columns' widths that are tried
_SQUARE = 0.03  # radians by which a right angle may be off

Box = tuple[int, int, int, int]
"""Left, low, columns, rows: in cells."""


def even_lines(size: tuple[float, float], near: float) -> Iterator[tuple[list[float], list[float]]]:
    """Upright and level lines, mm from the lower left corner, of grids of square cells."""
    for across in range(1, _MOST_ACROSS + 1):
        cell = size[0] / across
        down = round(size[1] / cell)
        if down and abs(down * cell - size[1]) <= 2 * near and 1 < across * down <= _MOST_CELLS:
            yield [cell * k for k in range(across + 1)], [size[1] * k / down for k in range(down + 1)]


def widths(shapes: Shapes, stock: Mapping[int, int], near: float) -> list[float]:
    """The lengths, mm, that columns may be wide: of edges that end in a right angle, the commonest first."""
    found: dict[float, int] = {}
    for face in shapes.faces:
        if face.reversed or not stock.get(face.template):
            continue
        square = [abs(angle - math.pi / 2) < _SQUARE for angle in face.angles]
        for k, length in enumerate(face.lengths):
            if square[k] or square[(k + 1) % len(square)]:
                like = next((other for other in found if abs(other - length) <= 2 * near), length)
                found[like] = found.get(like, 0) + stock[face.template]
    return sorted(found, key=lambda length: -found[length])[:_MOST_WIDTHS]


def uneven_lines(side: float, able: Sequence[float], near: float) -> Iterator[list[float]]:
    """Lines of a square whose columns are as wide as ``able`` says, the same from both sides; few columns first."""
    for across in range(3, _MOST_ACROSS + 1):
        for half in itertools.combinations_with_replacement(able, across // 2):
            rest = side - 2 * sum(half)
            middles = (
                [w for w in able if abs(w - rest) <= 2 * near] if across % 2 else [0.0] * (abs(rest) <= 2 * near)
            )
            for middle in middles:
                widths = [*half, *([middle] if across % 2 else []), *half[::-1]]
                if max(widths) - min(widths) > 2 * near:
                    scale = side / sum(widths)
                    yield [0.0, *(scale * x for x in itertools.accumulate(widths))]


class Grid:
    """Upright lines ``xs`` and level lines ``ys``, mm from the lower left, and the units that its boxes can be."""

    def __init__(self, places: Places, boxes: UnitBoxes, xs: Sequence[float], ys: Sequence[float]) -> None:
        self.places, self.xs, self.ys = places, xs, ys
        self.across, self.down = len(xs) - 1, len(ys) - 1
        self.units: list[Unit] = []
        self._boxes = boxes
        self._near = 2 * places.near
        steps = [b - a for line in (xs, ys) for a, b in itertools.pairwise(line)]
        self.even = max(steps) - min(steps) <= self._near
        self._known: dict[tuple[int, ...], list[int]] = {}
        longest = _LONGEST[not self.even]
        self.sizes = sorted(
            itertools.product(range(1, min(longest, self.across) + 1), range(1, min(longest, self.down) + 1)),
            key=lambda size: -size[0] * size[1],
        )

    def look_for_units(self, work: Work) -> None:
        """Work out the units of all its boxes, the small ones first."""
        for wide, tall in reversed(self.sizes):
            for left, low in itertools.product(range(self.across - wide + 1), range(self.down - tall + 1)):
                if work.over():
                    return
                self.of_box((left, low, wide, tall))
                if self.even:
                    break

    @property
    def used(self) -> set[int]:
        """The templates in any of its units."""
        return {face.template for unit in self.units for face, _ in unit.poses[0]}

    def of_box(self, box: Box) -> list[int]:
        """The numbers of the units that can lie in a box: those that fall into no smaller boxes."""
        left, low, wide, tall = box
        xs = [x - self.xs[left] for x in self.xs[left + 1 : left + wide + 1]]
        ys = [y - self.ys[low] for y in self.ys[low + 1 : low + tall + 1]]
        key = len(xs), *(round(z / self._near / 2) for z in (*xs, *ys))
        if key not in self._known:
            self._known[key] = found = []
            if wide * tall < self.across * self.down:
                for unit in self._boxes.units(xs[-1], ys[-1], simple=not self.even):
                    if not unit.parts_at(xs[:-1], self._near) and not unit.parts_level(ys[:-1], self._near):
                        found.append(len(self.units))
                        self.units.append(unit)
        return self._known[key]
