"""The fewest extra fragments by brute force, from the definitions alone: slow, for a convex block of few pieces.

Every line through two corners is tried as a cut of every region, whether it cuts pieces or not; polygons are cut by
shapely, and none of the planner is used. A region is remembered by the fragments in it.
"""

from itertools import combinations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Block

NEAR = 1e-5  # mm
NARROW, SHARP = 6.35, 20.0  # of a sliver: mm, degrees

Region = frozenset[int]


class TooManyError(Exception):
    """Brute force has met more regions than one wants to wait for."""


class Oracle:
    """All fragments and regions of one block met with so far."""

    def __init__(self, block: Block, most_regions: int | None = None) -> None:
        self._most_regions = most_regions
        self._shapes: list[BaseGeometry] = []
        self._piece: list[int] = []
        self._known: dict[tuple[int, bytes], int] = {}
        self._cuts: dict[tuple[int, int], tuple[tuple[int, ...], tuple[int, ...]] | None] = {}
        self._failed: dict[Region, int] = {}
        self._solved: dict[Region, int] = {}
        self._free: dict[Region, tuple[Region, Region] | None] = {}
        outlines = [np.asarray(piece.outline) for piece in block.pieces]
        self._lines = _lines(outlines)
        low, high = np.asarray(block.outline).min(axis=0) - 99, np.asarray(block.outline).max(axis=0) + 99
        self._reach = float(np.hypot(*(high - low)))
        self.start = frozenset(self._number(k, shapely.Polygon(outline)) for k, outline in enumerate(outlines))

    def _number(self, piece: int, shape: BaseGeometry) -> int:
        key = piece, shapely.to_wkb(shapely.normalize(shapely.set_precision(shape, 1e-3)))
        if key not in self._known:
            self._known[key] = len(self._shapes)
            self._shapes.append(shape)
            self._piece.append(piece)
        return self._known[key]

    def fewest(self, most: int) -> int | None:
        """The fewest extra fragments without a sliver, up to ``most``; None where there are none so few."""
        return next((k for k in range(most + 1) if self._within(self.start, k)), None)

    def _within(self, region: Region, allowed: int) -> bool:
        if len(region) == 1:
            return allowed >= 0
        if region in self._solved:
            return self._solved[region] <= allowed
        if self._failed.get(region, -1) >= allowed:
            return False
        fewest = self._least(region, allowed)
        if fewest is None:
            self._failed[region] = allowed
            return False
        self._solved[region] = fewest
        return True

    def _least(self, region: Region, allowed: int) -> int | None:
        if allowed < 0:
            return None
        if self._most_regions is not None and len(self._failed) + len(self._solved) > self._most_regions:
            raise TooManyError
        free = self._free_cut(region)
        if free is not None:
            # A cut along seams only parts no piece, so it can come first whatever comes after.
            return self._sum(free, allowed, 0)
        for wanted in range(self._failed.get(region, -1) + 1, allowed + 1):
            for line in range(len(self._lines)):
                halves = self._halved(region, line, wanted)
                if halves is not None and self._sum(halves[1:], wanted, halves[0]) is not None:
                    return wanted
        return None

    def _sum(self, halves: tuple[Region, ...], allowed: int, cost: int) -> int | None:
        one, other = halves
        for first in range(allowed - cost + 1):
            if self._within(one, first):
                for second in range(allowed - cost - first + 1):
                    if self._within(other, second):
                        return cost + first + second
                return None
        return None

    def _free_cut(self, region: Region) -> tuple[Region, Region] | None:
        if region not in self._free:
            found = (self._halved(region, line, 0) for line in range(len(self._lines)))
            self._free[region] = next((halves[1:] for halves in found if halves is not None), None)
        return self._free[region]

    def _halved(self, region: Region, line: int, allowed: int) -> tuple[int, Region, Region] | None:
        left: set[int] = set()
        right: set[int] = set()
        cost = 0
        for fragment in region:
            parts = self._parted(fragment, line)
            if parts is None:
                return None
            cost += len(parts[0]) + len(parts[1]) - 1
            if cost > allowed:
                return None
            left.update(parts[0])
            right.update(parts[1])
        return (cost, frozenset(left), frozenset(right)) if left and right else None

    def _parted(self, fragment: int, line: int) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
        key = fragment, line
        if key not in self._cuts:
            self._cuts[key] = self._cut(fragment, line)
        return self._cuts[key]

    def _cut(self, fragment: int, line: int) -> tuple[tuple[int, ...], tuple[int, ...]] | None:
        normal, offset, low, high = self._lines[line]
        shape = self._shapes[fragment]
        corners = shapely.get_coordinates(shape)
        aside = corners @ normal - offset
        if aside.min() > -NEAR:
            return (fragment,), ()
        if aside.max() < NEAR:
            return (), (fragment,)
        along = np.array([normal[1], -normal[0]])
        foot, far = normal * offset, along * self._reach * 3
        cut = shapely.LineString([foot - far, foot + far])
        inside = shapely.get_coordinates(shape.intersection(cut)) @ along
        if inside.min() < low - NEAR or inside.max() > high + NEAR:
            return None
        half = shapely.Polygon([foot - far, foot + far, foot + far + normal * self._reach * 6,
                                foot - far + normal * self._reach * 6])  # fmt: skip
        sides = []
        for part in (shape.intersection(half), shape.difference(half)):
            shapes = [p for p in shapely.get_parts(part) if p.area > NEAR]
            if any(_is_sliver(p) for p in shapes):
                return None
            sides.append(tuple(self._number(self._piece[fragment], p) for p in shapes))
        return sides[0], sides[1]


def fewest_fragments(block: Block, most: int, most_regions: int | None = None) -> int | None:
    """The fewest extra fragments that let a block be sewn straight, without slivers; None for over ``most``.

    TooManyError where more than ``most_regions`` are met.
    """
    return Oracle(block, most_regions).fewest(most)


def _is_sliver(shape: BaseGeometry) -> bool:
    corners = shapely.get_coordinates(shapely.simplify(shape, 1e-4))[:-1]
    out, back = np.roll(corners, -1, axis=0) - corners, np.roll(corners, 1, axis=0) - corners
    angles = np.degrees(np.arctan2(*np.roll(back, 1, axis=1).T) - np.arctan2(*np.roll(out, 1, axis=1).T))
    ccw = shapely.is_ccw(shapely.get_exterior_ring(shape))
    if min((angles if ccw else -angles) % 360) < SHARP - 1e-6:
        return True
    across = [np.ptp(corners @ np.array([-y, x])) for x, y in out / np.hypot(*out.T)[:, None]]
    return bool(min(across) < NARROW - 1e-6)


def _lines(outlines: list[np.ndarray]) -> list[tuple[np.ndarray, float, float, float]]:
    """Normal, offset, and how far along it may be cut: between its outermost corners unless a seam lies on it."""
    points = np.unique(np.round(np.vstack(outlines), 6), axis=0)
    hull = shapely.convex_hull(shapely.MultiPoint(points)).boundary
    sides = [
        (a, b) for o in outlines for a, b in zip(o, np.roll(o, -1, axis=0), strict=True)
        if not hull.buffer(1e-4).contains(shapely.LineString([a, b]))
    ]  # fmt: skip
    lines: dict[tuple[float, float, float], tuple[np.ndarray, float, float, float]] = {}
    for a, b in combinations(points, 2):
        along = (b - a) / np.hypot(*(b - a))
        normal = np.array([-along[1], along[0]])
        if (normal[0] < -1e-9) or (abs(normal[0]) < 1e-9 and normal[1] < 0):
            normal = -normal
        key = tuple(np.round([*normal, normal @ a], 4).tolist())
        if key in lines:
            continue
        ahead = np.array([normal[1], -normal[0]])
        on = points[np.abs(points @ normal - normal @ a) < 1e-4] @ ahead
        seamed = any(max(abs(normal @ (p - a)) for p in side) < 1e-4 for side in sides)
        low, high = (-np.inf, np.inf) if seamed else (float(on.min()), float(on.max()))
        lines[key] = (normal, float(normal @ a), low, high)
    return list(lines.values())
