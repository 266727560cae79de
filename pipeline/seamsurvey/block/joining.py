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
_FIELD = 10  # bits that hold how often a part has a piece
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
    """A part: how often each of the first is in it (``uses``, packed), how many in all, what its seams cost."""

    joined: Joined
    uses: int
    pieces: int
    cost: float
    around: float


class Joining:
    """Sews ``parts`` together, so many ``copies`` of each; ``used`` counts the seams sewn."""

    def __init__(self, parts: Sequence[Joined], copies: Sequence[int], few: int, work: Work) -> None:
        self._few, self._work = few, work
        self._stock = sum(n << _FIELD * k for k, n in enumerate(copies))
        self._spare = sum(1 << _FIELD * k + _FIELD - 1 for k in range(len(parts)))  # a bit over each number
        self._pieces = sum(copies)
        self._made: list[_Made] = []
        self._by_uses: dict[int, list[int]] = {}
        self._having: list[list[int]] = [[] for _ in parts]  # the parts that have a piece, as numbers
        self._largest = 1
        self._edges = _Edges()
        edges = sum(len(part.corners) * n for part, n in zip(parts, copies, strict=True))
        self._chance = math.log(2 * edges / _NEIGHBOUR)
        self._agenda: list[tuple[float, int, float, int, int, Seam]] = []
        self._serial = 0
        self.used = 0
        self._start = list(parts)

    def run(self) -> Iterator[Parts]:
        """Sets of at most ``few`` pieces, counted in the block, that have all, the surest about first."""
        for k, part in enumerate(self._start):
            self._add(_Made(part, 1 << _FIELD * k, 1, 0.0, _around(part)))
        while self._agenda and len(self._made) < _MOST_PARTS and not self._work.over():
            _, _, cost, one, other, seam = heapq.heappop(self._agenda)
            a, b = self._made[one], self._made[other]
            around = a.around + b.around - 2 * float(a.joined.rows[0][seam.edge, 0])
            uses = a.uses + b.uses
            if self._known(uses, around):
                continue
            self.used += 1
            self._work.spend("sewn")
            self._work.spend("solved", (len(a.joined.corners) + len(b.joined.corners)) ** 3)
            whole = sewn(seam)
            number = self._add(_Made(whole, uses, a.pieces + b.pieces, cost, _around(whole)))
            # Two or three single parts that make a convex outline have a whole edge in common: they are a part.
            most = 1 if whole.count == 1 else 2
            yield from (Parts(parts) for parts in self._sets_with(number, most))
        yield from self._late_sets()

    def _late_sets(self) -> Iterator[Parts]:
        """Sets of four parts and more, that no straight cut goes through, when nothing is left to be sewn."""
        seen: set[frozenset[int]] = set()
        made = self._made
        largest = sorted(range(len(made)), key=lambda k: (-made[k].pieces, made[k].cost))
        for number in largest[:_LATE_PARTS]:
            for parts in self._sets_with(number, self._few):
                mark = frozenset(id(part) for part in parts)
                if len(parts) > 3 and mark not in seen:
                    seen.add(mark)
                    yield Parts(parts)
                    if len(seen) >= _LATE_SETS:
                        return

    def _known(self, uses: int, around: float) -> bool:
        return any(abs(self._made[k].around - around) <= _SAME_MM for k in self._by_uses.get(uses, ()))

    def _holds(self, stock: int, uses: int) -> bool:
        """Whether there are so many of each."""
        return ((stock | self._spare) - uses) & self._spare == self._spare

    def _add(self, made: _Made) -> int:
        """Keep a part, with the seams that it allows; its number."""
        number = len(self._made)
        self._made.append(made)
        self._by_uses.setdefault(made.uses, []).append(number)
        for k in _kinds(made.uses):
            self._having[k].append(number)
        self._largest = max(self._largest, made.pieces)
        part = made.joined
        self._edges.add(number, part)  # it may be sewn to another such part
        self._work.spend("paired", len(part.corners) * len(self._edges))
        near = [
            (edge, self._made[who].joined, along, who)
            for edge, who, along in self._edges.as_long(part)
            if self._made[who].joined.count == part.count
            and self._holds(self._stock, self._made[who].uses + made.uses)
        ]
        self._work.spend("weighed", len(near))
        for seam, who in seams_among(part, near):
            cost = made.cost + self._made[who].cost + self._cost(seam)
            pieces = made.pieces + self._made[who].pieces
            self._serial += 1
            heapq.heappush(self._agenda, (cost - _GAIN * pieces, self._serial, cost, number, who, seam))
        return number

    def _cost(self, seam: Seam) -> float:
        """Minus the logarithm of the probability that it is a seam of the block."""
        alike = _ALIKE[sum(seam.straight)]
        return math.log1p(math.exp(self._chance - seam.evidence)) - math.log1p(-alike)

    def _sets_with(self, number: int, most: int) -> Iterator[tuple[Joined, ...]]:
        """The sets of at most so many parts, and of few pieces, that have all, this part among them."""
        made = self._made[number]
        rest, open_ = self._stock - made.uses, self._pieces - made.pieces
        for others in self._covers(rest, open_, self._few - made.joined.count, most - 1, [0]):
            yield tuple(self._made[k].joined for k in (number, *others))

    def _covers(self, rest: int, pieces: int, room: int, more: int, nodes: list[int]) -> Iterator[tuple[int, ...]]:
        if not rest:
            yield ()
            return
        if pieces > min(room, more) * self._largest or nodes[0] > _MOST_NODES:
            return
        # The piece that the fewest parts have.
        rarest = min(_kinds(rest), key=lambda k: len(self._having[k]))
        self._work.spend("covered", len(self._having[rarest]))
        for number in self._having[rarest]:
            made = self._made[number]
            if made.joined.count <= room and self._holds(rest, made.uses):
                nodes[0] += 1
                left = rest - made.uses
                for others in self._covers(left, pieces - made.pieces, room - made.joined.count, more - 1, nodes):
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


def _kinds(uses: int) -> Iterator[int]:
    """Which of the first there are any of."""
    while uses:
        k = ((uses & -uses).bit_length() - 1) // _FIELD
        yield k
        uses &= ~((1 << _FIELD) - 1 << _FIELD * k)
