"""A seam line drawn inside a card, dashed or whole: how far it lies inside the edges.

Old templates with an allowance often carry one. It shows as a thin line, darker or lighter than the card, at one
distance from all edges; writing, grain lines and creases do not.
"""

import math

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.geometry import edge_lengths, edge_vectors, interior_angles
from seamsurvey.model import Plane
from seamsurvey.templates.contour import Crop, sampled

Floats = NDArray[np.float64]

NEAREST_MM, FARTHEST_MM = 2.0, 12.5  # allowances in use are 3 to 10 mm
_PIECE_MM = 10.0  # each edge is looked at in pieces of this: a line drawn by hand is not quite parallel
_SMOOTH_MM = 0.35  # the width of a pen's or pencil's line
_BACKGROUND_MM = 2.4
_CLEAR = 4.0  # a piece's line must be this much deeper than its usual ripple
_SHARE = 0.7  # of the pieces and of the edges must show it
_RULED_MM = 0.3  # standard deviation: a line drawn along a ruler keeps its distance, strokes of letters do not
_LEAST_PIECES = 4  # and half of all: deep inside a small card there is too little of a line to tell
_WANDER_MM = 0.7  # a drawn line wanders about its distance by no more


@frozen
class SeamLine:
    """``distance_mm`` inside the edges, with its expanded uncertainty ``u_mm`` (k = 2)."""

    distance_mm: float
    u_mm: float


def find_seam_line(crop: Crop, corners: Floats, plane: Plane) -> SeamLine | None:
    """The line at one distance inside all edges of the cut outline (``corners`` (n, 2) plane mm), or None."""
    px_per_mm = 1 / plane.mm_per_px
    step = max(0.5 / px_per_mm, 0.04)
    depths = np.arange(NEAREST_MM - _BACKGROUND_MM, FARTHEST_MM + _BACKGROUND_MM, step)
    profiles, edge_of = _profiles(crop, corners, plane, depths)
    if len(set(edge_of)) < 3:
        return None
    found = [_common_line(sign * profiles, np.array(edge_of), depths, step) for sign in (-1.0, 1.0)]
    # Beside a dark line the card looks lighter than further off, and the other way round, but never by as much.
    clear = [strong for strong in found if strong is not None]
    return max(clear, key=lambda strong: strong[0])[1] if clear else None


def _profiles(crop: Crop, corners: Floats, plane: Plane, depths: Floats) -> tuple[Floats, list[int]]:
    """(pieces, depths): log luminance by distance inside the edge, and which edge each piece belongs to.

    Where a depth lies outside the card's part for this edge (beyond the corner's middle line) it is NaN.
    """
    light = np.log(crop.luminance() + 0.01)
    ways, lengths = edge_vectors(corners), edge_lengths(corners)
    slants = np.tan(np.radians(interior_angles(corners)) / 2)
    rows: list[Floats] = []
    edge_of: list[int] = []
    for k, length in enumerate(lengths):
        way = ways[k] / length
        inward = np.array([-way[1], way[0]])
        pieces = max(1, round(length / _PIECE_MM))
        after = slants[(k + 1) % len(corners)]
        for piece in range(pieces):
            along = np.arange(piece * length / pieces, (piece + 1) * length / pieces, 0.25)
            at = corners[k] + along[:, None, None] * way + depths[None, :, None] * inward
            values = sampled(light, crop.places(at, plane))
            mine = (along[:, None] * slants[k] > depths - 0.3) & ((length - along)[:, None] * after > depths - 0.3)
            if slants[k] < 0 or after < 0:
                mine |= depths[None, :] < 0
            share = mine.mean(axis=0)
            mean = np.sum(np.where(mine, values, 0), axis=0) / np.maximum(mine.sum(axis=0), 1)
            seen = (share > 0.3) & (depths > 0.6)
            if np.count_nonzero(seen & (depths > NEAREST_MM)) > 4:
                rows.append(np.where(seen, mean, np.nan))
                edge_of.append(k)
    return np.array(rows), edge_of


def _common_line(
    profiles: Floats, edge_of: NDArray[np.int64], depths: Floats, step: float
) -> tuple[float, SeamLine] | None:
    """The line that most pieces show at one depth, and how far it stands out; ``profiles`` are high at a line."""
    narrow = _smoothed(profiles, _SMOOTH_MM / step)
    ridge = narrow - _smoothed(profiles, _BACKGROUND_MM / step)
    ripple = 1.4826 * np.nanmedian(np.abs(ridge), axis=1, keepdims=True) + 1e-4
    # Each piece has one vote of limited weight: a letter's stem is no deeper evidence than a dash.
    vote = np.nan_to_num(np.clip(ridge / ripple, 0, 2 * _CLEAR))
    inside = (depths >= NEAREST_MM) & (depths <= FARTHEST_MM)
    window = max(1, round(_WANDER_MM / step))
    widened = np.max(np.lib.stride_tricks.sliding_window_view(vote, 2 * window + 1, axis=1), axis=2)
    # Any window that holds the line counts the same: the middle of those that do is where the line is.
    total = np.convolve(np.pad(widened.sum(axis=0), window), np.ones(2 * window + 1), mode="same")
    best = int(np.argmax(np.where(inside, total, -1)))
    near = np.s_[max(0, best - window) : best + window + 1]
    usable = np.isfinite(ridge[:, near]).all(axis=1)
    if usable.sum() < max(_LEAST_PIECES, 0.5 * len(ridge)):
        return None
    here = np.nan_to_num(ridge[:, near], nan=0.0)
    middles = depths[near][np.argmax(here, axis=1)]
    of_line = np.abs(depths[near] - middles[:, None]) < _SMOOTH_MM
    weight = np.maximum(here - 0.5 * here.max(axis=1, keepdims=True), 0) * of_line + 1e-12
    places = np.sum(weight * depths[near], axis=1) / weight.sum(axis=1)
    shows = usable & (vote[:, near].max(axis=1) >= _CLEAR)
    centre = float(np.median(places[shows])) if shows.any() else 0.0
    shows &= np.abs(places - centre) < _WANDER_MM
    edges = set(edge_of[usable].tolist())
    if shows.sum() < max(3, _SHARE * usable.sum()) or len(set(edge_of[shows].tolist())) < max(
        3, _SHARE * len(edges)
    ):
        return None
    scatter = float(np.std(places[shows], ddof=1))
    if scatter > _RULED_MM:
        return None
    count = len(set(edge_of[shows].tolist()))  # pieces of one edge share the line's tilt
    line = SeamLine(float(np.mean(places[shows])), 2 * math.hypot(scatter / math.sqrt(count), step))
    return float(np.median(here[shows].max(axis=1))), line


def _smoothed(values: Floats, width: float) -> Floats:
    """The running mean over the known values of each row, about ``width`` wide and centred."""
    kernel = np.ones((1, 2 * max(0, round((width - 1) / 2)) + 1))
    known = np.isfinite(values).astype(float)
    total = cv2.filter2D(np.nan_to_num(values), -1, kernel, borderType=cv2.BORDER_CONSTANT)
    weight = cv2.filter2D(known, -1, kernel, borderType=cv2.BORDER_CONSTANT)
    return np.where(known > 0, total / np.maximum(weight, 1e-9), np.nan)
