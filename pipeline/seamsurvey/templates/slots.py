"""A straight slot all across what was taken for one card: two cards lie side by side.

Between two cards that nearly touch shows the ground, or their shade: a straight line, narrow, that differs from
what lies to both its sides, and runs from border to border. Its ends are corners of the one outline: there one of
the cards ends. A line that is drawn or printed on a card seldom runs from corner to corner.
"""

from collections.abc import Iterator
from itertools import combinations

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from seamsurvey.geometry import edge_vectors, interior_angles
from seamsurvey.model import Plane
from seamsurvey.templates.cards import SIDE_BY_SIDE
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.corners import TwoCardsError
from seamsurvey.templates.own_colour import FLARE
from seamsurvey.templates.touching import HOLLOW_DEG, LEAST_SHARED_MM, parts_two

Floats = NDArray[np.float64]

_FROM_CORNER_MM = 2.5  # a slot ends so near to a corner: half of the slot, and what the corner is off
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


def refuse_slot(crop: Crop, corners: Floats, plane: Plane) -> None:
    """TwoCardsError where a slot runs across what has these corners, (n, 2) plane mm."""
    if slot_across(crop, corners, plane) is not None:
        raise TwoCardsError(SIDE_BY_SIDE)


def slot_across(crop: Crop, corners: Floats, plane: Plane) -> Floats | None:
    """(2, 2) plane mm, the ends of a slot that parts an outline, or None; ``corners`` (n, 2) plane mm."""
    shape = Polygon(corners)
    if not shape.is_valid:
        return None
    chords = (pair for pair in _chords(corners) if _runs_within(*pair, shape))
    found = [_along(crop, *pair, plane) for pair in chords]
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
    """The line near a chord that most stretches show as a slot, and their share."""
    length = float(np.hypot(*(other - one)))
    way = (other - one) / length
    normal = np.array([way[1], -way[0]])
    reach = _FROM_CORNER_MM + 2 * _HALF_WIDTHS_MM[-1] + _STEP_MM
    across = np.arange(-round(reach / _STEP_MM), round(reach / _STEP_MM) + 1) * _STEP_MM
    stretches = max(1, int((length - 2 * _END_MM) / _STRETCH_MM))
    fine = 8
    run = _END_MM + (np.arange(stretches * fine) + 0.5) * (length - 2 * _END_MM) / (stretches * fine)
    at = one + run[:, None, None] * way + across[None, :, None] * normal
    grid = (plane.to_px(at.reshape(-1, 2)) - np.array(crop.corner)).astype(np.float32).reshape(*at.shape)
    light = cv2.remap(crop.light, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    mean = np.log(np.maximum(light, 0).reshape(stretches, fine, len(across), 3).mean(axis=1) + FLARE)
    middle = run.reshape(stretches, fine).mean(axis=1) / length
    most, found = 0.0, None
    shifts = np.arange(-round(_FROM_CORNER_MM / _STEP_MM), round(_FROM_CORNER_MM / _STEP_MM) + 1, 2)
    zero = len(across) // 2
    for half in _HALF_WIDTHS_MM:
        shown = _shown(mean, round(half / _STEP_MM) + 1)
        wide = shown | np.roll(shown, 1, axis=1) | np.roll(shown, -1, axis=1)
        for first in shifts:
            rows = np.rint(first + (shifts[:, None] - first) * middle).astype(int) + zero
            hits = wide[np.arange(stretches), rows]
            at_ends = np.minimum(hits[:, :_OUTER].mean(axis=1), hits[:, -_OUTER:].mean(axis=1))
            shares = np.where(at_ends > _SHARE_AT_END, hits.mean(axis=1), 0.0)
            k = int(np.argmax(shares))
            if shares[k] > most:
                most = float(shares[k])
                found = np.array([one + first * _STEP_MM * normal, other + shifts[k] * _STEP_MM * normal])
    return found, most


def _shown(mean: Floats, far: int) -> NDArray[np.bool_]:
    """(n, m): where ln light (n, m, 3) differs from what lies ``far`` to both sides, and in the same way."""
    before = mean - np.roll(mean, far, axis=1)
    after = mean - np.roll(mean, -far, axis=1)
    both = np.einsum("ijk,ijk->ij", before, after)
    least = np.minimum(np.linalg.norm(before, axis=2), np.linalg.norm(after, axis=2))
    usual = 1.4826 * np.median(least)
    shown = (least > max(_LEAST, _SIGMAS * usual)) & (both > 0.5 * least**2)
    shown[:, :far] = shown[:, -far:] = False
    return np.asarray(shown)
