"""The mean light across an edge, with how sure that mean is, and how well a look explains it."""

import math

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.light import light_of_luma
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.edges import STRETCH_MM
from seamsurvey.templates.look import LEAST_HEIGHT_MM, Look, Slope, at, at_height, side_share, tables
from seamsurvey.templates.robust_edge import LEAST_STRETCHES
from seamsurvey.templates.strips import Path, Strip, beside, strip_along

Floats = NDArray[np.float64]

INSIDE_MM, OUTSIDE_MM = 1.4, 1.6  # of the profile, both beyond the side's own width: a rough outline may have it
_BIN_PX = 0.5  # no lens shows anything finer
STEP_PX = 0.25  # of the places tried
EXACT = 0.012  # of the profile's range: no look is truer than this
_PATTERN_EXACT = 0.05  # of a pattern: as for colours, which are less sharp than the light
_NOISE_PX = 1.5
_LEAST = 5e-4  # linear light: the rounding to 8 bits
_BESIDE_MM = 0.9  # a rough outline may have followed a mat's line or a shadow so far away
_WELL = 4.0  # a misfit as textured cloth leaves it
_CLEARLY = 0.5
_SURELY_FACE_MM = 0.5  # from where a profile begins
_SEEN_PX = 0.5  # of a side
_PATTERN_STRETCHES = 7  # fewer don't tell a print's pattern from chance
_SIDE_OWN = 0.1  # of a side's light is its own, as a share of the face's (common practice, no source)
_FORGIVEN, _FORGIVING_TURNS = 6.0, 3  # standard deviations of what lies on the table
INDEPENDENT = 12.0  # values of a profile between two places, in light and colours, blurred by one lens
ON_TABLE_PX = 1.5  # farther out than this the lens shows nothing of the edge itself


@frozen
class EdgeProfile:
    """The mean light across one edge.

    ``distance`` (m,) px outwards from the line looked along, ``light`` (m, 3) luminance and two colours, ``sigma``
    (m, 3) one standard deviation of these means; ``slope`` is how the edge stands. ``side_sigma`` (3,): by how much
    the side's light may differ from the look's share of the face's, one standard deviation.
    """

    distance: Floats = field(eq=False, repr=False)
    light: Floats = field(eq=False, repr=False)
    sigma: Floats = field(eq=False, repr=False)
    slope: Slope
    side_sigma: Floats = field(eq=False, repr=False)
    pattern: Floats = field(eq=False, repr=False)
    pattern_sigma: Floats = field(eq=False, repr=False)


def in_colours(light: Floats) -> Floats:
    """(..., 3) luminance, and red and blue less luminance, from linear light."""
    luminance = light_of_luma(light)
    return np.stack([luminance, light[..., 0] - luminance, light[..., 2] - luminance], axis=-1)


def edge_profile(crop: Crop, path: Path, trims: Floats, slope: Slope, height_mm: float) -> EdgeProfile | None:
    """The profile along a path; None where it is too short.

    ``trims`` (2,) px are left out at a line's ends.
    """
    side_px = max(0.0, slope.side_px * height_mm)
    limits = (-INSIDE_MM * slope.px_per_mm - side_px, OUTSIDE_MM * slope.px_per_mm + side_px)
    strip = strip_along(crop, path, trims, limits, STRETCH_MM * slope.px_per_mm)
    if strip is None or len(strip.light) < LEAST_STRETCHES:
        return None
    light = in_colours(strip.light)
    edges = np.arange(limits[0], limits[1], _BIN_PX)
    places, means, sigmas, lights = [], [], [], []
    for low in edges:
        use = strip.count * ((strip.distance >= low) & (strip.distance < low + _BIN_PX))
        total = use.sum(axis=1)
        seen = total > 0
        if seen.sum() < LEAST_STRETCHES:
            continue
        of_stretch = np.sum(light * use[..., None], axis=1)[seen] / total[seen, None]
        places.append(float(np.sum(strip.distance * use) / use.sum()))
        means.append(np.median(of_stretch, axis=0) if seen.sum() > 6 else of_stretch.mean(axis=0))
        sigmas.append(of_stretch.std(axis=0) * 1.25 / np.sqrt(seen.sum()))
        lights.append(np.full(light[:, 0].shape, np.nan))
        lights[-1][seen] = of_stretch
    if len(places) < 8:
        return None
    mean, sigma = np.array(means), np.array(sigmas)
    floor = EXACT * np.ptp(mean, axis=0) * np.array([1.0, 2.0, 2.0]) + _LEAST
    face_px = limits[0] + _SURELY_FACE_MM * slope.px_per_mm
    side_sigma = _side_sigma(strip, light, face_px)
    pattern = _pattern(np.array(places), np.array(lights), face_px)
    return EdgeProfile(np.array(places), mean, np.hypot(sigma, floor), slope, side_sigma, *pattern)


def _pattern(places: Floats, lights: Floats, face_px: float) -> tuple[Floats, Floats]:
    """(m,) how much of the face's pattern each place (m,) px shows, and its standard deviation.

    ``lights`` (m, n, 3) of each place and stretch. What is printed on a face ends with it: side and ground know
    nothing of it, even where the face's mean light is theirs. The share is the slope of a place's light over the
    face's, from stretch to stretch; its deviation is White's (1980), which lets some stretches scatter more.
    """
    surely = places < face_px
    seen = np.isfinite(lights[..., 0])
    whole = seen.all(axis=0)
    share, sigma = np.zeros(len(places)), np.full(len(places), np.inf)
    if whole.sum() < _PATTERN_STRETCHES or not surely.any():
        return share, sigma
    # Light that falls off along an edge, and a line looked along that slants, say nothing of a pattern.
    at = np.linspace(-1.0, 1.0, lights.shape[1])[whole]
    evenly = np.linalg.qr(np.column_stack([np.ones_like(at), at]))[0]
    moves = lights[:, whole] - evenly @ (evenly.T @ lights[:, whole])
    face = moves[surely].mean(axis=0)
    power = max(float(np.sum(face**2)), 1e-12)
    share = np.sum(face * moves, axis=(1, 2)) / power
    off = np.sum(face * (moves - share[:, None, None] * face), axis=2)
    count = int(whole.sum())
    sigma = np.sqrt(np.sum(off**2, axis=1) * count / (count - 3)) / power
    # The face's own noise is in what it is compared with, and one pixel's is in its neighbour's.
    own = places < face_px + _NOISE_PX
    return share, np.where(own, np.inf, np.hypot(sigma, _PATTERN_EXACT))


def _side_sigma(strip: Strip, light: Floats, face_px: float) -> Floats:
    """(3,) how little an edge's face says about its side's light: a face that is printed says next to nothing.

    Nearer than ``face_px`` (from the line, outwards) all is face.
    """
    use = strip.count * (strip.distance < face_px)
    total = use.sum(axis=1)
    faces = np.sum(light * use[..., None], axis=1)[total > 0] / total[total > 0, None]
    if len(faces) < LEAST_STRETCHES:
        return np.full(3, 1.0)
    own = _SIDE_OWN * float(np.median(faces[:, 0])) * np.array([1.0, 0.5, 0.5])
    return np.asarray(np.hypot(own, faces.std(axis=0)))


def explained(profile: EdgeProfile, look: Look, shifts: Floats, *, forgiving: bool = False) -> Floats:
    """(n,) for each place of the edge (px outwards from the line): mean squared misfit in standard deviations.

    ``forgiving``: what lies on the table beside the edge, a mat's line or a petal, counts only so much; what the
    face shows counts whole, for the edge is where the face ends.
    """
    gap = profile.distance - shifts[:, None]
    total = np.zeros(len(shifts))
    for channel in range(3):
        columns, pull = _shares(profile, look, gap, channel)
        of_table = np.ones_like(gap)
        for _ in range(_FORGIVING_TURNS if forgiving else 0):
            off = _fitted(profile, columns, pull, of_table, channel)[0]
            of_table = np.where(gap > ON_TABLE_PX, 1 / (1 + (off / _FORGIVEN) ** 2), 1.0)
        off, levels = _fitted(profile, columns, pull, of_table, channel)
        total += np.sum(of_table * off**2, axis=1) + (levels @ pull) ** 2
    told = np.isfinite(profile.pattern_sigma)
    if told.any():
        total += _pattern_off(profile, look, gap, told)
    return np.asarray(total / (profile.light.size + told.sum()))


def _pattern_off(profile: EdgeProfile, look: Look, gap: Floats, told: NDArray[np.bool_]) -> Floats:
    """(n,) what the face's pattern leaves over if it ends at the edge; side and ground may share in it evenly."""
    columns, _ = _shares(profile, look, gap[:, told], 0)
    weight = 1 / profile.pattern_sigma[told]
    design = columns * weight[:, None]
    turned = design.transpose(0, 2, 1)
    seen = profile.pattern[told] * weight
    normal = turned @ design + 1e-9 * np.eye(columns.shape[-1])
    levels = np.linalg.solve(normal, (turned @ seen)[..., None])
    return np.asarray(np.sum((seen - (design @ levels)[..., 0]) ** 2, axis=1))


def _shares(profile: EdgeProfile, look: Look, gap: Floats, channel: int) -> tuple[Floats, Floats]:
    """(n, m, k) what face, side and ground give to the light at each gap, and (k,) what holds side to face.

    A side that the camera hardly sees is not told apart.
    """
    face, side, back = (at(table, gap) for table in tables(look, profile.slope, channel > 0))
    share = side_share(look, profile.slope)
    if profile.slope.side_px * look.height < _SEEN_PX:
        return np.stack([face + share * side, back], axis=-1), np.zeros(2)
    return np.stack([face, side, back], axis=-1), np.array([-share, 1.0, 0.0]) / profile.side_sigma[channel]


def _fitted(
    profile: EdgeProfile, columns: Floats, pull: Floats, counted: Floats, channel: int
) -> tuple[Floats, Floats]:
    """(n, m) what the best levels leave over, in standard deviations, and (n, k) these levels of light.

    Light of a table is never negative.
    """
    weight = 1 / profile.sigma[:, channel]
    light = profile.light[:, channel] * weight
    design = columns * weight[:, None]
    weighted = (design * counted[..., None]).transpose(0, 2, 1)
    count = columns.shape[-1]
    normal = weighted @ design + np.outer(pull, pull) + 1e-9 * np.eye(count)
    right = weighted @ light
    levels = np.linalg.solve(normal, right[..., None])[..., 0]
    dark = (levels[:, -1] < 0) if channel == 0 else np.zeros(len(levels), bool)
    if dark.any():
        rest = np.linalg.solve(normal[dark, :-1, :-1], right[dark, :-1, None])[..., 0]
        levels[dark] = np.column_stack([rest, np.zeros(len(rest))])
    return light - (design @ levels[..., None])[..., 0], np.asarray(levels, dtype=float)


@frozen
class Place:
    """Where a whole edge lies, and how light its side is.

    ``out_px``: outwards from the path looked along; ``misfit``: how badly that explains the profile; ``side``: the
    side's mean luminance, and ``side_share`` that as a share of the face's; ``doubt_px``: one standard deviation of
    the place, px, as far as other places explain the light as well, or the same one would at another height.
    """

    out_px: float
    misfit: float
    side: float
    side_share: float
    doubt_px: float = 0.0


def best_place(
    crop: Crop,
    path: Path,
    trims: Floats,
    *,
    slope: Slope,
    look: Look,
    reach_mm: float,
    with_side: bool = False,
    only_here: bool = False,
) -> Place:
    """Where the whole edge lies.

    ``with_side``: the line may run along the foot of the side. Where nothing near the line explains the light well,
    the edge is looked for farther away, unless ``only_here``.
    """
    best = Place(0.0, math.inf, 0.0, side_share(look, slope))
    for away_mm in (0.0,) if only_here else (0.0, -_BESIDE_MM, _BESIDE_MM):
        by = away_mm * slope.px_per_mm
        profile = edge_profile(crop, beside(path, by), trims, slope, look.height)
        if profile is None:
            continue
        tried = places_tried(profile, reach_mm, look.height if with_side else 0.0)
        misfits = explained(profile, look, tried, forgiving=True)
        k = int(np.argmin(misfits))
        # Farther away it must be clearly better.
        if float(misfits[k]) < best.misfit * (_CLEARLY if away_mm else 1.0):
            doubt_px = _doubt_px(profile, look, tried, misfits)
            best = Place(by + float(tried[k]), float(misfits[k]), *_side(profile, look, tried[k]), doubt_px)
        if best.misfit < _WELL:
            break
    return best


def _doubt_px(profile: EdgeProfile, look: Look, tried: Floats, misfits: Floats) -> float:
    """One standard deviation of the best of the places ``tried`` (n,) px, from what else may be true.

    Where a face ends and where a side or a line of a mat ends may explain the light about as well; and how wide a
    side shows is known only as well as the card's height, which moves the face's end the other way.
    """
    k = int(np.argmin(misfits))
    lower = (misfits[1:-1] < misfits[:-2]) & (misfits[1:-1] <= misfits[2:])
    others = np.setdiff1d(np.nonzero(lower)[0] + 1, [k])
    # Noise of an unknown size: a place's likelihood falls with this power of what it leaves over.
    likely = (misfits[k] / misfits[others]) ** (INDEPENDENT / 2)
    variance = float(likely @ (tried[others] - tried[k]) ** 2) / (1 + float(likely.sum()))
    if profile.slope.side_px * look.height_sigma > 0:
        for by in (-look.height_sigma, look.height_sigma):
            other = at_height(look, max(LEAST_HEIGHT_MM, look.height + by))
            place = tried[int(np.argmin(explained(profile, other, tried, forgiving=True)))]
            variance += float(place - tried[k]) ** 2 / 2
    return math.sqrt(variance)


def weight_against(misfit: float, other: float) -> float:
    """How likely a place with this misfit is, 0 to 1, where it or one with the other misfit is the true one."""
    return float(1 / (1 + (misfit / max(other, 1e-9)) ** (INDEPENDENT / 2)))


def _side(profile: EdgeProfile, look: Look, shift: float) -> tuple[float, float]:
    """An edge's side's luminance, and that as a share of the face's."""
    share = side_share(look, profile.slope)
    columns, pull = _shares(profile, look, profile.distance[None] - shift, 0)
    levels = _fitted(profile, columns, pull, np.ones_like(columns[..., 0]), 0)[1][0]
    face, side = (levels[0], levels[1]) if len(levels) == 3 else (levels[0], share * levels[0])
    return (float(side), float(side / face)) if face > 0 and side > 0 else (float(max(face, 0.0) * share), share)


def places_tried(profile: EdgeProfile, reach_mm: float, height_mm: float = 0.0) -> Floats:
    """(n,) px: where an edge is looked for, ``reach_mm`` to both sides of the line.

    Of a card so high, whose side the line may have taken in, farther inwards by that.
    """
    reach = reach_mm * profile.slope.px_per_mm
    side_px = max(0.0, profile.slope.side_px * height_mm)
    return np.arange(-reach - side_px, reach + STEP_PX / 2, STEP_PX)
