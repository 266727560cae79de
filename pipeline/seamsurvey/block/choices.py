"""What can be laid at one corner of the opening: which face's which corner, flush along the edge that leaves it."""

import bisect
import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from seamsurvey.block.shapes import Face, bows_alike

# Sums of a few angles or lengths rule a leftover out only while they are few.
_ANGLE_SUMS_TO = 0.6 * math.pi
_MOST_ANGLE_SUMS = 200
_LENGTH_SUMS_TO = 3  # times the shortest edge
_MOST_LENGTH_SUMS = 60
_ANGLE_SLACK = 0.01  # radians, on top of what the snap allows: sums of angles add up their errors


@dataclass(frozen=True)
class Corner:
    """A convex corner of the opening: angles in radians, lengths in mm, directions as unit complex numbers.

    ``onward`` and ``out`` are of the edge that leaves it (the opening on its left), ``back`` and ``into`` of the
    edge that reaches it, looked along from the corner. ``beyond`` are the open angles at the edges' other ends,
    onward and back. ``at_side``: the corner lies on the block's side while the block's size is open, so that more
    than pieces may come to lie there. ``bows`` are the bulges of the edge that leaves and of that which reaches it.
    """

    gap: float
    onward: float
    back: float
    out: complex
    into: complex
    beyond: tuple[float, float]
    at_side: bool
    bows: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Choice:
    """A face laid with its corner in the corner, turned by ``turn``; with no face, a side of the block.

    ``corner`` is the face's, or the flag of the side; of several choices the smallest ``rank`` is the likeliest.
    """

    face: Face | None
    corner: int
    turn: complex
    rank: float


class Chooser:
    """The tests that need no laying: angles against the gap, edges against the opening's edges."""

    def __init__(self, faces: list[Face], turns: tuple[int, ...], snap: float) -> None:
        self._turns, self._snap = turns, snap
        self._sharpest = min(a for f in faces for a in f.angles)
        self._shortest = min(e for f in faces for e in f.lengths)
        self._angle_sums = _sums([a for f in faces for a in f.angles], _ANGLE_SUMS_TO, _MOST_ANGLE_SUMS)
        lengths = [e for f in faces for e in f.lengths]
        self._length_sums = _sums(lengths, _LENGTH_SUMS_TO * self._shortest, _MOST_LENGTH_SUMS)

    def choices(self, corner: Corner, faces: Iterable[Face]) -> Iterator[Choice]:
        """Every way to lay one of the faces; a face that turns onto itself is tried in one of its turns only."""
        for face in faces:
            n = len(face.corners)
            for c in range(n // self._turns[face.template]):
                edge, last = face.lengths[c], face.lengths[c - 1]
                slack = 1.5 * self._snap / min(corner.back, corner.onward, edge, last)
                spare = corner.gap - face.angles[c]
                if spare < -slack:
                    continue
                fits = spare <= slack
                if not fits and not self._can_be_filled(spare, slack, corner.at_side):
                    continue
                if not self._edge_fits(edge, corner.onward, corner.beyond[0], face.angles[(c + 1) % n]):
                    continue
                if fits and not self._edge_fits(last, corner.back, corner.beyond[1], face.angles[c - 1]):
                    continue
                if not self._bows_fit(edge, corner.onward, face.bulges[c], corner.bows[0]):
                    continue
                if fits and not self._bows_fit(last, corner.back, face.bulges[c - 1], corner.bows[1]):
                    continue
                turn = _turn(face, c, corner.out, corner.into if fits else None)
                # Whole edges and full corners first, and of those the large pieces.
                rank = (not fits) + (abs(edge - corner.onward) >= self._snap) - 1e-4 * face.area**0.5
                yield Choice(face, c, turn, rank)

    def _can_be_filled(self, spare: float, slack: float, at_side: bool) -> bool:
        if spare < self._sharpest - slack:
            return False
        return at_side or _among(self._angle_sums, spare, slack + _ANGLE_SLACK)

    def _edge_fits(self, edge: float, onward: float, beyond: float, angle: float) -> bool:
        """Whether an edge of a piece can lie along an edge of the opening, both beginning at the same corner."""
        snap = self._snap
        slack = 2 * snap / min(edge, onward)
        if edge > onward + snap:
            return beyond >= math.pi - slack
        if edge < onward - snap:
            rest = onward - edge
            if beyond >= math.pi - slack:
                return True
            return rest >= self._shortest - snap and _among(self._length_sums, rest, snap)
        spare = beyond - angle
        return abs(spare) <= slack or spare >= self._sharpest - slack

    def _bows_fit(self, edge: float, onward: float, bulge: float, bow: float) -> bool:
        """Whether both edges are straight, or arcs of one length that bow alike."""
        if not bulge and not bow:
            return True
        return abs(edge - onward) <= 2 * self._snap and bows_alike(onward, bulge, bow, self._snap)


def _turn(face: Face, c: int, out: complex, into: complex | None) -> complex:
    """The turn that lays edge c along ``out``, and the edge before it along ``into`` where both are to fit."""
    corners = face.corners
    pull = out * (corners[(c + 1) % len(corners)] - corners[c]).conjugate()
    if into is not None:
        pull += into * (corners[c - 1] - corners[c]).conjugate()
    return pull / abs(pull)


def _sums(values: list[float], limit: float, most: int) -> list[float] | None:
    """All sums of the values up to a limit, sorted; None when there are too many to be of use."""
    distinct: list[float] = []
    for value in sorted(values):
        if not distinct or value - distinct[-1] > 1e-3 * max(1.0, value):
            distinct.append(value)
    sums: set[float] = set()
    for count in range(1, int(limit / distinct[0]) + 2):
        for combination in itertools.combinations_with_replacement(distinct, count):
            total = sum(combination)
            if total <= limit:
                sums.add(total)
                if len(sums) > most:
                    return None
            elif combination[0] * count > limit:
                break
    return sorted(sums)


def _among(sums: list[float] | None, value: float, tolerance: float) -> bool:
    """Whether a value is one of the sums; true where the sums don't reach that far or weren't kept."""
    if not sums or value > sums[-1] - tolerance:
        return True
    k = bisect.bisect_left(sums, value - tolerance)
    return k < len(sums) and sums[k] <= value + tolerance
