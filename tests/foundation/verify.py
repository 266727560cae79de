"""A check of its own for every plan: it replays the sewing with shapely alone and uses none of the planner's code.

Frames and words are those of the model: outlines stand at a section's first place; a place is that, turned about
the block's origin, then shifted.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Block, FoundationPlan, Join, Place, Section

NEAR = 1e-3  # mm: the blocks of the tests are exact to rounding, so this is generous
SLACK = 1e-4  # mm: how far apart shapes may be that meet
ARCS_NEAR = 0.01  # mm: two sides of an arc need not be drawn by the same points
SMOOTH = 10  # degrees that a curved seam may turn where one arc follows another
TURN = np.radians(0.25)  # of an arc from one of the points that stand for it to the next


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
            units[place.name] = _carried(cloth(section.outline, section.bulges), place)
            if section.pieces[0].unit is not None:
                pinned[place.name] = _carried(cloth(section.pieces[0].outline, section.pieces[0].bulges), place)
            for piece, patch in _pieces_landed_on(block, section, place):
                landed.setdefault(piece, []).append(patch)
    _whole_pieces(block, plan, landed)
    assert len(units) == sum(section.copies for section in plan.sections), "names of places are unique"
    whole = _joins(plan, units, pinned)
    assert _same(whole, Polygon(block.outline))
    patches = [patch for own in landed.values() for patch in own]
    assert abs(sum(patch.area for patch in patches) - Polygon(block.outline).area) < 1e-6 * whole.area


def cloth(outline: np.ndarray, bulges: Sequence[float]) -> Polygon:
    """An outline whose arcs are drawn as many short chords, point by point round their circles' middles.

    A bulge is the tangent of a quarter of the arc's angle (AutoCAD DXF Reference, LWPOLYLINE, group code 42).
    """
    if not any(bulges):
        return Polygon(outline)
    corners = np.asarray(outline) @ np.array([1, 1j])
    points: list[complex] = []
    for start, end, bulge in zip(corners, np.roll(corners, -1), bulges, strict=True):
        points += _arc(start, end, bulge)[:-1]
    return Polygon([(z.real, z.imag) for z in points])


def _arc(start: complex, end: complex, bulge: float) -> list[complex]:
    if not bulge:
        return [start, end]
    angle = 4 * np.arctan(bulge)
    middle = (start + end) / 2 + 1j * (end - start) / 2 / np.tan(angle / 2)
    steps = max(2, 2 * round(abs(angle) / TURN / 2 + 0.1))
    return [start, *(middle + (start - middle) * np.exp(1j * angle * np.arange(1, steps) / steps)), end]


def _run(join: Join) -> LineString:
    """The whole run of a join that is not straight."""
    stops = [complex(*corner) for corner in join.corners]
    points = [stops[0]]
    for start, end, bulge in zip(stops, stops[1:], join.bulges or [0.0] * (len(stops) - 1), strict=False):
        points += _arc(start, end, bulge)[1:]
    return LineString([(z.real, z.imag) for z in points])


def _whole_pieces(block: Block, plan: FoundationPlan, landed: dict[str, list[BaseGeometry]]) -> None:
    """Every piece is there once, whole or in parts that the added seams explain."""
    assert landed.keys() == {piece.id for piece in block.pieces}
    for piece in block.pieces:
        patches, seams = landed[piece.id], [seam for seam in plan.added_seams if seam.piece == piece.id]
        own = cloth(piece.outline, piece.bulges)
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
    sewn: BaseGeometry = cloth(section.pieces[0].outline, section.pieces[0].bulges)
    for piece in section.pieces[1:]:
        patch = cloth(piece.outline, piece.bulges)
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
    assert _same(sewn, cloth(section.outline, section.bulges))


def _pieces_landed_on(block: Block, section: Section, place: Place) -> list[tuple[str, BaseGeometry]]:
    landed: list[tuple[str, BaseGeometry]] = []
    for piece in section.pieces:
        if piece.unit is not None:
            continue
        patch = _carried(cloth(piece.outline, piece.bulges), place)
        own = block.piece(piece.piece)
        under = [p for p in block.pieces if cloth(p.outline, p.bulges).buffer(NEAR).contains(patch)]
        if piece.part is None:
            under = [p for p in under if _same(patch, cloth(p.outline, p.bulges))]
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
    curves = [advice for advice in plan.advice if advice.code == "curved-seam"]
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
            assert join.kind in ("curved", "set-in")
            assert (join.corners[0], join.corners[-1]) == (join.start, join.end)
            assert _run(join).hausdorff_distance(seam) < (ARCS_NEAR if join.bulges else NEAR)
            assert len(join.bulges) == (len(join.corners) - 1 if any(join.bulges) else 0)
            corners = [corner for corner, turn in _turns(join) if turn > SMOOTH or not join.bulges]
            if join.bulges:
                assert any(_near(advice.at, _run(join)) for advice in curves), "a curved seam is told"
            if join.kind == "curved":
                assert join.bulges
                assert not corners or _on_one_line(join), "a curved seam runs smoothly, or along one line"
            else:
                assert corners
                for a, b, c in zip(join.corners, join.corners[1:], join.corners[2:], strict=False):
                    assert join.bulges or LineString([a, c]).distance(Point(b)) > NEAR, "a set-in seam bends"
                bent.update(corners)
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


def _turns(join: Join) -> list[tuple[tuple[float, float], float]]:
    """The inner corners of a seam and the degrees by which it turns there."""
    stops = [complex(*corner) for corner in join.corners]
    bulges = join.bulges or (0.0,) * (len(stops) - 1)
    runs = [_arc(start, end, bulge) for start, end, bulge in zip(stops, stops[1:], bulges, strict=False)]
    turns = []
    for corner, before, after in zip(join.corners[1:-1], runs, runs[1:], strict=False):
        turn = np.angle((after[1] - after[0]) / (before[-1] - before[-2]))
        turns.append((corner, float(np.degrees(abs(turn)))))
    return turns


def _on_one_line(join: Join) -> bool:
    line = LineString([join.start, join.end])
    return all(line.distance(Point(corner)) < NEAR for corner in join.corners)


def _near(at: tuple[float, float] | None, run: LineString) -> bool:
    return at is not None and bool(run.distance(Point(at)) < ARCS_NEAR)


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
