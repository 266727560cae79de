"""Pieces at their places, each place known by a number: which points it covers, and what its images are.

Two places are one when template, face, middle and turn agree within a tolerance; a place that is reached by another
way is a tile of its own where errors have carried it off. What a piece covers is a set of
sample points, the bits of an int, so that whether pieces overlap is one operation; points within the tolerance of
a piece's edges are nobody's.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamsurvey.block.groups import Group, Shift
from seamsurvey.block.opening import STRAIGHT, Loop, loop_of
from seamsurvey.block.shapes import Face, Shapes
from seamsurvey.block.sums import Sums

_POINTS = 24  # sample points in the smallest piece, about
_MOST_POINTS = 3000
_SAME_TURN = 0.12  # radians
# Shares of the tolerance: what is laid by two ways round drifts apart by less than the first in one step, and by
# less than the second in all; other places rarely lie so near.
_SAME_TILE, _ONE_PLACE = 0.4, 1.6


@dataclass(frozen=True, eq=False)
class Tile:
    """A piece at a place: ``corners`` in the order of its face's, and as a loop.

    Tiles of one ``place`` are one but for what errors add up to on the ways by which they were laid.
    """

    number: int
    place: int
    face: Face
    corners: tuple[complex, ...]
    loop: Loop
    middle: complex
    covers: int


@dataclass(frozen=True, eq=False)
class Orbit:
    """A tile with its images under a group; ``uses`` are (kind, number), see ``Places.kind``."""

    tiles: tuple[Tile, ...]
    covers: int
    uses: tuple[tuple[int, int], ...]


def left_over(stock: Sequence[int], orbit: Orbit) -> tuple[int, ...]:
    """What is left of each kind when an orbit is laid."""
    left = list(stock)
    for kind, number in orbit.uses:
        left[kind] -= number
    return tuple(left)


class Places:
    """All places met so far in one outline (corners complex mm, counter-clockwise)."""

    def __init__(
        self,
        shapes: Shapes,
        used: Sequence[int],
        outline: Sequence[complex],
        near: float,
        *,
        by_face: Sequence[bool],
    ) -> None:
        self.shapes, self.outline, self.near = shapes, tuple(outline), near
        self.faces = [face for face in shapes.faces if face.template in used]
        # What is counted together: both faces of a template, or each face where it is known how many are reversed.
        self.kind: dict[int, int] = {}
        kinds: dict[tuple[int, bool], int] = {}
        for face in self.faces:
            key = face.template, face.reversed and by_face[face.template]
            self.kind[face.index] = kinds.setdefault(key, len(kinds))
        self.kinds = list(kinds)
        self._points = self._sampled()
        self._across = np.ascontiguousarray(self._points.real)
        self._by_place: dict[tuple[int, int, int], list[Tile]] = {}
        self._bin = 4 * near
        self.tiles: list[Tile] = []
        self._places = 0
        self._images: dict[Shift, dict[int, Tile]] = {}  # by move and number
        self._sides = self._half_planes()
        longest = max(abs(a - b) for a in self.outline for b in self.outline)
        self.angle_sums = Sums((a for f in self.faces for a in f.angles), 2 * math.pi, STRAIGHT)
        self.length_sums = Sums((e for f in self.faces for e in f.lengths), longest, near)

    def stock(self, counts: Sequence[tuple[int, int | None]]) -> tuple[int, ...]:
        """How many there are of each of ``kinds``, of counts that are all, and how many of those reversed."""
        stock = []
        for t, over in self.kinds:
            count, reversed_ = counts[t]
            if reversed_ is None or self.shapes.mirrored[t]:
                stock.append(count)
            else:
                stock.append(reversed_ if over else count - reversed_)
        return tuple(stock)

    def _sampled(self) -> np.ndarray:
        ring = np.array(self.outline)
        low, high = complex(ring.real.min(), ring.imag.min()), complex(ring.real.max(), ring.imag.max())
        least = min(face.area for face in self.faces)
        step = max(math.sqrt(least / _POINTS), math.sqrt((high - low).real * (high - low).imag / _MOST_POINTS))
        rng = np.random.default_rng(7)
        x = np.arange(low.real + step / 2, high.real, step)
        y = np.arange(low.imag + step / 2, high.imag, step)
        grid = (x[None, :] + 1j * y[:, None]).ravel()
        jitter = step * 0.45
        grid = grid + rng.uniform(-jitter, jitter, len(grid)) + 1j * rng.uniform(-jitter, jitter, len(grid))
        held = grid[_within(ring, grid, self.near)]
        return np.asarray(held[np.argsort(held.real)])

    def _half_planes(self) -> list[tuple[complex, complex]]:
        ring = self.outline
        return [(a, ((b - a) / abs(b - a)).conjugate()) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)]

    def inside(self, corners: Sequence[complex]) -> bool:
        """Whether a piece keeps within the outline, which is convex."""
        least = -1.5 * self.near
        return all(((z - a) * turn).imag >= least for a, turn in self._sides for z in corners)

    def tile(self, face: Face, corners: Sequence[complex]) -> Tile:
        """The tile of a face with its corners there; the one that is known at that place already, if any."""
        middle = sum(corners) / len(corners)
        k, n = face.index, self._bin
        x, y = middle.real / n, middle.imag / n
        fx, fy = math.floor(x), math.floor(y)
        turns = self.shapes.turns[face.template]
        spoke = self._spoke(face, corners, turns)
        sx = (fx, fx + 1) if x - fx > 0.5 else (fx, fx - 1)
        sy = (fy, fy + 1) if y - fy > 0.5 else (fy, fy - 1)
        place = -1
        for bx in sx:
            for by in sy:
                for tile in self._by_place.get((k, bx, by), ()):
                    away = abs(tile.middle - middle)
                    if away <= _ONE_PLACE * self.near and (
                        abs(self._spoke(face, tile.corners, turns) - spoke) <= _SAME_TURN * turns
                    ):
                        if away <= _SAME_TILE * self.near:
                            return tile
                        place = tile.place
        if place < 0:
            place, self._places = self._places, self._places + 1
        covers = self._covered(np.array(corners))
        tile = Tile(len(self.tiles), place, face, tuple(corners), loop_of(corners), middle, covers)
        self.tiles.append(tile)
        self._by_place.setdefault((k, fx, fy), []).append(tile)
        return tile

    def _covered(self, corners: np.ndarray) -> int:
        """The sample points within a piece, as bits."""
        first, last = np.searchsorted(self._across, [corners.real.min(), corners.real.max()])
        up = self._points.imag[first:last]
        near = np.flatnonzero((up >= corners.imag.min()) & (up <= corners.imag.max()))
        held = np.zeros(last - first, bool)
        held[near] = _within(corners, self._points[first:last][near], self.near)
        bits = int.from_bytes(np.packbits(held, bitorder="little").tobytes(), "little")
        return bits << int(first)

    @staticmethod
    def _spoke(face: Face, corners: Sequence[complex], turns: int) -> complex:
        """A unit that tells how the face is turned, up to its own turns."""
        along = (corners[1] - corners[0]) / (face.corners[1] - face.corners[0])
        return (along / abs(along)) ** turns

    def image(self, tile: Tile, move: Shift) -> Tile:
        """The tile where a move brings a tile; mirrored, its other face shows."""
        return self._image_among(self._images.setdefault(move, {}), tile, move)

    def _image_among(self, known: dict[int, Tile], tile: Tile, move: Shift) -> Tile:
        """The image of a tile; ``known`` are those of this move."""
        found = known.get(tile.number)
        if found is None:
            moved = [move(z) for z in tile.corners]
            face = tile.face
            if move.mirrored:
                ring = [moved[0], *moved[:0:-1]]
                face = self.shapes.face(face.template, not face.reversed)
                if self.shapes.mirrored[face.template]:
                    start = len(ring) - self.shapes.flips[face.template]
                    ring = ring[start:] + ring[:start]
                moved = ring
            known[tile.number] = found = self.tile(face, moved)
        return found

    def _places_of(self, numbers: Sequence[int], move: Shift) -> list[int]:
        """The places to which a move brings tiles."""
        known = self._images.setdefault(move, {})
        return [self._image_among(known, self.tiles[k], move).place for k in numbers]

    def orbit(self, tile: Tile, group: Group) -> Orbit | None:
        """A tile with its images; None where two of them overlap."""
        tiles = {tile.number: tile}
        for move in group.moves:
            image = self.image(tile, move)
            tiles[image.number] = image
        covers = 0
        uses: dict[int, int] = {}
        for one in tiles.values():
            if covers & one.covers:
                return None
            covers |= one.covers
            kind = self.kind[one.face.index]
            uses[kind] = uses.get(kind, 0) + 1
        return Orbit(tuple(tiles.values()), covers, tuple(uses.items()))

    def canonical(self, numbers: Sequence[int], moves: Sequence[Shift]) -> tuple[int, ...]:
        """The places of a layout's tiles as its move has them that comes first: equal for what is one layout."""
        return min(tuple(sorted(self._places_of(numbers, move))) for move in moves)

    def kept(self, numbers: Sequence[int], moves: Sequence[Shift]) -> list[Shift]:
        """The moves that carry a layout to itself."""
        own = {self.tiles[k].place for k in numbers}
        return [move for move in moves if own.issuperset(self._places_of(numbers, move))]


def _within(ring: np.ndarray, points: np.ndarray, near: float) -> np.ndarray:
    """(m,) whether points lie inside a polygon (n,), by more than ``near``."""
    if not len(points):
        return np.zeros(0, bool)
    a, b = np.roll(ring, 1)[:, None], ring[:, None]
    along = b - a
    length = np.abs(along)
    local = (points - a) * (along.conj() / length)
    on_edge = (np.abs(local.imag) <= near) & (local.real >= -near) & (local.real <= length + near)
    crosses = (a.imag > points.imag) != (b.imag > points.imag)
    rise = np.where(b.imag == a.imag, 1e-300, b.imag - a.imag)
    at = a.real + (points.imag - a.imag) * ((b.real - a.real) / rise)
    odd = (crosses & (points.real < at)).sum(axis=0) % 2 == 1
    return np.asarray(odd & ~on_edge.any(axis=0))
