"""Sew the pieces of a large block together from below, the surest seams first, until few parts are left.

A frontier that is filled piece by piece has only its own corner to go by, and carries its errors on. Here all
edges are compared with all: of hundreds, those that must be neighbours stand out by three agreements at once
(``joined``). Each decision, to sew a seam or not, has a probability among the seams that compete for the same
edges; the likeliest sets of decisions are carried on side by side. Nothing is proved: what is not found here may
still be there.
"""

import heapq
import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from seamsurvey.block.joined import Joined, Seam, seams_between, sewn
from seamsurvey.block.work import Work

_WIDTH = 300  # sets of decisions carried on side by side
_BRANCHES = 6  # seams that each of them may sew next
_NEIGHBOUR = 0.3  # share of the edges that are whole edges of their neighbour, about
_SUREST = 1 - 1e-9
_BEHIND = 14.0  # logarithm of the probability by which a set of decisions may lag behind the likeliest


@dataclass(frozen=True, eq=False)
class Parts:
    """What is left to put together: ``parts`` that are still apart, the seams that they allow, and how likely."""

    parts: tuple[Joined, ...]
    seams: tuple[Seam, ...]
    likelihood: float

    @property
    def pieces(self) -> int:
        """How many there are in the block."""
        return sum(part.count for part in self.parts)


class Joining:
    """Sews ``parts`` together; ``used`` counts the seams sewn."""

    def __init__(self, parts: list[Joined], work: Work) -> None:
        self._start, self._work = parts, work
        self._sewn: dict[tuple[int, int, int, int, bool], Joined] = {}
        self._seams: dict[tuple[int, int], list[Seam]] = {}
        self.used = 0

    def run(self) -> Iterator[Parts]:
        """Sets of parts after each round, likeliest first; each has one seam more than those before."""
        start = tuple(self._start)
        seams: list[Seam] = []
        for k, part in enumerate(start):
            seams += self._between(part, start[:k])
        states = [Parts(start, tuple(seams), 0.0)]
        while states and not self._work.over():
            yield from states
            kept: dict[frozenset[int], Parts] = {}
            line = sorted((child for state in states for child in self._decided(state)), key=lambda c: -c[0])
            best = line[0][0] if line else 0.0
            for likelihood, state, seam, without in line:
                if len(kept) >= _WIDTH or likelihood < best - _BEHIND or self._work.over():
                    break
                new = self._sew(seam)
                parts = (*(p for p in state.parts if p is not seam.one and p is not seam.other), new)
                mark = frozenset(id(p) for p in parts)
                if mark not in kept:
                    left = tuple(
                        s for s in state.seams
                        if s not in without and not {s.one, s.other} & {seam.one, seam.other}
                    )  # fmt: skip
                    kept[mark] = Parts(parts, (*left, *self._between(new, parts[:-1])), likelihood)
            states = list(kept.values())

    def _decided(self, state: Parts) -> Iterator[tuple[float, Parts, Seam, set[Seam]]]:
        """(likelihood, state, seam to sew, seams given up): the surest seam, or without it the next, ..."""
        chance = 2 * sum(len(part.corners) for part in state.parts) / _NEIGHBOUR
        weight = {s: math.exp(s.evidence) for s in state.seams}
        at: dict[tuple[Joined, int], float] = defaultdict(float)
        for s, w in weight.items():
            at[s.one, s.edge] += w
            at[s.other, s.along] += w

        def share(s: Seam) -> float:
            own, other = at[s.one, s.edge], at[s.other, s.along]
            return min(weight[s] / (chance + own + other - weight[s]), _SUREST)

        self._work.spend("weighed", len(state.seams))
        likelihood = state.likelihood
        gone: set[Seam] = set()
        for seam in heapq.nlargest(_BRANCHES, weight, key=share):
            sure = share(seam)
            yield likelihood + math.log(sure), state, seam, set(gone)
            likelihood += math.log1p(-sure)
            gone.add(seam)
            at[seam.one, seam.edge] -= weight[seam]
            at[seam.other, seam.along] -= weight[seam]

    def _sew(self, seam: Seam) -> Joined:
        mark = (id(seam.one), seam.edge, id(seam.other), seam.along, seam.turned)
        if mark not in self._sewn:
            self.used += 1
            self._work.spend("sewn")
            self._work.spend("solved", (len(seam.one.corners) + len(seam.other.corners)) ** 3)
            self._sewn[mark] = sewn(seam)
        return self._sewn[mark]

    def _between(self, part: Joined, others: tuple[Joined, ...]) -> list[Seam]:
        new = [o for o in others if (id(part), id(o)) not in self._seams]
        self._work.spend("paired", len(part.corners) * sum(len(o.corners) for o in new))
        for o in new:
            self._seams[id(part), id(o)] = []
        for seam in seams_between(part, new):
            self._seams[id(part), id(seam.other)].append(seam)
        return [s for o in others for s in self._seams[id(part), id(o)]]
