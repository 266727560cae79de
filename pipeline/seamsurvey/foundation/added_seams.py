"""The fewest added seams: the least number of extra fragments with which a block falls apart by straight cuts.

A region is taken apart by lines from boundary to boundary. A line along seams only is free, and any free cut may be
taken first: it parts no piece, so it spoils no later cut. Where there is none, every line is tried that cuts few
enough pieces, the least total first; what a region needs is remembered for it and for its images under the
symmetries of its cell. Block frame throughout. A block that is not convex is cut as its hull would be: the cure is
right, but perhaps not the least.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.foundation.fragments import BARRED, CUT, LEFT, RIGHT, Fragments, Region
from seamsurvey.foundation.isometries import Isometry

# Cures alike in their number of fragments that are kept for the choice by symmetry, sections and length.
MOST_CURES = 48
# So many for each part of a region: their combinations are as many as one can look through.
MOST_PARTS = 12
NEVER = 10_000


class StoppedError(Exception):
    """The search has used up its budget."""


@frozen(eq=False)
class Cell:
    """A region of whole pieces that no free cut parts, and its own symmetries, the one that moves nothing first."""

    start: Region
    symmetries: tuple[Isometry, ...]


@frozen(eq=False)
class AddedSeams:
    """The search over one cell; ``budget`` is how many regions may be looked into."""

    fragments: Fragments
    cell: Cell
    prices: NDArray[np.float64]  # (b,): what each watched point costs at least, in fragments
    budget: int
    _least: dict[tuple[int, ...], int] = field(factory=dict, init=False)  # proved: no fewer
    _exact: dict[tuple[int, ...], int] = field(factory=dict, init=False)
    _cures: dict[tuple[int, ...], list[Region]] = field(factory=dict, init=False)
    _images: dict[tuple[int, int], int] = field(factory=dict, init=False)
    _keys: dict[Region, tuple[tuple[int, ...], int]] = field(factory=dict, init=False)

    def fewest(self, most: int) -> int | None:
        """The fewest extra fragments for the cell; None where more than ``most`` are needed. StoppedError."""
        return self._need(self.cell.start, most)

    def cures(self) -> list[Region]:
        """Cures with the fewest extra fragments, as the fragments they leave, each once; after ``fewest``."""
        return self._best(self.cell.start)[:MOST_CURES]

    def first_found(self) -> Region | None:
        """A cure taken cut by cut, each the best there and then; None where that leads to slivers only."""
        region, done = [self.cell.start], set[int]()
        while region:
            for part in self.fragments.fall_apart(region.pop()):
                if len(part) == 1:
                    done |= part
                    continue
                way = next(iter(self._ways(part, NEVER)), None)
                if way is None:
                    return None
                region += way[1:]
        return frozenset(done)

    def owing(self, region: Region) -> int:
        """How many points within a region have a set-in seam."""
        return len(self._owing(region))

    def lost(self, cure: Region) -> int:
        """How many symmetries of the cell a cure does not keep."""
        return sum(self._carried(cure, k) != cure for k in range(len(self.cell.symmetries)))

    # --- how many ---

    def _need(self, region: Region, most: int) -> int | None:
        total = 0
        parts = [part for part in self.fragments.fall_apart(region) if len(part) > 1]
        least = [self._bound(part) for part in parts]
        for k, part in enumerate(parts):
            own = self._need_of_part(part, most - total - sum(least[k + 1 :]))
            if own is None:
                return None
            total += own
        return total if total <= most else None

    def _need_of_part(self, part: Region, most: int) -> int | None:
        key, _ = self._key(part)
        if key in self._exact:
            return self._exact[key] if self._exact[key] <= most else None
        for allowed in range(self._bound(part), most + 1):
            if self._can(part, allowed):
                self._exact[key] = allowed
                return allowed
            self._least[key] = allowed + 1
        return None

    def _can(self, part: Region, allowed: int) -> bool:
        if len(self._least) + len(self._exact) > self.budget:
            raise StoppedError
        for cost, one, other in self._ways(part, allowed):
            first = self._need(one, allowed - cost - self._bound_of(other))
            if first is not None and self._need(other, allowed - cost - first) is not None:
                return True
        return False

    # --- which ---

    def _best(self, region: Region) -> list[Region]:
        found: list[Region] = [frozenset()]
        alike: dict[tuple[int, ...], list[Region]] = {}
        for part in self.fragments.fall_apart(region):
            alike.setdefault(self._key(part)[0], []).append(part)
        for parts in alike.values():
            # Parts that are images of one another are cured alike.
            each = [[part] if len(part) == 1 else self._best_of_part(part)[:MOST_PARTS] for part in parts]
            together = [frozenset[int]().union(*cures) for cures in zip(*each, strict=True)]
            found = [one | other for one in found for other in together][: MOST_PARTS * 4]
        return found

    def _best_of_part(self, part: Region) -> list[Region]:
        key, back = self._key(part)
        if key not in self._cures:
            self._cures[key] = [self._carried(cure, back) for cure in self._searched(part)]
        inverse = self._inverse(back)
        return [self._carried(cure, inverse) for cure in self._cures[key]]

    def _searched(self, part: Region) -> list[Region]:
        need = self._need_of_part(part, NEVER) or NEVER
        found: dict[Region, None] = {}
        ways = [(self._mates(one, other), cost, one, other) for cost, one, other in self._ways(part, need)]
        for mates, cost, one, other in sorted(ways, key=lambda way: way[0] is None):
            first = self._need(one, need - cost)
            second = None if first is None else self._need(other, need - cost - first)
            if second is None:
                continue
            for cure in self._best(one)[:MOST_PARTS]:
                # Two halves that are images of one another are cured alike.
                for rest in [mates(cure)] if mates else self._best(other)[:MOST_PARTS]:
                    found.setdefault(cure | rest)
            if len(found) >= MOST_CURES:
                break
        return list(found)

    def _mates(self, one: Region, other: Region) -> "_Carry | None":
        for k in range(len(self.cell.symmetries)):
            if self._carried(one, k) == other:
                return _Carry(self, k)
        return None

    # --- cutting ---

    def _ways(self, part: Region, allowed: int) -> Iterator[tuple[int, Region, Region]]:
        """All cuts that may still come out at ``allowed`` fragments, the most promising first."""
        sides = self.fragments.codes(part)
        order = sorted(part)
        cut = (sides == CUT).sum(axis=0)
        possible = ~np.any(sides == BARRED, axis=0) & (cut > 0)
        owing = self._owing(part)
        beside = self.fragments.watched_sides[:, owing]
        prices = self.prices[owing]
        bound = cut + np.ceil(np.where(beside > 0, prices, 0).sum(axis=1) - 1e-9)
        bound += np.ceil(np.where(beside < 0, prices, 0).sum(axis=1) - 1e-9)
        for line in np.lexsort((cut, bound)):
            if bound[line] > allowed:
                break
            if not possible[line]:
                continue
            parted = self._parted(order, sides[:, line], int(line))
            if parted is not None and parted[0] <= allowed:
                yield parted

    def _parted(
        self, order: Sequence[int], sides: NDArray[np.int8], line: int
    ) -> tuple[int, Region, Region] | None:
        left: set[int] = set()
        right: set[int] = set()
        for fragment, side in zip(order, sides.tolist(), strict=True):
            if side == LEFT:
                left.add(fragment)
            elif side == RIGHT:
                right.add(fragment)
            else:
                halves = self.fragments.halves(fragment, line)
                if halves is None:
                    return None
                left.update(halves[0])
                right.update(halves[1])
        return len(left) + len(right) - len(order), frozenset(left), frozenset(right)

    # --- what a region needs at least ---

    def _owing(self, part: Region) -> NDArray[np.intp]:
        """The watched points within a region: each still needs a seam straight through it."""
        turns = np.sum([self.fragments.all[f].turns for f in part], axis=0)
        return np.flatnonzero(np.asarray(turns) > 359.5)

    def _bound_of(self, region: Region) -> int:
        return math.ceil(float(self.prices[self._owing(region)].sum()) - 1e-9)

    def _bound(self, part: Region) -> int:
        return max(1, self._bound_of(part), self._least.get(self._key(part)[0], 0))

    # --- images ---

    def _key(self, region: Region) -> tuple[tuple[int, ...], int]:
        """The first of a region's images under the cell's symmetries, and which of them leads there."""
        if region not in self._keys:
            self._keys[region] = min(
                (tuple(sorted(self._carried(region, k))), k) for k in range(len(self.cell.symmetries))
            )
        return self._keys[region]

    def _carried(self, region: Region, k: int) -> Region:
        return region if k == 0 else frozenset(self._image(f, k) for f in region)

    def _image(self, fragment: int, k: int) -> int:
        if (fragment, k) not in self._images:
            symmetry, own = self.cell.symmetries[k], self.fragments.all[fragment]
            self._images[fragment, k] = self.fragments.number(symmetry.onto[own.piece], symmetry.carry(own.outline))
        return self._images[fragment, k]

    def _inverse(self, k: int) -> int:
        matrix = self.cell.symmetries[k].matrix.T
        return next(
            n for n, other in enumerate(self.cell.symmetries) if np.allclose(other.matrix, matrix, atol=1e-4)
        )


@frozen(eq=False)
class _Carry:
    search: AddedSeams
    symmetry: int

    def __call__(self, region: Region) -> Region:
        return self.search._carried(region, self.symmetry)
