"""How many of each template a block may take, where nobody says: the likeliest counts first.

Two things speak for counts. Blocks of the trade repeat themselves by quarter turns or by mirrors, so that pieces
come in fours, or in pairs, but for some that lie in the middle or on an axis. And a side of the block is a sum of
edges, most often of a usual length, which gives its area, and the area is a sum of the pieces'. So the counts that
a symmetry makes likely are listed, and those come to the front whose pieces fill an outline.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.hypotheses import Known
from seamsurvey.block.meaning import off_usual_number
from seamsurvey.block.outlines import Outline
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.sizes import SLIM, USUAL, Sides, usual
from seamsurvey.block.tradition import Likeness

_MOST_PIECES = 80
_LISTED = 6_000  # counts of one symmetry that are looked at
_HOPELESS = 9.0  # what speaks so much against one template's count is not listed
_UNLIKELY = 12.0  # against counts that no list has
_AREA_OFF = 0.004  # share by which areas may miss each other
_LONGEST_MM = 1200.0  # of sides
_SIDES = 150  # of rectangles

# Logarithms of odds, as in ``meaning``; what speaks against counts is positive.
_KNOWN, _UNLIKE = -4.0, 4.0  # a known block's counts, and that the cards differ from its drawing
_PIECES = 0.6  # that there are unusually many or few
_ANY_SIZE = 2.0  # of even counts, whose size is no likely sum of edges
_SMALL = 0.3  # that large pieces are used more often than small ones: for each doubling of both
_LOPSIDED = 3.0  # an odd one, on an axis or in the middle, that is not symmetric itself
_NOT_READ = 3.0  # that there are not so many as the card may say: of unclear readings most are right
_OUTLINE = {"square": 0.0, "rectangle": 1.3, "octagon": 2.5, "hexagon": 2.0, "triangle": 2.5}

# How often a template is used, as shares: where pieces come in fours, in pairs, anyhow, round a middle of 6 or 8;
# and how common each of these is. The first three were counted in the drawings of ``tests/scene/trade_more.py`` and
# our designs with seeds 0 to 149; the others are judged, and that pieces come anyhow (15 of 234 there) is made more
# common: cards are often cut for all the pieces of a block.
_USES: dict[int, dict[int, float]] = {
    4: {1: 0.07, 2: 0.02, 4: 0.45, 5: 0.008, 8: 0.25, 9: 0.004, 12: 0.03, 16: 0.08, 20: 0.01, 24: 0.03, 32: 0.016,
        36: 0.006, 40: 0.003, 48: 0.003, 64: 0.002},
    2: {1: 0.16, 2: 0.38, 3: 0.054, 4: 0.13, 5: 0.027, 6: 0.11, 7: 0.009, 8: 0.036, 9: 0.004, 10: 0.015, 11: 0.003,
        12: 0.027, 14: 0.004, 16: 0.006, 18: 0.012, 20: 0.004, 24: 0.009, 30: 0.003},
    1: {1: 0.59, 2: 0.13, 3: 0.074, 4: 0.035, 5: 0.05, 6: 0.03, 7: 0.015, 8: 0.02, 9: 0.015, 10: 0.02, 12: 0.01},
    6: {1: 0.07, 2: 0.03, 3: 0.06, 6: 0.54, 12: 0.22, 18: 0.04, 24: 0.03},
    8: {1: 0.07, 4: 0.2, 8: 0.5, 16: 0.15, 24: 0.04, 32: 0.03},
}  # fmt: skip
_SELDOM = 0.001  # any other number
_COMMON = {4: 127 / 234, 2: 92 / 234, 1: 0.15, 6: 0.08, 8: 0.08}

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]


@dataclass(frozen=True)
class Guess:
    """Counts to try in an outline; smaller ``cost`` is likelier. ``folds``: 4 where quarter turns are likely."""

    cost: float
    counts: tuple[int, ...]
    folds: int
    outline: str


@dataclass(frozen=True, eq=False)
class _Listed:
    """Counts (n, templates) of one symmetry in one outline, and what speaks against each; infinite: none fits."""

    counts: Counts
    costs: Floats
    folds: int
    outline: str


@dataclass(frozen=True, eq=False)
class Guesses:
    """What speaks against counts of templates: ``uses[folds]`` (templates, number) and the outlines' ``sizes``."""

    shapes: Shapes
    uses: dict[int, Floats]
    sizes: dict[str, "_Sizes"]

    @classmethod
    def of(
        cls,
        shapes: Shapes,
        known: Known,
        outlines: Sequence[Outline],
        finish: tuple[float, float] | None = None,
        *,
        planned: bool = True,
    ) -> "Guesses":
        """What is ``known`` is kept. ``finish``: the width and height asked for, mm, where they are.

        Edges of cards that follow no plan (``planned``) add up to anything: then their size says nothing.
        """
        sizes = {outline.name: _Sizes.of(shapes, outline, finish, planned=planned) for outline in outlines}
        return cls(shapes, {folds: _uses(shapes, known, folds) for folds in _USES}, sizes)

    def in_order(self, known_blocks: Sequence[Likeness] = ()) -> Iterator[Guess]:
        """Guesses, the likeliest first, each once.

        The counts of ``known_blocks`` whose manner the cards have come before others, the more like the sooner.
        """
        found = [*self._listed(), *self._of_known(known_blocks)]
        costs = np.concatenate([one.costs for one in found])
        of = np.concatenate([np.full(len(one.costs), k) for k, one in enumerate(found)])
        row = np.concatenate([np.arange(len(one.costs)) for one in found])
        least: dict[tuple[tuple[int, ...], str], int] = {}
        for k in np.argsort(costs, kind="stable"):
            if not math.isfinite(costs[k]):
                return
            one = found[of[k]]
            counts = tuple(int(n) for n in one.counts[row[k]])
            # What was looked through for layouts of little symmetry was so for those of more.
            if min(one.folds, 4) < least.get((counts, one.outline), 5):
                least[counts, one.outline] = min(one.folds, 4)
                yield Guess(float(costs[k]), counts, one.folds, one.outline)

    def against(self, counts: Sequence[int], outline: str) -> float:
        """What speaks against these counts, of whatever symmetry they are."""
        number = np.array([counts])
        size = self.sizes[outline].cost(number @ np.array(self.shapes.areas))
        alone = [
            float(uses[np.arange(len(counts)), np.minimum(number[0], uses.shape[1] - 1)].sum())
            - math.log(_COMMON[folds])
            for folds, uses in self.uses.items()
        ]
        together = float(size[0]), float(_against_number(number.sum(axis=1))[0])
        return min(*alone, _UNLIKELY) + min(together[0], _UNLIKELY) + together[1] + _OUTLINE[outline]

    def _listed(self) -> Iterator[_Listed]:
        for folds, uses in self.uses.items():
            counts, costs = _likeliest(uses)
            costs = costs + _against_number(counts.sum(axis=1)) - math.log(_COMMON[folds])
            areas = counts @ np.array(self.shapes.areas)
            even = _even(counts)
            for name, size in self.sizes.items():
                fits = size.cost(areas)
                fits[even] = np.minimum(fits[even], _ANY_SIZE)
                yield _Listed(counts, costs + fits + _OUTLINE[name], folds, name)

    def _of_known(self, known_blocks: Sequence[Likeness]) -> Iterator[_Listed]:
        for one in known_blocks:
            if not one.as_drawn and one.known.outline in self.sizes:
                counts = np.array([one.counts])
                cost = self.sizes[one.known.outline].cost(counts @ np.array(self.shapes.areas))
                yield _Listed(counts, cost + _KNOWN + _UNLIKE * one.off, 1, one.known.outline)


def _against_number(pieces: Counts) -> Floats:
    off = np.array([0.0, *(off_usual_number(n) for n in range(1, int(pieces.max(initial=0)) + 1))])
    return np.asarray(_PIECES * off[pieces], np.float64)


def _even(counts: Counts) -> NDArray[np.bool_]:
    """Whether there are as many of each, but for one that there may be one of."""
    most = counts.max(axis=1, keepdims=True)
    others = counts != most
    return np.asarray((others.sum(axis=1) <= 1) & ((counts == 1) | ~others).all(axis=1))


def _uses(shapes: Shapes, known: Known, folds: int) -> Floats:
    """(templates, number): what speaks against using each so many times; infinite where that is out of question."""
    middling = math.exp(sum(math.log(area) for area in shapes.areas) / len(shapes.areas))
    number = np.arange(1, _MOST_PIECES + 1)
    found = np.full((len(known), max([_MOST_PIECES, *((up or 0) + (over or 0) for up, over in known)]) + 1), np.inf)
    for t, (up, over) in enumerate(known):
        if up is not None:
            found[t, up + (over or 0)] = 0.0
            continue
        cost = -np.log([_USES[folds].get(n, _SELDOM) for n in number.tolist()])
        cost += _SMALL * np.log2(number) * math.log(shapes.areas[t] / middling)
        cost -= cost.min()
        if folds > 1 and not shapes.mirrored[t] and shapes.turns[t] == 1:
            cost += _LOPSIDED * (number % 2)
        if shapes.read and shapes.read[t]:
            cost += _NOT_READ * ~np.isin(number, list(shapes.read[t]))
            cost -= cost.min()
        found[t, 1 : _MOST_PIECES + 1] = np.where(cost < _HOPELESS, cost, np.inf)
    return found


def _likeliest(uses: Floats) -> tuple[Counts, Floats]:
    """The likeliest counts (n, templates) and what speaks against each.

    Template by template the likeliest are carried on: what speaks against counts is a sum, so none is lost.
    """
    counts, costs = np.zeros((1, 0), np.int64), np.zeros(1)
    for cost in uses:
        number = np.flatnonzero(np.isfinite(cost))
        costs = (costs[:, None] + cost[number]).ravel()
        counts = np.column_stack([np.repeat(counts, len(number), axis=0), np.tile(number, len(counts))])
        able = np.flatnonzero(counts.sum(axis=1) <= uses.shape[1] + len(uses))
        best = able[np.argsort(costs[able], kind="stable")[:_LISTED]]
        counts, costs = counts[best], costs[best]
    return counts, costs


@dataclass(frozen=True, eq=False)
class _Sizes:
    """What an outline's sizes say against areas, in steps of their logarithm; infinite where no side is a sum."""

    least: float
    steps: Floats

    @classmethod
    def of(cls, shapes: Shapes, outline: Outline, finish: tuple[float, float] | None, *, planned: bool) -> "_Sizes":
        least = math.log(min(shapes.areas)) - 1
        most = math.log(_MOST_PIECES * max(shapes.areas)) + 1
        steps = np.full(int((most - least) / _AREA_OFF) + 1, np.inf if planned else 0.0)
        if planned:
            areas, costs = _areas(shapes, outline)
            if finish:
                wanted = np.abs(areas - finish[0] * finish[1]) <= 0.05 * finish[0] * finish[1]
                areas, costs = (areas[wanted], costs[wanted]) if wanted.any() else (areas, costs)
            k = np.rint((np.log(areas) - least) / _AREA_OFF).astype(np.int64)
            able = (k >= 1) & (k < len(steps) - 1)
            for off in (-1, 0, 1):
                np.minimum.at(steps, k[able] + off, costs[able])
        return cls(least, steps)

    def cost(self, areas: Floats) -> Floats:
        """Of each area, mm²."""
        k = np.rint((np.log(areas) - self.least) / _AREA_OFF).astype(np.int64)
        return np.where(k < len(self.steps), self.steps[np.clip(k, 0, len(self.steps) - 1)], np.inf)


def _areas(shapes: Shapes, outline: Outline) -> tuple[Floats, Floats]:
    """Areas, mm², that the outline may have, and what speaks against each."""
    lengths, costs = Sides.of(shapes, min(_LONGEST_MM, 2 * math.sqrt(_MOST_PIECES * max(shapes.areas)))).likely
    if outline.aspect is not None:
        # The first side of every outline of known shape is a sum of edges.
        widths = lengths / abs(complex(*outline.corners[1]) - complex(*outline.corners[0]))
        return (widths / outline.width(1.0)) ** 2, costs - USUAL * usual(widths)
    costs = costs - USUAL * usual(lengths)
    best = np.argsort(costs, kind="stable")[:_SIDES]
    long, short = np.meshgrid(lengths[best], lengths[best], indexing="ij")
    both = (costs[best][:, None] + costs[best]) / 2 + SLIM * np.log(long / short)
    able = (long / 4 <= short) & (short < 0.98 * long)
    return (long * short)[able], both[able]
