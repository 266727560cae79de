"""An edge under a known look, stretch by stretch: where it runs, to a few hundredths of a pixel.

Face and ground differ from stretch to stretch (grain, writing, flowers of a cloth); side, shadow and lens do not.
"""

from operator import itemgetter

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.light import light_of_luma
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.edges import HUBER, EdgePoints, solved
from seamsurvey.templates.look import Look, Slope, at, tables
from seamsurvey.templates.profiles import EXACT, ON_TABLE_PX, STEP_PX, Place
from seamsurvey.templates.strips import Path, strip_along

Floats = NDArray[np.float64]

_INSIDE_MM, _OUTSIDE_MM = 0.8, 0.7
_REACH_PX = 3.0  # hand-cut edges wander by this about their line
_WHOLE = 0.7  # of the pixels across an edge must be seen
_TURNS = 6
_FORGIVEN, _FORGIVING_TURNS = 4.0, 2  # standard deviations of what lies on the table
_PIXELS_ALIKE = 4.0  # neighbouring pixels of a picture are not independent
_MOST_U_PX = 2.0
_MOST_SPREAD = 3.5  # times what other stretches of the edge leave over: something else lies in this one
_LEAST_SPREAD = 1.5e-3  # linear light: the rounding to 8 bits
_FACE_SPREAD = 0.04  # of a card's own light from one stretch to another, as a share
_MOST_DRAWN = 25.0  # one stretch that nothing explains tells no more
_LINE_PX = 1.2  # standard deviation of a stretch about its edge's place: what wobble may do


@frozen
class _Stretches:
    distance: Floats = field(eq=False)
    light: Floats = field(eq=False)
    use: Floats = field(eq=False)


def measure_lit_edge(
    crop: Crop, path: Path, trims: Floats, *, stretch: float, slope: Slope, look: Look, place: Place
) -> EdgePoints:
    """The edge near a path, at about its ``place``.

    ``trims`` (2,) px are left out at a line's ends, ``stretch`` is the length of a stretch in px.
    """
    seen, start_px = max(0.0, slope.side_px * look.height), place.out_px
    limits = (
        start_px - _INSIDE_MM * slope.px_per_mm - _REACH_PX,
        start_px + _OUTSIDE_MM * slope.px_per_mm + _REACH_PX + seen,
    )
    strip = strip_along(crop, path, trims, limits, stretch)
    if strip is None:
        return EdgePoints()
    top, wall, back = tables(look, slope, False)
    # Where a shadow falls across both, a side is lit as the face above it; what is printed on the face it hasn't.
    sides = (
        np.array([top + place.side_share * wall, back, np.zeros_like(wall)]),
        np.array([top, back, place.side * wall]),
    )
    pixels = strip.count.sum(axis=1)
    whole = (pixels > _WHOLE * pixels.max()) & (pixels > 0)  # the others run off the picture
    if not whole.any():
        return EdgePoints()
    stretches = _Stretches(
        np.where(strip.count > 0, strip.distance, 0.0)[whole], light_of_luma(strip.light[whole]), strip.count[whole]
    )
    shift, _cost, table = min(
        ((*_looked_for(stretches, side, start_px), side) for side in sides), key=itemgetter(1)
    )
    shift, u, spread = _refined(stretches, table, shift, start_px)
    good = (u < _MOST_U_PX) & (np.abs(shift - start_px) < _REACH_PX)
    good &= spread < _MOST_SPREAD * float(np.median(spread))
    outward = np.broadcast_to(strip.outward, strip.middles.shape)
    points = strip.middles[whole] + shift[:, None] * outward[whole]
    return EdgePoints(points=points[good], u_px=u[good], doubt_px=place.doubt_px)


def _looked_for(stretches: _Stretches, table: Floats, start_px: float) -> tuple[Floats, float]:
    """(n,) the best of many places for each stretch, all drawn a little to the edge's place; how badly they fit."""
    tried = start_px + np.arange(-_REACH_PX, _REACH_PX + STEP_PX / 2, STEP_PX)
    noise = _noise(stretches, start_px)
    costs = []
    for shift in tried:
        weight = stretches.use
        for _ in range(_FORGIVING_TURNS):
            off, _levels = _left_over(stretches, table, np.full(len(stretches.light), shift), weight)
            weight = stretches.use * _forgiven(stretches.distance - shift, off, noise)
        costs.append(np.sum(weight * off**2, axis=1))
    cost = np.array(costs) / noise**2 / _PIXELS_ALIKE
    drawn = 0.5 * cost + 0.5 * ((tried - start_px) / _LINE_PX)[:, None] ** 2
    return tried[np.argmin(drawn, axis=0)], float(np.minimum(drawn.min(axis=0), _MOST_DRAWN).sum())


def _noise(stretches: _Stretches, start_px: float) -> Floats:
    """(n,) one standard deviation of the light on the face, where that is surely it, and of what a look can tell.

    Of a black card the face is all even, and its side is never quite as dark as the look has it.
    """
    on_face = stretches.use * (stretches.distance < start_px - _REACH_PX)
    total = np.maximum(on_face.sum(axis=1), 1e-9)
    mean = np.sum(on_face * stretches.light, axis=1) / total
    variance = np.sum(on_face * (stretches.light - mean[:, None]) ** 2, axis=1) / total
    beyond = stretches.use * (stretches.distance > start_px + _REACH_PX)
    ground = np.sum(beyond * stretches.light, axis=1) / np.maximum(beyond.sum(axis=1), 1e-9)
    return np.asarray(np.hypot(np.sqrt(variance) + _LEAST_SPREAD, EXACT * np.abs(ground - mean)))


def _forgiven(gap: Floats, off: Floats, noise: Floats) -> Floats:
    """(n, m) what counts: the face whole; what lies on the table beside the edge only so much."""
    return np.where(gap > ON_TABLE_PX, 1 / (1 + (off / (_FORGIVEN * noise[:, None])) ** 2), 1.0)


def _left_over(stretches: _Stretches, table: Floats, shift: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """(n, m) light that face and ground don't explain, and (n, 2) these two."""
    gap = stretches.distance - shift[:, None]
    design = np.stack([at(table[0], gap), at(table[1], gap)], axis=-1)
    light = stretches.light - at(table[2], gap)
    levels = solved(design, weight, light, 1e-6)[0]
    return light - (design @ levels[..., None])[..., 0], levels


def _refined(stretches: _Stretches, table: Floats, shift: Floats, start_px: float) -> tuple[Floats, Floats, Floats]:
    """(n,) each: shift, its standard deviation, and what is left over; Gauss-Newton with Huber weights."""
    slopes = np.gradient(table, 0.1, axis=1)
    use = stretches.use
    noise = _noise(stretches, start_px)
    off, levels = _left_over(stretches, table, shift, use)
    weight = use * _forgiven(stretches.distance - shift[:, None], off, noise)
    off, levels = _left_over(stretches, table, shift, weight)
    normal = np.zeros((len(shift), 3, 3))
    usual: Floats = np.median(levels, axis=0)
    scatter = 1.4826 * float(np.median(np.abs(levels[:, 0] - usual[0])))
    face_spread = max(scatter, _FACE_SPREAD * abs(float(usual[0])), _LEAST_SPREAD)
    spread = np.ones(len(shift))
    for _ in range(_TURNS):
        spread = np.sqrt(np.sum(weight * off**2, axis=1) / np.maximum((weight > 0).sum(axis=1), 1)) + _LEAST_SPREAD
        gap = stretches.distance - shift[:, None]
        weight = use * _forgiven(gap, off, noise)
        weight *= np.minimum(1.0, HUBER * spread[:, None] / np.maximum(np.abs(off) * np.sqrt(use), 1e-9))
        face, ground = at(table[0], gap), at(table[1], gap)
        moved = -(levels[:, :1] * at(slopes[0], gap) + levels[:, 1:] * at(slopes[1], gap) + at(slopes[2], gap))
        design = np.stack([face, ground, moved], axis=-1)
        pull = np.zeros((len(shift), 3))
        pull[:, 0] = (spread / face_spread) ** 2
        pull[:, 2] = (spread / _REACH_PX) ** 2
        aim = np.column_stack([usual[0] - levels[:, 0], np.zeros(len(shift)), start_px - shift])
        change, normal = solved(design, weight, off, pull, aim)
        levels = levels + change[:, :2]
        ahead = shift + np.clip(change[:, 2], -0.7, 0.7)
        shift = np.clip(ahead, start_px - 1.5 * _REACH_PX, start_px + 1.5 * _REACH_PX)
        gap = stretches.distance - shift[:, None]
        face, ground, own = (at(part, gap) for part in table)
        off = stretches.light - levels[:, :1] * face - levels[:, 1:] * ground - own
    variance = np.linalg.inv(normal)[:, 2, 2] * spread**2
    return shift, _PIXELS_ALIKE * np.sqrt(np.maximum(variance, 0.0)), spread
