"""Sew the pieces of a large block together from below: every part that the surest seams make, once.

A frontier that is filled piece by piece has only its own corner to go by, and carries its errors on. Here all
edges are compared with all: of hundreds, those that must be neighbours stand out by three agreements at once
(``joined``). Whatever was sewn together is a part like a piece, and is kept beside those it was made of, so that
what is doubtful in one corner of the block is tried once and not again with every doubt in another; parts of many
pieces from sure seams go first. (In the analysis of language the like is a chart with an agenda: M. Kay,
*Algorithm schemata and data structures in syntactic processing*, 1980.) Parts that together have every piece are
laid out whole. Nothing is proved: what is not found here may still be there.
"""

import heapq
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.joined import Joined, Seam, seams_among, sewn
from seamsurvey.block.work import Work

_AGREES = 3.5  # standard deviations within which edges are as long
# Of seams that agree, by how many of their two ends go on straight, about so many are false: cuts to the middle of
# an edge, and parts that are alike, agree as exactly as neighbours do. Counted on the blocks that the benchmark of
# layouts cuts up.
_ALIKE = (0.9, 0.5, 0.04)
_NEIGHBOUR = 0.3  # share of the edges that are whole edges of their neighbour, about
_GAIN = 0.4  # of the cost, for each piece more: large parts are not behind for the seams that they have
_SAME_MM = 0.5  # parts of the same pieces are one where their outlines are as long
_MOST_PARTS = 12_000
_MOST_NODES = 4_000  # looked at, for the parts that make the block with one
_LATE_PARTS, _LATE_SETS = 100, 40  # the largest parts, and sets with them, when nothing is left to be sewn


@dataclass(frozen=True, eq=False)
class Parts:
    """What is left to put together: ``parts`` that together have every piece."""

    parts: tuple[Joined, ...]

    @property
    def pieces(self) -> int:
        """How many there are in the block."""
        return sum(part.count for part in self.parts)


@dataclass(frozen=True, eq=False)
class _Made:
    """A part: which templates are in it, as bits, and what its seams cost."""

    joined: Joined
    bits: int
    cost: float
    around: float


class Joining:
    """Sews ``parts`` together, each of another template; ``used`` counts the seams sewn."""

    def __init__(self, parts: Sequence[Joined], few: int, work: Work) -> None:
        self._few, self._work = few, work
        self._whole = (1 << len(parts)) - 1
        self._made: list[_Made] = []
        self._by_bits: dict[int, list[int]] = {}
        self._having: list[list[int]] = [[] for _ in parts]  # the parts that have a template, as numbers
        self._largest = 1
        self._edges = _Edges()
        self._chance = math.log(2 * sum(len(part.corners) for part in parts) / _NEIGHBOUR)
        self._agenda: list[tuple[float, int, float, int, int, Seam]] = []
        self._serial = 0
        self.used = 0
        self._start = list(parts)

    def run(self) -> Iterator[Parts]:
        """Sets of at most ``few`` pieces, counted in the block, with every template, the surest about first."""
        for k, part in enumerate(self._start):
            self._add(_Made(part, 1 << k, 0.0, _around(part)))
        while self._agenda and len(self._made) < _MOST_PARTS and not self._work.over():
            _, _, cost, one, other, seam = heapq.heappop(self._agenda)
            a, b = self._made[one], self._made[other]
            around = a.around + b.around - 2 * float(a.joined.rows[0][seam.edge, 0])
            bits = a.bits | b.bits
            if self._known(bits, around):
                continue
            self.used += 1
            self._work.spend("sewn")
            self._work.spend("solved", (len(a.joined.corners) + len(b.joined.corners)) ** 3)
            whole = sewn(seam)
            number = self._add(_Made(whole, bits, cost, _around(whole)))
            # Two or three single parts that make a convex outline have a whole edge in common: they are a part.
            most = 1 if whole.count == 1 else 2
            yield from (Parts(parts) for parts in self._sets_with(number, most))
        yield from self._late_sets()

    def _late_sets(self) -> Iterator[Parts]:
        """Sets of four parts and more, that no straight cut goes through, when nothing is left to be sewn."""
        seen: set[frozenset[int]] = set()
        largest = sorted(
            range(len(self._made)), key=lambda k: (-self._made[k].bits.bit_count(), self._made[k].cost)
        )
        for number in largest[:_LATE_PARTS]:
            for parts in self._sets_with(number, self._few):
                mark = frozenset(id(part) for part in parts)
                if len(parts) > 3 and mark not in seen:
                    seen.add(mark)
                    yield Parts(parts)
                    if len(seen) >= _LATE_SETS:
                        return

    def _known(self, bits: int, around: float) -> bool:
        return any(abs(self._made[k].around - around) <= _SAME_MM for k in self._by_bits.get(bits, ()))

    def _add(self, made: _Made) -> int:
        """Keep a part, with the seams that it allows; its number."""
        number = len(self._made)
        self._made.append(made)
        self._by_bits.setdefault(made.bits, []).append(number)
        for k in _bits(made.bits):
            self._having[k].append(number)
        self._largest = max(self._largest, made.bits.bit_count())
        part = made.joined
        self._work.spend("paired", len(part.corners) * len(self._edges))
        near = [
            (edge, who, along)
            for edge, who, along in self._edges.as_long(part)
            if not self._made[who].bits & made.bits and self._made[who].joined.count == part.count
        ]
        self._work.spend("weighed", len(near))
        for seam, who in seams_among(
            part, [(edge, self._made[who].joined, along, who) for edge, who, along in near]
        ):
            cost = made.cost + self._made[who].cost + self._cost(seam)
            pieces = (made.bits | self._made[who].bits).bit_count()
            self._serial += 1
            heapq.heappush(self._agenda, (cost - _GAIN * pieces, self._serial, cost, number, who, seam))
        self._edges.add(number, part)
        return number

    def _cost(self, seam: Seam) -> float:
        """Minus the logarithm of the probability that it is a seam of the block."""
        alike = _ALIKE[sum(seam.straight)]
        return math.log1p(math.exp(self._chance - seam.evidence)) - math.log1p(-alike)

    def _sets_with(self, number: int, most: int) -> Iterator[tuple[Joined, ...]]:
        """The sets of at most so many parts, and of few pieces, that have every template, this part among them."""
        made = self._made[number]
        nodes = [0]
        for others in self._covers(self._whole & ~made.bits, self._few - made.joined.count, most - 1, nodes):
            yield tuple(self._made[k].joined for k in (number, *others))

    def _covers(self, rest: int, room: int, more: int, nodes: list[int]) -> Iterator[tuple[int, ...]]:
        if not rest:
            yield ()
            return
        if rest.bit_count() > min(room, more) * self._largest or nodes[0] > _MOST_NODES:
            return
        # The template that the fewest parts have.
        rarest = min(_bits(rest), key=lambda k: len(self._having[k]))
        self._work.spend("covered", len(self._having[rarest]))
        for number in self._having[rarest]:
            made = self._made[number]
            if made.joined.count <= room and not made.bits & ~rest:
                nodes[0] += 1
                for others in self._covers(rest & ~made.bits, room - made.joined.count, more - 1, nodes):
                    yield (number, *others)


class _Edges:
    """The edges of all parts: their lengths in one array, to find those that are as long as another."""

    def __init__(self) -> None:
        self._rows = np.zeros((0, 2))  # length and its standard deviation, mm; more rows than used
        self._whose = np.zeros((0, 2), dtype=int)
        self._used = 0

    def __len__(self) -> int:
        return self._used

    def add(self, number: int, part: Joined) -> None:
        """Take in the edges of a part."""
        n = part.distinct
        while self._used + n > len(self._rows):
            self._rows = np.concatenate([self._rows, np.zeros((len(self._rows) + 256, 2))])
            self._whose = np.concatenate([self._whose, np.zeros((len(self._whose) + 256, 2), dtype=int)])
        where = slice(self._used, self._used + n)
        self._rows[where] = _lengths(part)
        self._whose[where, 0], self._whose[where, 1] = number, np.arange(n)
        self._used += n

    def as_long(self, part: Joined) -> list[tuple[int, int, int]]:
        """(edge of the part, number of another, its edge), of edges that agree in length."""
        rows = self._rows[: self._used]
        found: list[tuple[int, int, int]] = []
        for edge, (length, sigma) in enumerate(_lengths(part)):
            near = np.flatnonzero(np.abs(rows[:, 0] - length) <= _AGREES * np.hypot(rows[:, 1], sigma))
            found += [(edge, int(who), int(along)) for who, along in self._whose[near]]
        return found


def _lengths(part: Joined) -> NDArray[np.float64]:
    """(distinct, 2): length and standard deviation of each edge, mm."""
    n = part.distinct
    return np.stack([part.rows[0][:n, 0], np.sqrt(part.known[:n, 0, 0])], axis=1)


def _around(part: Joined) -> float:
    return float(part.rows[0][:, 0].sum())


def _bits(bits: int) -> Iterator[int]:
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low
