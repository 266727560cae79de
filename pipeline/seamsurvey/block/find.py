"""All layouts worth offering, at one snap: hypotheses tried from the simple to the involved.

With the counts known, symmetric layouts are looked for first, the most symmetric first. With counts unknown, the
stated prior is: one of each template fills the block by itself, or a quarter of it; else the block is symmetric and
takes the fewest orbits of pieces that use every template.
"""

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from seamsurvey.block.hypotheses import Known, possible, same_area, tasks
from seamsurvey.block.rank import Ranked, close_rivals, ranked
from seamsurvey.block.search import Best, Budget, Layout, Search, Task
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.symmetry import ORDER

_SWEEPS = (1500, 12_000)  # steps spent on each task, before any task gets more
_MOST_LAYOUTS = 64  # of one task; more are not looked for, and the proof says so
_MOST_LEVELS = 8
_MOST_TASKS = 400  # of one level: where there are more, guessing the counts has no end


@dataclass
class Found:
    """Layouts, the likeliest first, and the close rivals among them; what was tried, and the fullest failure."""

    layouts: list[Ranked] = field(default_factory=list)
    rivals: list[Ranked] = field(default_factory=list)
    searched_all: bool = True
    tried: int = 0
    steps: int = 0
    best: Best = field(default_factory=Best)


class Finder:
    """Runs tasks under one deadline (of ``time.monotonic``) and keeps what they found."""

    def __init__(self, shapes: Shapes, known: Known, symmetry: str, deadline: float) -> None:
        self.shapes, self.known, self.deadline = shapes, known, deadline
        self.symmetries = tuple(ORDER) if symmetry == "auto" else (symmetry,)
        self.counted = all(up is not None for up, _ in known)
        self.found = Found()
        self._capped = False

    def at(self, snap: float) -> Found:
        """Search everything at one snap, cheaply first and thoroughly after."""
        self.found = Found()
        for steps in _SWEEPS:
            self.found.searched_all, self._capped = True, False
            layouts = self._counted(snap, steps) if self.counted else self._uncounted(snap, steps)
            if layouts:
                self._judge(layouts)
            # A search cut short may have missed the likeliest: what is found first isn't what is best.
            if self.found.searched_all or self._late() or self._capped:
                break
        return self.found

    # --- counts known -------------------------------------------------------------------------------------

    def _counted(self, snap: float, steps: int) -> list[Layout]:
        for group in (("quarter-turn",), ("half-turn", "mirror", "mirror-diagonal"), ("none",)):
            layouts: list[Layout] = []
            for symmetry in group:
                if symmetry in self.symmetries and possible(self.shapes, self.known, symmetry):
                    layouts += self._first(tasks(self.shapes, self.known, symmetry, 0), snap, steps)
            if layouts:
                return layouts
        return []

    def _first(self, line: Iterable[Task], snap: float, steps: int) -> list[Layout]:
        """The layouts of the first task that has any: the square before the rectangle, faces up before reversed."""
        for task in line:
            layouts = self._run(task, snap, steps)
            if layouts or self._late():
                return layouts
        return []

    # --- counts unknown -----------------------------------------------------------------------------------

    def _uncounted(self, snap: float, steps: int) -> list[Layout]:
        single = self._level("none", 0, snap, steps)
        if single and not self._square(single, snap):
            return single
        quarter = self._quarters(snap, steps, levels=1 if single else _MOST_LEVELS)
        if single or quarter:
            return single + quarter
        for level in range(_MOST_LEVELS):
            layouts = self._one_axis(level, snap, steps)
            if layouts:
                # A row more or less makes another block: look one level further for such rivals.
                return layouts + self._one_axis(level + 1, snap, _SWEEPS[0])
            if self._late():
                break
        return []

    def _quarters(self, snap: float, steps: int, levels: int) -> list[Layout]:
        for level in range(levels):
            layouts = self._level("quarter-turn", level, snap, steps)
            if layouts:
                # The same block may be filled by other counts of the same templates.
                others = same_area(self.shapes, self.known, "quarter-turn", sum(self._areas(layouts[0])))
                return layouts + self._all(others, snap, steps)
            if self._late():
                break
        return []

    def _one_axis(self, level: int, snap: float, steps: int) -> list[Layout]:
        layouts: list[Layout] = []
        for symmetry in ("mirror", "half-turn", "mirror-diagonal"):
            layouts += self._level(symmetry, level, snap, steps)
        if not layouts and level:
            layouts = self._level("none", level, snap, steps)
        return layouts

    def _level(self, symmetry: str, level: int, snap: float, steps: int) -> list[Layout]:
        if symmetry not in self.symmetries or not possible(self.shapes, self.known, symmetry):
            return []
        return self._all(tasks(self.shapes, self.known, symmetry, level), snap, steps)

    def _all(self, line: Iterable[Task], snap: float, steps: int) -> list[Layout]:
        """The layouts of all tasks; a task with faces reversed only where the same counts do without none."""
        layouts: list[Layout] = []
        done: set[tuple[int, ...]] = set()
        for number, task in enumerate(line):
            if self._late() or number >= _MOST_TASKS:
                self.found.searched_all = False
                break
            if task.counts in done:
                continue
            new = self._run(task, snap, steps)
            if new:
                done.add(task.counts)
            layouts += new
        return layouts

    # --- shared -------------------------------------------------------------------------------------------

    def _run(self, task: Task, snap: float, steps: int) -> list[Layout]:
        budget = Budget(self.deadline, steps)
        search = Search(self.shapes, task, snap, budget)
        layouts: list[Layout] = []
        for layout in search.run():
            layouts.append(layout)
            if len(layouts) >= _MOST_LAYOUTS:
                self._capped = True
                break
        self.found.tried += 1
        self.found.steps += budget.used
        self.found.searched_all &= search.finished
        if search.best.share > self.found.best.share:
            self.found.best = search.best
        return layouts

    def _judge(self, layouts: list[Layout]) -> None:
        order = ranked(self.shapes, layouts)
        if not self.counted:
            order = _small_first(order)
        self.found.layouts = order
        self.found.rivals = close_rivals(order[0], order[1:])

    def _areas(self, layout: Layout) -> Iterator[float]:
        return (self.shapes.areas[t] for t, _, _ in layout.pieces)

    def _square(self, layouts: list[Layout], snap: float) -> bool:
        return any(abs(layout.size[0] - layout.size[1]) <= 4 * snap for layout in layouts)

    def _late(self) -> bool:
        return time.monotonic() >= self.deadline


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
        return singles + [fours[0], *alike]
    return [fours[0], *singles]
