"""A straight line along the middle of each stroke, to a few hundredths of a pixel.

Measured in the original pixels, in linear light, like a card's edges (``edges``): stretch by stretch, every pixel
with its own exact distance. The profile across one stroke is the same all along it, and even to both sides; so it
is taken from the stroke itself, the mean of all its stretches made symmetric, and each stretch then tells where
that profile fits. Pen, print and blur move both sides of a stroke alike: its middle has no bias.
"""

import math
from itertools import pairwise

import attrs
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter1d

from seamsurvey.geometry import edge_lengths, interior_angles
from seamsurvey.model import Plane
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.corners import EdgeUnclearError
from seamsurvey.templates.edges import HUBER, MOST_SPREAD, EdgePoints, solved
from seamsurvey.templates.fitted import FittedEdge, corners_of
from seamsurvey.templates.robust_edge import LEAST_STRETCHES, robust_edge
from seamsurvey.templates.strips import Strip, strip_along

Floats = NDArray[np.float64]

STRETCH_MM = 1.0  # short, so that what crosses the stroke spoils little of it
_REACH_MM, _LEAST_REACH_PX = 1.0, 5.0  # to both sides of a stroke; the next line is farther away
_FIRST_REACH_MM = 1.6  # a line that was only found roughly
_PART_MM = 25.0  # a lens bends longer lines out of reach
_TRIM_MM = 2.0  # at each end, and more in a sharp corner, where the next stroke comes near
_MOST_TRIM = 0.35  # of an edge's length, at either end
_DASH_SHARE = 0.4  # of the usual depth: a stretch with less of the stroke in it lies in a gap
_LEAST_DEPTH = 0.02  # linear light; thinner lines drown in the paper's own grain
_CLEAR_SHARE = {False: 0.5, True: 0.3}  # of an edge's stretches; of a dashed one's
_INKED_PX = 1.5
_STEP_PX = 0.1
_SMOOTH_PX = 0.25
_MOST_U_PX = 0.7
OWN_BIAS_PX = 0.03  # standard: uneven ink, a printer's steps; they differ from line to line


def fit_strokes(crop: Crop, corners: Floats, plane: Plane, *, dashed: bool = False) -> tuple[FittedEdge, ...]:
    """A line along each stroke of an outline whose ``corners`` (n, 2) plane mm are roughly known.

    ``dashed``: it may be broken. Raises EdgeUnclearError when a stroke can't be followed.
    """
    lines: tuple[FittedEdge, ...] = ()
    for reach_mm, turns in ((_FIRST_REACH_MM, 1), (_REACH_MM, 1), (_REACH_MM, 2)):
        fitted = []
        for k in range(len(corners)):
            points, count = _stroke(crop, corners, k, plane, reach_mm=reach_mm, turns=turns)
            if len(points.points) < max(LEAST_STRETCHES, _CLEAR_SHARE[dashed] * count):
                raise EdgeUnclearError
            line = robust_edge(points, plane)
            mm_per_px = float(plane.mm_per_px_at(points.points[:1])[0])
            fitted.append(attrs.evolve(line, own_bias_mm=OWN_BIAS_PX * mm_per_px))
        lines = tuple(fitted)
        corners = corners_of(lines)
    return lines


def _stroke(
    crop: Crop, corners: Floats, k: int, plane: Plane, *, reach_mm: float, turns: int
) -> tuple[EdgePoints, int]:
    """The measured stretches of stroke k, and in how many it was looked for."""
    count = len(corners)
    start, end = corners[k], corners[(k + 1) % count]
    length = float(edge_lengths(corners)[k])
    angles = np.radians(interior_angles(corners)[[k, (k + 1) % count]])
    trims = [min(max(_TRIM_MM, (reach_mm + 0.4) / max(abs(math.sin(a)), 0.1)), _MOST_TRIM * length) for a in angles]
    usable = length - sum(trims)
    along = (end - start) / length
    parts = max(1, math.ceil(usable / _PART_MM))
    stretch_mm = min(STRETCH_MM, usable / parts / (LEAST_STRETCHES + 1))
    ends_mm = start + along * np.linspace(trims[0], length - trims[1], parts + 1)[:, None]
    ends_px = plane.to_px(ends_mm)
    strips: list[Strip] = []
    for a, b in pairwise(ends_px):
        px_per_mm = 1 / float(plane.mm_per_px_at(((a + b) / 2)[None])[0])
        reach = max(_LEAST_REACH_PX, reach_mm * px_per_mm)
        strip = strip_along(crop, np.array([a, b]), np.zeros(2), (-reach, reach), stretch_mm * px_per_mm)
        if strip is not None:
            strips.append(strip)
    if not strips:
        return EdgePoints(), 1
    return _measured(strips, turns), sum(len(strip.middles) for strip in strips)


def _measured(strips: list[Strip], turns: int) -> EdgePoints:
    """Where the stroke runs in each stretch that shows it; its profile is taken anew ``turns`` times."""
    widest = max(strip.distance.shape[1] for strip in strips)
    distance, count, light = (
        np.concatenate([_padded(part, widest) for part in parts])
        for parts in (
            [strip.distance for strip in strips],
            [strip.count for strip in strips],
            [strip.light for strip in strips],
        )
    )
    dark = _darkness(distance, light, count)
    where = _roughly(distance, dark, count)
    inked = _inked(distance, dark, count, where)
    fit = _fit(distance, dark, count, where, _profile(distance, dark, count * inked, where))
    for _ in range(turns):
        inked = (fit.depth > _DASH_SHARE * float(np.percentile(fit.depth, 80)))[:, None]
        fit = _fit(distance, dark, count, fit.place, _profile(distance, dark, count * inked, fit.place))
    usual = float(np.percentile(fit.depth, 80))
    good = (fit.depth > max(_DASH_SHARE * usual, _LEAST_DEPTH)) & (fit.u < _MOST_U_PX)
    if good.any():
        good &= fit.spread < MOST_SPREAD * float(np.median(fit.spread[good]))
    middles = np.concatenate([strip.middles for strip in strips])
    outward = np.concatenate([np.broadcast_to(strip.outward, strip.middles.shape) for strip in strips])
    return EdgePoints(points=(middles + fit.place[:, None] * outward)[good], u_px=fit.u[good])


def _padded(values: Floats, width: int) -> Floats:
    return np.pad(values, ((0, 0), (0, width - values.shape[1]), *((0, 0),) * (values.ndim - 2)))


def _darkness(distance: Floats, light: Floats, count: Floats) -> Floats:
    """(n, m): how much darker than the paper, in the mixture of channels in which the ink shows most."""
    used = count > 0
    high = np.nanmedian(np.where(used[..., None], light, np.nan), axis=1)
    gap = high[:, None, :] - light
    near = used & (np.abs(distance) < np.abs(distance[used]).max() / 2)
    strong = np.percentile(gap[near], 95, axis=0)
    size = float(strong @ strong)
    mixture = strong / size * float(np.linalg.norm(strong)) if size > 0 else np.ones(3) / math.sqrt(3)
    return np.asarray(gap @ mixture / max(float(mixture.sum()), 1e-9))


def _roughly(distance: Floats, dark: Floats, count: Floats) -> Floats:
    """(n,) px: where all stretches together, smoothed, are darkest, nearest to where the stroke is expected."""
    used = count > 0
    half = np.abs(distance[used]).max()
    bins = np.arange(-half, half + 0.5, 0.5)
    place = np.digitize(distance[used], bins)
    weight = count[used]
    total = np.bincount(place, dark[used] * weight, len(bins) + 1)
    seen = np.bincount(place, weight, len(bins) + 1)
    mean = gaussian_filter1d(total / np.maximum(seen, 1e-9), 1.5)[1:-1]
    middles = (bins[:-1] + bins[1:]) / 2
    best = float(middles[int(np.argmax(mean * (1 - 0.3 * np.abs(middles) / half)))])
    return np.full(len(distance), best)


def _inked(distance: Floats, dark: Floats, count: Floats, where: Floats) -> NDArray[np.bool_]:
    """(n, 1) which stretches have ink near where the stroke runs: in a gap between dashes there is none."""
    near = count * (np.abs(distance - where[:, None]) < _INKED_PX)
    mean = np.sum(near * dark, axis=1) / np.maximum(near.sum(axis=1), 1e-9)
    return np.asarray(mean > _DASH_SHARE * float(np.percentile(mean, 80)))[:, None]


def _profile(distance: Floats, dark: Floats, count: Floats, where: Floats) -> tuple[Floats, Floats]:
    """The stroke's profile, tabulated: distances from its middle, px, and the depth there, 1 in the middle."""
    used = count > 0
    half = np.abs(distance[used]).max()
    gap = np.abs(distance - where[:, None])
    table = np.arange(0, 2 * half, _STEP_PX)
    bins = np.clip(np.round(gap / _STEP_PX).astype(int), 0, len(table) - 1)[used]
    weight = count[used]
    total = np.bincount(bins, dark[used] * weight, len(table))
    seen = np.bincount(bins, weight, len(table))
    known = np.flatnonzero(seen > 0)
    # Of a stroke along the pixels' rows only few distances are seen: between them the profile is smooth.
    at = np.concatenate([-known[known > 0][::-1], known])
    value = (total[known] / seen[known])[np.abs(np.searchsorted(known, np.abs(at)))]
    curve = CubicSpline(at, value)
    both = curve(np.clip(np.arange(-len(table) + 1, len(table)), at[0], at[-1]))
    smooth = gaussian_filter1d(both, _SMOOTH_PX / _STEP_PX)[len(table) - 1 :]
    floor = float(np.median(smooth[table > 0.8 * half][: max(2, int(0.2 * half / _STEP_PX))]))
    shape = smooth - floor
    return table, shape / max(float(shape[0]), 1e-9)


@attrs.frozen
class _Fit:
    place: Floats  # (n,) px
    depth: Floats
    u: Floats  # (n,) px, one standard deviation
    spread: Floats  # (n,) what the profile leaves over


def _fit(distance: Floats, dark: Floats, count: Floats, start: Floats, profile: tuple[Floats, Floats]) -> _Fit:
    """The profile fitted to each stretch: place, depth, and level and slope of the paper; Huber weights."""
    table, shape = profile
    slope = np.gradient(shape, _STEP_PX)
    half = np.abs(distance[count > 0]).max()
    place = start.copy()
    weight = count.copy()
    design = np.ones((*distance.shape, 4))
    design[..., 1] = distance / half
    linear = np.zeros((len(distance), 3))
    for turn in range(8):
        gap = distance - place[:, None]
        design[..., 2] = np.interp(np.abs(gap), table, shape)
        if turn < 2:
            linear = solved(design[..., :3], weight, dark)[0]
        design[..., 3] = -linear[:, 2:3] * np.sign(gap) * np.interp(np.abs(gap), table, slope)
        off = dark - (design[..., :3] @ linear[..., None])[..., 0]
        change, normal = solved(design, weight, off)
        linear = linear + change[:, :3]
        place = np.clip(place + np.clip(change[:, 3], -1, 1), -half, half)
        number = np.maximum(np.count_nonzero(count, axis=1), 1)
        spread = np.sqrt(np.sum(weight * off * off, axis=1) / number) + 1e-6
        weight = count * np.minimum(1.0, HUBER * spread[:, None] / np.maximum(np.abs(off) * np.sqrt(count), 1e-9))
    variance = np.linalg.inv(normal)[:, 3, 3] * spread**2
    return _Fit(place, linear[:, 2], np.sqrt(np.maximum(variance, 0)), spread)
