"""Every layout of a set whose counts are known: outline after outline, the most symmetric layouts first.

A group of moves makes the search short, so each kind of group is searched to the end before the next; the search
without any goes over all that is left. Where one is cut short, the result says so.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.fill import Budget, Filling, Fullest
from seamsurvey.block.groups import Group, Shift, groups, isometries
from seamsurvey.block.in_units import layouts_in_units
from seamsurvey.block.laid_out import laid_out
from seamsurvey.block.outlines import Outline
from seamsurvey.block.repeated import repeated_layouts
from seamsurvey.block.rounds import round_layouts
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.sizes import Sized, sized_outlines
from seamsurvey.block.tiles import Places, Tile
from seamsurvey.block.work import Work

Counts = tuple[tuple[int, int | None], ...]
"""For each template how many there are, and how many of those reversed, None where either face will do."""

Say = Callable[[str], None]

_MOST_EACH = 250  # layouts of one outline and group; more are only said to be there
# Pieces laid in each group of each outline before the next is looked at, round after round.
SWEEPS = (2_000, 2_000, 4_000, 8_000, 16_000, 32_000, 64_000, 128_000)
_PROBE = 300  # where nothing fits at all, so many show it
# Seconds of work after which the layouts that were found are enough, by the most moves that carry one to itself: a
# block without symmetry is found late among many. With none, another way of looking is better after the last.
_ENOUGH_S = {4: 1.5, 2: 3.0, 1: 6.0}
_LONGEST_S = 8.0
_IN_UNITS_S, _LARGE_IN_UNITS_S = 2.0, 3.0  # of looking for layouts in units, in each outline
_MANY_PIECES = 40  # from which on they are looked for before anything else
_LATE = 2.0  # times that, and no other outline is begun
_LARGE = 4  # moves of a group that is searched as many times as far
_OTHERS = 4  # times less in outlines after the first that has layouts, and in no group where groups have some


def silent(_: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, eq=False)
class Filled:
    """A layout as its tiles in an outline; ``kept`` are the outline's moves that carry it to itself."""

    tiles: tuple[Tile, ...]
    sized: Sized
    kept: tuple[Shift, ...]
    near: float

    @property
    def layout(self) -> Layout | None:
        """With its vertices; None where its corners can't be told apart."""
        return laid_out(self.tiles, self.sized.outline, (self.sized.width, self.sized.height), self.near)


@dataclass
class Every:
    """What was found: ``layouts``, whether these are ``all``, how many pieces were laid, the fullest failure."""

    layouts: list[Filled] = field(default_factory=list)
    all: bool = True
    laid: int = 0
    fullest: Fullest = field(default_factory=Fullest)
    fullest_in: Sized | None = None
    fullest_places: Places | None = None


def every_layout(
    shapes: Shapes,
    counts: Counts,
    outlines: Sequence[Outline],
    near: float,
    work: Work,
    *,
    wanted: Callable[[Group], bool] = lambda _: True,
    units: bool = False,
    sweeps: Sequence[int] = SWEEPS,
    most_each: int = _MOST_EACH,
    say: Say = silent,
) -> Every:
    """Every layout of regular shapes (``classes.regular``), to a tolerance of ``near`` mm.

    ``wanted`` says which groups a layout must have; ``units``: those pieced in units are looked for apart. Each
    of ``sweeps`` is how many pieces are laid in each group before the next is looked at, ``most_each`` how many
    layouts are kept. ``say`` hears how far it has come.
    """
    sized, whole = sized_outlines(shapes, [count for count, _ in counts], outlines, near)
    searches: list[_Outlined] = []
    for one in sized:
        # Sizes that sums of edges put a little apart hold the same layouts.
        like = next((s for s in searches if s.sized.is_about(one, 4 * near)), None)
        searches.append(_Outlined(shapes, counts, one, near, work, wanted, most_each, like, units=units))
    began = work.done_s
    for steps in sweeps:
        found = Every(all=whole)
        for search in searches:
            late = work.done_s - began > _LATE * _enough_s(found)
            if late or (work.over() and search is not searches[0]):
                found.all = False
                break
            say(f"{len(found.layouts)} layouts so far, {sum(one.laid for one in searches):,} pieces laid")
            search.go_on(steps // _OTHERS if found.layouts else steps)
            found.layouts += search.layouts
            found.all &= search.finished
            found.laid += search.laid
            if search.fullest.covered > found.fullest.covered or found.fullest_in is None:
                found.fullest, found.fullest_in, found.fullest_places = (
                    search.fullest, search.sized, search.places,
                )  # fmt: skip
        if found.all or work.done_s - began > _enough_s(found) or work.over():
            break
    return found


def _enough_s(found: Every) -> float:
    most = max((len(filled.kept) for filled in found.layouts), default=0)
    return next((seconds for order, seconds in _ENOUGH_S.items() if most >= order), _LONGEST_S)


class _Alike:
    """Layouts that were kept, to tell one that is met again by another way, with what errors add up to on it.

    Pieces of different layouts lie farther apart than ``far`` mm, a good part of a piece's size.
    """

    def __init__(self, sized: Sized, far: float) -> None:
        self._middle = complex(sum(sized.corners)) / len(sized.corners)
        self._far = far
        self._spokes = np.zeros((0, 0))  # of each kept layout, card by card in order of length; more rows than used
        self._tiles: list[list[Tile]] = []
        self._middles: list[NDArray[np.complex128]] = []  # of their tiles

    def seen(self, places: Places, numbers: tuple[int, ...], moves: Sequence[Shift]) -> bool:
        """Whether the tiles make a layout that was kept, turned or mirrored perhaps; else it is kept."""
        tiles = sorted(
            (places.tiles[k] for k in numbers), key=lambda t: (t.face.template, abs(t.middle - self._middle))
        )
        spokes = np.array([abs(tile.middle - self._middle) for tile in tiles])
        kept = len(self._tiles)
        if kept == len(self._spokes):
            grown = np.zeros((2 * kept + 64, len(spokes)))
            grown[:kept] = self._spokes[:kept] if kept else 0
            self._spokes = grown
        # Lengths from the middle are the same whichever way a layout is turned: that rules out nearly all.
        like = np.flatnonzero(np.abs(self._spokes[:kept] - spokes).max(axis=1) <= self._far)
        middles = np.array([tile.middle for tile in tiles])
        if any(self._is(tiles, moves[m], self._tiles[k]) for k, m in self._may_be(like, middles, moves)):
            return True
        self._spokes[kept] = spokes
        self._tiles.append(tiles)
        self._middles.append(middles)
        return False

    def _may_be(
        self, like: NDArray[np.intp], middles: NDArray[np.complex128], moves: Sequence[Shift]
    ) -> list[tuple[int, int]]:
        """Which of the layouts ``like`` (by number), and which move, bring every tile's middle onto a middle."""
        if not len(like):
            return []
        others = np.array([self._middles[k] for k in like])
        moved = np.array([move.turn * (middles.conj() if move.mirrored else middles) + move.by for move in moves])
        able = np.ones((len(like), len(moves)), bool)
        for place in range(len(middles)):
            k, m = np.nonzero(able)
            if not len(k):
                break
            able[k, m] = (np.abs(others[k] - moved[m, place][:, None]) <= self._far).any(axis=1)
        return [(int(like[k]), int(m)) for k, m in np.argwhere(able)]

    def _is(self, tiles: Sequence[Tile], move: Shift, others: Sequence[Tile]) -> bool:
        return all(any(self._on(tile, move, other) for other in others) for tile in tiles)

    def _on(self, tile: Tile, move: Shift, other: Tile) -> bool:
        """Whether a move brings a tile onto another of its card, corner on corner."""
        if tile.face.template != other.face.template or abs(move(tile.middle) - other.middle) > self._far:
            return False
        return all(min(abs(move(z) - w) for w in other.corners) <= self._far for z in tile.corners)


class _Outlined:
    """The searches of all groups in one outline."""

    def __init__(
        self,
        shapes: Shapes,
        counts: Counts,
        sized: Sized,
        near: float,
        work: Work,
        wanted: Callable[[Group], bool],
        most_each: int,
        like: "_Outlined | None",
        *,
        units: bool,
    ) -> None:
        self._most_each, self._units = most_each, units
        self.sized, self.work, self.near = sized, work, near
        self.counts, self.shapes = counts, shapes
        used = [t for t, (count, _) in enumerate(counts) if count]
        by_face = [over is not None and not shapes.mirrored[t] for t, (_, over) in enumerate(counts)]
        self.places = Places(shapes, used, sized.corners, near, by_face=by_face)
        self._stock = self.places.stock(counts)
        self.moves = isometries(sized.corners, near)
        self._tried = False
        self.groups = [g for g in groups(self.moves) if wanted(g) and self._possible(g)]
        self._complete: set[int] = set()
        self._runs: dict[int, tuple[Filling, Iterator[tuple[int, ...] | None]]] = {}
        self._known: set[tuple[int, ...]] = set()
        far = 0.1 * math.sqrt(min(face.area for face in self.places.faces))
        self._alike: _Alike = like._alike if like else _Alike(sized, far)
        self.layouts: list[Filled] = []
        self.laid = 0
        self.fullest = Fullest()

    @property
    def finished(self) -> bool:
        """Whether no layout can have been missed: the smallest group was searched to the end, or every one."""
        whole = {number for number, group in enumerate(self.groups) if group.order == 1}
        return bool(whole & self._complete) or len(self._complete) == len(self.groups)

    def go_on(self, steps: int) -> None:
        """Search every group that was not finished, each up to so many pieces laid."""
        first = not self._tried
        if first:
            # Where nothing fits, that shows soon without any group, and then for all of them.
            self._tried = True
            if self.groups and self.groups[-1].order == 1:
                self._search(len(self.groups) - 1, _PROBE)
            if len(self.sized.corners) == 4:
                rounds = round_layouts(self.places, self._stock, self.sized.width, self.sized.height)
                for numbers in rounds:
                    self._keep(numbers)
                size = self.sized.width, self.sized.height
                for numbers in repeated_layouts(self.shapes, self.places, self._stock, *size, self.work):
                    self._keep(numbers)
        # A large set is seldom filled from a corner on; of a small one that soon shows all there is.
        large = sum(self._stock) > _MANY_PIECES
        if first and large:
            self._look_in_units(large=True)
            steps = steps // _OTHERS if self.layouts else steps
        for number, group in enumerate(self.groups):
            if not (self.finished or self.work.over()):
                self._search(number, self._share(group, steps))
        if first and not large and not self.finished:
            self._look_in_units(large=False)

    def _look_in_units(self, *, large: bool) -> None:
        if self._units and len(self.sized.corners) == 4:
            with self.work.at_most(_LARGE_IN_UNITS_S if large else _IN_UNITS_S):
                size = self.sized.width, self.sized.height
                for numbers in layouts_in_units(
                    self.shapes, self.places, self._stock, size, self.groups, self.work
                ):
                    self._keep(numbers)

    def _share(self, group: Group, steps: int) -> int:
        """How far a group is searched in one round: most blocks are of the larger ones, which are soon searched."""
        if group.order >= _LARGE:
            return _LARGE * steps
        return steps // _OTHERS if self.layouts and group.order == 1 else steps

    def _search(self, number: int, steps: int) -> None:
        """Go on with the search of one group where it was left."""
        if not 0 <= number < len(self.groups) or number in self._complete:
            return
        if number not in self._runs:
            filling = Filling(self.places, self.groups[number], self._stock, Budget(0), self.work)
            self._runs[number] = filling, filling.run()
        filling, run = self._runs[number]
        before = filling.budget.used
        filling.budget.most = before + steps
        more = 0
        for numbers in run:
            if numbers is None:
                break
            more += self._keep(numbers)
            if more >= self._most_each:
                break
        self.laid += filling.budget.used - before
        if filling.fullest.covered > self.fullest.covered:
            self.fullest = filling.fullest
        if filling.finished:
            self._complete.add(number)
            self._runs[number] = filling, iter(())

    def _keep(self, numbers: tuple[int, ...]) -> bool:
        """Keep a layout unless it is known; whether it is new."""
        mark = self.places.canonical(numbers, self.moves)
        if mark in self._known:
            return False
        self._known.add(mark)
        if self._alike.seen(self.places, numbers, self.moves):
            return False
        kept = tuple(self.places.kept(numbers, self.moves))
        tiles = tuple(self.places.tiles[k] for k in numbers)
        self.layouts.append(Filled(tiles, self.sized, kept, self.near))
        return True

    def _possible(self, group: Group) -> bool:
        """Whether the counts can fall into orbits of the group."""
        odd = 0
        for t, (count, over) in enumerate(self.counts):
            if group.axes and over is not None and not self.shapes.mirrored[t] and 2 * over != count:
                return False
            if count % group.turns:
                odd += 1
                if count % group.turns != 1 or self.shapes.turns[t] % group.turns:
                    return False
        return odd <= 1
