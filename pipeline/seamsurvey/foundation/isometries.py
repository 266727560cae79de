"""The ways one set of pieces lies on another: turned, shifted, and turned over.

A cure found for one cell of a block is carried to its equal cells, and a cure is symmetric where its cell is.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np
from attrs import frozen

from seamsurvey.foundation.motions import SAME_PRINT_MM
from seamsurvey.geometry import Points, centroid, rotation, signed_area


@frozen(eq=False)
class Isometry:
    """``x -> matrix @ x + shift``, block frame, mm; ``onto[k]`` is the piece on which piece k lands."""

    matrix: Points  # (2, 2)
    shift: Points  # (2,)
    onto: dict[int, int]
    mirrored: bool

    def carry(self, outline: Points) -> Points:
        """(n, 2): the outline where it lands, counter-clockwise again."""
        landed = outline @ self.matrix.T + self.shift
        return landed[::-1] if self.mirrored else landed


@frozen(eq=False)
class Patches:
    """Pieces with what tells them apart: outlines (n, 2) by piece, block frame, and a kind."""

    outlines: dict[int, Points]
    kinds: dict[int, object]

    def middle(self) -> Points:
        """(2,): the centre of area of all together."""
        areas = np.array([signed_area(outline) for outline in self.outlines.values()])
        middles = np.array([centroid(outline) for outline in self.outlines.values()])
        return np.asarray(areas @ middles / areas.sum())


def isometries(one: Patches, other: Patches) -> Iterator[Isometry]:
    """All isometries that lay ``one`` on ``other``, kind on kind: those that turn nothing over come first."""
    if sorted(map(str, one.kinds.values())) != sorted(map(str, other.kinds.values())):
        return
    start, end = one.middle(), other.middle()
    corners, targets = np.vstack(list(one.outlines.values())), np.vstack(list(other.outlines.values()))
    reach, there = np.hypot(*(corners - start).T), np.hypot(*(targets - end).T)
    farthest = int(np.argmax(reach))
    near = targets[np.abs(there - reach[farthest]) <= SAME_PRINT_MM] - end
    if abs(there.max() - reach[farthest]) > SAME_PRINT_MM:
        return
    for mirrored in (False, True):
        flip = np.diag([-1.0, 1.0]) if mirrored else np.eye(2)
        tip = flip @ (corners[farthest] - start)
        turns = sorted(
            {round(math.degrees(math.atan2(t[1], t[0]) - math.atan2(tip[1], tip[0])) % 360, 6) for t in near}
        )
        for turn in _apart(turns):
            matrix = rotation(round(turn / 45) * 45.0 if abs(turn - round(turn / 45) * 45) < 1e-4 else turn) @ flip
            found = _landing(one, other, matrix, end - matrix @ start)
            if found is not None:
                yield Isometry(matrix, end - matrix @ start, found, mirrored)


def _apart(turns: Sequence[float]) -> list[float]:
    """Without those that are another but for rounding."""
    kept: list[float] = []
    for turn in turns:
        if all(abs((turn - other + 180) % 360 - 180) > 0.05 for other in kept):
            kept.append(turn)
    return kept


def _landing(one: Patches, other: Patches, matrix: Points, shift: Points) -> dict[int, int] | None:
    names = list(other.outlines)
    middles = np.array([other.outlines[name].mean(axis=0) for name in names])
    onto: dict[int, int] = {}
    for piece, outline in one.outlines.items():
        landed = outline @ matrix.T + shift
        away = np.hypot(*(middles - landed.mean(axis=0)).T)
        best = int(np.argmin(away))
        target = other.outlines[names[best]]
        if away[best] > SAME_PRINT_MM or len(target) != len(landed) or one.kinds[piece] != other.kinds[names[best]]:
            return None
        gaps = np.hypot(*(landed[:, None] - target[None]).transpose(2, 0, 1)).min(axis=1)
        if gaps.max() > SAME_PRINT_MM:
            return None
        onto[piece] = names[best]
    return onto if len(set(onto.values())) == len(onto) else None


def symmetries_of(patches: Patches) -> tuple[Isometry, ...]:
    """The isometries of a cell on itself, the one that moves nothing first."""
    found = list(isometries(patches, patches))
    still = [s for s in found if np.allclose(s.matrix, np.eye(2), atol=1e-6)]
    return (*still, *(s for s in found if s not in still))
