"""Where an edge runs, to a few hundredths of a pixel: measured in the original pixels, in linear light.

Along an edge, stretches of about 2 mm are measured one by one. In each, every pixel near the edge keeps its own
exact distance from it (nothing is resampled), and a model of a lit edge is fitted to them all:

    light(d) = card + step · B(H(d)) + rise · B(H(d) F(d)),     rise >= 0

H is a step at the edge, B the scanner's blur (a Gaussian of deviation ``blur``), and F says how the shadow beside
the card gives way to the bare ground: from 0 to 1 about the distance ``reach``, over the width ``fade``. So the
edge is the sharp step, never the shadow's slope nor its outer end.
"""

import itertools
import math
from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

import attrs
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.special import ndtr

from seamsurvey.light import LUMINANCE, step_at
from seamsurvey.templates.contour import Crop, shadow_blind
from seamsurvey.templates.strips import Path, Strip, strip_along

Floats = NDArray[np.float64]

STRETCH_MM = 2.0  # 24 rows of pixels at 300 dpi; a hand's wobble is straight over it
_INSIDE_MM, _OUTSIDE_MM = 0.5, 0.9  # pixels up to this far from the edge are used: a shadow needs more room
_LEAST_REACH_PX = 4.5  # but enough of them to see both levels at any resolution
_BLURS_PX = (0.4, 0.55, 0.7, 0.85, 1.0, 1.3, 1.7, 2.2)
_USUAL_BLUR_PX = 0.8  # of a scanner at its own resolution; to begin with
# A shadow's reach and the width of its end, as shares of what is seen outside.
_SHADOWS = tuple(itertools.product((0.0, 0.1, 0.25, 0.45, 0.7), (0.15, 0.3, 0.6)))
_STARTS_PX = (0.0, -2.0, 1.5)  # a rough outline may have followed a narrow shadow's outer end
_MOST_SHIFT_PX = 3.5  # an edge farther from where it is looked for is not this edge
_MOST_U_PX = 1.0  # a stretch that knows its place worse than this says nothing
MOST_SPREAD = 2.5  # times what other stretches of the edge leave over: something else lies in this one
_TABLE_STEP = 0.05
_TABLE = np.arange(-40.0, 40.0 + _TABLE_STEP / 2, _TABLE_STEP)
HUBER = 2.0  # residuals beyond this many standard deviations count less: dust, ink
_COLOUR_BLURS_PX = (0.7, 1.0, 1.4, 1.8, 2.2, 2.7)
_NO_SHADOW = (30.0, 1.0)  # reach and fade, pixels: none within sight
_DOUBT = 1.1  # a shadow must explain this much more: one fitted to noise moves the edge outwards
_MOST_COLOUR_SCATTER_PX = 0.6  # colour that places an edge worse than this is no help
_LEAST_MISFIT = 0.002**2  # linear light, squared: the steps of 8 bits; no evidence is finer
_TRUST_PX = 0.5  # where light and colour disagree by more, light has followed the shadow


@frozen(kw_only=True)
class EdgePoints:
    """The measured stretches of one edge: ``points`` (n, 2) image pixels, ``u_px`` (n,) standard, across it.

    ``doubt_px`` is one standard deviation of the whole edge's place, as far as it may lie elsewhere; ``strayed_px``
    the same, as far as some points lie on another line.
    """

    points: Floats = field(factory=lambda: np.empty((0, 2)), eq=False, repr=False)
    u_px: Floats = field(factory=lambda: np.empty(0), eq=False, repr=False)
    doubt_px: float = 0.0
    strayed_px: float = 0.0


def measure_edge(
    crop: Crop,
    path: Path,
    *,
    trims: Floats,
    stretch: float,
    px_per_mm: float,
    first_look: bool,
) -> EdgePoints:
    """The edge that runs near a path.

    ``trims`` (2,) are the lengths at a line's start and end that are left out, ``stretch`` the length of each
    stretch, all in pixels. At the ``first_look`` it is looked for more widely. An edge without one clear
    stretch has no points.
    """
    inside, outside = (max(_LEAST_REACH_PX, mm * px_per_mm) for mm in (_INSIDE_MM, _OUTSIDE_MM))
    strip = strip_along(crop, path, trims, (-inside, outside), stretch)
    if strip is None:
        return EdgePoints()
    colour = _by_colour(strip)
    light = strip.light @ LUMINANCE
    place = _smoothed(colour.shift) if colour else np.zeros(len(light))
    starts = _STARTS_PX if first_look and colour is None else (0.0,)
    model = _lit(strip.distance - place[:, None], light, strip.count, starts, outside=outside)
    fit = _fit(strip.distance, light, strip.count, model, start=place + model.start)
    # Along one edge the levels change little: what all stretches say keeps each from going astray.
    fit = _fit(strip.distance, light, strip.count, model, start=_smoothed(fit.shift), levels=_common(fit))
    # Where light is one flat value, clipped or blank, nothing is left over and any place seems certain.
    lit = np.abs(fit.linear[:, 1:]).max(axis=1) > step_at(np.clip(fit.linear[:, 0], 0.0, 1.0))
    if colour and _colour_knows_better(colour, fit):
        fit, lit = colour, np.ones_like(lit)
    good = (np.abs(fit.shift) < _MOST_SHIFT_PX) & (fit.shift_u < _MOST_U_PX) & lit
    # A line or a petal of the ground beside the card, or a letter that runs off it, is not explained by two levels.
    good &= fit.spread < MOST_SPREAD * float(np.median(fit.spread))
    points = strip.middles + fit.shift[:, None] * strip.outward
    return EdgePoints(points=points[good], u_px=fit.shift_u[good])


def _by_colour(strip: Strip) -> "_Fit | None":
    """The edge as colour alone shows it, blind to shadows; None where the card's colour is the ground's.

    Colour is scanned and stored more coarsely than light, but evenly to both sides: less sharp, and unbiased.
    """
    inside = strip.light[(strip.distance < -2.5) & (strip.count > 0)]
    outside = strip.light[(strip.distance > 2.5) & (strip.count > 0)]
    mixture = shadow_blind(inside, outside)
    if mixture is None:
        return None
    mixed = strip.light @ mixture
    models = [_Model(blur, *_NO_SHADOW, start) for blur in _COLOUR_BLURS_PX for start in _STARTS_PX]
    model, _ = _best(models, strip.distance, mixed, strip.count)
    fit = _fit(strip.distance, mixed, strip.count, model, start=model.start)
    fit = _fit(strip.distance, mixed, strip.count, model, start=_smoothed(fit.shift), levels=_common(fit))
    # Stored colour is uneven over many pixels, so that only the scatter of the stretches tells its noise.
    scatter = _scatter(fit.shift)
    if scatter > _MOST_COLOUR_SCATTER_PX:
        return None
    return attrs.evolve(fit, shift_u=np.maximum(fit.shift_u, scatter))


def _colour_knows_better(colour: "_Fit", light: "_Fit") -> bool:
    """Whether light has followed the shadow, or shows the edge less well than colour does."""
    gap = abs(float(np.median(light.shift - colour.shift)))
    doubt = _TRUST_PX + 3 * float(np.median(colour.shift_u)) / math.sqrt(len(colour.shift))
    scatter = max(_scatter(light.shift), float(np.median(light.shift_u)))
    return gap > doubt or float(np.median(colour.shift_u)) < scatter


def _scatter(shift: Floats) -> float:
    """One standard deviation of a stretch's place, from its neighbours': wobble moves neighbours alike."""
    return float(1.4826 * np.median(np.abs(np.diff(shift)))) / math.sqrt(2) if len(shift) > 3 else 1.0


def _lit(distance: Floats, light: Floats, count: Floats, starts: Sequence[float], *, outside: float) -> "_Model":
    """Blur and shadow of an edge: without a shadow, unless one explains its light much better."""
    first_look = len(starts) > 1
    bare = [_Model(blur, *_NO_SHADOW, start) for blur in _BLURS_PX for start in starts]
    shaded = [
        _Model(_USUAL_BLUR_PX, reach * outside, fade * outside, start)
        for reach, fade in _SHADOWS
        for start in starts
    ]
    plain, misfit_plain = _best(bare, distance, light, count)
    best, misfit = _best(shaded, distance, light, count)
    if not first_look:
        plain, misfit_plain = _sharpened(plain, distance, light, count)
        best, _ = _best([best._replace(blur=blur) for blur in _BLURS_PX], distance, light, count)
        best, misfit = _sharpened(best, distance, light, count)
    return best if _DOUBT * (misfit + _LEAST_MISFIT) < misfit_plain + _LEAST_MISFIT else plain


def _sharpened(model: "_Model", distance: Floats, light: Floats, count: Floats) -> "tuple[_Model, float]":
    """The model with its blur to a few hundredths: what a wrong blur leaves over looks like a shadow."""
    best, misfit = model, math.inf
    for step in (0.1, 0.04):
        best, misfit = _best(
            [best._replace(blur=best.blur * (1 + k * step)) for k in (-1, 0, 1)], distance, light, count
        )
    return best, misfit


def _best(models: Sequence["_Model"], distance: Floats, light: Floats, count: Floats) -> "tuple[_Model, float]":
    """The model that explains a sample of the stretches best, and its misfit."""
    few = np.s_[:: max(1, len(light) // 6)]
    sample = distance[few], light[few], count[few]
    misfits = [_fit(*sample, m, start=m.start, turns=5, robust=False).misfit for m in models]
    best = int(np.argmin(misfits))
    return models[best], misfits[best]


class _Model(NamedTuple):
    """Pixels: the blur, the shadow's reach and the width of its end, and where the edge is looked for first."""

    blur: float
    reach: float
    fade: float
    start: float


@cache
def _shadowed(blur: float, reach: float, fade: float) -> tuple[Floats, Floats]:
    """B(H F) and its slope, tabulated at _TABLE (pixels from the edge)."""
    outside = np.where(_TABLE >= 0, ndtr((_TABLE - reach) / fade), 0.0)
    outside[_TABLE == 0] *= 0.5
    half = round(5 * blur / _TABLE_STEP)
    bell = _bell(np.asarray(np.arange(-half, half + 1) * _TABLE_STEP, dtype=float), blur)
    padded = np.concatenate([np.zeros(half), outside, np.full(half, outside[-1])])
    blurred = np.convolve(padded, bell / bell.sum(), mode="valid")
    return blurred, np.gradient(blurred, _TABLE_STEP)


@frozen
class _Fit:
    shift: Floats
    shift_u: Floats
    linear: Floats  # (n, 3): card, step, rise
    misfit: float
    spread: Floats  # (n,): what the model leaves over


class _Levels(NamedTuple):
    """Step and rise as all stretches of an edge have them: (2,) means and (2,) standard deviations."""

    mean: Floats
    spread: Floats


def _fit(
    distance: Floats,
    light: Floats,
    use: Floats,
    model: _Model,
    *,
    start: Floats | float,
    levels: _Levels | None = None,
    turns: int = 9,
    robust: bool = True,
) -> _Fit:
    """The lit edge's model fitted to each stretch (rows) on its own; Gauss-Newton, Huber weights."""
    distance = np.where(use > 0, distance, 0.0)
    shift = np.zeros(len(distance)) + start
    weight = use
    linear = np.zeros((len(distance), 3))
    full = np.ones((*distance.shape, 4))
    spread = np.full(len(distance), np.inf)
    shadow, slope = _shadowed(model.blur, model.reach, model.fade)
    for turn in range(turns):
        gap = distance - shift[:, None]
        full[..., 1] = ndtr(gap / model.blur)
        full[..., 2] = np.interp(gap, _TABLE, shadow)
        bell: Floats = _bell(gap, model.blur)
        # A shadow only ever darkens: a stretch whose ground seems to darken outwards has none.
        extra = np.zeros((len(distance), 3))
        extra[linear[:, 2] < 0, 2] = 1e6
        if turn < 2 or extra.any():  # the levels first, the place then
            linear = solved(full[..., :3], weight, light, extra)[0]
        full[..., 3] = -(linear[:, 1:2] * bell + linear[:, 2:3] * np.interp(gap, _TABLE, slope))
        off = light - (full[..., :3] @ linear[..., None])[..., 0]
        pull, aim = np.zeros((len(distance), 4)), np.zeros((len(distance), 4))
        if levels is not None and turn > 0:
            pull[:, 1:3] = (spread[:, None] / levels.spread) ** 2
            aim[:, 1:3] = levels.mean - linear[:, 1:]
        pull[:, 2] += extra[:, 2]
        change, normal = solved(full, weight, off, pull, aim)
        linear = linear + change[:, :3]
        shift = np.clip(shift + np.clip(change[:, 3], -1, 1), -2 * _MOST_SHIFT_PX, 2 * _MOST_SHIFT_PX)
        # Not the median deviation: most pixels lie on even card or ground, and a dark line of shadow between the
        # two would count as an outlier.
        sizes = np.abs(off) * np.sqrt(use)
        spread = np.sqrt(np.sum(weight * off * off, axis=1) / np.maximum(np.count_nonzero(use, axis=1), 1)) + 1e-6
        if robust:
            weight = use * np.minimum(1.0, HUBER * spread[:, None] / np.maximum(sizes, 1e-9))
    variance = np.linalg.inv(normal)[:, 3, 3] * spread**2
    misfit = float(np.sum(weight * off * off) / np.sum(weight))
    return _Fit(shift, np.sqrt(np.maximum(variance, 0)), linear, misfit, spread)


def _common(fit: _Fit) -> _Levels:
    levels = fit.linear[fit.shift_u < _MOST_U_PX, 1:] if np.any(fit.shift_u < _MOST_U_PX) else fit.linear[:, 1:]
    mean: Floats = np.median(levels, axis=0)
    spread = 1.4826 * np.median(np.abs(levels - mean), axis=0)
    return _Levels(mean, np.maximum(spread, 0.02 * np.abs(mean).max() + 1e-5))


def _smoothed(values: Floats) -> Floats:
    """The running median of five."""
    return np.asarray(median_filter(values, 5, mode="nearest"))


def _bell(gap: Floats, blur: float) -> Floats:
    """The blurred step's slope, per pixel."""
    return np.asarray(np.exp(-0.5 * (gap / blur) ** 2) / (math.sqrt(2 * math.pi) * blur))


def solved(
    design: Floats, weight: Floats, values: Floats, pull: Floats | float = 0.0, aim: Floats | float = 0.0
) -> tuple[Floats, Floats]:
    """The weighted least-squares solution of each row's problem, (n, k), and its normal matrix, (n, k, k).

    ``pull`` (n, k) is the weight with which each unknown is drawn to ``aim`` (n, k).
    """
    pull = np.broadcast_to(pull, (len(design), design.shape[-1]))
    weighted = (design * weight[..., None]).transpose(0, 2, 1)
    normal = weighted @ design + (pull + 1e-9)[:, None, :] * np.eye(design.shape[-1])
    right = (weighted @ values[..., None])[..., 0] + pull * aim
    return np.asarray(np.linalg.solve(normal, right[..., None])[..., 0], dtype=float), normal
