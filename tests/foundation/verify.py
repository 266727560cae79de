"""A check of its own for every plan: it replays the sewing with shapely alone and uses none of the planner's code.

Frames and words are those of the model: outlines stand at a section's first place; a place is that, turned about
the block's origin, then shifted.
"""

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
    pinned: dict[str, BaseGeometry] = {}
    landed: dict[str, list[BaseGeometry]] = {}
    for section in plan.sections:
        _section(section)
        assert section.places[0].turn_deg == 0
        assert section.places[0].shift_mm == (0, 0)
        for place in section.places:
            units[place.name] = _carried(Polygon(section.outline), place)
            if section.pieces[0].unit is not None:
                pinned[place.name] = _carried(Polygon(section.pieces[0].outline), place)
            for piece, patch in _pieces_landed_on(block, section, place):
                landed.setdefault(piece, []).append(patch)
    _whole_pieces(block, plan, landed)
    assert len(units) == sum(section.copies for section in plan.sections), "names of places are unique"
    whole = _joins(plan, units, pinned)
    assert _same(whole, Polygon(block.outline))
    patches = [patch for own in landed.values() for patch in own]
    assert abs(sum(patch.area for patch in patches) - Polygon(block.outline).area) < 1e-6 * whole.area


def _whole_pieces(block: Block, plan: FoundationPlan, landed: dict[str, list[BaseGeometry]]) -> None:
    """Every piece is there once, whole or in parts that the added seams explain."""
    assert landed.keys() == {piece.id for piece in block.pieces}
    for piece in block.pieces:
        patches, seams = landed[piece.id], [seam for seam in plan.added_seams if seam.piece == piece.id]
        own = Polygon(piece.outline)
        assert _same(shapely.union_all([patch.buffer(SLACK) for patch in patches]), own)
        assert abs(sum(patch.area for patch in patches) - own.area) < 1e-4 * own.area
        cuts = shapely.union_all([LineString([seam.start, seam.end]) for seam in seams])
        shown = shapely.union_all([patch.boundary for patch in patches]).difference(own.boundary.buffer(10 * SLACK))
        assert (len(patches) == 1) == (not seams)
        assert shown.difference(cuts.buffer(10 * SLACK)).length < 1e-6
        assert cuts.difference(own.buffer(10 * SLACK)).length < 1e-6
        for patch in patches if seams else []:
            _no_sliver(patch)


def _no_sliver(patch: BaseGeometry) -> None:
    """A part of a cut piece is 1/4 in wide and has no corner under 20 degrees (assembly of the definitions)."""
    corners = shapely.get_coordinates(patch)[:-1]
    out, back = np.roll(corners, -1, axis=0) - corners, np.roll(corners, 1, axis=0) - corners
    cosines = (out * back).sum(axis=1) / np.hypot(*out.T) / np.hypot(*back.T)
    assert np.degrees(np.arccos(cosines.max())) > 20 - 1e-3
    box = np.hypot(*out.T)
    widths = [np.ptp(corners @ np.array([-y, x])) for x, y in out / box[:, None]]
    assert min(widths) > 6.35 - 1e-3


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


def _pieces_landed_on(block: Block, section: Section, place: Place) -> list[tuple[str, BaseGeometry]]:
    landed: list[tuple[str, BaseGeometry]] = []
    for piece in section.pieces:
        if piece.unit is not None:
            continue
        patch = _carried(Polygon(piece.outline), place)
        own = block.piece(piece.piece)
        under = [p for p in block.pieces if Polygon(p.outline).buffer(NEAR).contains(patch)]
        if piece.part is None:
            under = [p for p in under if _same(patch, Polygon(p.outline))]
        assert len(under) == 1, f"{piece.label} at {place.name} lands on no piece"
        assert under[0].template == own.template
        landed.append((under[0].id, patch))
    return landed


def _joins(plan: FoundationPlan, places: dict[str, BaseGeometry], pinned: dict[str, BaseGeometry]) -> BaseGeometry:
    """Take two units each time, put back one; return the last.

    A straight join is one segment, a set-in one the bent run it says. A partial seam is one segment that prolonged
    is the stretch left open; what is left open is no part of a join until the seam is finished. A section with a
    pieced start is there when the unit that is pinned on it is.
    """
    units = {name: shape for name, shape in places.items() if name not in pinned}
    starts = {place.name: section for section in plan.sections for place in section.places}
    declared = {advice.at for advice in plan.advice if advice.code == "set-in"}
    bent: set[tuple[float, float]] = set()
    open_seams: dict[int, LineString] = {}
    assert [join.step for join in plan.joins] == list(range(1, len(plan.joins) + 1))
    assert len(plan.joins) == len(places) - 1 - len(pinned)
    for join in plan.joins:
        _pin(units, places, pinned, starts)
        one, other = (units.pop(name) for name in join.parts)
        still_open = shapely.union_all([seam.buffer(10 * SLACK) for seam in open_seams.values()])
        seam = _meeting(one, other).difference(still_open)
        if join.kind == "partial":
            start, end = _straight(seam, join.result)
            begun = np.array(join.start)
            tip = start if np.hypot(*(start - begun)) > np.hypot(*(end - begun)) else end
            assert join.stop is not None
            assert join.finish_after is not None
            assert min(np.hypot(*(p - np.array(join.start))) for p in (start, end)) < NEAR
            assert LineString([begun, tip]).distance(Point(join.stop)) < NEAR
            assert Point(join.stop).distance(Point(tip)) > 1, "the last of it stays open"
            assert LineString([join.start, join.end]).distance(Point(tip)) < NEAR
            assert join.finish_after > join.step
            open_seams[join.finish_after] = LineString([tip, np.array(join.end)])
        elif join.kind == "straight":
            start, end = _straight(seam, join.result)
            assert LineString([join.start, join.end]).hausdorff_distance(LineString([start, end])) < 20 * SLACK
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
        assert join.press_towards in (None, *join.parts)
        units[join.result] = _together(one, other)
        if join.step in open_seams:
            rest = open_seams.pop(join.step)
            inside = rest.difference(units[join.result].boundary.buffer(10 * SLACK))
            assert abs(inside.length - rest.length) < 0.01, "both sides of a partial seam are there to be sewn"
    _pin(units, places, pinned, starts)
    assert len(units) == 1
    assert not open_seams
    assert bent == declared, "every point where a seam is set in is declared, and no other"
    return next(iter(units.values()))


def _pin(
    units: dict[str, BaseGeometry], places: dict[str, BaseGeometry], pinned: dict[str, BaseGeometry],
    starts: dict[str, Section],
) -> None:  # fmt: skip
    """Sew every section whose first patch is a unit that has been joined."""
    for name, shape in pinned.items():
        own = [key for key, unit in units.items() if name not in units and _same(unit, shape)]
        if own:
            if starts[name].places[0].name == name:
                assert own == [starts[name].pieces[0].unit]
            del units[own[0]]
            units[name] = places[name]


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
