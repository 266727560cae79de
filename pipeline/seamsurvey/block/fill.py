"""Every way to fill an outline with a stock of regular shapes, under a group of moves.

Depth first, at the corner of the opening that the fewest pieces fit: some piece must lie there, flush along the
edge that leaves the corner, so every layout is met, and none twice. With a group, a piece is laid with its images.
What can be laid at a corner depends on little, is worked out once and looked up after. An opening that was found to
have no filling with what was left is known when it comes up again.
"""

import cmath
import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from seamsurvey.block.groups import Group
from seamsurvey.block.opening import STRAIGHT, Loop, cut_off, loop_of
from seamsurvey.block.rings import TURN, holds
from seamsurvey.block.shapes import Face
from seamsurvey.block.tiles import Orbit, Places, left_over
from seamsurvey.block.work import Work

_CONVEX = math.radians(171)  # nothing is fitted to a flatter corner
_MOST_FAILED = 200_000
# What the cost of a piece laid has in it (``work``): of larger openings, and where more fits, the rest is counted.
_AROUND, _LOOKED = 16, 100

_Corner = tuple[complex, complex, complex, complex, complex, complex, complex]
"""The points before, at and after it, and the ways of the edges that come to those and leave the last."""


@dataclass
class Budget:
    """How many pieces may be laid; ``used`` are."""

    most: int
    used: int = 0

    def spent(self) -> bool:
        """Whether the search must stop."""
        return self.used >= self.most


@dataclass
class Fullest:
    """The fullest failure: the share of the outline that is covered, the tiles, what is still open."""

    covered: int = 0
    tiles: tuple[int, ...] = ()
    loops: tuple[Loop, ...] = ()
    left: tuple[int, ...] = ()


@dataclass
class Filling:
    """One search. ``stock``: how many of each kind (``Places.kinds``); ``finished``: every branch was tried.

    ``whole``: all of the stock must be laid, as a block takes all; not where one unit of a block is filled.
    """

    places: Places
    group: Group
    stock: tuple[int, ...]
    budget: Budget
    work: Work
    whole: bool = True
    finished: bool = False
    fullest: Fullest = field(default_factory=Fullest)

    def __post_init__(self) -> None:
        places = self.places
        self._near = places.near
        in_stock = [f for f in places.faces if self.stock[places.kind[f.index]]]
        self._faces = in_stock
        self._least = 0.6 * min((f.area for f in in_stock), default=1.0)
        self._angles, self._lengths = places.angle_sums, places.length_sums
        self._corners: dict[_Corner, tuple[Orbit, ...] | None] = {}
        self._rounding: dict[complex, tuple[int, int]] = {}
        self._at_corner: dict[tuple[int, ...], tuple[Orbit, ...]] = {}
        self._orbits: dict[int, Orbit | None] = {}
        self._failed: set[tuple[int, tuple[int, ...], frozenset[tuple[int, int]]]] = set()

    def run(self) -> Iterator[tuple[int, ...] | None]:
        """Layouts, each as the numbers of its tiles; None where the budget is spent: it goes on with more."""
        yield from self._extend((loop_of(self.places.outline),), 0, self.stock, ())
        self.finished = True

    def _over(self) -> bool:
        return self.budget.spent() or self.work.over()

    def _extend(
        self, loops: tuple[Loop, ...], covered: int, stock: tuple[int, ...], tiles: tuple[int, ...]
    ) -> Iterator[tuple[int, ...] | None]:
        if not loops:
            if not (self.whole and any(stock)):
                yield tiles
            return
        key = covered, stock, self._rounded(loops)
        if key in self._failed:
            return
        count = covered.bit_count()
        if count > self.fullest.covered:
            self.fullest = Fullest(count, tiles, loops, stock)
        any_found = False
        for orbit in self._tightest(loops, covered, stock):
            while self._over():
                yield None
            self.budget.used += len(orbit.tiles)
            self.work.spend("filled", len(orbit.tiles))
            around = sum(len(loop.points) for loop in loops)
            self.work.spend("opened", len(orbit.tiles) * max(0, around - _AROUND))
            opened = self._laid(loops, orbit)
            if opened is None:
                continue
            left = left_over(stock, orbit)
            numbers = tuple(tile.number for tile in orbit.tiles)
            for layout in self._extend(opened, covered | orbit.covers, left, tiles + numbers):
                any_found |= layout is not None
                yield layout
        if not any_found and len(self._failed) < _MOST_FAILED:
            self._failed.add(key)

    def _rounded(self, loops: tuple[Loop, ...]) -> frozenset[tuple[int, int]]:
        """An opening's corners, roughly: two that cover the same sample points may yet differ by a thin strip."""
        step, known = 2 * self._near, self._rounding
        found = []
        for loop in loops:
            for z in loop.points:
                rounded = known.get(z)
                if rounded is None:
                    rounded = known[z] = round(z.real / step), round(z.imag / step)
                found.append(rounded)
        return frozenset(found)

    def _laid(self, loops: tuple[Loop, ...], orbit: Orbit) -> tuple[Loop, ...] | None:
        """What stays open when a piece and its images are laid."""
        open_loops = list(loops)
        waiting = list(orbit.tiles)
        # An image may touch only what another image has yet to bring: those that fit go first.
        while waiting:
            later = []
            for tile in waiting:
                which = self._loop_of(open_loops, tile.corners)
                opened = None if which < 0 else cut_off(open_loops[which], tile.loop, self._near, self._least)
                if opened is None:
                    later.append(tile)
                else:
                    open_loops[which : which + 1] = opened
            if len(later) == len(waiting):
                return None
            waiting = later
        return tuple(open_loops)

    def _loop_of(self, loops: list[Loop], corners: tuple[complex, ...]) -> int:
        """The loop that a piece lies in, -1 where it lies in none."""
        if len(loops) == 1:
            return 0
        along = corners[1] - corners[0]
        point = (corners[0] + corners[1]) / 2 + 1j * along / abs(along) * 2 * self._near
        for k, loop in enumerate(loops):
            if holds(loop.points, point):
                return k
        return -1

    # --- where next ---------------------------------------------------------------------------------------

    def _tightest(self, loops: tuple[Loop, ...], covered: int, stock: tuple[int, ...]) -> list[Orbit]:
        best: list[Orbit] | None = None
        looked = 0
        for loop in loops:
            looked += len(loop.points)
            for found in self.corners(loop):
                looked += len(found)
                able = _able(found, covered, stock, None if best is None else len(best))
                if able is not None:
                    best = able
                    if len(best) <= 1:
                        break
            if best is not None and len(best) <= 1:
                break
        self.work.spend("looked", max(0, looked - _LOOKED))
        return best or []

    def corners(self, loop: Loop) -> Iterator[tuple[Orbit, ...]]:
        """For each convex corner of a loop all that can be laid there, whatever is in stock."""
        points, ways = loop.points, loop.ways
        n = len(points)
        for k in range(n):
            far = k + 1 if k + 1 < n else 0
            # Most corners of an opening are those of the one before: what is asked of them is exactly the same.
            here = points[k - 1], points[k], points[far], ways[k - 2], ways[k - 1], ways[k], ways[far]
            if here in self._corners:
                known = self._corners[here]
            else:
                known = self._corners[here] = self._at(here)
            if known is not None:
                yield known

    def _at(self, corner: _Corner) -> tuple[Orbit, ...] | None:
        """All that can be laid at a corner, None where it is not convex."""
        before, here, after, *ways = corner
        behind, gap, beyond = (cmath.phase(-a / b) % TURN for a, b in itertools.pairwise(ways))
        if gap > _CONVEX:
            return None
        return self._choices(here, ways[2], abs(after - here), abs(here - before), (behind, gap, beyond))

    def _choices(
        self, here: complex, out: complex, length: float, back: float, gaps: tuple[float, float, float]
    ) -> tuple[Orbit, ...]:
        """All that can be laid at a corner, whatever is in stock; ``gaps`` open before it, there, and after it."""
        near = self._near
        behind, gap, beyond = gaps
        key = (
            round(here.real / near), round(here.imag / near), round(cmath.phase(out) * 40), round(gap * 40),
            round(length / near), round(back / near), round(beyond * 40), round(behind * 40),
        )  # fmt: skip
        known = self._at_corner.get(key)
        if known is None:
            found: list[tuple[float, float, Orbit]] = []
            self.work.spend("corner", len(self._faces))
            for face in self._faces:
                n = len(face.corners)
                for c in range(n // self.places.shapes.turns[face.template]):
                    if self._may_lie(face, c, gap, length, back, beyond, behind):
                        orbit = self._orbit(face, c, here, out)
                        if orbit is not None:
                            fits = abs(gap - face.angles[c]) <= STRAIGHT
                            whole = (abs(face.lengths[c] - length) < near) + fits * (
                                1 + (abs(face.lengths[c - 1] - back) < near)
                            )
                            found.append((-whole, -face.area, orbit))
            # Whole edges and full corners first, and of those the large pieces.
            known = tuple(orbit for *_, orbit in sorted(found, key=lambda one: one[:2]))
            self._at_corner[key] = known
        return known

    def _may_lie(
        self, face: Face, c: int, gap: float, length: float, back: float, beyond: float, behind: float
    ) -> bool:
        n = len(face.corners)
        spare = gap - face.angles[c]
        edge, last = face.lengths[c], face.lengths[c - 1]
        slack = self._slack(edge, last, length, back)
        if spare < -slack:
            return False
        fits = spare <= slack
        if not fits and not self._angles.has(spare, slack):
            return False
        if not self._edge_fits(edge, length, beyond, face.angles[(c + 1) % n]):
            return False
        return not fits or self._edge_fits(last, back, behind, face.angles[c - 1])

    def _slack(self, *lengths: float) -> float:
        return max(STRAIGHT, 1.2 * self._near / min(lengths))

    def _edge_fits(self, edge: float, open_: float, beyond: float, angle: float) -> bool:
        """Whether a piece's edge can lie along an edge of the opening from the corner on."""
        slack = self._slack(edge, open_)
        if edge > open_ + self._near:
            return beyond >= math.pi - slack
        if edge < open_ - self._near:
            rest = open_ - edge
            return beyond >= math.pi - slack or self._lengths.has(rest, 1.5 * self._near)
        spare = beyond - angle
        return abs(spare) <= slack or self._angles.has(spare, slack)

    def _orbit(self, face: Face, c: int, here: complex, out: complex) -> Orbit | None:
        corners = face.corners
        pivot = corners[c]
        along = corners[(c + 1) % len(corners)] - pivot
        turn = out * abs(along) / along
        laid = [here + turn * (z - pivot) for z in corners]
        if not self.places.inside(laid):
            return None
        tile = self.places.tile(face, laid)
        if tile.number not in self._orbits:
            self.work.spend("placed", self.group.order)
            self._orbits[tile.number] = self.places.orbit(tile, self.group)
        return self._orbits[tile.number]


def _able(found: tuple[Orbit, ...], covered: int, stock: tuple[int, ...], most: int | None) -> list[Orbit] | None:
    """What of ``found`` can be laid on what is open and in stock; None where that is ``most`` or more."""
    able: list[Orbit] = []
    for orbit in found:
        if orbit.covers & covered:
            continue
        for kind, number in orbit.uses:
            if stock[kind] < number:
                break
        else:
            able.append(orbit)
            if len(able) == most:
                return None
    return able
