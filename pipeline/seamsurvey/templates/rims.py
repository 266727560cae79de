"""The pale or dark border that some cards carry all round their face: a bevel, a cut edge, a printed frame.

The face is what stands out; the card ends where its border does. Across each edge of a face the light goes from the
face over the border to a dip, the thin shadow or the gap before the ground or the next card begins.

A border has one width all round; but it lies lower than the face where it is a bevel, and a camera that does not
stand over the card sees it shifted: wider on the sides turned to the camera, narrower, or hidden, on the others. So
that the widths seen are w = r + p · n, with one width r and one shift p for the set, and n the edge's outward
normal. The shift moves a card and changes no length.
"""

from collections.abc import Sequence

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, map_coordinates

from seamsurvey.model import Plane
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.fitted import FittedEdge

Floats = NDArray[np.float64]

_REACH_SHARE = 0.15  # of a face's size: no border is wider
_LEAST_PX, _MOST_PX = 4.0, 60.0
_STEP_PX = 0.25  # of a profile: light is interpolated between pixels
_ENDS = 0.2  # of an edge, at both ends, are its corners'
_SMOOTH_PX = 0.4
_LEAST_DIP = 0.05  # of the border's light
_HELD = 0.3  # px: a shift by so much counts like one edge's misfit by a pixel
_LEAST_SCATTER_PX = 0.3  # of a width: no dip is placed better
_LEAST_PLATEAU_PX = 0.75  # from the face's edge to the border's own light
_DIP_PX = 0.5  # a border ends somewhere between its own light and the dip: one standard deviation
_FEW_EDGES, _LEAST_EDGES = 3, 4  # that show a border which may be chance, and one which is none
_MOST_SCATTER = 0.25  # of its width: a border is as wide everywhere; dips of a rough ground lie anywhere
_LEAST_SEEN = 0.35  # of a set's edges must show a border; else the dips are chance, and the cards have none


@frozen
class Rim:
    """A set's border: its width, and one standard deviation of that, mm; 0 where the cards have none."""

    width_mm: float = 0.0
    sigma_mm: float = 0.0


def rim_of(cards: Sequence[tuple[Crop, Floats]], plane: Plane) -> Rim:
    """The border of a set of faces, each with the picture round it and its corners (n, 2) plane mm."""
    seen: list[float] = []
    normals: list[Floats] = []
    edges = 0
    for crop, corners in cards:
        px = plane.to_px(corners)
        size = float(np.hypot(*np.ptp(px, axis=0)))
        reach = float(np.clip(_REACH_SHARE * size, _LEAST_PX, _MOST_PX))
        middle = px.mean(axis=0)
        for k in range(len(px)):
            edges += 1
            start, end = px[k], px[(k + 1) % len(px)]
            outward = _outward(start, end, middle)
            width = _width_px(crop, start, end, outward, reach)
            if width is not None:
                seen.append(width)
                normals.append(outward)
    if len(seen) < max(_FEW_EDGES, _LEAST_SEEN * edges):
        return Rim()
    rim = _one_width(np.array(seen), np.array(normals), plane.mm_per_px)
    if len(seen) < _LEAST_EDGES:
        # Too few to be sure of: anything between none and all of it (JCGM 100:2008, 4.3.7).
        return Rim(rim.width_mm / 2, float(np.hypot(rim.width_mm / np.sqrt(12), rim.sigma_mm)))
    return rim


def _one_width(seen: Floats, normals: Floats, mm_per_px: float) -> Rim:
    """The width that the set's borders have where the camera's place is allowed for; none where it is not one."""
    design = np.column_stack([np.ones(len(seen)), normals])
    # Hidden sides are missing: where the rest look nearly one way, the shift can't be told and is held near none.
    held = np.vstack([design, np.diag([0.0, _HELD, _HELD])])
    wanted = np.concatenate([seen, np.zeros(3)])
    weight = np.ones(len(wanted))
    fit: Floats = np.zeros(3)
    off: Floats = wanted
    for _ in range(10):
        fit = np.asarray(np.linalg.lstsq(held * weight[:, None], wanted * weight, rcond=None)[0])
        off = np.abs(seen - design @ fit)
        scale = max(1.4826 * float(np.median(off)), _LEAST_SCATTER_PX)
        weight[: len(seen)] = 1 / np.sqrt(np.maximum(1.0, off / (1.5 * scale)))
    if 1.4826 * float(np.median(off)) > _MOST_SCATTER * fit[0]:
        return Rim()
    covariance = np.linalg.inv((held * weight[:, None]).T @ (held * weight[:, None]))
    sigma = max(_LEAST_SCATTER_PX, float(np.std(seen - design @ fit))) * np.sqrt(covariance[0, 0])
    return Rim(float(fit[0]) * mm_per_px, float(np.hypot(sigma, _DIP_PX)) * mm_per_px)


def _outward(start: Floats, end: Floats, inside: Floats) -> Floats:
    along = (end - start) / np.hypot(*(end - start))
    normal = np.array([along[1], -along[0]])
    return normal if (inside - start) @ normal < 0 else -normal


def _width_px(crop: Crop, start: Floats, end: Floats, outward: Floats, reach: float) -> float | None:
    """How far beyond an edge the border ends, px; None where no dip says so."""
    along = end - start
    length = float(np.hypot(*along))
    along = along / length
    at = np.arange(_ENDS * length, (1 - _ENDS) * length, 1.0)
    across = np.arange(0.0, reach, _STEP_PX)
    points = (
        start + at[:, None, None] * along + across[None, :, None] * outward - np.array(crop.corner, dtype=float)
    )
    light = map_coordinates(crop.luminance(), [points[..., 1], points[..., 0]], order=1, mode="nearest")
    profile = gaussian_filter1d(np.median(light, axis=0), _SMOOTH_PX / _STEP_PX)
    return _before_dip(np.asarray(profile, dtype=float))


def _before_dip(profile: Floats) -> float | None:
    """Where the light has fallen half-way from the border to the first dip that counts, px."""
    top = 0
    for k in range(1, len(profile) - 1):
        if profile[k] > profile[top]:
            top = k
        if top * _STEP_PX < _LEAST_PLATEAU_PX:
            continue  # a face that is lighter than its shadow has no border: the light only falls
        least = _LEAST_DIP * profile[top]
        is_low = profile[k] < profile[k - 1] and profile[k] <= profile[k + 1]
        if is_low and profile[top] - profile[k] > least and profile[k:].max() - profile[k] > least:
            half = (profile[top] + profile[k]) / 2
            after = top + int(np.argmax(profile[top : k + 1] < half))
            share = (profile[after - 1] - half) / (profile[after - 1] - profile[after])
            return float((after - 1 + share) * _STEP_PX)
    return None


def with_rim(lines: Sequence[FittedEdge], rim: Rim) -> tuple[FittedEdge, ...]:
    """The lines of a face as those of its card."""
    return tuple(
        attrs.evolve(
            line,
            middle=line.middle + rim.width_mm * line.outward,
            own_bias_mm=float(np.hypot(line.own_bias_mm, rim.sigma_mm)),
        )
        for line in lines
    )
