"""The border of a flat thing, measured between two rough corners: points to a fraction of a pixel, in linear light.

The border is where light and colour change fastest; blur leaves that place alone as long as there is nothing but
the thing on one side and the ground, or its soft shadow, on the other.
"""

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST_SIGMA_PX = 0.1  # of a point: shadow and worn edge move several alike
STATIONS = 24
_STEP_PX = 0.5
_SIGMA_PX = 1.2  # of the bell the profile is smoothed with
_NARROW_PX = 7.0
_CLEAR = 5.0  # times the slope of the profile's calmer third, which a blurred border does not reach
_ASTRAY_PX = 2.0  # from the smooth curve through the others


@frozen(eq=False)
class Border:
    """(n, 2) px ``points`` in order, their standard deviation square to the border, and what share was clear."""

    points: Floats
    sigma_px: float
    clear: float


def measure_border(
    light: NDArray[np.float32],
    start: Floats,
    end: Floats,
    *,
    reach_px: float,
    keep_off: float,
    wavering_px: float = _ASTRAY_PX,
) -> Border | None:
    """The border near the line between two image points; None when it can't be followed.

    ``light`` is (h, w, 3) linear; ``keep_off`` is the share of its length left out at both ends; ``wavering_px``
    how far it may stray from a smooth curve.
    """
    along = np.linspace(keep_off, 1 - keep_off, STATIONS)
    length = float(np.hypot(*(end - start)))
    tangent = (end - start) / length
    normal = np.array([-tangent[1], tangent[0]])
    stretch = length * (1 - 2 * keep_off) / STATIONS
    bend: Floats = np.zeros(STATIONS)
    good: NDArray[np.bool_] = np.ones(STATIONS, dtype=bool)
    narrow = max(_NARROW_PX, 2 * wavering_px)
    for reach in (reach_px, narrow, narrow):
        middles = start + along[:, None] * (end - start) + bend[:, None] * normal
        offset, clear = _steepest(light, middles, tangent, stretch=stretch, reach=reach)
        place = bend + offset
        curve, good = _smooth_curve(along, place, clear, wavering_px)
        if good.sum() < STATIONS // 3:
            return None
        bend = curve
    residuals = (place - curve)[good]
    return Border(
        points=(start + along[:, None] * (end - start) + place[:, None] * normal)[good],
        sigma_px=float(np.hypot(LEAST_SIGMA_PX, np.sqrt(np.mean(residuals**2)))),
        clear=float(good.mean()),
    )


def moved(border: Border, by: Floats) -> Border:
    """The border in a picture of which it was measured in a part that begins at ``by`` (2,) px."""
    return Border(border.points + by, border.sigma_px, border.clear)


def corners_between(borders: list[Floats]) -> Floats:
    """(4, 2) px: corner k, where border k - 1 meets border k, each the line through its (n, 2) points."""
    lines = []
    for points in borders:
        middle = points.mean(axis=0)
        along = np.linalg.svd(points - middle)[2][0]
        normal = np.array([-along[1], along[0]])
        lines.append((normal, float(normal @ middle)))
    return np.array(
        [np.linalg.solve([lines[k - 1][0], lines[k][0]], [lines[k - 1][1], lines[k][1]]) for k in range(len(lines))]
    )


def _steepest(
    light: NDArray[np.float32], middles: Floats, tangent: Floats, *, stretch: float, reach: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """(n,) px along the normal from each middle to the steepest step within reach, and whether it is clear."""
    normal = np.array([-tangent[1], tangent[0]])
    across = np.arange(-reach - 3, reach + 3 + _STEP_PX / 2, _STEP_PX)
    beside = np.linspace(-0.5, 0.5, max(3, round(stretch / 2))) * stretch
    at = (
        middles[:, None, None] + beside[None, :, None, None] * tangent + across[None, None, :, None] * normal
    ).astype(np.float32)
    flat = at.reshape(len(middles), -1, 2)
    seen = cv2.remap(light, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    profiles = seen.reshape(len(middles), len(beside), len(across), 3).mean(axis=1)
    return steepest_step(profiles, across)


def steepest_step(profiles: NDArray[np.float32], across: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """(n,) where each of (n, m, 3) profiles, evenly spaced at ``across`` (m,), is steepest; whether clearly so."""
    step = across[1] - across[0]
    at = np.arange(-round(3 * _SIGMA_PX / step), round(3 * _SIGMA_PX / step) + 1) * step
    kernel = at * np.exp(-0.5 * (at / _SIGMA_PX) ** 2)
    slope = np.stack([np.apply_along_axis(np.convolve, 1, profiles[..., c], kernel, "valid") for c in range(3)])
    steep = np.sqrt(np.sum(slope**2, axis=0))
    inner = across[len(at) // 2 : len(across) - len(at) // 2]
    peak = np.clip(np.argmax(steep, axis=1), 1, steep.shape[1] - 2)
    rows = np.arange(len(peak))
    before, here, after = steep[rows, peak - 1], steep[rows, peak], steep[rows, peak + 1]
    curve = before - 2 * here + after
    shift = np.where(curve < 0, 0.5 * (before - after) / np.where(curve < 0, curve, 1.0), 0.0)
    usual = np.percentile(steep, 33, axis=1)
    clear = (here > _CLEAR * np.maximum(usual, 1e-4)) & (np.abs(shift) <= 1.0)
    return np.asarray(inner[peak] + shift * step), np.asarray(clear)


def _smooth_curve(
    along: Floats, place: Floats, clear: NDArray[np.bool_], wavering_px: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """The parabola (a lens bends a straight border into one) most clear places lie on, and which they are."""
    candidates = np.flatnonzero(clear)
    best: NDArray[np.bool_] = np.zeros(len(along), dtype=bool)
    if len(candidates) < 4:
        return place, best
    rng = np.random.default_rng(0)
    for _ in range(60):
        a, b = rng.choice(candidates, 2, replace=False)
        line = place[a] + (along - along[a]) * (place[b] - place[a]) / (along[b] - along[a])
        near = clear & (np.abs(place - line) <= 2 * wavering_px)
        if near.sum() > best.sum():
            best = near
    curve: Floats = place
    for _ in range(3):
        if best.sum() < 4:
            return place, np.zeros_like(best)
        curve = np.asarray(np.polyval(np.polyfit(along[best], place[best], 2), along), dtype=float)
        best = clear & (np.abs(place - curve) <= wavering_px)
    return curve, best
