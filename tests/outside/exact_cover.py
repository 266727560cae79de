"""Layouts counted without the assembler: lattice placements, exact covers by backtracking and integer programs.

Every corner is a whole number of units and a piece may lie in any of eight ways, so that a placement is exact. A
cover takes every sample point once; the points are so placed that no edge of the lattice runs through one.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

Point = tuple[int, int]
Shape = tuple[Point, ...]
Laid = tuple[int, frozenset[Point]]  # which shape, and its corners
Filling = frozenset[Laid]

_APART = 0.25  # units between sample points: any two shapes that overlap here share one, or ``_filling`` says no
_AMISS = (0.0137, 0.0071)  # how far the sample points are off the rows and columns of the lattice


@dataclass(frozen=True)
class Cover:
    """Placements of shapes in a region: ``laid`` and ``owner`` (m,), the points each holds (m, points)."""

    laid: list[Shape]
    owner: NDArray[np.intp]
    holds: NDArray[np.bool_]
    counts: tuple[int, ...]

    def within(self, fixed: Sequence[Shape]) -> "Cover":
        """What is left to cover once some placements are taken."""
        wanted = {frozenset(shape) for shape in fixed}
        taken = [i for i, shape in enumerate(self.laid) if frozenset(shape) in wanted]
        assert len(taken) == len(wanted)
        points = self.holds[taken].any(axis=0)
        counts = np.array(self.counts) - np.bincount(self.owner[taken], minlength=len(self.counts))
        keep = np.flatnonzero(~(self.holds & points).any(axis=1) & (counts[self.owner] > 0))
        laid = [self.laid[i] for i in keep]
        return Cover(laid, self.owner[keep], self.holds[np.ix_(keep, ~points)], tuple(counts.tolist()))

    def fillings(self) -> set[Filling]:
        """All covers, by backtracking at the sample point that fewest placements hold."""
        everything = np.ones(self.holds.shape[1], dtype=bool)
        return {
            self._filling(chosen) for chosen in self._extend(np.arange(len(self.laid)), everything, self.counts)
        }

    def fillings_by_programs(self) -> set[Filling]:
        """All covers, by scipy's integer programs: each is ruled out once it is found."""
        points = np.unique(self.holds, axis=1).astype(float).T
        kinds = (self.owner[None, :] == np.arange(len(self.counts))[:, None]).astype(float)
        wanted = np.array(self.counts, dtype=float)
        rules = [LinearConstraint(points, 1, 1), LinearConstraint(kinds, wanted, wanted)]
        found: set[Filling] = set()
        while True:
            many = len(self.laid)
            result = milp(
                np.zeros(many), constraints=rules, bounds=Bounds(0, 1), integrality=np.ones(many, dtype=int)
            )
            if result.status == 2:  # infeasible: there are no more
                return found
            assert result.success, result.message
            chosen = np.round(result.x)
            found.add(self._filling(np.flatnonzero(chosen).tolist()))
            rules.append(LinearConstraint(chosen, -np.inf, chosen.sum() - 1))

    def _extend(
        self, live: NDArray[np.intp], free: NDArray[np.bool_], left: tuple[int, ...]
    ) -> Iterator[tuple[int, ...]]:
        if not free.any():
            yield ()
            return
        held = self.holds[live].sum(axis=0)
        point = int(np.argmin(np.where(free, held, len(self.laid) + 1)))
        for i in live[self.holds[live, point]].tolist():
            kind = int(self.owner[i])
            rest = tuple(n - (k == kind) for k, n in enumerate(left))
            onward = live[~(self.holds[live] & self.holds[i]).any(axis=1)]
            if not rest[kind]:
                onward = onward[self.owner[onward] != kind]
            for others in self._extend(onward, free & ~self.holds[i], rest):
                yield (i, *others)

    def _filling(self, chosen: Sequence[int]) -> Filling:
        shapes = shapely.polygons([shapely.linearrings(self.laid[i]) for i in chosen])
        assert shapely.union_all(shapes).area == sum(shape.area for shape in shapes), "two pieces overlap"
        return frozenset((int(self.owner[i]), frozenset(self.laid[i])) for i in chosen)


def cover(region: Shape, shapes: Sequence[Shape], counts: tuple[int, ...]) -> Cover:
    """Every placement on the lattice of the shapes in a convex region, counter-clockwise; ``counts`` of each."""
    laid, owner = [], []
    for kind, shape in enumerate(shapes):
        for placed in _placements(region, shape):
            laid.append(placed)
            owner.append(kind)
    (left, right), (low, high) = ((min(c), max(c)) for c in zip(*region, strict=True))
    steps = np.arange(_APART / 2, max(right - left, high - low), _APART)
    x, y = (axis.ravel() for axis in np.meshgrid(left + steps + _AMISS[0], low + steps - _AMISS[1]))
    inside = shapely.contains_xy(shapely.Polygon(region), x, y)
    holds = np.array([shapely.contains_xy(shapely.Polygon(s), x[inside], y[inside]) for s in laid])
    return Cover(laid, np.array(owner), holds, counts)


def _placements(region: Shape, shape: Shape) -> Iterator[Shape]:
    """Each way to lay a shape, once."""
    seen: set[frozenset[Point]] = set()
    spans = [range(min(c), max(c) + 1) for c in zip(*region, strict=True)]
    for way in _ways(shape):
        for dx, dy in itertools.product(*spans):
            placed = tuple((x + dx, y + dy) for x, y in way)
            if frozenset(placed) not in seen and all(_holds(region, point) for point in placed):
                seen.add(frozenset(placed))
                yield placed


def _ways(shape: Shape) -> Iterator[Shape]:
    """The eight turned and turned-over images, counter-clockwise, their lower left at the origin."""
    for over, quarters in itertools.product((False, True), range(4)):
        points = [(-x, y) for x, y in reversed(shape)] if over else list(shape)
        for _ in range(quarters):
            points = [(-y, x) for x, y in points]
        left, low = (min(c) for c in zip(*points, strict=True))
        yield tuple((x - left, y - low) for x, y in points)


def _holds(region: Shape, point: Point) -> bool:
    edges = zip(region, region[1:] + region[:1], strict=True)
    return all((c - a) * (point[1] - b) >= (d - b) * (point[0] - a) for (a, b), (c, d) in edges)
