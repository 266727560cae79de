"""The symmetries a block can have: where the images of a piece lie, and the moves of an outline onto itself.

Names: "sixth-turn" (and so third and half turns), "quarter-turn" (and so half-turn), "third-turn", "both" (left to
right and bottom to top), "half-turn", "mirror" (left to right), "mirror-diagonal" (about the diagonal through the
lower left), "none".
"""

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass

from seamsurvey.block.outlines import Outline

ORDER = {
    "sixth-turn": 6, "quarter-turn": 4, "both": 4, "third-turn": 3,
    "half-turn": 2, "mirror": 2, "mirror-diagonal": 2, "none": 1,
}  # fmt: skip
# Looked for unless the person says which; a block with both mirrors is met as one with a mirror.
AUTO = ("sixth-turn", "quarter-turn", "third-turn", "half-turn", "mirror", "mirror-diagonal", "none")
TURNS = {"sixth-turn": 6, "quarter-turn": 4, "third-turn": 3, "half-turn": 2}
MIRRORED = frozenset({"mirror", "mirror-diagonal", "both"})


@dataclass(frozen=True)
class Move:
    """A move of an outline onto itself: z goes to turn · z + shift, or to turn · conj(z) + shift when mirrored.

    ``about`` is a point that stays, in shares of width and height, so that shift = about - turn · about.
    """

    name: str
    mirrored: bool
    turn: complex
    about: tuple[float, float] = (0.5, 0.5)

    def to(self, z: complex, size: Sequence[float]) -> complex:
        """Where a point goes, for a block of (width, height) ``size``."""
        stays = complex(self.about[0] * size[0], self.about[1] * size[1])
        away = z - stays
        return stays + self.turn * (away.conjugate() if self.mirrored else away)


STILL = Move("none", False, 1 + 0j)


def _turn(parts: int, times: int = 1) -> complex:
    quarter = 4 * times / parts
    return 1j ** round(quarter) if quarter == round(quarter) else cmath.exp(2j * math.pi * times / parts)


_HALF = Move("half-turn", False, -1 + 0j)
_LEFT_RIGHT = Move("mirror", True, -1 + 0j)
_BOTTOM_TOP = Move("mirror", True, 1 + 0j)
_DIAGONAL = Move("mirror-diagonal", True, 1j, (0.0, 0.0))


def moves(name: str) -> list[Move]:
    """The moves of a symmetry, but for standing still."""
    if name in TURNS:
        return [Move(name, False, _turn(TURNS[name], k)) for k in range(1, TURNS[name])]
    return {"both": [_LEFT_RIGHT, _HALF, _BOTTOM_TOP], "mirror": [_LEFT_RIGHT], "mirror-diagonal": [_DIAGONAL]}.get(
        name, []
    )


def images(name: str, size: Sequence[float], corners: Sequence[complex]) -> list[tuple[bool, list[complex]]]:
    """All images of a piece but itself: whether the other face shows, and the corners, counter-clockwise.

    ``corners`` are complex mm, block frame. A turned image keeps the order of the corners; a mirrored one has
    corner k where ``geometry.reversed_face`` has it.
    """
    found = []
    for move in moves(name):
        moved = [move.to(c, size) for c in corners]
        found.append((move.mirrored, [moved[0], *moved[:0:-1]] if move.mirrored else moved))
    return found


def isometries(outline: Outline, size: Sequence[float], tolerance: float) -> list[Move]:
    """The moves that carry the block's outline to itself, standing still among them.

    A rectangle whose width and height agree to within the tolerance has those of a square.
    """
    if outline.name == "triangle":
        return [STILL, _DIAGONAL]
    if outline.name == "hexagon":
        turns = [Move(_turn_name(k), False, _turn(6, k)) for k in range(1, 6)]
        flips = [Move("mirror" if k % 3 == 0 else "mirror-slant", True, _turn(6, k)) for k in range(6)]
        return [STILL, *turns, *flips]
    if outline.name == "octagon":
        names = {2: "quarter-turn", 4: "half-turn", 6: "quarter-turn"}
        turns = [Move(names.get(k, "eighth-turn"), False, _turn(8, k)) for k in range(1, 8)]
        kinds = {0: "mirror", 4: "mirror", 2: "mirror-diagonal", 6: "mirror-diagonal"}
        flips = [Move(kinds.get(k, "mirror-slant"), True, _turn(8, k)) for k in range(8)]
        return [STILL, *turns, *flips]
    found = [STILL, _HALF, _LEFT_RIGHT, _BOTTOM_TOP]
    if abs(size[0] - size[1]) <= tolerance:
        found += [Move("quarter-turn", False, turn) for turn in (1j, -1j)]
        found += [Move("mirror-diagonal", True, turn) for turn in (1j, -1j)]
    return found


def _turn_name(sixths: int) -> str:
    return {1: "sixth-turn", 5: "sixth-turn", 3: "half-turn"}.get(sixths, "third-turn")


def named(kept: Sequence[Move]) -> str:
    """What a person calls the symmetry of a layout that these moves carry to itself."""
    names = {move.name for move in kept}
    mirrors = [move for move in kept if move.mirrored]
    for name in ("eighth-turn", "sixth-turn", "quarter-turn", "third-turn", "half-turn"):
        if name in names:
            return f"{name} and mirror" if mirrors else name
    return mirrors[0].name if mirrors else "none"
