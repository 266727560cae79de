"""The units that a box of a grid can be: one piece, or the few that are sewn to a square or a rectangle.

A unit that falls into smaller ones along the grid is none of its own: those are found in smaller boxes. The most
symmetric come first, as with whole blocks.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from seamsurvey.block.fill import Budget, Filling
from seamsurvey.block.groups import groups, isometries
from seamsurvey.block.shapes import Face, Shapes
from seamsurvey.block.tiles import Places
from seamsurvey.block.work import Work

_STEPS = 80  # pieces laid for each group of one box
_MOST_UNITS = 12  # of one box, and of each group of it
_MOST_PIECES = 9  # of a unit

Laid = tuple[tuple[Face, tuple[complex, ...]], ...]
"""Pieces with their corners, mm, the box's lower left corner the origin."""


@dataclass(frozen=True, eq=False)
class Unit:
    """What fills a box: each way it can lie there that looks different."""

    poses: tuple[Laid, ...]

    def parts_at(self, lines: Sequence[float], near: float) -> bool:
        """Whether one of the upright lines at these distances from the box's left side parts its pieces."""
        spans = [(min(z.real for z in corners), max(z.real for z in corners)) for _, corners in self.poses[0]]
        return any(all(high <= x + near or low >= x - near for low, high in spans) for x in lines)

    def parts_level(self, lines: Sequence[float], near: float) -> bool:
        """The same for level lines."""
        spans = [(min(z.imag for z in corners), max(z.imag for z in corners)) for _, corners in self.poses[0]]
        return any(all(high <= y + near or low >= y - near for low, high in spans) for y in lines)

    @property
    def on_its_side(self) -> "Unit":
        """The unit turned by a quarter, in a box as wide as it was high."""
        height = max(z.imag for _, corners in self.poses[0] for z in corners)
        return Unit(
            tuple(
                tuple((face, tuple(1j * z + height for z in corners)) for face, corners in laid)
                for laid in self.poses
            )
        )


class UnitBoxes:
    """The units of boxes of every size asked for, worked out once each."""

    def __init__(self, shapes: Shapes, places: Places, stock: Sequence[int], work: Work) -> None:
        self._shapes, self._places, self._work = shapes, places, work
        self._stock = dict(zip(places.kinds, stock, strict=True))
        self._used = sorted({face.template for face in places.faces})
        self._by_face = [False] * len(shapes.names)
        for t, over in places.kinds:
            self._by_face[t] = self._by_face[t] or over
        self._known: dict[tuple[int, int, bool], list[Unit]] = {}

    def units(self, wide: float, tall: float, *, simple: bool) -> list[Unit]:
        """The units of a box, mm; where only ``simple`` ones are wanted, its symmetries are not gone through."""
        if tall > wide + self._places.near:
            return [unit.on_its_side for unit in self.units(tall, wide, simple=simple)]
        step = 4 * self._places.near
        key = round(wide / step), round(tall / step), simple
        if key not in self._known:
            self._known[key] = list(self._found(wide, tall, simple=simple))
        return self._known[key]

    def _found(self, wide: float, tall: float, *, simple: bool) -> Iterator[Unit]:
        near = self._places.near
        able = [t for t in self._used if self._shapes.areas[t] <= 1.02 * wide * tall]
        if not able or not self._places.length_sums.has(wide, near) or not self._places.length_sums.has(tall, near):
            return
        ring = (0j, complex(wide, 0), complex(wide, tall), complex(0, tall))
        cell = Places(self._shapes, able, ring, near, by_face=self._by_face)
        stock = tuple(min(self._stock.get(kind, 0), _MOST_PIECES) for kind in cell.kinds)
        moves = isometries(ring, near)
        known: set[tuple[int, ...]] = set()
        for group in groups(moves)[-1 if simple else 0 :]:
            filling = Filling(cell, group, stock, Budget(_STEPS), self._work, whole=False)
            for numbers in itertools.islice(filling.run(), _MOST_UNITS):
                if numbers is None or len(known) >= _MOST_UNITS:
                    break
                mark = cell.canonical(numbers, moves)
                if mark in known or len(numbers) > _MOST_PIECES:
                    continue
                known.add(mark)
                poses: dict[tuple[int, ...], Laid] = {}
                for move in moves:
                    laid = [cell.image(cell.tiles[k], move) for k in numbers]
                    poses.setdefault(
                        tuple(sorted(tile.place for tile in laid)),
                        tuple((tile.face, tile.corners) for tile in laid),
                    )
                yield Unit(tuple(poses.values()))
