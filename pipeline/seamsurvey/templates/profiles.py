"""The mean light across an edge, with how sure that mean is, and how well a look explains it."""

import math

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.light import light_of_luma
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.look import Look, Slope, at, tables
from seamsurvey.templates.strips import Path, beside, strip_along

Floats = NDArray[np.float64]

INSIDE_MM, OUTSIDE_MM = 1.4, 1.6  # of the profile, beyond the side's own width
_STRETCH_MM = 2.0
_BIN_PX = 0.5
_STEPS_PX = 0.25  # of the places tried
_EXACT = 0.012  # of the profile's range: no look is truer than this
_LEAST = 5e-4  # linear light: the rounding to 8 bits
_LEAST_STRETCHES = 3
_BESIDE_MM = 0.9  # a rough outline may have followed a mat's line or a shadow so far away
_WELL = 4.0  # a misfit as textured cloth leaves it
_CLEARLY = 0.5
_FORGIVEN, _FORGIVING_TURNS = 6.0, 3  # standard deviations of what lies on the table
_ON_TABLE_PX = 1.5  # farther out than this the lens shows nothing of the edge itself


@frozen
class EdgeProfile:
    """The mean light across one edge.

    ``distance`` (m,) px outwards from the line looked along, ``light`` (m, 3) luminance and two colours, ``sigma``
    (m, 3) one standard deviation of these means; ``slope`` is how the edge stands.
    """

    distance: Floats = field(eq=False, repr=False)
    light: Floats = field(eq=False, repr=False)
    sigma: Floats = field(eq=False, repr=False)
    slope: Slope


def in_colours(light: Floats) -> Floats:
    """(..., 3) luminance, and red and blue less luminance, from linear light."""
    luminance = light_of_luma(light)
    return np.stack([luminance, light[..., 0] - luminance, light[..., 2] - luminance], axis=-1)


def edge_profile(crop: Crop, path: Path, trims: Floats, slope: Slope, height_mm: float) -> EdgeProfile | None:
    """The profile along a path; None where it is too short.

    ``trims`` (2,) px are left out at a line's ends.
    """
    outside = OUTSIDE_MM * slope.px_per_mm + max(0.0, slope.side_px * height_mm)
    limits = (-INSIDE_MM * slope.px_per_mm, outside)
    strip = strip_along(crop, path, trims, limits, _STRETCH_MM * slope.px_per_mm)
    if strip is None or len(strip.light) < _LEAST_STRETCHES:
        return None
    light = in_colours(strip.light)
    edges = np.arange(limits[0], limits[1], _BIN_PX)
    places, means, sigmas = [], [], []
    for low in edges:
        use = strip.count * ((strip.distance >= low) & (strip.distance < low + _BIN_PX))
        total = use.sum(axis=1)
        seen = total > 0
        if seen.sum() < _LEAST_STRETCHES:
            continue
        of_stretch = np.sum(light * use[..., None], axis=1)[seen] / total[seen, None]
        places.append(float(np.sum(strip.distance * use) / use.sum()))
        means.append(np.median(of_stretch, axis=0) if seen.sum() > 6 else of_stretch.mean(axis=0))
        sigmas.append(of_stretch.std(axis=0) * 1.25 / np.sqrt(seen.sum()))
    if len(places) < 8:
        return None
    mean, sigma = np.array(means), np.array(sigmas)
    floor = _EXACT * np.ptp(mean, axis=0) * np.array([1.0, 2.0, 2.0]) + _LEAST
    return EdgeProfile(np.array(places), mean, np.hypot(sigma, floor), slope)


def explained(profile: EdgeProfile, look: Look, shifts: Floats, *, forgiving: bool = False) -> Floats:
    """(n,) for each place of the edge (px outwards from the line): mean squared misfit in standard deviations.

    ``forgiving``: what lies on the table beside the edge, a mat's line or a petal, counts only so much; what the
    face shows counts whole, for the edge is where the face ends.
    """
    gap = profile.distance - shifts[:, None]
    total = np.zeros(len(shifts))
    for channel in range(3):
        front, back = (at(table, gap) for table in tables(look, profile.slope, channel > 0))
        weight = 1 / profile.sigma[:, channel]
        light = profile.light[:, channel] * weight
        of_table = np.ones_like(gap)
        for _ in range(_FORGIVING_TURNS if forgiving else 0):
            off = _left_over(front * weight, back * weight, light, of_table, channel == 0)
            of_table = np.where(gap > _ON_TABLE_PX, 1 / (1 + (off / _FORGIVEN) ** 2), 1.0)
        off = _left_over(front * weight, back * weight, light, of_table, channel == 0)
        total += np.sum(of_table * off**2, axis=1)
    return np.asarray(total / profile.light.size)


def _left_over(front: Floats, back: Floats, light: Floats, counted: Floats, positive: bool) -> Floats:
    """(n, m) what the best face and ground leave over; light of a face or a table is never negative."""
    ff, fb, bb = (np.sum(counted * a * b, axis=1) for a, b in ((front, front), (front, back), (back, back)))
    fl, bl = (counted * front) @ light, (counted * back) @ light
    determinant = np.maximum(ff * bb - fb * fb, 1e-12)
    face, ground = (bb * fl - fb * bl) / determinant, (ff * bl - fb * fl) / determinant
    if positive:
        face = np.where(ground < 0, fl / ff, face)
        ground = np.maximum(ground, 0.0)
    return np.asarray(light - face[:, None] * front - ground[:, None] * back)


def best_place(
    crop: Crop, path: Path, trims: Floats, *, slope: Slope, look: Look, reach_mm: float
) -> tuple[float, float]:
    """Where the whole edge lies, px outwards from a path, and how badly that explains it.

    Where nothing near the line explains the light well, it is looked for farther away.
    """
    best, least = 0.0, math.inf
    for away_mm in (0.0, -_BESIDE_MM, _BESIDE_MM):
        by = away_mm * slope.px_per_mm
        profile = edge_profile(crop, beside(path, by), trims, slope, look.height)
        if profile is None:
            continue
        tried = places_tried(profile, reach_mm)
        misfits = explained(profile, look, tried, forgiving=True)
        # Farther away it must be clearly better.
        if float(misfits.min()) < least * (_CLEARLY if away_mm else 1.0):
            best, least = by + float(tried[np.argmin(misfits)]), float(misfits.min())
        if least < _WELL:
            break
    return best, least


def places_tried(profile: EdgeProfile, reach_mm: float) -> Floats:
    """(n,) px: where an edge is looked for, ``reach_mm`` to both sides of the line."""
    reach = reach_mm * profile.slope.px_per_mm
    return np.arange(-reach, reach + _STEPS_PX / 2, _STEPS_PX)
