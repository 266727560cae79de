"""A line or an arc through each edge of an outline: measured where it is expected, then where it was found."""

import math
from collections.abc import Sequence

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.arcs import arc_length
from seamsurvey.curves import Curve, curves_of
from seamsurvey.geometry import edge_lengths, interior_angles, turn_left_deg
from seamsurvey.model import PhotoPlane, Plane
from seamsurvey.templates.chords import CORNER_MM
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.corners import CLEAR_TURN_DEG, EdgeUnclearError, Outline
from seamsurvey.templates.edges import STRETCH_MM, EdgePoints, measure_edge
from seamsurvey.templates.fitted import FittedEdge, bulges_of, corner_of, corners_of
from seamsurvey.templates.lit_edges import measure_lit_edge
from seamsurvey.templates.look import Look, slope_of
from seamsurvey.templates.profiles import EdgeProfile, best_place, edge_profile, weight_against
from seamsurvey.templates.robust_edge import LEAST_STRETCHES, NICK_PX, robust_edge, step_in, two_lines
from seamsurvey.templates.strips import Path, RoundPath
from seamsurvey.templates.wobble import CLEAR_SIGMAS, Wobble, bent_design, estimate_common, evidence, turn_in_sigmas

Floats = NDArray[np.float64]

_MOST_MOVE_MM = 12.0  # of a corner: in a tip of 20 degrees an edge 2 mm off moves it by 6 mm
_DIM_STRETCHES_MM = (4.0, 8.0)
_FIRST_REACH_MM, _REACH_MM = 1.0, 0.5  # how far from where it is expected an edge is looked for
_NEAR_LINE_MM = 0.2  # and a line that some of its points lie on
_PART_DEG, _PART_MM = 25.0, 8.0  # an arc is measured in parts that turn by no more, and are no shorter
_CLEAR_SHARE, _CLEAR_SHARE_LIT = 0.4, 0.25  # of an edge's stretches must show it; on a patterned cloth fewer do


def fit_edges(
    crop: Crop,
    outline: Outline,
    plane: Plane,
    look: Look | None = None,
    instead: Sequence[FittedEdge] = (),
) -> tuple[FittedEdge, ...]:
    """A line or an arc through each edge of an outline that is roughly known.

    ``look`` is what all the edges of a photo have in common; ``instead``, where there are some, stand for edges
    that can't be told.

    Raises EdgeUnclearError when an edge can't be told from the ground or its shadow.
    """
    edges: tuple[FittedEdge, ...] = ()
    strayed = [0.0] * len(outline.corners)
    for first_look in (True, False):  # the second time every edge is looked for where it is, and its ends are known
        corners = outline.corners
        measured = _measure(crop, outline, plane, look, first_look=first_look)
        strayed = [max(px, points.strayed_px) for px, (points, _) in zip(strayed, measured, strict=True)]
        if not instead and not all(_is_clear(points, stretches, look) for points, stretches in measured):
            raise EdgeUnclearError
        middles = [_middle_of(outline, k) for k in range(len(corners))]
        edges = tuple(
            robust_edge(attrs.evolve(points, strayed_px=strayed[k]), plane, middle)
            if not instead or _is_clear(points, stretches, look)
            else instead[k]
            for k, ((points, stretches), middle) in enumerate(zip(measured, middles, strict=True))
        )
        try:
            moved = corners_of(edges, corners)
        except ValueError as error:
            raise EdgeUnclearError from error
        if np.hypot(*(moved - corners).T).max() > _MOST_MOVE_MM:
            raise EdgeUnclearError
        outline = Outline(corners=moved, bulges=bulges_of(edges, moved))
    return edges


def wobble_of(outlines: Sequence[Sequence[FittedEdge]]) -> Wobble:
    """The wobble of all edges of one picture: cut by one hand, and too few each to tell it alone.

    An edge that clearly wanders more than the others has no say: something else made it.
    """
    edges = []
    for edge in (edge for each in outlines for edge in each):
        used = edge.weights > 0
        if used.sum() >= (5 if edge.bend else 4):
            edges.append(evidence(edge.places[used], edge.off[used], edge.design[used]))
    return estimate_common(edges)


def profiles_of(crop: Crop, outline: Outline, plane: PhotoPlane) -> list[EdgeProfile]:
    """The profiles of an outline's edges, of an arc's parts, but for those too short."""
    trims = _trims(outline)
    profiles = []
    for k in range(len(outline.corners)):
        for part in _parts(outline, k, trims[k], plane):
            slope = slope_of(part.ends, plane)
            profiles.append(edge_profile(crop, part.path, part.trims * slope.px_per_mm, slope, plane.face_mm))
    return [profile for profile in profiles if profile is not None]


def _trims(outline: Outline) -> Floats:
    """(n, 2) mm: what of each edge's start and end is left out."""
    corners = outline.corners
    curves = curves_of(corners, outline.bulges)
    if outline.bulges:
        turns = [turn_left_deg(curves[k - 1].along_at(at), curves[k].along_at(at)) for k, at in enumerate(corners)]
        angles = np.radians(180 - np.array(turns))
    else:
        angles = np.radians(interior_angles(corners))
    lengths = _lengths(outline)
    # In a sharp corner the other edge comes within the profile: stay so far away that it does not.
    keep = np.array([max(CORNER_MM, 0.5 + 0.7 / math.tan(a)) if a < math.pi / 2 else CORNER_MM for a in angles])
    trims = np.column_stack([keep, np.roll(keep, -1)])
    return np.asarray(trims * np.minimum(1.0, 0.5 * lengths / trims.sum(axis=1))[:, None])


def _lengths(outline: Outline) -> Floats:
    chords = edge_lengths(outline.corners)
    bulges = outline.bulges or [0.0] * len(chords)
    return np.array([arc_length(float(chord), bulge) for chord, bulge in zip(chords, bulges, strict=True)])


@frozen(kw_only=True)
class _Part:
    """What of an edge is measured at once: a line whole, an arc in parts that face one way each.

    ``ends`` (2, 2) plane mm; ``trims`` (2,) mm that ``path`` still has to leave out; ``length`` mm that is left.
    """

    path: Path
    ends: Floats
    trims: Floats
    length: float


def _parts(outline: Outline, k: int, trims: Floats, plane: Plane) -> list[_Part]:
    ends = outline.corners[[k, (k + 1) % len(outline.corners)]]
    usable = float(_lengths(outline)[k] - trims.sum())
    if not outline.bulges or not outline.bulges[k]:
        return [_Part(path=plane.to_px(ends), ends=ends, trims=trims, length=usable)]
    curve = curves_of(outline.corners, outline.bulges)[k]
    turn = math.degrees(usable * abs(curve.bend))
    count = max(1, min(math.ceil(turn / _PART_DEG), int(usable / _PART_MM)))
    half = usable / count / 2
    parts = []
    for middle in trims[0] + half * (1 + 2 * np.arange(count)):
        at = curve.at([middle])[0]
        here = Curve(at, curve.along_at(at), curve.bend)
        chord = here.at([-half, half])
        scale = slope_of(chord, plane).px_per_mm if isinstance(plane, PhotoPlane) else 1 / plane.mm_per_px
        path = RoundPath(curve=here, start_mm=-half, end_mm=half, plane=plane, px_per_mm=scale)
        parts.append(_Part(path=path, ends=chord, trims=np.zeros(2), length=2 * half))
    return parts


def _measure(
    crop: Crop, outline: Outline, plane: Plane, look: Look | None, *, first_look: bool
) -> list[tuple[EdgePoints, int]]:
    """The measured points of each edge, and how many stretches it was measured in."""
    result: list[tuple[EdgePoints, int]] = []
    parts = [_parts(outline, k, trims, plane) for k, trims in enumerate(_trims(outline))]
    for edge in parts:
        # In deep shade the camera's noise drowns an edge on a usual stretch, but not on a longer one.
        for stretch_mm in (STRETCH_MM,) if look is None else (STRETCH_MM, *_DIM_STRETCHES_MM):
            measured = _measured_edge(crop, edge, plane, look, stretch_mm=stretch_mm, first_look=first_look)
            if _is_clear(*measured, look):
                break
        straight = not outline.bulges or not outline.bulges[len(result)]
        result.append(_on_one_line(crop, edge[0], plane, look, measured) if straight else measured)
    return result


def _on_one_line(
    crop: Crop, part: _Part, plane: Plane, look: Look | None, measured: tuple[EdgePoints, int]
) -> tuple[EdgePoints, int]:
    """The measured points and stretches of a straight edge, along the likelier line where they lie on two.

    How likely the other is, is in ``strayed_px``.
    """
    points, stretches = measured
    at = plane.to_mm(points.points)
    px_per_mm = 1 / float(plane.mm_per_px_at(plane.to_px(part.ends).mean(axis=0)[None])[0])
    step = step_in(at, NICK_PX / px_per_mm)
    if step is None:
        return measured
    if look is None or not isinstance(plane, PhotoPlane):
        return attrs.evolve(points, strayed_px=abs(step.by) * px_per_mm / 2), stretches
    lines = two_lines(at, step)
    found = [
        _along(crop, part, line, plane, look, stretch=part.length / stretches)
        for line in (lines.first, lines.second)
    ]
    likely, other = sorted(found, key=lambda each: each.misfit)
    apart_px = px_per_mm * math.sqrt(float(np.mean(np.sum((other.ends - likely.ends) ** 2, axis=1))))
    left = step_in(plane.to_mm(likely.points.points), NICK_PX / px_per_mm)
    still_px = abs(left.by) * px_per_mm / 2 if left else 0.0
    strayed_px = math.hypot(still_px, apart_px * math.sqrt(weight_against(other.misfit, likely.misfit)))
    return attrs.evolve(likely.points, strayed_px=strayed_px), stretches


@frozen
class _Along:
    """An edge's points as measured along one line, its ends (2, 2) plane mm, and what it leaves unexplained."""

    points: EdgePoints
    ends: Floats
    misfit: float


def _along(
    crop: Crop, part: _Part, line: tuple[Floats, Floats], plane: PhotoPlane, look: Look, *, stretch: float
) -> _Along:
    """An edge measured along a line that some of its points lie on, and then along the line found so."""
    for _ in range(2):
        middle, along = line
        ends = middle + ((part.ends - middle) @ along)[:, None] * along
        slope, path = slope_of(ends, plane), plane.to_px(ends)
        trims, length = part.trims * slope.px_per_mm, stretch * slope.px_per_mm
        place = best_place(crop, path, trims, slope=slope, look=look, reach_mm=_NEAR_LINE_MM, only_here=True)
        points = measure_lit_edge(crop, path, trims, stretch=length, slope=slope, look=look, place=place)
        if len(points.points) >= LEAST_STRETCHES:
            edge = robust_edge(points, plane)
            line = edge.middle, edge.along
    return _Along(points, ends, place.misfit)


def _is_clear(points: EdgePoints, stretches: int, look: Look | None) -> bool:
    share = _CLEAR_SHARE if look is None else _CLEAR_SHARE_LIT
    return len(points.points) >= max(LEAST_STRETCHES, share * stretches)


def _measured_edge(
    crop: Crop, parts: Sequence[_Part], plane: Plane, look: Look | None, *, stretch_mm: float, first_look: bool
) -> tuple[EdgePoints, int]:
    px_per_mm = 1 / float(plane.mm_per_px_at(plane.to_px(parts[0].ends).mean(axis=0)[None])[0])
    found, stretches = [], 0
    for part in parts:
        stretch = min(stretch_mm, part.length / (LEAST_STRETCHES + 1))
        found.append(
            _measured_part(crop, part, plane, look, stretch=stretch, px_per_mm=px_per_mm, first_look=first_look)
        )
        stretches += int(part.length / stretch)
    points = EdgePoints(
        points=np.vstack([each.points for each in found]),
        u_px=np.concatenate([each.u_px for each in found]),
        doubt_px=max(each.doubt_px for each in found),
    )
    return points, stretches


def _measured_part(
    crop: Crop, part: _Part, plane: Plane, look: Look | None, *, stretch: float, px_per_mm: float, first_look: bool
) -> EdgePoints:
    trims_px, stretch_px = part.trims * px_per_mm, stretch * px_per_mm
    if look is not None and isinstance(plane, PhotoPlane):
        slope = slope_of(part.ends, plane)
        reach = _FIRST_REACH_MM if first_look else _REACH_MM
        place = best_place(crop, part.path, trims_px, slope=slope, look=look, reach_mm=reach, with_side=first_look)
        return measure_lit_edge(crop, part.path, trims_px, stretch=stretch_px, slope=slope, look=look, place=place)
    return measure_edge(
        crop,
        part.path,
        trims=trims_px,
        stretch=stretch_px,
        px_per_mm=px_per_mm,
        first_look=first_look,
    )


def _middle_of(outline: Outline, k: int) -> Curve:
    """The curve of an edge, from its middle on."""
    curve = curves_of(outline.corners, outline.bulges)[k]
    at = curve.at([float(_lengths(outline)[k]) / 2])[0]
    return Curve(at, curve.along_at(at), curve.bend)


def doubtful_corner(edges: Sequence[FittedEdge], wobble: Wobble) -> int | None:
    """The shallow corner (edge k - 1 to edge k) that wobble explains best, if it does; None when all are clear.

    Every corner was found on its own card; the wobble of all the picture's cards together judges it better.
    """
    weakest, least = None, CLEAR_SIGMAS
    for k, edge in enumerate(edges):
        before = edges[k - 1]
        if (
            edge.bend
            or before.bend
            or abs(turn_left_deg(before.along, edge.along)) > CLEAR_TURN_DEG
            or len(edges) < 4
        ):
            continue
        corner = corner_of(before, edge, edge.middle)
        points = np.vstack([each.points for each in (before, edge)])
        along = (points - corner) @ before.along
        off = (points - corner) @ before.outward
        sigmas = turn_in_sigmas(along, off, bent_design(along, 0.0), wobble)
        if sigmas < least:
            weakest, least = k, sigmas
    return weakest


def doubtful_arc(edges: Sequence[FittedEdge], wobble: Wobble) -> int | None:
    """The arc whose bend wobble explains best, if it does; None when all are clear."""
    sigmas = {
        k: abs(edge.bend) / math.sqrt(float(edge.covariance(wobble)[2, 2]))
        for k, edge in enumerate(edges)
        if edge.bend
    }
    weakest = min(sigmas, key=lambda k: sigmas[k], default=None)
    return weakest if weakest is not None and sigmas[weakest] < CLEAR_SIGMAS else None
