"""Fill a large block without trying everything: the best partial layouts are carried on side by side.

Depth first search proves what it claims, but one early mistake in a block of thirty pieces costs it hours. Here, of
all partial layouts with as many pieces, those are kept for which most speaks: for each condition met to spare
(``candidates``) the logarithm of how unlikely it is by chance, less half the chi-square of the misfit. Nothing is
proved by this search: what it does not find may still be there.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.candidates import Candidate, Candidates
from seamsurvey.block.choices import Choice
from seamsurvey.block.frontier import RIGHT, TOP
from seamsurvey.block.search import Layout, Partial, Search

# Lengths spread over some centimetres; two agree by chance to within the noise with a probability of about
# 2.5 sigma over this, and its logarithm is what a condition weighs.
_SPREAD_MM = 60.0
_LEAST_WEIGHT = 1.5
_CHILDREN = 40  # of one partial layout, at most
_BEHIND = 9.0  # conditions by which a partial layout may lag behind the best and still be carried on
_LAID_PER_KEPT = 4  # attempts for each partial layout that is kept
_SAME_MM = 3.0  # partial layouts are the same when their pieces lie this near


@dataclass(frozen=True)
class _State:
    score: float
    partial: Partial


class Beam:
    """Carries ``width`` partial layouts on, three times as many at first; ``used`` counts pieces laid."""

    def __init__(self, search: Search, width: int) -> None:
        self._search, self._width = search, width
        sigma = search.shapes.sigma
        self._weight = max(math.log(_SPREAD_MM / (2.5 * sigma)), _LEAST_WEIGHT)
        self._variance = sigma**2 / 2  # of one coordinate of a corner, from that of a length
        self._table = Candidates(search.faces, search.shapes.turns, search.snap)
        self._plain = np.array([search.shapes.mirrored[t] for t in self._table.template])
        self.used = 0

    def run(self) -> Iterator[Layout]:
        """The layouts that are found, as they are found."""
        search = self._search
        states = [_State(0.0, search.start())]
        depth = 0
        while states and not self._late():
            wanted = self._width * (3 if depth < 8 else 1)
            kept: dict[frozenset[tuple[int, int, int]], _State] = {}
            for partial, candidate, _ in self._ordered(states, wanted * _LAID_PER_KEPT):
                if len(kept) >= wanted or self._late():
                    break
                child = self._laid(partial, candidate)
                if child is None:
                    continue
                if not child.frontier.loops:
                    if not any(child.left):
                        yield search.layout(child)
                    continue
                mark = _mark(child)
                score = child.conditions * self._weight - child.misfit / (2 * self._variance)
                if mark not in kept or kept[mark].score < score:
                    kept[mark] = _State(score, child)
            best = max((state.score for state in kept.values()), default=0.0)
            states = [s for s in kept.values() if s.score >= best - _BEHIND * self._weight]
            depth += 1

    def _late(self) -> bool:
        return self._search.budget.work.over()

    def _ordered(self, states: list[_State], most: int) -> list[tuple[Partial, Candidate, float]]:
        """Candidates of all states, those first that promise the best score."""
        line: list[tuple[Partial, Candidate, float]] = []
        for state in states:
            line += [
                (state.partial, candidate, state.score + candidate.conditions * self._weight)
                for candidate in self._candidates(state.partial)
            ]
        line.sort(key=lambda item: -item[2])
        return line[:most]

    def _candidates(self, partial: Partial) -> list[Candidate]:
        self._search.note(partial)
        frontier = partial.frontier
        where = self._search.fillable(partial)
        if not partial.pieces:
            where = where[:1]  # the block can be turned so that any of its corners is this one
        self._search.budget.work.spend("candidate", len(where) * len(self._table.template))
        found = self._table.best(frontier, where, self._stock(partial), _CHILDREN)
        if partial.sized:
            return found or []
        return (found or []) + self._sides(partial, where)

    def _sides(self, partial: Partial, where: list[tuple[int, int]]) -> list[Candidate]:
        """The block's right or top side laid where its width is still open."""
        found = []
        for n, k in where:
            loop = partial.frontier.loops[n]
            v = loop[k]
            if v == 0 or not partial.frontier.sides[v]:
                continue
            far, before = (
                self._search.is_far(partial, loop[(k + 1) % len(loop)]),
                self._search.is_far(partial, loop[k - 1]),
            )
            if not far and not before:
                continue
            at = partial.frontier.at
            here = at[v].real if far else at[v].imag
            on = sum(abs((at[u].real if far else at[u].imag) - here) < self._search.snap for u in loop)
            found.append(Candidate((n, k), Choice(None, RIGHT if far else TOP, 1, 0.0), on - 1))
        return found

    def _stock(self, partial: Partial) -> NDArray[np.bool_]:
        left = np.array(partial.left)[self._table.template]
        over = np.array([-1 if o is None else o for o in partial.left_reversed])[self._table.template]
        either = (over < 0) | self._plain
        return np.asarray((left > 0) & (either | np.where(self._table.reversed, over > 0, left > over)))

    def _laid(self, partial: Partial, candidate: Candidate) -> Partial | None:
        self.used += 1
        child = self._search.copied(partial)
        choice = candidate.choice
        if choice.face is None:
            done = self._search.close_off(child, candidate.where, choice.corner)
            child.conditions += candidate.conditions if done else 0
        else:
            done = self._search.place(child, candidate.where, choice.face, choice)
        return child if done and self._search.settles(child) else None


def _mark(partial: Partial) -> frozenset[tuple[int, int, int]]:
    at = partial.frontier.at
    middles = ((t, sum(at[v] for v in corners) / len(corners)) for t, _, corners in partial.pieces)
    return frozenset((t, round(z.real / _SAME_MM), round(z.imag / _SAME_MM)) for t, z in middles)
