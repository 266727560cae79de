"""Every layout of a set whose counts are known: outline after outline, the most symmetric layouts first.

A group of moves makes the search short, so each kind of group is searched to the end before the next; the search
without any goes over all that is left. Where one is cut short, the result says so.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from seamsurvey.block.fill import Budget, Filling, Fullest
from seamsurvey.block.groups import Group, Shift, groups, isometries
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

_MOST_EACH = 250  # layouts of one outline and group; more are only said to be there
# Pieces laid in each group of each outline: the first for all, the second while that is work of few seconds, the
# third while nothing is found.
SWEEPS = (3_000, 15_000, 200_000)
_SECOND_S = 2.5
_PROBE = 300  # where nothing fits at all, so many show it
_ALL_OUTLINES = 6  # times that, in all outlines after the first that has layouts


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
    sweeps: Sequence[int] = SWEEPS,
) -> Every:
    """Every layout of regular shapes (``classes.regular``), to a tolerance of ``near`` mm.

    ``wanted`` says which groups a layout must have.
    """
    sized, whole = sized_outlines(shapes, [count for count, _ in counts], outlines, near)
    searches = [_Outlined(shapes, counts, one, near, work, wanted) for one in sized]
    for number, steps in enumerate(sweeps):
        found = Every(all=whole)
        spare = _ALL_OUTLINES * steps
        for search in searches:
            before = search.laid
            search.go_on(min(steps, max(spare // 4, _PROBE)) if found.layouts else steps)
            spare -= search.laid - before if found.layouts else 0
            found.layouts += search.layouts
            found.all &= search.finished
            found.laid += search.laid
            if search.fullest.covered > found.fullest.covered or found.fullest_in is None:
                found.fullest, found.fullest_in, found.fullest_places = (
                    search.fullest, search.sized, search.places,
                )  # fmt: skip
        enough = found.layouts and (number > 0 or work.done_s > _SECOND_S)
        if enough or found.all or work.over():
            break
    return found


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
    ) -> None:
        self.sized, self.work, self.near = sized, work, near
        self.counts, self.shapes = counts, shapes
        used = [t for t, (count, _) in enumerate(counts) if count]
        by_face = [over is not None and not shapes.mirrored[t] for t, (_, over) in enumerate(counts)]
        self.places = Places(shapes, used, sized.corners, near, by_face=by_face)
        self.moves = isometries(sized.corners, near)
        self._tried = False
        self.groups = [g for g in groups(self.moves) if wanted(g) and self._possible(g)]
        self._complete: set[int] = set()
        self._known: set[tuple[int, ...]] = set()
        self.layouts: list[Filled] = []
        self.laid = 0
        self.fullest = Fullest()

    @property
    def finished(self) -> bool:
        """Whether no layout can have been missed: the smallest group was searched to the end, or every one."""
        least = len(self.groups) - 1
        return least < 0 or least in self._complete

    def go_on(self, steps: int) -> None:
        """Search every group that was not finished, each up to so many pieces laid."""
        if not self._tried:
            # Where nothing fits, that shows soon without any group, and then for all of them.
            self._tried = True
            self._search(len(self.groups) - 1, _PROBE)
            if len(self.sized.corners) == 4:
                rounds = round_layouts(self.places, self._stock(), self.sized.width, self.sized.height)
                for numbers in rounds:
                    self._keep(numbers)
                size = self.sized.width, self.sized.height
                for numbers in repeated_layouts(self.shapes, self.places, self._stock(), *size, self.work):
                    self._keep(numbers)
        for number in range(len(self.groups)):
            if not (self.finished or self.work.over()):
                self._search(number, steps)

    def _search(self, number: int, steps: int) -> None:
        if 0 <= number and number not in self._complete:
            group = self.groups[number]
            filling = Filling(self.places, group, self._stock(), Budget(steps), self.work)
            more = 0
            for numbers in filling.run():
                more += self._keep(numbers)
                if more >= _MOST_EACH:
                    break
            self.laid += filling.budget.used
            if filling.fullest.covered > self.fullest.covered:
                self.fullest = filling.fullest
            if filling.finished and more < _MOST_EACH:
                self._complete.add(number)

    def _keep(self, numbers: tuple[int, ...]) -> bool:
        """Keep a layout unless it is known; whether it is new."""
        mark = self.places.canonical(numbers, self.moves)
        if mark in self._known:
            return False
        self._known.add(mark)
        kept = tuple(self.places.kept(numbers, self.moves))
        tiles = tuple(self.places.tiles[k] for k in numbers)
        self.layouts.append(Filled(tiles, self.sized, kept, self.near))
        return True

    def _stock(self) -> tuple[int, ...]:
        stock = []
        for t, over in self.places.kinds:
            count, reversed_ = self.counts[t]
            if reversed_ is None or self.shapes.mirrored[t]:
                stock.append(count)
            else:
                stock.append(reversed_ if over else count - reversed_)
        return tuple(stock)

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
