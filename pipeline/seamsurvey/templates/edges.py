"""Where an edge runs, to a few hundredths of a pixel: measured in the original pixels, in linear light.

Along an edge, stretches of about 2 mm are measured one by one. In each, every pixel near the edge keeps its own
exact distance from it (nothing is resampled), and a model of a lit edge is fitted to them all:

    light(d) = card + step · Φ(u) + ramp · σ (u Φ(u) + φ(u)),     u = (d - edge) / σ

a step blurred by the scanner, and outside it the ground under a shadow that fades with the distance. The edge is
the sharp step, never the ramp.
"""

import math

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from scipy.special import ndtr

from seamsurvey.light import LUMINANCE
from seamsurvey.templates.contour import Crop

Floats = NDArray[np.float64]

STRETCH_MM = 2.0
_REACH_MM = 0.6  # pixels up to this far from the edge are used: a shadow's fading is still nearly straight
_LEAST_REACH_PX = 4.5  # but enough of them to see both levels at any resolution
_BLURS_PX = (0.4, 0.55, 0.7, 0.9, 1.2, 1.6, 2.2)
_MOST_SHIFT_PX = 3.0  # an edge farther from where it is looked for is not this edge
_LEAST_STEP_SIGMAS = 4.0  # of a stretch's step, or the stretch says nothing
_HUBER = 2.0  # residuals beyond this many standard deviations count less: dust, ink
_COLOUR_GAIN = 2.5  # colour is scanned and stored more coarsely than light: used only if it shows this much more


@frozen(kw_only=True)
class EdgePoints:
    """The measured stretches of one edge: ``points`` (n, 2) image pixels, ``u_px`` (n,) standard, across it.

    ``step`` is the light outside minus inside, of the weighted channel; ``blur_px`` the standard deviation of the
    edge's spread.
    """

    points: Floats = field(eq=False, repr=False)
    u_px: Floats = field(eq=False, repr=False)
    step: float
    blur_px: float


@frozen
class _Strip:
    """The pixels along an edge: (stretches, m) distance outwards in pixels, and light; middles (n, 2)."""

    distance: Floats
    light: Floats  # (stretches, m, 3)
    middles: Floats
    outward: Floats


def measure_edge(
    crop: Crop,
    ends: Floats,
    *,
    trims: Floats,
    stretch: float,
    px_per_mm: float,
    blur: float | None = None,
) -> EdgePoints:
    """The edge that runs near the line between two ``ends`` ((2, 2) image pixels; the card to the right of it).

    ``trims`` (2,) are the lengths at its start and end that are left out, ``stretch`` the length of each stretch,
    all in pixels; ``blur`` is found when it is not given (pixels, standard deviation). An edge without one clear
    stretch has no points.
    """
    reach = max(_LEAST_REACH_PX, _REACH_MM * px_per_mm)
    strip = _strip(crop, ends, trims, reach, stretch)
    if strip is None:
        return EdgePoints(points=np.empty((0, 2)), u_px=np.empty(0), step=0.0, blur_px=1.0)
    light = strip.light @ _channel(strip)
    pixels_weight = (np.abs(strip.distance) <= reach).astype(float)
    if blur is None:
        few = np.s_[:: max(1, len(light) // 5)]
        sample = strip.distance[few], light[few], pixels_weight[few]
        blur = min(_BLURS_PX, key=lambda b: _fit(*sample, b, turns=5).misfit)
    fit = _fit(strip.distance, light, pixels_weight, blur)
    step = float(np.median(fit.step))
    good = (
        (np.abs(fit.shift) < _MOST_SHIFT_PX)
        & (np.sign(fit.step) == np.sign(step))
        & (np.abs(fit.step) > _LEAST_STEP_SIGMAS * fit.step_u)
        & (np.abs(fit.step) > 0.3 * abs(step))
    )
    points = strip.middles + fit.shift[:, None] * strip.outward
    return EdgePoints(points=points[good], u_px=fit.shift_u[good], step=step, blur_px=blur)


def _strip(crop: Crop, ends: Floats, trims: Floats, reach: float, stretch: float) -> _Strip | None:
    start, end = ends
    along = (end - start) / np.hypot(*(end - start))
    outward = np.array([-along[1], along[0]])  # counter-clockwise with y up: the card lies to the right, y down
    first, last = start + along * trims[0], end - along * trims[1]
    major = int(abs(along[1]) > abs(along[0]))  # the axis the edge runs along more closely
    low, high = sorted((first[major], last[major]))
    lines = np.arange(math.ceil(low), math.floor(high) + 1)
    each = max(4, round(stretch * abs(along[major])))
    count = len(lines) // each
    if count < 1 or (last - first) @ along <= 0:
        return None
    spare = len(lines) - count * each
    lines = lines[spare // 2 : spare // 2 + count * each]
    centre = start[1 - major] + (lines - start[major]) * along[1 - major] / along[major]
    half = math.ceil(reach / abs(along[major])) + 1
    other = np.round(centre).astype(int)[:, None] + np.arange(-half, half + 1)
    here = np.broadcast_to(lines[:, None], other.shape).astype(int)
    x, y = (other, here) if major else (here, other)
    distance = (x - start[0]) * outward[0] + (y - start[1]) * outward[1]
    height, width = crop.light.shape[:2]
    column, row = x - crop.corner[0], y - crop.corner[1]
    seen = (column >= 0) & (row >= 0) & (column < width) & (row < height)
    light = crop.light[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)].astype(float)
    distance = np.where(seen, distance, np.inf)
    mids = lines.reshape(count, each).mean(axis=1)
    middles = start + along * ((mids - start[major]) / along[major])[:, None]
    way = 1 if along[major] > 0 else -1  # the stretches follow one another from start to end
    return _Strip(distance.reshape(count, -1)[::way], light.reshape(count, -1, 3)[::way], middles[::way], outward)


def _channel(strip: _Strip) -> Floats:
    """(3,) how the channels are weighted: as light, unless only a mixture of colours shows the edge."""
    inside = strip.light[(strip.distance > -np.inf) & (strip.distance < -1.5)]
    outside = strip.light[(strip.distance > 0.8) & (strip.distance < 3)]
    if len(inside) < 8 or len(outside) < 8:
        return LUMINANCE
    difference: Floats = np.median(outside, axis=0) - np.median(inside, axis=0)
    scatter = np.cov((inside - np.median(inside, axis=0)).T) + 1e-8 * np.eye(3)
    best: Floats = np.asarray(np.linalg.solve(scatter, difference), dtype=float)
    best = best / (np.abs(best).sum() + 1e-12)

    def clarity(weights: Floats) -> float:
        return float(abs(weights @ difference) / math.sqrt(weights @ scatter @ weights))

    return best if clarity(best) > _COLOUR_GAIN * clarity(LUMINANCE) else LUMINANCE


@frozen
class _Fit:
    shift: Floats
    shift_u: Floats
    step: Floats
    step_u: Floats
    misfit: float


def _fit(distance: Floats, light: Floats, use: Floats, blur: float, turns: int = 8) -> _Fit:
    """The lit edge's model fitted to each stretch (rows) on its own, with one blur; Gauss-Newton, Huber weights."""
    distance = np.where(use > 0, distance, 0.0)
    shift = np.zeros(len(distance))
    weight = use
    linear = np.zeros((len(distance), 3))
    full = np.ones((*distance.shape, 4))
    for turn in range(turns):
        u = (distance - shift[:, None]) / blur
        step, peak = ndtr(u), np.exp(-0.5 * u * u) / math.sqrt(2 * math.pi)
        full[..., 1] = step
        full[..., 2] = blur * (u * step + peak)
        if turn < 2:  # the levels first, the place then
            linear = _solved(full[..., :3], weight, light)[0]
        full[..., 3] = -(linear[:, 1:2] * peak / blur + linear[:, 2:3] * step)
        off = light - (full[..., :3] @ linear[..., None])[..., 0]
        change, normal = _solved(full, weight, off)
        linear = linear + change[:, :3]
        shift = np.clip(shift + np.clip(change[:, 3], -1, 1), -2 * _MOST_SHIFT_PX, 2 * _MOST_SHIFT_PX)
        # The scatter stretch by stretch, from the used pixels only: 1.4826 times the median deviation.
        sizes = np.abs(off)
        spread = 1.4826 * np.nanmedian(np.where(use > 0, sizes, np.nan), axis=1) + 1e-6
        weight = use * np.minimum(1.0, _HUBER * spread[:, None] / np.maximum(sizes, 1e-9))
    variance = np.diagonal(np.linalg.inv(normal), axis1=1, axis2=2) * spread[:, None] ** 2
    misfit = float(np.sum(weight * off * off) / np.sum(weight))
    return _Fit(shift, np.sqrt(np.maximum(variance[:, 3], 0)), linear[:, 1], np.sqrt(variance[:, 1]), misfit)


def _solved(design: Floats, weight: Floats, values: Floats) -> tuple[Floats, Floats]:
    """The weighted least-squares solution of each row's problem, (n, k), and its normal matrix, (n, k, k)."""
    weighted = (design * weight[..., None]).transpose(0, 2, 1)
    normal = weighted @ design + 1e-9 * np.eye(design.shape[-1])
    return np.asarray(np.linalg.solve(normal, weighted @ values[..., None])[..., 0], dtype=float), normal
