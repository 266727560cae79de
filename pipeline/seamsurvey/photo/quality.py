"""What a photo's faults do to the lengths in it, said before the result: blur, clipping, a bent sheet, distance.

Each sentence says what was seen, the error to expect of it, and what to change in the picture.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from seamsurvey.light import linear_luminance
from seamsurvey.model import PhotoPlane, Picture, Plane, Reference
from seamsurvey.photo.reach import REACH_MM
from seamsurvey.units import mm_text

Floats = NDArray[np.float64]

# An edge's place is good to a tenth of the width of its rise, where nothing else is known of the blur's shape
# (common practice, no source).
ERROR_OF_SPREAD = 0.1
MOST_SPREAD_MM, MOST_SPREAD_PX = 0.5, 4.0  # from a tenth to nine tenths of a step; a sharp phone photo has 2 px
# Twice the light that the sensor can tell puts the middle of an edge where a quarter of the light is: of a rise of
# Gaussian shape that is 0.67 standard deviations off, 0.26 of its width from a tenth to nine tenths.
ERROR_OF_CLIPPING = 0.26
MOST_CLIPPED = 0.1  # of a card's or a ruler's area
LIGHTEST, DARKEST = 0.992, 0.004  # of the largest value: a picture's own noise and JPEG leave some counts
FAR = 2.0  # times as uncertain as the best template
FAR_MM = 0.3  # and this much of REACH_MM, k = 2
BENT_MM = 0.15  # rms of what smooth waves of a sheet explain of its misses
BENT_SHARE = 0.5  # and of all that is missed, squared
_ORDER = 3  # of the polynomial that stands for a sheet's waves
_LEAST_SPOTS = 40

_PLACES = 16  # across each side of a card
_BESIDE = 4  # px to either side along the edge that are taken together
_LEAST_CONTRAST = 0.03  # linear light
_LEAST_PROFILES = 8
# Between pixels the light is interpolated, which adds a sixth of a pixel's square to the blur's variance; a
# Gaussian of one standard deviation rises from a tenth to nine tenths in 2.563 (tables of the normal distribution).
_OF_SAMPLING = 2.563**2 / 6


def template_warnings(picture: Picture, plane: Plane, corners_px: Sequence[Floats]) -> list[str]:
    """What to say of the templates as they lie in the picture; ``corners_px``: (n, 2) image, one array each.

    A scanner has its own light and focus: of a scan nothing is said.
    """
    if not corners_px or not isinstance(plane, PhotoPlane):
        return []
    return [
        *_blurred(picture, plane, corners_px),
        *_clipped_cards(picture, plane, corners_px),
        *_out_of_reach(plane, corners_px),
    ]


def reference_warnings(picture: Picture, references: Sequence[Reference]) -> list[str]:
    """What to say of the references as they lie in the picture."""
    said = []
    for reference in references:
        light, dark = clipped_shares(picture, reference.outline_px)
        if reference.kind == "ruler" and max(light, dark) > MOST_CLIPPED:
            what, todo = _exposure(light, dark)
            said.append(
                f"{max(light, dark):.0%} of the ruler's graduated edge ({reference.graduation}) is {what}, and "
                f"marks may be lost in it. {todo}"
            )
        bow = bow_mm(reference)
        if bow > BENT_MM:
            said.append(
                f"The {reference.kind} is not flat: smooth waves of {mm_text(bow, 2)} on average are left over "
                f"where it should fit, and a length on it can be off by as much. Press it flat, and take the photo "
                "again."
            )
    return said


# --- blur ---


def edge_spread_px(picture: Picture, corners_px: Floats, reach_px: float = 16.0) -> float | None:
    """The median width of a card's edges, px, from a tenth to nine tenths of the step in linear light.

    None where too few of its edges stand out from the ground.
    """
    margin = int(np.ceil(reach_px)) + 2
    low = np.maximum(np.floor(corners_px.min(axis=0)).astype(int) - margin, 0)
    high = np.ceil(corners_px.max(axis=0)).astype(int) + margin + 1
    light = linear_luminance(np.ascontiguousarray(picture.pixels[low[1] : high[1], low[0] : high[0]]))
    widths = []
    for start, end in zip(corners_px - low, np.roll(corners_px, -1, axis=0) - low, strict=True):
        along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
        middles = start + np.linspace(0.15, 0.85, _PLACES)[:, None] * (end - start)
        across = np.arange(-reach_px, reach_px + 0.25, 0.5)
        beside = np.arange(-_BESIDE, _BESIDE + 1)
        at = (
            middles[:, None, None]
            + beside[None, :, None, None] * along
            + across[None, None, :, None] * np.array([-along[1], along[0]])
        ).astype(np.float32)
        flat = at.reshape(_PLACES, -1, 2)
        seen = cv2.remap(light, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        profiles = np.asarray(seen, dtype=float).reshape(_PLACES, len(beside), -1).mean(axis=1)
        widths += [width for profile in profiles if (width := _rise(profile)) is not None]
    if len(widths) < _LEAST_PROFILES:
        return None
    return float(np.sqrt(max((0.5 * float(np.median(widths))) ** 2 - _OF_SAMPLING, 0.0)))


def _rise(profile: Floats) -> float | None:
    """Steps from a tenth to nine tenths of the profile's one step; None where it has none."""
    quarter = len(profile) // 4
    first, last = float(np.median(profile[:quarter])), float(np.median(profile[-quarter:]))
    if abs(last - first) < _LEAST_CONTRAST:
        return None
    share = (profile - first) / (last - first)
    middle = len(profile) // 4 + int(np.argmin(np.abs(share[quarter:-quarter] - 0.5)))
    below, above = np.flatnonzero(share[:middle] < 0.1), np.flatnonzero(share[middle:] > 0.9)
    if not len(below) or not len(above):
        return None
    foot, head = int(below[-1]), middle + int(above[0])
    start = foot + (0.1 - share[foot]) / (share[foot + 1] - share[foot])
    end = head - (share[head] - 0.9) / (share[head] - share[head - 1])
    return float(end - start)


def _blurred(picture: Picture, plane: Plane, corners_px: Sequence[Floats]) -> list[str]:
    spread = [edge_spread_px(picture, corners) for corners in corners_px]
    scale = plane.mm_per_px_at(np.array([corners.mean(axis=0) for corners in corners_px]))
    wide = [width * mm for width, mm in zip(spread, scale, strict=True)
            if width is not None and width > MOST_SPREAD_PX and width * mm > MOST_SPREAD_MM]  # fmt: skip
    if not wide:
        return []
    return [
        f"{_some(len(wide), len(corners_px))} blurred: {_its(len(wide))} edges are spread over "
        f"{mm_text(max(wide), 1)}. Expect lengths to be off by up to {mm_text(2 * ERROR_OF_SPREAD * max(wide), 2)} "
        "more than stated. Hold the camera still in better light, wait until it has focused, and wipe the lens."
    ]


# --- clipping ---


def clipped_shares(picture: Picture, outline_px: Floats) -> tuple[float, float]:
    """How much of what lies within an outline is lighter, and darker, than the sensor can tell, as shares."""
    height, width = picture.height, picture.width
    low = np.clip(np.floor(outline_px.min(axis=0)).astype(int), 0, [width - 1, height - 1])
    high = np.clip(np.ceil(outline_px.max(axis=0)).astype(int) + 1, low + 1, [width, height])
    part = picture.pixels[low[1] : high[1], low[0] : high[0]]
    mask = np.zeros(part.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(outline_px - low).astype(np.int32)], (1,))
    inside = part[mask == 1]
    if not len(inside):
        return 0.0, 0.0
    top = float(np.iinfo(picture.pixels.dtype).max)
    # One channel at its end bends the light that is measured from all three.
    light = float(np.mean(inside.max(axis=1) >= LIGHTEST * top))
    return light, float(np.mean(inside.max(axis=1) <= DARKEST * top))


def _exposure(light: float, dark: float) -> tuple[str, str]:
    if light >= dark:
        return "overexposed", "Take the photo darker, without flash, and away from a lamp's reflection."
    return "too dark to tell anything", "Take the photo lighter, or move it out of the shadow."


def _clipped_cards(picture: Picture, plane: Plane, corners_px: Sequence[Floats]) -> list[str]:
    shares = [clipped_shares(picture, corners) for corners in corners_px]
    worst = [corners for share, corners in zip(shares, corners_px, strict=True) if max(share) > MOST_CLIPPED]
    if not worst:
        return []
    spreads = [
        (edge_spread_px(picture, corners) or MOST_SPREAD_PX) * float(plane.mm_per_px_at(corners[:1])[0])
        for corners in worst
    ]
    what, todo = _exposure(max(share[0] for share in shares), max(share[1] for share in shares))
    return [
        f"{_some(len(worst), len(corners_px))} {what}, which moves edges: expect lengths to be off by up to "
        f"{mm_text(2 * ERROR_OF_CLIPPING * max(spreads), 2)} more than stated. {todo}"
    ]


# --- distance from the references ---


def _out_of_reach(plane: Plane, corners_px: Sequence[Floats]) -> list[str]:
    middles = np.array([corners.mean(axis=0) for corners in corners_px])
    expected = plane.length_u(plane.to_mm(middles), REACH_MM)
    best = float(np.min(expected))
    far = np.flatnonzero((expected > FAR * best) & (expected > FAR_MM))
    if not len(far):
        return []
    worst = int(far[np.argmax(expected[far])])
    x, y = middles[worst]
    return [
        f"{_some(len(far), len(corners_px))} beyond the reach of what gives the scale: {REACH_MM:.0f} mm lying at "
        f"x = {x:.0f}, y = {y:.0f} px can be measured to ± {mm_text(float(expected[worst]), 2)}, beside the "
        f"reference to ± {mm_text(best, 2)}. Lay {'it' if len(far) == 1 else 'them'} nearer to it, or a second "
        "ruler beside."
    ]


def _some(count: int, of: int) -> str:
    return f"{count} of {of} templates {'is' if count == 1 else 'are'}"


def _its(count: int) -> str:
    return "its" if count == 1 else "their"


# --- a sheet that is not flat ---


def bow_mm(reference: Reference) -> float:
    """Root mean square, mm, of the smooth waves in what a sheet's places miss the fit by; 0 where there are none.

    A flat sheet's misses are its printer's and the picture's, which have no waves.
    """
    if len(reference.spots_px) < _LEAST_SPOTS or not reference.px_per_mm:
        return 0.0
    side = reference.outline_px[1] - reference.outline_px[0]
    along = side / np.hypot(*side)
    parts = np.column_stack([reference.misses_px @ along, reference.misses_px @ np.array([-along[1], along[0]])])
    middle, reach = reference.spots_px.mean(axis=0), np.ptp(reference.spots_px, axis=0).max() / 2
    x, y = ((reference.spots_px - middle) / reach).T
    powers = [x**i * y**j for i in range(_ORDER + 1) for j in range(_ORDER + 1 - i)]
    design = np.column_stack(powers)
    # A line tells only what lies square to it; a corner tells both.
    of_part = (
        [np.full(len(parts), True)] * 2
        if reference.kind == "target"
        else [np.abs(parts[:, k]) >= np.abs(parts[:, 1 - k]) for k in (0, 1)]
    )
    explained = whole = count = 0.0
    for k, mine in enumerate(of_part):
        if mine.sum() < 2 * design.shape[1]:
            continue
        smooth = design[mine] @ np.linalg.lstsq(design[mine], parts[mine, k], rcond=None)[0]
        explained += float(smooth @ smooth)
        whole += float(parts[mine, k] @ parts[mine, k])
        count += float(mine.sum())
    if not count or explained < BENT_SHARE * whole:
        return 0.0
    return float(np.sqrt(explained / count)) / reference.px_per_mm
