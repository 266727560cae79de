"""The symmetries of an outline: its moves onto itself, and every kind of group of them that a layout can have.

A polygon's moves form a dihedral group: ``n`` turns about its middle and as many mirrors, or one of each, or fewer.
Its subgroups, up to a move of the whole, are the turns by 1/d with or without mirrors (J. H. Conway, D. A. Smith,
*On Quaternions and Octonions*, 2003, chapter 3, has them; easily checked by hand).
"""

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass

_TURN_NAMES = {1: "none", 2: "half-turn", 3: "third-turn", 4: "quarter-turn", 6: "sixth-turn", 8: "eighth-turn"}


@dataclass(frozen=True)
class Shift:
    """A move of the plane: z goes to ``turn · z + by``, or to ``turn · conj(z) + by`` when mirrored."""

    mirrored: bool
    turn: complex
    by: complex

    def __call__(self, z: complex) -> complex:
        """Where a point goes."""
        return self.turn * (z.conjugate() if self.mirrored else z) + self.by


@dataclass(frozen=True)
class Group:
    """``turns`` is the order of its turns; ``axes`` the directions of its mirrors, radians in [0, π), none without.

    ``moves`` are all of it but standing still.
    """

    turns: int
    axes: tuple[float, ...]
    moves: tuple[Shift, ...]

    @property
    def order(self) -> int:
        """How many moves it has, standing still among them."""
        return len(self.moves) + 1

    @property
    def name(self) -> str:
        """What a person calls it."""
        turn = _TURN_NAMES.get(self.turns, f"turn by 1/{self.turns}")
        if not self.axes:
            return turn
        if self.turns == 1:
            return "mirror" if _upright(self.axes[0]) else "mirror-diagonal"
        return f"{turn} and mirror"

    def has(self, symmetry: str) -> bool:
        """Whether a block of this group has the symmetry of that name, as ``symmetry.ORDER`` lists them."""
        straight = any(_upright(axis) for axis in self.axes)
        return {
            "none": True,
            "mirror": straight,
            "mirror-diagonal": bool(self.axes) and not all(_upright(axis) for axis in self.axes),
            "both": straight and self.turns % 2 == 0,
            **{name: self.turns % turns == 0 for turns, name in _TURN_NAMES.items() if turns > 1},
        }[symmetry]


def _upright(axis: float) -> bool:
    return abs(math.sin(2 * axis)) < 1e-3


def isometries(outline: Sequence[complex], near: float) -> tuple[Shift, ...]:
    """Every move that brings the outline's corners (counter-clockwise) onto its corners, standing still first."""
    n = len(outline)
    middle = sum(outline) / n
    spokes = [z - middle for z in outline]
    found: list[Shift] = []
    for mirrored in (False, True):
        source = [z.conjugate() for z in spokes][::-1] if mirrored else spokes
        for k in range(n):
            target = spokes[k:] + spokes[:k]
            pull = sum(t * s.conjugate() for t, s in zip(target, source, strict=True))
            if abs(pull) < 1e-9:
                continue
            turn = _clean(pull / abs(pull))
            if all(abs(turn * s - t) <= near for s, t in zip(source, target, strict=True)):
                by = middle - turn * (middle.conjugate() if mirrored else middle)
                found.append(Shift(mirrored, turn, by))
    return tuple(sorted(found, key=lambda m: (m.mirrored, round(cmath.phase(m.turn) % (2 * math.pi - 1e-6), 6))))


def _clean(turn: complex) -> complex:
    """The turn, exact where it is one by a multiple of a twenty-fourth."""
    step = 2 * math.pi / 48
    exact = cmath.exp(1j * step * round(cmath.phase(turn) / step))
    return exact if abs(exact - turn) < 1e-2 else turn


def groups(moves: Sequence[Shift]) -> list[Group]:
    """Every kind of subgroup of an outline's moves, the largest first."""
    turns = [m for m in moves if not m.mirrored]
    mirrors = sorted((m for m in moves if m.mirrored), key=_axis)
    n = len(turns)
    found: list[Group] = []
    for d in (d for d in range(n, 0, -1) if n % d == 0):
        turning = [m for k, m in enumerate(turns) if k % (n // d) == 0]
        if len(mirrors) == n:
            step = n // d
            for first in (0, 1) if step % 2 == 0 else (0,):
                folding = mirrors[first::step]
                found.append(Group(d, tuple(_axis(m) for m in folding), (*turning[1:], *folding)))
        found.append(Group(d, (), tuple(turning[1:])))
    return sorted(found, key=lambda g: -g.order)


def group_of(kept: Sequence[Shift]) -> Group:
    """The group of the moves that carry a layout to itself, standing still among them or not."""
    moves = [m for m in kept if m.mirrored or abs(m.turn - 1) > 1e-6]
    turns = 1 + sum(not m.mirrored for m in moves)
    return Group(turns, tuple(sorted(_axis(m) for m in moves if m.mirrored)), tuple(moves))


def _axis(mirror: Shift) -> float:
    """The direction of a mirror's line, radians in [0, π)."""
    angle = (cmath.phase(mirror.turn) / 2) % math.pi
    return 0.0 if angle > math.pi - 1e-9 else angle
