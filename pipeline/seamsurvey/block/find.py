"""All layouts worth offering, at one snap: hypotheses tried from the simple to the involved.

With the counts known, symmetric layouts are looked for first, the most symmetric first. With counts unknown, the
stated prior is: one of each template fills the block by itself, or a quarter of it; else the block is symmetric and
takes the fewest orbits of pieces that use every template.
"""

import itertools
from collections.abc import Generator, Iterable, Iterator
from dataclasses import dataclass, field

from seamsurvey.block.beam import Beam
from seamsurvey.block.hypotheses import Known, possible, same_area, tasks
from seamsurvey.block.outlines import RECTANGLE, Outline
from seamsurvey.block.rank import Ranked, close_rivals, ranked
from seamsurvey.block.relaid import sewn_layouts
from seamsurvey.block.search import Best, Budget, Layout, Search, Task
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.symmetry import AUTO, ORDER
from seamsurvey.block.turned import turned_layouts
from seamsurvey.block.work import Work

_SWEEPS = (1500, 6000)  # steps spent on each task with known counts, before any gets more
_WIDTHS = {1500: 40, 6000: 150}  # of the search that proves nothing, where those steps did not suffice
_EFFORTS = (300, 2000)  # the same where the counts are guessed: most guesses are wrong
_EFFORT = _EFFORTS[0]
_HARDER = 3  # steps for a task without quarter turns, against one with
# Time for rivals of another count, once there is a layout: quarter turns determine much, less symmetry little.
_RIVALS_S = 3.0
_WEAK_RIVALS_S = 8.0
_MORE_LEVELS = 3
_MANY = 10  # templates, from which on a block is sewn from below before it is searched
_SEWING_S = 10.0
_TURNING_S = 3.0
_ENOUGH_RIVALS = 7  # a person must choose anyhow; searching on would only add to the list
_MOST_LAYOUTS = 64  # of one task; more are not looked for, and the proof says so
_MOST_LEVELS = 8
_MOST_TASKS = 400  # of one level: where there are more, guessing the counts has no end


@dataclass
class Found:
    """Layouts, the likeliest first; what was tried, and the fullest failure."""

    layouts: list[Ranked] = field(default_factory=list)
    searched_all: bool = True
    tried: int = 0
    steps: int = 0
    best: Best = field(default_factory=Best)


class Finder:
    """Runs tasks within one limit of work and keeps what they found; ``sew``: whether parts are sewn first."""

    def __init__(
        self,
        shapes: Shapes,
        known: Known,
        symmetry: str,
        outlines: tuple[Outline, ...],
        work: Work,
        *,
        sew: bool = True,
    ) -> None:
        self._sew = sew
        self.outlines = outlines
        self.shapes, self.known, self.work = shapes, known, work
        self.symmetries = AUTO if symmetry == "auto" else (symmetry,)
        self.counted = all(up is not None for up, _ in known)
        self.found = Found()

    def with_shapes(self, shapes: Shapes) -> "Finder":
        """The same search with other measurements."""
        other = Finder(shapes, self.known, "auto", self.outlines, self.work)
        other.symmetries = self.symmetries
        return other

    def groups(self) -> list[tuple[str, ...]]:
        """Symmetries to try group after group, the most symmetric first; all at once with counts unknown."""
        if not self.counted:
            return [self.symmetries]
        able = [s for s in self.symmetries if possible(self.shapes, self.known, s)]
        orders = sorted({ORDER[s] for s in able}, reverse=True)
        return [tuple(s for s in able if ORDER[s] == order) for order in orders]

    def at(self, group: tuple[str, ...], snap: float, *, thorough: bool = True) -> Found:
        """Search one group of symmetries at one snap, cheaply first, and thoroughly after unless told not to."""
        self.found = Found()
        for steps, effort in list(zip(_SWEEPS, _EFFORTS, strict=True))[: None if thorough else 1]:
            self.found.searched_all = True
            layouts = self._counted(group, snap, steps) if self.counted else self._uncounted(snap, effort)
            if layouts:
                self.judge(layouts)
            # A search cut short may have missed the likeliest. With counts known the beam has looked for rivals,
            # which meet as many conditions, beside it; with counts guessed a thorough search must.
            if self.found.searched_all or self.late() or self._enough():
                break
        return self.found

    def _enough(self) -> bool:
        order = self.found.layouts
        return bool(order) and (self.counted or len(close_rivals(order[0], order[1:])) >= _ENOUGH_RIVALS)

    def sewn(self) -> Generator[Layout]:
        """Layouts that sewing whole edges together comes to: for large blocks, where the search is slow."""
        self.found = Found(searched_all=False)
        if self._sew and self.counted and self.symmetries == AUTO and len(self.known) >= _MANY:
            with self.work.at_most(_SEWING_S):
                for layout in sewn_layouts(self.shapes, self.known, self.outlines, self.work):
                    self.found.tried += 1
                    yield layout

    def turned(self, layout: Layout) -> list[Layout]:
        """Rivals of a layout that a search cut short may have missed: with a part turned where it lies.

        Looked for even where the limit is reached: what else fits must be said.
        """
        return list(turned_layouts(self.shapes, layout, Work(_TURNING_S)))

    # --- counts known -------------------------------------------------------------------------------------

    def _counted(self, group: tuple[str, ...], snap: float, steps: int) -> list[Layout]:
        return [layout for symmetry in group for layout in self._outlined(symmetry, snap, steps)]

    def _outlined(self, symmetry: str, snap: float, steps: int) -> list[Layout]:
        """The layouts of one symmetry, whatever their outline; no rectangle is looked for where a square is found.

        Pieces of a triangle can often be laid to a rectangle too: one outline found says nothing about the others.
        """
        layouts: list[Layout] = []
        for outline in self.outlines:
            if outline is RECTANGLE and layouts:
                continue
            layouts += self._first(tasks(self.shapes, self.known, symmetry, 0, (outline,)), snap, steps)
        return layouts

    def _first(self, line: Iterable[Task], snap: float, steps: int) -> list[Layout]:
        """The layouts of the first task that has any: faces up before reversed."""
        for task in line:
            layouts = self._run(task, snap, steps)
            if layouts or self.late():
                return layouts
        return []

    # --- counts unknown -----------------------------------------------------------------------------------

    def _uncounted(self, snap: float, effort: int) -> list[Layout]:
        quarter = self._turned(0, snap, effort)
        if quarter:
            single = self._level("none", 0, snap, effort)
            return single + quarter + self._larger(quarter, 0, snap)
        single = self._level("none", 0, snap, effort)
        if single:
            return single
        for level in range(_MOST_LEVELS):
            quarter = self._turned(level, snap, effort) if level else []
            layouts = quarter or self._one_axis(level, snap, effort)
            if layouts:
                return layouts + self._larger(layouts, level, snap)
            if self.late():
                break
        return []

    def _larger(self, layouts: list[Layout], level: int, snap: float) -> list[Layout]:
        """Rivals: other counts that fill the same block, and blocks of the next levels, cheaply looked for.

        What isn't found here isn't disproved: a block of more pieces is less likely anyhow.
        """
        complete = self.found.searched_all
        symmetry = layouts[0].symmetry
        spare = _RIVALS_S if symmetry == "quarter-turn" else _WEAK_RIVALS_S
        rivals: list[Layout] = []
        with self.work.at_most(spare):
            if symmetry == "quarter-turn":
                others = same_area(self.shapes, self.known, symmetry, sum(self._areas(layouts[0])))
                rivals += self._all(others, snap, _EFFORT)
            for more in range(level + 1, level + 1 + _MORE_LEVELS):
                rivals += self._level("quarter-turn", more, snap, _EFFORT)
                if symmetry != "quarter-turn":
                    rivals += self._one_axis(more, snap, _EFFORT)
        self.found.searched_all = complete
        return rivals

    def _turned(self, level: int, snap: float, effort: int) -> list[Layout]:
        layouts = self._level("quarter-turn", level, snap, effort)
        return layouts or self._level("sixth-turn", level, snap, effort)

    def _one_axis(self, level: int, snap: float, effort: int) -> list[Layout]:
        layouts: list[Layout] = []
        for symmetry in ("mirror", "half-turn", "mirror-diagonal", "third-turn", "both"):
            layouts += self._level(symmetry, level, snap, effort)
        if not layouts and level:
            layouts = self._level("none", level, snap, effort)
        return layouts

    def _level(self, symmetry: str, level: int, snap: float, effort: int) -> list[Layout]:
        if symmetry not in self.symmetries or not possible(self.shapes, self.known, symmetry):
            return []
        line = tasks(self.shapes, self.known, symmetry, level, self.outlines)
        return self._all(line, snap, effort)

    def _all(self, line: Iterable[Task], snap: float, effort: int) -> list[Layout]:
        """The layouts of all tasks; a task with faces reversed only where the same counts don't do without."""
        layouts: list[Layout] = []
        done: set[tuple[int, ...]] = set()
        for number, task in enumerate(line):
            if self.late() or number >= _MOST_TASKS:
                self.found.searched_all = False
                break
            if task.counts in done:
                continue
            new = self._run(task, snap, effort * (1 if ORDER[task.symmetry] == ORDER["quarter-turn"] else _HARDER))
            if new:
                done.add(task.counts)
            layouts += new
        return layouts

    # --- shared -------------------------------------------------------------------------------------------

    def _run(self, task: Task, snap: float, steps: int) -> list[Layout]:
        budget = Budget(self.work, steps)
        self.work.spend("task")
        search = Search(self.shapes, task, snap, budget)
        layouts: list[Layout] = []
        for layout in search.run():
            layouts.append(layout)
            if len(layouts) >= _MOST_LAYOUTS:
                break
        if self.counted and not search.finished and steps in _WIDTHS:
            beam = Beam(search, _WIDTHS[steps])
            layouts += itertools.islice(beam.run(), _MOST_LAYOUTS)
            self.found.steps += beam.used
        self.found.tried += 1
        self.found.steps += budget.used
        self.found.searched_all &= search.finished
        if search.best.share > self.found.best.share:
            self.found.best = search.best
        return layouts

    def judge(self, layouts: list[Layout]) -> None:
        """Rank layouts, which may come from several snaps, the likeliest first."""
        order = ranked(self.shapes, layouts)
        if not self.counted:
            order = _small_first(order)
        self.found.layouts = order

    def _areas(self, layout: Layout) -> Iterator[float]:
        return (self.shapes.areas[t] for t, _, _ in layout.pieces)

    def late(self) -> bool:
        """Whether the work is up."""
        return self.work.over()


def _small_first(order: list[Ranked]) -> list[Ranked]:
    """Where one of each fills the block and four of that make another, the one goes first, unless corners agree.

    Corners that meet across the quarters' borders speak for the four: then one way to turn the quarter is clearly
    better than the others, which don't stay in the running.
    """
    singles = [r for r in order if max(r.counts) == 1]
    if not singles or len(singles) == len(order):
        return order
    fours = [r for r in order if max(r.counts) > 1]
    alike = close_rivals(fours[0], fours[1:])
    if alike:
        return [*singles, fours[0], *alike]
    return [fours[0], *singles]
