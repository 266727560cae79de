"""Pieces cut by straight lines: which lines may be cut along, and what they leave of each piece.

The lines are all those through two corners or T-meetings of the block, seams among them. Cut along one of them from
boundary to boundary, a convex region falls into two; the pieces it runs through become fragments. A fragment is
known by a number, whatever cuts it came from.
"""

from collections.abc import Iterator

import numpy as np
import shapely
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.foundation.corners import SNAP_MM, corners_only
from seamsurvey.foundation.lines import ON_LINE_MM, SLIVER_DEG, SLIVER_MM, Lines
from seamsurvey.geometry import Points, counter_clockwise, edge_vectors, interior_angles, signed_area

LEFT, CUT, RIGHT, BARRED = 1, 0, -1, 2

Region = frozenset[int]


def is_sliver(outline: Points, excused: Points | None = None) -> bool:
    """Whether a patch is too narrow or too sharp to sew well; corners at the ``excused`` (n, 2) may be sharp."""
    sharp = outline[interior_angles(outline) < SLIVER_DEG - 1e-6]
    if len(sharp) and (excused is None or not _all_among(sharp, excused)):
        return True
    along = edge_vectors(outline)
    normals = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(along[:, 0], along[:, 1])[:, None]
    widths = np.ptp(outline @ normals.T, axis=0)
    return float(widths.min()) < SLIVER_MM - 1e-6


def sharp_corners(outline: Points) -> Points:
    """(n, 2): the corners of a piece that are too sharp as it was drawn; no cut makes them wider."""
    return outline[interior_angles(outline) < SLIVER_DEG - 1e-6]


def _all_among(corners: Points, others: Points) -> bool:
    if not len(others):
        return False
    gaps = np.hypot(*(corners[:, None] - others[None]).transpose(2, 0, 1))
    return bool(gaps.min(axis=1).max() <= SNAP_MM)


@frozen(eq=False)
class Fragment:
    """A piece or what cuts leave of it. ``sides`` is (l,) int8: LEFT or RIGHT of each line, CUT, or BARRED."""

    piece: int
    outline: Points  # (n, 2) block, counter-clockwise
    sides: NDArray[np.int8]
    turns: NDArray[np.float64]  # (b,): its inner angle at each of the block's meeting points that are watched


@frozen(eq=False)
class Fragments:
    """All fragments met with so far, by number; ``watched`` is (b, 2): points at which angles are kept.

    ``excused`` (n, 2) are corners of pieces that are sharp as drawn, and may stay so in a fragment.
    """

    lines: Lines
    watched: Points
    protected: frozenset[int] = frozenset()
    excused: Points | None = None
    watched_sides: NDArray[np.float64] = field(
        init=False
    )  # (l, b): how far left of each line each point lies, or 0
    all: list[Fragment] = field(factory=list, init=False)
    _codes: dict[Region, NDArray[np.int8]] = field(factory=dict, init=False)
    _of_piece: dict[int, list[int]] = field(factory=dict, init=False)
    _numbers: dict[tuple[object, ...], int] = field(factory=dict, init=False)
    _halves: dict[tuple[int, int], tuple[tuple[int, ...], tuple[int, ...]] | None] = field(factory=dict, init=False)

    @watched_sides.default
    def _watched_sides(self) -> NDArray[np.float64]:
        beside = self.lines.beside(self.watched)
        return np.asarray(np.where(np.abs(beside) <= ON_LINE_MM, 0.0, beside))

    def codes(self, region: Region) -> NDArray[np.int8]:
        """(f, l): the side of each line on which each fragment lies, fragments ascending."""
        if region not in self._codes:
            self._codes[region] = np.array([self.all[f].sides for f in sorted(region)])
        return self._codes[region]

    def fall_apart(self, region: Region) -> Iterator[Region]:
        """The parts of a region that lines leave which cut nothing: any such line may be taken first."""
        waiting = [region]
        while waiting:
            part = waiting.pop()
            if len(part) == 1:
                yield part
                continue
            sides = self.codes(part)
            free = ~np.any((sides == CUT) | (sides == BARRED), axis=0)
            free &= np.any(sides == LEFT, axis=0) & np.any(sides == RIGHT, axis=0)
            line = int(np.argmax(free))
            if not free[line]:
                yield part
                continue
            order = sorted(part)
            left = frozenset(f for f, side in zip(order, sides[:, line].tolist(), strict=True) if side == LEFT)
            waiting += [part - left, left]

    def number(self, piece: int, outline: Points) -> int:
        """The number of this part of a piece."""
        key = (piece, *sorted(map(tuple, np.round(outline / (2 * SNAP_MM)).astype(int).tolist())))
        if key not in self._numbers:
            # Met before, but rounded the other way?
            same = (n for n in self._of_piece.get(piece, []) if _same(self.all[n].outline, outline))
            number = next(same, len(self.all))
            if number == len(self.all):
                self.all.append(Fragment(piece, outline, self._sides(piece, outline), self._turns(outline)))
                self._of_piece.setdefault(piece, []).append(number)
            self._numbers[key] = number
        return self._numbers[key]

    def _sides(self, piece: int, outline: Points) -> NDArray[np.int8]:
        beside = self.lines.beside(outline)
        left, right = beside.min(axis=1) >= -ON_LINE_MM, beside.max(axis=1) <= ON_LINE_MM
        sides = np.where(left, LEFT, np.where(right, RIGHT, CUT)).astype(np.int8)
        if piece in self.protected:
            sides[sides == CUT] = BARRED
        return sides

    def _turns(self, outline: Points) -> NDArray[np.float64]:
        turns = np.zeros(len(self.watched))
        for corner, angle in zip(outline, interior_angles(outline), strict=True):
            turns[np.hypot(*(self.watched - corner).T) <= SNAP_MM] += angle
        return turns

    def halves(self, number: int, line: int) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
        """What is left and right of a line that cuts this fragment; None where the cut is not to be made."""
        key = (number, line)
        if key not in self._halves:
            self._halves[key] = self._cut(number, line)
        return self._halves[key]

    def _cut(self, number: int, line: int) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
        fragment = self.all[number]
        beside = self.lines.aside(line, fragment.outline)
        beside = np.where(np.abs(beside) <= ON_LINE_MM, 0.0, beside)
        parts = (_beyond(fragment.outline, beside), _beyond(fragment.outline, -beside))
        low, high = self.lines.reach[line]
        for part in parts[0]:
            ahead = self.lines.along(line, part[np.abs(self.lines.aside(line, part)) <= ON_LINE_MM])
            if len(ahead) and (ahead.min() < low - ON_LINE_MM or ahead.max() > high + ON_LINE_MM):
                return None
        if not all(parts) or any(is_sliver(part, self.excused) for side in parts for part in side):
            return None
        left, right = (tuple(self.number(fragment.piece, part) for part in side) for side in parts)
        return left, right


def _same(one: Points, other: Points) -> bool:
    if len(one) != len(other) or np.abs(one.mean(axis=0) - other.mean(axis=0)).max() > SNAP_MM:
        return False
    gaps = np.hypot(*(one[:, None] - other[None]).transpose(2, 0, 1))
    return bool(gaps.min(axis=1).max() <= 2 * SNAP_MM)


def _beyond(outline: Points, beside: NDArray[np.float64]) -> list[Points]:
    """The parts of a polygon on the side of a line where ``beside`` (n,) is positive."""
    kept: list[Points] = []
    for k in range(len(outline)):
        here, before = beside[k], beside[k - 1]
        if here * before < 0:
            kept.append(outline[k - 1] + before / (before - here) * (outline[k] - outline[k - 1]))
        if here >= 0:
            kept.append(outline[k])
    whole = np.array(kept)
    if len(whole) < 3 or abs(signed_area(whole)) < SNAP_MM:
        return []
    if np.count_nonzero(np.diff(np.sign(beside[beside != 0]))) <= 2 and np.all(interior_angles(outline) < 180):
        return [corners_only(whole)]
    # A piece with an inward corner may fall into several parts, which the walk above leaves hanging by threads.
    clean = (
        shapely.Polygon(whole).buffer(-SNAP_MM / 10, join_style="mitre").buffer(SNAP_MM / 10, join_style="mitre")
    )
    return [
        corners_only(counter_clockwise(_snapped(np.asarray(part.exterior.coords[:-1]), whole)))
        for part in shapely.get_parts(clean)
    ]


def _snapped(corners: Points, onto: Points) -> Points:
    return np.asarray(onto[np.argmin(np.hypot(*(corners[:, None] - onto[None]).transpose(2, 0, 1)), axis=1)])
