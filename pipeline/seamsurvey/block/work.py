"""What a search has done, counted instead of timed: a set comes to the same layouts on every machine, at any load.

A clock would end the same search here after one layout and there after two, and an archive made twice would differ.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager

# Seconds that one slow core takes for one unit of each kind of work, about: fitted to what blocks of 4 to 60 pieces
# took, counts known and not (python -m tests.benchmarks work).
SECONDS = {
    "task": 1.5e-3,  # counts of one guess made up, and its search begun
    "corner": 3e-6,  # times the faces that may be laid there: looked through
    "candidate": 6e-7,  # of a face's corner at the opening's, compared in arrays
    "looked": 5e-7,  # a piece that may be laid at a corner, whether there is one and it is free
    "opened": 1e-5,  # a corner of the opening compared with a piece
    "filled": 6e-5,  # a piece of regular shape laid
    "placed": 8e-5,  # what a piece covers at a new place worked out
    "boxed": 1e-5,  # a unit tried in a box of a grid
    "arranged": 2e-3,  # a layout in units compared with those that are known
    "laid": 2.2e-4,  # a piece laid
    "copied": 1e-9,  # of a number in the equations of a partial layout
    "solved": 6e-9,  # of the cube of the unknowns: vertices settled, or a layout adjusted
    "paired": 2e-8,  # the lengths of two edges compared, to be sewn
    "weighed": 2e-5,  # of two edges as long, what speaks for sewing them
    "sewn": 6e-4,  # of two parts one
    "covered": 2e-7,  # a part looked at, for what others leave of the block
    "closed": 2e-3,  # of a piece: a layout adjusted
}


class Work:
    """The work done so far, against a limit; both in seconds as of SECONDS. ``units`` counts it by its kind.

    ``stop`` says whether a person has had enough: then the limit is reached, too.
    """

    def __init__(self, limit_s: float, stop: Callable[[], bool] | None = None) -> None:
        self.limit_s = limit_s
        self.stop = stop
        self.done_s = 0.0
        self.units: Counter[str] = Counter()

    def spend(self, kind: str, units: int = 1) -> None:
        """Count so many units of a kind of work."""
        self.units[kind] += units
        self.done_s += SECONDS[kind] * units

    def over(self) -> bool:
        """Whether the limit is reached."""
        return self.done_s >= self.limit_s or (self.stop is not None and self.stop())

    @contextmanager
    def at_most(self, seconds: float) -> Iterator[None]:
        """A part of the work that gets no more than this, nor more than is left."""
        whole = self.limit_s
        self.limit_s = min(whole, self.done_s + seconds)
        try:
            yield
        finally:
            self.limit_s = whole
