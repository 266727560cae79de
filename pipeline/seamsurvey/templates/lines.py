"""A straight line through each edge's measured points, and how well it is known.

Robust (worn ends, nicks and dust do not pull it), in the plane frame, in mm. Two numbers describe a line's error:
its offset outwards at ``middle`` and its slope.
"""

import math
from collections.abc import Sequence

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.errors import InputError
from seamsurvey.geometry import edge_lengths, interior_angles, intersect_lines
from seamsurvey.model import PhotoPlane, Picture, Plane
from seamsurvey.templates.cards import place_text
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.corners import CLEAR_TURN_DEG, CORNER_MM, KINK_SIGMAS, turn_deg
from seamsurvey.templates.edges import STRETCH_MM, EdgePoints, measure_edge
from seamsurvey.templates.lit_edges import measure_lit_edge
from seamsurvey.templates.look import Look, slope_of
from seamsurvey.templates.profiles import EdgeProfile, best_place, edge_profile
from seamsurvey.templates.wobble import Wobble, bent_design, estimate, evidence, line_design, turn_in_sigmas

Floats = NDArray[np.float64]

OWN_BIAS_PX = 0.08  # one edge's offset from the truth, standard: shadow, colour fringe; differs from edge to edge
_POINT_PX = 0.1  # no stretch is known better: grain of the card, unevenness of the scan
_OUTLIER = 5.0  # standard deviations of a stretch from its neighbours, but at least:
_NICK_PX = 1.5
_MOST_MOVE_MM = 12.0  # of a corner: in a tip of 20 degrees an edge 2 mm off moves it by 6 mm
_WORN_STRETCHES = 2  # at each end, beyond what is never looked at: a corner worn by more is another shape
_LEAST_STRETCHES = 3
_FIRST_REACH_MM, _REACH_MM = 1.0, 0.5  # how far from where it is expected an edge is looked for
_CLEAR_SHARE, _CLEAR_SHARE_LIT = 0.4, 0.25  # of an edge's stretches must show it; on a patterned cloth fewer do


@frozen(kw_only=True)
class FittedLine:
    """One edge as a line: ``middle`` (2,) on it, ``along`` (2,) unit, the card to the left (plane mm).

    ``places`` (n,) mm along it from ``middle`` and ``off`` (n,) mm outwards from it are the measured points,
    ``u`` (n,) one standard deviation of each, as its light shows it, ``weights`` (n,) what each counted for;
    ``own_bias_mm`` is one standard deviation of the whole line's offset.
    """

    middle: Floats = field(eq=False, repr=False)
    along: Floats = field(eq=False, repr=False)
    places: Floats = field(eq=False, repr=False)
    off: Floats = field(eq=False, repr=False)
    weights: Floats = field(eq=False, repr=False)
    u: Floats = field(eq=False, repr=False)
    own_bias_mm: float = 0.0

    @property
    def points(self) -> Floats:
        """(m, 2) plane mm: the measured points that counted."""
        used = self.weights > 0
        return np.asarray(self.middle + self.places[used, None] * self.along + self.off[used, None] * self.outward)

    @property
    def outward(self) -> Floats:
        """(2,) unit normal, away from the card."""
        return np.array([self.along[1], -self.along[0]])

    def covariance(self, wobble: Wobble) -> Floats:
        """(2, 2) of the offset outwards (mm) and the slope, for points that wander like this."""
        design = line_design(self.places)
        gain = np.linalg.solve(design.T @ (design * self.weights[:, None]), (design * self.weights[:, None]).T)
        result = gain @ (wobble.covariance(self.places) + np.diag(self.u**2)) @ gain.T
        result[0, 0] += self.own_bias_mm**2
        return np.asarray(result)


def corners_of(lines: Sequence[FittedLine]) -> Floats:
    """(n, 2) plane mm: corner k is where line k - 1 meets line k."""
    return np.array(
        [
            intersect_lines(lines[k - 1].middle, lines[k - 1].along, lines[k].middle, lines[k].along)
            for k in range(len(lines))
        ]
    )


def fit_lines(
    crop: Crop, corners: Floats, plane: Plane, picture: Picture, look: Look | None = None
) -> tuple[FittedLine, ...]:
    """A line through each edge of an outline whose ``corners`` (n, 2) plane mm are roughly known.

    ``look`` is what all the edges of a photo have in common.

    InputError ``edge-unclear`` when an edge can't be told from the ground or its shadow.
    """
    lines: tuple[FittedLine, ...] = ()
    for first_look in (True, False):  # the second time every edge is looked for where it is, and its ends are known
        measured = _measure(crop, corners, plane, look, first_look=first_look)
        for k, (points, stretches) in enumerate(measured):
            share = _CLEAR_SHARE if look is None else _CLEAR_SHARE_LIT
            if len(points.points) < max(_LEAST_STRETCHES, share * stretches):
                ends = plane.to_px(corners[[k, (k + 1) % len(corners)]])
                raise edge_unclear(ends, picture)
        lines = tuple(robust_line(points, plane) for points, _ in measured)
        moved = corners_of(lines)
        if np.hypot(*(moved - corners).T).max() > _MOST_MOVE_MM:
            k = int(np.argmax(np.hypot(*(moved - corners).T)))
            raise edge_unclear(plane.to_px(corners[[k - 1, k]]), picture)
        corners = moved
    return lines


def wobble_of(outlines: Sequence[Sequence[FittedLine]]) -> Wobble:
    """The wobble of all edges of one picture: cut by one hand, and too few each to tell it alone."""
    edges = []
    for line in (line for lines in outlines for line in lines):
        used = line.weights > 0
        if used.sum() >= 4:
            edges.append(evidence(line.places[used], line.off[used], line_design(line.places[used])))
    return estimate(edges)


def edge_unclear(points_px: Floats, picture: Picture) -> InputError:
    """The error for an edge that can't be told from what surrounds it."""
    return InputError(
        "edge-unclear",
        "A template's edge can't be told from the ground or from its shadow.",
        where=place_text(points_px, picture),
        likely="Card and ground are too much alike, or the shadow beside the card is as dark as the card.",
        todo="Lay paper of another colour behind the templates, or turn them, and take the picture again.",
    )


def profiles_of(crop: Crop, corners: Floats, plane: PhotoPlane) -> list[EdgeProfile]:
    """The profiles of an outline's edges, but for those too short; ``corners`` (n, 2) plane mm, roughly known."""
    corners_px = plane.to_px(corners)
    trims = _trims(corners)
    profiles = []
    for k in range(len(corners)):
        pair = [k, (k + 1) % len(corners)]
        slope = slope_of(corners[pair], plane)
        profiles.append(edge_profile(crop, corners_px[pair], trims[k] * slope.px_per_mm, slope, plane.face_mm))
    return [profile for profile in profiles if profile is not None]


def _trims(corners: Floats) -> Floats:
    """(n, 2) mm: what of each edge's start and end is left out."""
    lengths = edge_lengths(corners)
    # In a sharp corner the other edge comes within the profile: stay so far away that it does not.
    angles = np.radians(interior_angles(corners))
    keep = np.array([max(CORNER_MM, 0.5 + 0.7 / math.tan(a)) if a < math.pi / 2 else CORNER_MM for a in angles])
    trims = np.column_stack([keep, np.roll(keep, -1)])
    return np.asarray(trims * np.minimum(1.0, 0.5 * lengths / trims.sum(axis=1))[:, None])


def _measure(
    crop: Crop, corners: Floats, plane: Plane, look: Look | None, *, first_look: bool
) -> list[tuple[EdgePoints, int]]:
    """The measured points of each edge, and how many stretches it was measured in."""
    corners_px = plane.to_px(corners)
    px_per_mm = 1 / float(plane.mm_per_px_at(corners_px.mean(axis=0)[None])[0])
    lengths = edge_lengths(corners)
    all_trims = _trims(corners)
    result = []
    for k in range(len(corners)):
        after = (k + 1) % len(corners)
        trims = all_trims[k]
        usable = lengths[k] - trims.sum()
        stretch = min(STRETCH_MM, usable / (_LEAST_STRETCHES + 1))
        if look is not None and isinstance(plane, PhotoPlane):
            slope = slope_of(corners[[k, after]], plane)
            ends, trims_px = corners_px[[k, after]], trims * px_per_mm
            reach = _FIRST_REACH_MM if first_look else _REACH_MM
            start, _ = best_place(crop, ends, trims_px, slope=slope, look=look, reach_mm=reach)
            points = measure_lit_edge(
                crop, ends, trims_px, stretch=stretch * px_per_mm, slope=slope, look=look, start_px=start
            )
            result.append((points, int(usable / stretch)))
            continue
        points = measure_edge(
            crop,
            corners_px[[k, after]],
            trims=trims * px_per_mm,
            stretch=stretch * px_per_mm,
            px_per_mm=px_per_mm,
            first_look=first_look,
            side_px=_side_px(corners[[k, after]], plane),
        )
        result.append((points, int(usable / stretch)))
    return result


def _side_px(ends: Floats, plane: Plane) -> float:
    """How wide, px, the card's side shows beyond an edge ((2, 2) plane mm, card to the left); below 0: hidden."""
    middle = ends.mean(axis=0, keepdims=True)
    way = plane.to_px(ends)
    way = (way[1] - way[0]) / np.hypot(*(way[1] - way[0]))
    return float((plane.below_px(middle) - plane.to_px(middle))[0] @ np.array([-way[1], way[0]]))


def robust_line(points: EdgePoints, plane: Plane) -> FittedLine:
    """The line through an edge's measured stretches; nicks, dust and worn ends do not pull it."""
    at = plane.to_mm(points.points)
    mm_per_px = float(plane.mm_per_px_at(points.points.mean(axis=0)[None])[0])
    known = 1 / (_POINT_PX**2 + points.u_px**2)
    known /= known.max()
    weights = known
    for _ in range(6):
        middle, along = _through(at, weights)
        off = (at - middle) @ np.array([along[1], -along[0]])
        used = weights > 0
        scatter = max(float(np.sqrt(np.average(off[used] ** 2, weights=weights[used]))), _POINT_PX * mm_per_px)
        weights = known * ~(_stands_out(off, _NICK_PX * mm_per_px) | _worn_ends(off, scatter))
        if np.count_nonzero(weights) < _LEAST_STRETCHES:
            weights = known
    middle, along = _through(at, weights)
    gap = at - middle
    return FittedLine(
        middle=middle,
        along=along,
        places=gap @ along,
        off=gap @ np.array([along[1], -along[0]]),
        weights=weights,
        u=points.u_px * mm_per_px,
        own_bias_mm=OWN_BIAS_PX * mm_per_px,
    )


def _through(at: Floats, weights: Floats) -> tuple[Floats, Floats]:
    """The weighted middle of points in order, and the direction of the line through them."""
    middle: Floats = np.average(at, axis=0, weights=weights)
    direction = np.linalg.svd((at - middle) * np.sqrt(weights)[:, None], full_matrices=False)[2][0]
    return middle, direction * math.copysign(1.0, float(direction @ (at[-1] - at[0])))


def _stands_out(off: Floats, least: float) -> NDArray[np.bool_]:
    """The points away from their neighbours: dust, nicks. Wobble moves neighbours alike, and is no outlier."""
    padded = np.pad(off, 2, mode="reflect") if len(off) > 2 else np.pad(off, 2, mode="edge")
    around = np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
    away = np.abs(off - around)
    return np.asarray(away > max(_OUTLIER * 1.4826 * float(np.median(away)), least))


def _worn_ends(off: Floats, scatter: float) -> NDArray[np.bool_]:
    """The points at both ends that lie inside the line without a break: worn away."""
    inside = off < -2.5 * scatter
    inside[_WORN_STRETCHES : len(off) - _WORN_STRETCHES] = False
    worn = np.logical_and.accumulate(inside) | np.logical_and.accumulate(inside[::-1])[::-1]
    return worn if np.count_nonzero(~worn) >= _LEAST_STRETCHES else np.zeros(len(off), dtype=bool)


def doubtful_corner(lines: Sequence[FittedLine], wobble: Wobble) -> int | None:
    """The shallow corner (line k - 1 to line k) that wobble explains best, if it does; None when all are clear.

    Every corner was found on its own card; the wobble of all the picture's cards together judges it better.
    """
    weakest, least = None, KINK_SIGMAS
    for k, line in enumerate(lines):
        before = lines[k - 1]
        if turn_deg(before.along, line.along) > CLEAR_TURN_DEG or len(lines) < 4:
            continue
        corner = intersect_lines(before.middle, before.along, line.middle, line.along)
        points = np.vstack([each.points for each in (before, line)])
        along = (points - corner) @ before.along
        off = (points - corner) @ before.outward
        sigmas = turn_in_sigmas(along, off, bent_design(along, 0.0), wobble)
        if sigmas < least:
            weakest, least = k, sigmas
    return weakest
