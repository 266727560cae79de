"""The joins as a person makes them: units with names, equal ones told once, and where their seams nest."""

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
import shapely
from attrs import field, frozen

from seamsurvey.geometry import moved
from seamsurvey.model import Array, Block, FoundationPlan, Join
from seamsurvey.sheets.block_figure import join_run
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.prints import prints_of
from seamsurvey.sheets.seams import TOUCH_MM, at_place, border, straightened

EQUAL_MM = 0.1  # equal units come from one adjusted layout: they agree to far less, others differ by far more
_MEET_MM = 0.5  # seam ends on the two sides of a join this near each other are one point to a pin
THE_BLOCK = "the block"


@frozen
class Patch:
    """One placed patch: the print and the place it belongs to, its number in the sewing order, its fabric."""

    section: str  # the print's name
    place: str
    number: int
    fabric: Fabric
    outline: Array


@frozen(eq=False)
class Part:
    """One side of a join: a section, or a unit made before."""

    name: str  # "A", "unit 2"
    places: frozenset[str]
    shape: shapely.Polygon


@frozen(eq=False)
class Unit:
    """Equal joins, told once by the first of them."""

    name: str  # "unit 1", or "the block"
    make: int
    join: Join
    parts: tuple[Part, Part]
    pressed: tuple[tuple[str, int], ...]  # (the part pressed to, or "open"; in how many of them)
    nests: tuple[tuple[float, float], ...]  # block frame: where seams of the two parts meet and nest
    finish_after: str = ""  # of a partial seam: the unit after which the rest is sewn
    places: Mapping[str, tuple[str, Array]] = field(factory=dict)  # by place: the print's name, its outline


def units_of(plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric]) -> tuple[Unit, ...]:
    """All units in the order they are made; ``fabrics`` is by piece."""
    patches = _patches(plan, block, fabrics)
    places = {name: (own[0].section, outline) for name, (own, outline) in patches.items()}
    made = _Making(plan, patches)
    groups = _groups(plan, made)
    names = {name: section for name, (section, _) in places.items()} | _names(plan, groups)
    after = {join.step: names[join.result] for join in plan.joins}
    found = []
    for group in groups:
        join = plan.joins[group[0]]
        one, other = (Part(names[part], made.members(part), made.shape(part)) for part in join.parts)
        towards = [made.towards(k, group[0]) for k in group]
        found.append(
            Unit(
                names[join.result], len(group), join, (one, other),
                tuple((names.get(to, to), towards.count(to)) for to in dict.fromkeys(towards) if to),
                tuple(made.nests(group[0])), after.get(join.finish_after or 0, ""),
                {name: places[name] for name in (*sorted(one.places), *sorted(other.places))},
            )
        )  # fmt: skip
    return tuple(found)


def unit_names(plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric]) -> dict[str, str]:
    """What each join's result is called: "unit 2", or "the block"."""
    return _names(plan, _groups(plan, _Making(plan, _patches(plan, block, fabrics))))


def _groups(plan: FoundationPlan, made: "_Making") -> list[list[int]]:
    """Equal joins together, by their places in the plan."""
    groups: list[list[int]] = []
    for k in range(len(plan.joins)):
        group = next((group for group in groups if made.equal(group[0], k)), None)
        if group is None:
            groups.append([k])
        else:
            group.append(k)
    return groups


def _names(plan: FoundationPlan, groups: Sequence[Sequence[int]]) -> dict[str, str]:
    last = len(plan.joins) - 1
    return {
        plan.joins[k].result: THE_BLOCK if k == last else f"unit {number}"
        for number, group in enumerate(groups, start=1)
        for k in group
    }


def _patches(
    plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric]
) -> dict[str, tuple[list[Patch], Array]]:
    """By place: its patches, and the outline of the whole."""
    found = {}
    for one in prints_of(plan, block, fabrics):
        for place in one.places:
            own = [
                Patch(one.name, place.name, number, fabric, at_place(piece.drawn, place))
                for number, (piece, fabric) in enumerate(zip(one.section.pieces, one.fabrics, strict=True))
            ]
            found[place.name] = own, at_place(border(one.section), place)
    return found


class _Making:
    """Which places each result holds, and which results are equal."""

    def __init__(self, plan: FoundationPlan, patches: Mapping[str, tuple[list[Patch], Array]]) -> None:
        self._plan, self._patches = plan, patches
        self._members: dict[str, frozenset[str]] = {name: frozenset([name]) for name in patches}
        for join in plan.joins:
            self._members[join.result] = frozenset().union(*(self.members(part) for part in join.parts))
        self._pieced = any(piece.unit for section in plan.sections for piece in section.pieces)
        self._shapes: dict[str, shapely.Polygon] = {}

    def members(self, part: str) -> frozenset[str]:
        """The places a part holds."""
        return self._members.get(part, frozenset())

    def shape(self, part: str) -> shapely.Polygon:
        """The area of a part."""
        if part not in self._shapes:
            outlines = [shapely.Polygon(self._patches[name][1]) for name in sorted(self.members(part))]
            whole = shapely.union_all(outlines, grid_size=1e-3)
            self._shapes[part] = max(getattr(whole, "geoms", [whole]), key=lambda shape: shape.area)
        return self._shapes[part]

    def equal(self, one: int, other: int) -> bool:
        """Whether one join's parts can be laid on the other's by a turn and a shift, patch on patch."""
        return self._motion(one, other) is not None

    def towards(self, k: int, first: int) -> str:
        """The part of the first join that is in it what the one pressed to is in join ``k``; "open", or ""."""
        to = self._plan.joins[k].press_towards
        if to is None or to == "open" or k == first:
            return to or ""
        motion = self._motion(k, first)
        point = np.array([self.shape(to).representative_point().coords[0]])
        at = moved(point, *motion)[0] if motion else point[0]
        parts = self._plan.joins[first].parts
        return min(parts, key=lambda part: self.shape(part).distance(shapely.Point(at)))

    def _motion(self, one: int, other: int) -> tuple[float, tuple[float, float]] | None:
        first, second = self._plan.joins[one], self._plan.joins[other]
        if first.kind != second.kind or first.kind == "partial":
            return None
        mine, theirs = (self._all(join.result) for join in (first, second))
        if sorted(patch.section for patch in mine) != sorted(patch.section for patch in theirs):
            return None
        if abs(self.shape(first.result).area - self.shape(second.result).area) > 1.0:
            return None
        for turn, shift in _motions(self.shape(first.result), self.shape(second.result)):
            if _laid_on(mine, theirs, turn, shift) and self._parts_on(first, second, turn, shift):
                return turn, shift
        return None

    def _all(self, part: str) -> list[Patch]:
        return [patch for name in sorted(self.members(part)) for patch in self._patches[name][0]]

    def _parts_on(self, first: Join, second: Join, turn: float, shift: tuple[float, float]) -> bool:
        """Whether the parts of one join lie on the parts of the other."""
        middles = [moved(np.array(self.shape(part).centroid.coords), turn, shift)[0] for part in first.parts]
        wanted = [np.array(self.shape(part).centroid.coords[0]) for part in second.parts]
        return any(
            all(float(np.hypot(*(a - b))) < EQUAL_MM for a, b in zip(middles, order, strict=True))
            for order in (wanted, wanted[::-1])
        )

    # --- where seams nest ---

    def nests(self, k: int) -> list[tuple[float, float]]:
        """The points of a straight join at which seams of both its parts end, pressed to opposite sides."""
        join = self._plan.joins[k]
        if join.kind != "straight" or self._pieced:
            return []
        start, end = join_run(join)
        unit = (end - start) / np.hypot(*(end - start))
        one, other = (self._ends(part, start, unit, k) for part in join.parts)
        return [
            (float(x), float(y))
            for at, side in one
            for there, way in other
            if abs(at - there) < _MEET_MM and side * way < 0
            for x, y in [start + unit * (at + there) / 2]
        ]

    def _ends(self, part: str, start: Array, unit: Array, k: int) -> list[tuple[float, int]]:
        """(distance along the join, side it is pressed to) of every seam of a part that ends on the join."""
        along = []
        for patch in self._all(part):
            t, off = (patch.outline - start) @ unit, (patch.outline - start) @ np.array([-unit[1], unit[0]])
            on = np.abs(off) < TOUCH_MM * 5
            if on.sum() >= 2:
                along.append((float(t[on].min()), float(t[on].max()), patch))
        along.sort(key=lambda one: one[:2])
        found = []
        for (_, high, before), (low, _, after) in pairwise(along):
            if abs(high - low) < _MEET_MM:
                found.append((low, self._pressed(before, after, k)))
        return found

    def _pressed(self, before: Patch, after: Patch, k: int) -> int:
        """1 where the seam between two patches is pressed to ``after``, -1 to ``before``, 0 where to neither."""
        if before.place == after.place:
            return 1 if after.number > before.number else -1
        for join in self._plan.joins[:k]:
            sides = [self.members(part) for part in join.parts]
            for mine, theirs in (sides, sides[::-1]):
                if before.place in mine and after.place in theirs:
                    to = self.members(join.press_towards or "")
                    return 1 if after.place in to else -1 if before.place in to else 0
        return 0


def _motions(one: shapely.Polygon, other: shapely.Polygon) -> list[tuple[float, tuple[float, float]]]:
    """Every turn and shift that lays an outline on another, corner on corner."""
    mine, theirs = (straightened(np.asarray(shape.exterior.coords)[:-1]) for shape in (one, other))
    found = []
    for step in range(len(theirs) if len(mine) == len(theirs) else 0):
        goal = np.roll(theirs, -step, axis=0)
        a, b = mine - mine.mean(axis=0), goal - goal.mean(axis=0)
        turn = float(np.degrees(np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b))))
        x, y = goal.mean(axis=0) - moved(mine.mean(axis=0)[None], turn, (0.0, 0.0))[0]
        if float(np.abs(moved(mine, turn, (x, y)) - goal).max()) < EQUAL_MM:
            found.append((turn, (float(x), float(y))))
    return found


def _laid_on(mine: Sequence[Patch], theirs: Sequence[Patch], turn: float, shift: tuple[float, float]) -> bool:
    """Whether every patch comes to lie on one of the same print, number and fabric."""
    left = list(theirs)
    for patch in mine:
        middle = moved(patch.outline, turn, shift).mean(axis=0)
        found = next(
            (
                other
                for other in left
                if (other.section, other.fabric) == (patch.section, patch.fabric)
                and float(np.hypot(*(other.outline.mean(axis=0) - middle))) < EQUAL_MM
            ),
            None,
        )
        if found is None:
            return False
        left.remove(found)
    return True
