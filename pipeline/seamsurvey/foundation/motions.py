"""Turns and shifts that carry pieces of the block onto pieces of the same template.

Two regions are the same print when one such motion carries one onto the other; turned copies are, mirror images
are not. Each region's class is named by its first image, so a block that falls into equal cells is thought through
once.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
from attrs import frozen

from seamsurvey.foundation.arrangement import Arrangement, members
from seamsurvey.geometry import Points, centroid, moved

# Outlines this near are the same print: a tenth of the 1/64 in that a careful piecer can see.
SAME_PRINT_MM = 0.04
# A turn found from one small piece may lead this far astray at the far end of the block, until it is fitted to all.
MISLED_MM = 1.0


@frozen(eq=False)
class Motion:
    """A turn about the block's origin, then a shift, and the piece each piece lands on (-1: on none)."""

    turn_deg: float  # -180 < turn <= 180
    shift: tuple[float, float]  # mm, block frame
    onto: tuple[int, ...]
    domain: int  # the pieces that land on one

    def image(self, region: int) -> int:
        """Where a region within the domain lands."""
        result = 0
        for piece in members(region):
            result |= 1 << self.onto[piece]
        return result

    def origin(self, region: int) -> int:
        """The region that lands on this one."""
        result = 0
        for piece in members(self.domain):
            if region >> self.onto[piece] & 1:
                result |= 1 << piece
        return result


class Motions:
    """All motions of one block that carry at least one piece onto another, the one that moves nothing first."""

    def __init__(self, net: Arrangement, templates: Sequence[str]) -> None:
        self._net = net
        self.all = _find(net, templates)
        self._first: dict[int, tuple[int, Motion]] = {}

    def first_image(self, region: int) -> tuple[int, Motion]:
        """The first of all regions this one can be carried onto, and a motion that does so."""
        if region not in self._first:
            images = [
                (motion.image(region), k) for k, motion in enumerate(self.all) if region & ~motion.domain == 0
            ]
            image, k = min(images)
            self._first[region] = image, self.all[k]
        return self._first[region]

    def between(self, region: int, other: int) -> tuple[float, tuple[float, float]]:
        """The turn (degrees) and shift (mm) that carry one region onto another of its class, the least turn first.

        Fitted to all corners of the region: exact to rounding where the copies are exact.
        """
        motion = self._least(region, other)
        if motion is self.all[0]:
            return 0.0, (0.0, 0.0)
        return _fit(
            [self._net.shapes[p] for p in members(region)],
            [self._net.shapes[motion.onto[p]] for p in members(region)],
            motion,
        )

    def landing(self, region: int, other: int) -> dict[int, int]:
        """Where each piece of one region lands when it is carried onto another of its class."""
        motion = self._least(region, other)
        return {piece: motion.onto[piece] for piece in members(region)}

    def _least(self, region: int, other: int) -> Motion:
        fitting = [m for m in self.all if region & ~m.domain == 0 and m.image(region) == other]
        return min(fitting, key=lambda m: (round(abs(m.turn_deg), 3), -round(m.turn_deg, 3)))


class StillMotions(Motions):
    """Only the motion that moves nothing: where a seam is left open, equal regions are not alike."""

    def __init__(self, net: Arrangement) -> None:
        super().__init__(net, [str(k) for k in range(len(net.ids))])


def _find(net: Arrangement, templates: Sequence[str]) -> list[Motion]:
    """Try each way one piece can lie on another that no motion found so far accounts for."""
    count = len(net.shapes)
    ways = _ways(net.shapes, templates)
    middles = np.array([centroid(outline) for outline in net.shapes])
    found = [Motion(0.0, (0.0, 0.0), tuple(range(count)), net.everything)]
    known: dict[tuple[int, int], list[float]] = {(k, k): [0.0] for k in range(count)}
    for (one, other), turns in ways.items():
        for turn in turns:
            if not any(_same_turn(turn, seen) for seen in known.get((one, other), [])):
                motion = _motion(ways, middles, turn, middles[other] - moved(middles[one], turn, (0.0, 0.0)))
                for source in members(motion.domain):
                    known.setdefault((source, motion.onto[source]), []).append(turn)
                found.append(motion)
    return found


def _ways(outlines: Sequence[Points], templates: Sequence[str]) -> dict[tuple[int, int], list[float]]:
    """For each two pieces of one print, the turns (degrees) that lay the first on the second.

    Each piece is compared with the first of its kind only: its turn onto that one, and that one's own symmetries.
    """
    kinds: list[tuple[str, Points, list[float]]] = []
    kind_of: list[tuple[int, float]] = []
    for outline, template in zip(outlines, templates, strict=True):
        shape = outline - centroid(outline)
        for kind, (name, first, _) in enumerate(kinds):
            turns = _turns_onto(shape, first) if name == template and len(shape) == len(first) else []
            if turns:
                kind_of.append((kind, turns[0]))
                break
        else:
            kind_of.append((len(kinds), 0.0))
            kinds.append((template, shape, _turns_onto(shape, shape)))
    return {
        (one, other): [_tidy(turn + symmetry - onto) for symmetry in kinds[kind][2]]
        for one, (kind, turn) in enumerate(kind_of)
        for other, (same, onto) in enumerate(kind_of)
        if kind == same
    }


def _motion(ways: Mapping[tuple[int, int], Sequence[float]], middles: Points, turn: float, shift: Points) -> Motion:
    """The motion near this turn and shift, fitted to all pieces it carries, not to the one it was found by."""
    onto = _landing(ways, middles, turn, shift, SAME_PRINT_MM)
    near = _landing(ways, middles, turn, shift, MISLED_MM)
    if len(near) > len(onto):
        start, end = middles[list(near)], middles[list(near.values())]
        better = _best_turn(start - start.mean(axis=0), end - end.mean(axis=0))
        there = end.mean(axis=0) - moved(start.mean(axis=0), better, (0.0, 0.0))
        fitted = _landing(ways, middles, better, there, SAME_PRINT_MM)
        if len(fitted) > len(onto):
            turn, shift, onto = better, there, fitted
    return Motion(
        turn_deg=turn,
        shift=(float(shift[0]), float(shift[1])),
        onto=tuple(onto.get(piece, -1) for piece in range(len(middles))),
        domain=sum(1 << piece for piece in onto),
    )


def _landing(
    ways: Mapping[tuple[int, int], Sequence[float]], middles: Points, turn: float, shift: Points, tolerance: float
) -> dict[int, int]:
    """The pieces that land within the tolerance on one they can lie on with this turn."""
    landing = moved(middles, turn, shift)
    near = np.argwhere(np.hypot(*(landing[:, None] - middles[None]).transpose(2, 0, 1)) <= tolerance)
    return {int(a): int(b) for a, b in near if any(_same_turn(turn, way) for way in ways.get((int(a), int(b)), []))}


def _turns_onto(shape: Points, other: Points) -> list[float]:
    """The turns (degrees, -180 < turn <= 180) that lay one shape, centred on its middle, on another."""
    turns: list[float] = []
    for step in range(len(shape)):
        target = np.roll(other, -step, axis=0)
        turn = _best_turn(shape, target)
        if np.max(np.hypot(*(moved(shape, turn, (0.0, 0.0)) - target).T)) <= SAME_PRINT_MM / 2:
            turns.append(turn)
    return turns


def _best_turn(shape: Points, target: Points) -> float:
    """The turn (degrees) with the least squares of the distances left; right-angle turns exactly."""
    cross = float(np.sum(shape[:, 0] * target[:, 1] - shape[:, 1] * target[:, 0]))
    return _tidy(math.degrees(math.atan2(cross, float(np.sum(shape * target)))))


def _tidy(turn: float) -> float:
    """The same turn, -180 < turn <= 180; half right angles exactly."""
    # They come out a rounding error off; 1e-6 degrees is 0.00001 mm at the far end of any block.
    tidy = 45 * round(turn / 45)
    turn = float(tidy) if abs(turn - tidy) < 1e-6 else turn
    return 180 - (180 - turn) % 360


def _same_turn(one: float, other: float) -> bool:
    # Two ways to lie on one another differ by a whole step of a shape's own symmetry, never by under a degree.
    return abs((one - other + 180) % 360 - 180) < 1


def _fit(sources: Sequence[Points], targets: Sequence[Points], motion: Motion) -> tuple[float, tuple[float, float]]:
    paired = []
    for source, target in zip(sources, targets, strict=True):
        landing = moved(source, motion.turn_deg, motion.shift)
        paired.append(target[np.argmin(np.hypot(*(landing[:, None] - target[None]).transpose(2, 0, 1)), axis=1)])
    start, end = np.vstack(sources), np.vstack(paired)
    turn = _best_turn(start - start.mean(axis=0), end - end.mean(axis=0))
    shift = end.mean(axis=0) - moved(start.mean(axis=0), turn, (0.0, 0.0))
    x, y = (round(float(v), 9) + 0.0 for v in shift)
    return turn, (x, y)
