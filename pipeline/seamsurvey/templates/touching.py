"""Two cards that touch or overlap, told from one card: by their outline, and by what is seen between them.

Where two cards meet, the outline has a hollow (reflex) corner, and one card's edge goes straight on from there.

Between two cards that nearly touch shows the ground, or their shade: a straight line, narrow, that differs from
what lies to both its sides, and runs from border to border. Its ends are corners of the one outline: there one of
the cards ends. A line that is drawn or printed on a card seldom runs from corner to corner.
"""

import math
from collections.abc import Iterable, Iterator
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from seamsurvey.geometry import edge_lengths, edge_vectors, interior_angles, turn_left_deg
from seamsurvey.model import Plane
from seamsurvey.templates.cards import MIN_HALF_WIDTH_MM, SIDE_BY_SIDE, too_small
from seamsurvey.templates.contour import Crop, sampled
from seamsurvey.templates.corners import CLEAR_TURN_DEG, Outline, TwoCardsError
from seamsurvey.templates.own_colour import FLARE

Floats = NDArray[np.float64]

HOLLOW_DEG = 180.0 + CLEAR_TURN_DEG  # a shallower hollow may be wobble, or the ground's pattern at an edge
LEAST_SHARED_MM = 2 * MIN_HALF_WIDTH_MM  # no card is narrower, and cards lie along one another by a whole side
_IN_LINE_DEG = 2.0  # a short edge's direction is known no better, cut by hand
_TIP_MM = 4.0  # a rough outline may have so much of a shadow, or of a rim, at a sharp corner
_TIP_BY_HOLLOW_MM = 0.5  # a rough outline is right to less, on a plain ground
_NEAR_MM = 0.4  # an edge going straight on lies no farther from the prolongation; nor do its own ends
_CUT_MM = 0.05  # half as wide is a cut that parts a shape from corner to corner, whatever rounding does to its ends
# Of a slot:
_FROM_CORNER_MM = 2.5  # a slot ends so near to a corner: half of the slot, and what the corner is off
_SAME_MM = 1.0  # a slot beside a chord is seen beside another as near as this
_MESH_MM = 5.0  # over so much a camera 500 mm away bends a line by 0.05 px, and no slot is so narrow
_CLEAR_MM = 2.0  # a chord runs within the outline by this, but for its ends
_END_MM = 1.5  # there the outline's corner is worn, and the ground comes in
_STEP_MM = 0.125  # across the slot
_STRETCH_MM = 1.0  # along it: what is narrower than this is grain
_HALF_WIDTHS_MM = (0.25, 0.5, 1.0, 1.75)
_SIGMAS = 4.0
_LEAST = 0.03  # ln light: what differs by less may be the card's own grain
_SHARE = 0.7  # of the stretches must show it
_OUTER = 5  # stretches at each end: a seam line ends farther in, by an allowance of 1/4 in
_SHARE_AT_END = 0.5  # of these must show it, too


def refuse_two(outline: Outline, seen: Floats, plane: Plane, *, motley: bool = False) -> None:
    """TwoCardsError where a fitted outline is that of two cards, of which (m, 2) plane mm was ``seen`` roughly."""
    face = outline.drawn()
    if not outline.bulges and laid_along(outline.corners) is not None:
        raise TwoCardsError(SIDE_BY_SIDE)
    if sticks_out(face, seen, sides_of(face, plane), roughly=motley) is not None:
        raise TwoCardsError(SIDE_BY_SIDE)


def laid_along(corners: Floats) -> Floats | None:
    """(2, 2) plane mm, the ends of a line that one card lies along another by; ``corners`` (n, 2) plane mm.

    None where there is none. Where two cards of one stuff touch exactly nothing is to be seen between them. But an
    edge that both share goes on behind a hollow corner, and ends at another corner of the outline: there the other
    card ends, or its edge leaves this one's. Few hollow corners of one card have an edge that points at a corner.
    """
    count = len(corners)
    ways, lengths = edge_vectors(corners), edge_lengths(corners)
    shape = Polygon(corners)
    within = shape.buffer(_NEAR_MM)
    for k in np.nonzero(interior_angles(corners) > HOLLOW_DEG)[0]:
        for way, length in ((ways[k - 1], lengths[k - 1]), (-ways[k], lengths[k])):
            # the nearest: the line goes on from there along the outline, perhaps to another corner
            for other in np.argsort(np.hypot(*(corners - corners[k]).T)):
                line = np.array([corners[k], corners[other]])
                across = line[1] - line[0]
                if (other - k) % count in (0, 1, count - 1) or np.hypot(*across) < LEAST_SHARED_MM:
                    continue
                degrees = abs(turn_left_deg(across, way))
                # A short edge's direction is not known, but where it begins is.
                off = length * np.sin(np.radians(degrees)) if degrees < 90 else np.inf
                in_line = degrees < _IN_LINE_DEG or off < _NEAR_MM
                if in_line and within.covers(LineString(line)) and parts_two(shape, line):
                    return line
    return None


def parts_two(shape: Polygon, line: Floats) -> bool:
    """Whether a line ((2, 2) plane mm) across a shape parts it in two of which each may be a card by its size.

    What the bites of a print, or a rough outline, leave beyond a line from corner to corner is mostly smaller.
    """
    apart = shape.difference(LineString(line).buffer(_CUT_MM, cap_style="square"))
    return sum(not too_small(part) for part in getattr(apart, "geoms", [apart])) > 1


def sticks_out(
    corners: Floats, seen: Floats, sides: BaseGeometry | None = None, *, roughly: bool = False
) -> Floats | None:
    """(2,) plane mm, where what was seen ((m, 2) plane mm) lies beyond the outline as a tip of another card does.

    The outline lacks the tip, as one lacks what is worn. A hollow corner makes another card likely, and then less
    is enough. ``sides``: the card's own, as the camera sees them beside its face. What was seen ``roughly``, as a
    print is, tells nothing without a hollow corner.
    """
    is_hollow = bool(np.any(interior_angles(corners) > HOLLOW_DEG))
    if roughly and not is_hollow:
        return None
    shape = Polygon(corners) if sides is None else shapely.union(Polygon(corners), sides)
    beyond = seen[~shapely.contains_xy(shape, seen)]
    if not len(beyond):
        return None
    off = shapely.distance(shape, shapely.points(beyond))
    most = (_TIP_MM if roughly else _TIP_BY_HOLLOW_MM) if is_hollow else _TIP_MM
    return np.asarray(beyond[np.argmax(off)]) if off.max() > most else None


def sides_of(face: Floats, plane: Plane) -> BaseGeometry:
    """The sides in view of a card whose face has the outline (n, 2) plane mm: between it and the foot, plane mm."""
    foot = plane.to_mm(plane.below_px(face))
    top = Polygon(face)
    bands = [
        Polygon([face[k - 1], face[k], foot[k], foot[k - 1]]).buffer(0).difference(top) for k in range(len(face))
    ]
    return shapely.union_all(bands)


# --- a slot between them ---


def refuse_slot(crop: Crop, outlines: Iterable[Floats], plane: Plane) -> None:
    """TwoCardsError where a slot runs across what may have the corners of any of these, (n, 2) plane mm."""
    if slot_across(crop, outlines, plane) is not None:
        raise TwoCardsError(SIDE_BY_SIDE)


def slot_across(crop: Crop, outlines: Iterable[Floats], plane: Plane) -> Floats | None:
    """(2, 2) plane mm, the ends of a slot that parts one of these outlines, (n, 2) plane mm, or None."""
    chords = np.empty((0, 2, 2))
    for corners in outlines:
        shape = Polygon(corners)
        for chord in map(np.array, _chords(corners) if shape.is_valid else ()):
            # A slot is looked for all round a chord: one beside it shows no other.
            off = np.linalg.norm(np.concatenate([chords, chords[:, ::-1]]) - chord, axis=2).max(axis=1)
            if np.all(off > _SAME_MM) and _runs_within(chord[0], chord[1], shape):
                chords = np.concatenate([chords, chord[None]])
    found = (_along(crop, one, other, plane) for one, other in chords)
    slot, share = max(found, key=lambda each: each[1], default=(None, 0.0))
    return slot if share >= _SHARE else None


def _chords(corners: Floats) -> Iterator[tuple[Floats, Floats]]:
    """What a slot may run along: from corner to corner, or from a hollow one on as an edge leads up to it."""
    yield from combinations(corners, 2)
    border = LineString([*corners, corners[0]])
    ways = edge_vectors(corners)
    for k in np.nonzero(interior_angles(corners) > HOLLOW_DEG)[0]:
        for way in (ways[k - 1], -ways[k]):
            start = corners[k] + _CLEAR_MM * way / np.hypot(*way)
            ahead = LineString([start, start + float(border.length) * way / np.hypot(*way)])
            across = shapely.get_coordinates(ahead.intersection(border))
            if len(across):
                yield corners[k], across[np.argmin(np.hypot(*(across - corners[k]).T))]


def _runs_within(one: Floats, other: Floats, shape: Polygon) -> bool:
    """Whether a chord between two corners leaves to both its sides what may be a card."""
    way = other - one
    length = float(np.hypot(*way))
    if length < LEAST_SHARED_MM:
        return False
    inner = one + np.linspace(0.3, 0.7, 9)[:, None] * way
    inside = shapely.contains_xy(shape, inner)
    clear = inside.all() and shapely.distance(shape.exterior, shapely.points(inner)).min() > _CLEAR_MM
    return bool(clear) and parts_two(shape, np.array([one, other]))


def _along(crop: Crop, one: Floats, other: Floats, plane: Plane) -> tuple[Floats | None, float]:
    """The line near a chord that most stretches show as a slot, and their share; nothing where too few can."""
    length = float(np.hypot(*(other - one)))
    way = (other - one) / length
    normal = np.array([way[1], -way[0]])
    reach = _FROM_CORNER_MM + 2 * _HALF_WIDTHS_MM[-1] + _STEP_MM
    across = _STEP_MM * np.arange(-round(reach / _STEP_MM), round(reach / _STEP_MM) + 1, dtype=float)
    stretches = max(1, int((length - 2 * _END_MM) / _STRETCH_MM))
    fine = 8
    run = _END_MM + (np.arange(stretches * fine) + 0.5) * (length - 2 * _END_MM) / (stretches * fine)
    light = sampled(crop.light, _places(crop, plane, one, np.stack([way, normal]), run, across))
    mean = np.log(np.maximum(light, 0).reshape(stretches, fine, len(across), 3).mean(axis=1) + FLARE)
    middle = run.reshape(stretches, fine).mean(axis=1) / length
    most, found = 0.0, None
    shifts = np.arange(-round(_FROM_CORNER_MM / _STEP_MM), round(_FROM_CORNER_MM / _STEP_MM) + 1, 2)
    first, last = (each.ravel() for each in np.meshgrid(shifts, shifts, indexing="ij"))
    rows = np.rint(first[:, None] + (last - first)[:, None] * middle).astype(int) + len(across) // 2
    for half in _HALF_WIDTHS_MM:
        shown = _shown(mean, round(half / _STEP_MM) + 1)
        wide = shown | np.roll(shown, 1, axis=1) | np.roll(shown, -1, axis=1)
        if wide[:, rows.min() : rows.max() + 1].any(axis=1).mean() < _SHARE:
            continue  # whichever line is taken
        hits = wide[np.arange(stretches), rows]
        at_ends = np.minimum(hits[:, :_OUTER].mean(axis=1), hits[:, -_OUTER:].mean(axis=1))
        shares = np.where(at_ends > _SHARE_AT_END, hits.mean(axis=1), 0.0)
        k = int(np.argmax(shares))
        if shares[k] > most:
            most = float(shares[k])
            found = np.array([one + first[k] * _STEP_MM * normal, other + last[k] * _STEP_MM * normal])
    return found, most


def _places(crop: Crop, plane: Plane, start: Floats, axes: Floats, run: Floats, across: Floats) -> Floats:
    """(n, m, 2) of its pixels: ``run`` (n,) and ``across`` (m,) mm from a start along two axes, the rows of (2, 2).

    The camera is asked for a mesh only: between its knots the picture of a plane hardly curves.
    """
    knots = [
        np.linspace(each[0], each[-1], max(2, math.ceil(np.ptp(each) / _MESH_MM) + 1)) for each in (run, across)
    ]
    mesh = start + knots[0][:, None, None] * axes[0] + knots[1][None, :, None] * axes[1]
    by_run, by_across = (
        np.maximum(1 - np.abs(each[:, None] - at) / (at[1] - at[0]), 0)
        for each, at in zip((run, across), knots, strict=True)
    )
    return np.asarray(np.einsum("ik,klc,jl->ijc", by_run, crop.places(mesh, plane), by_across, optimize=True))


def _shown(mean: Floats, far: int) -> NDArray[np.bool_]:
    """(n, m): where ln light (n, m, 3) differs from what lies ``far`` to both sides, and in the same way."""
    before = mean - np.roll(mean, far, axis=1)
    after = mean - np.roll(mean, -far, axis=1)
    both, *squares = (
        np.einsum("ijk,ijk->ij", *pair) for pair in ((before, after), (before, before), (after, after))
    )
    least = np.sqrt(np.minimum(*squares))
    usual = 1.4826 * np.median(least)
    shown = (least > max(_LEAST, _SIGMAS * usual)) & (both > 0.5 * least**2)
    shown[:, :far] = shown[:, -far:] = False
    return np.asarray(shown)
