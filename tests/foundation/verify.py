"""A check of its own for every plan: it replays the sewing with shapely alone and uses none of the planner's code.

Frames and words are those of the model: outlines stand at a section's first place; a place is that, turned about
the block's origin, then shifted.
"""

from collections import Counter

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Block, FoundationPlan, Place, Section

NEAR = 1e-3  # mm: the blocks of the tests are exact to rounding, so this is generous
SLACK = 1e-4  # mm: how far apart shapes may be that meet


def verify(block: Block, plan: FoundationPlan) -> None:
    """Raise AssertionError where the plan can't be sewn, or what is sewn is not the block."""
    units: dict[str, BaseGeometry] = {}
    landed: Counter[str] = Counter()
    for section in plan.sections:
        _section(section)
        assert section.places[0].turn_deg == 0
        assert section.places[0].shift_mm == (0, 0)
        for place in section.places:
            units[place.name] = _carried(Polygon(section.outline), place)
            landed.update(_pieces_landed_on(block, section, place))
    assert landed == Counter(piece.id for piece in block.pieces)
    assert len(units) == sum(section.copies for section in plan.sections), "names of places are unique"
    _joins(plan, units)
    whole = shapely.union_all(list(units.values()))
    assert _same(whole, Polygon(block.outline))
    assert abs(sum(unit.area for unit in units.values()) - Polygon(block.outline).area) < 1e-6 * whole.area


def _section(section: Section) -> None:
    """Every next piece meets what is sewn along one segment of a line that parts the two."""
    assert [piece.label for piece in section.pieces] == [
        f"{section.name}{k + 1}" for k in range(len(section.pieces))
    ]
    sewn: BaseGeometry = Polygon(section.pieces[0].outline)
    for piece in section.pieces[1:]:
        patch = Polygon(piece.outline)
        start, end = _straight(_meeting(patch, sewn), piece.label)
        along = (end - start) / np.hypot(*(end - start))
        sides = []
        for shape in (patch, sewn):
            steps = np.asarray(shapely.get_coordinates(shape)) - start
            sides.append(along[0] * steps[:, 1] - along[1] * steps[:, 0])
        parted = (sides[0].min() > -NEAR and sides[1].max() < NEAR) or (
            sides[0].max() < NEAR and sides[1].min() > -NEAR
        )
        assert parted, f"{piece.label} lies on both sides of its seam"
        sewn = _together(sewn, patch)
    assert _same(sewn, Polygon(section.outline))


def _pieces_landed_on(block: Block, section: Section, place: Place) -> list[str]:
    landed = []
    for piece in section.pieces:
        patch = _carried(Polygon(piece.outline), place)
        own = block.piece(piece.piece)
        under = [p for p in block.pieces if Polygon(p.outline).buffer(NEAR).contains(patch)]
        under = [p for p in under if _same(patch, Polygon(p.outline))]
        assert len(under) == 1, f"{piece.label} at {place.name} lands on no piece"
        assert under[0].template == own.template
        landed.append(under[0].id)
    return landed


def _joins(plan: FoundationPlan, places: dict[str, BaseGeometry]) -> None:
    """Take two units each time, put back one; a straight join is one segment, a set-in one the bent run it says."""
    units = dict(places)
    declared = {advice.at for advice in plan.advice if advice.code == "set-in"}
    bent: set[tuple[float, float]] = set()
    assert [join.step for join in plan.joins] == list(range(1, len(places)))
    for join in plan.joins:
        one, other = (units.pop(name) for name in join.parts)
        seam = _meeting(one, other)
        if join.kind == "straight":
            start, end = _straight(seam, join.result)
            assert LineString([join.start, join.end]).hausdorff_distance(LineString([start, end])) < NEAR
            assert join.corners == ()
        else:
            assert join.kind == "set-in"
            assert len(join.corners) > 2
            assert (join.corners[0], join.corners[-1]) == (join.start, join.end)
            run = LineString(join.corners)
            assert run.hausdorff_distance(seam) < NEAR
            for a, b, c in zip(join.corners, join.corners[1:], join.corners[2:], strict=False):
                assert LineString([a, c]).distance(Point(b)) > NEAR, "a corner of a set-in seam bends"
            bent.update(join.corners[1:-1])
        assert join.result not in units
        units[join.result] = _together(one, other)
    assert len(units) == 1
    assert bent == declared, "every point where a seam is set in is declared, and no other"


def _together(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """The union; rounding may leave a stray line or speck beside it, which is no cloth."""
    parts = shapely.get_parts(shapely.union(one, other, grid_size=1e-6))
    cloth: list[BaseGeometry] = [part for part in parts if part.area > NEAR]
    assert len(cloth) == 1, "what is sewn together holds together"
    return cloth[0]


def _carried(shape: Polygon, place: Place) -> Polygon:
    return translate(rotate(shape, place.turn_deg, origin=(0, 0)), *place.shift_mm)


def _meeting(one: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """The line along which two shapes meet: the part of one's outline that lies on the other's."""
    assert one.intersection(other).area < NEAR
    seam = one.boundary.intersection(other.boundary.buffer(SLACK, cap_style="flat"))
    parts = [p for p in shapely.get_parts(seam) if p.length > 10 * SLACK]
    return shapely.line_merge(shapely.union_all(parts, grid_size=1e-6)) if parts else LineString()


def _straight(seam: BaseGeometry, what: str) -> tuple[np.ndarray, np.ndarray]:
    """Both ends of a seam that is one straight segment."""
    assert seam.length > 1, f"{what}: nothing to sew"
    corners = shapely.get_coordinates(seam)
    apart = np.hypot(*(corners[:, None] - corners[None]).transpose(2, 0, 1))
    i, j = np.unravel_index(np.argmax(apart), apart.shape)
    start, end = corners[i], corners[j]
    line = LineString([start, end])
    assert all(line.distance(Point(c)) < NEAR for c in corners), f"{what}: the seam bends"
    assert abs(line.length - seam.length) < 10 * NEAR, f"{what}: the seam has gaps"
    return start, end


def _same(one: BaseGeometry, other: BaseGeometry) -> bool:
    return bool(one.symmetric_difference(other).area < NEAR * other.length)
