"""The pixels along an edge, each with its own exact distance from it: nothing is resampled."""

import math

import cv2
import numpy as np
from attrs import evolve, field, frozen
from numpy.typing import NDArray

from seamsurvey.curves import Curve
from seamsurvey.model import Plane
from seamsurvey.templates.contour import Crop

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

_BINS_PER_PX = 4  # what this blurs is a hundredth of the picture's own blur


@frozen(kw_only=True)
class RoundPath:
    """A part of an arc to look along: ``curve`` in the plane, from place ``start_mm`` to ``end_mm`` along it.

    ``px_per_mm`` is the picture's scale outwards from it, in its middle.
    """

    curve: Curve
    start_mm: float
    end_mm: float
    plane: Plane = field(repr=False)
    px_per_mm: float

    def beside(self, by_px: float) -> "RoundPath":
        """The path so many pixels farther out."""
        by = by_px / self.px_per_mm
        grown = 1 + self.curve.bend * by
        return evolve(
            self, curve=self.curve.parallel(by), start_mm=self.start_mm * grown, end_mm=self.end_mm * grown
        )


Path = Floats | RoundPath
"""What is looked along: a line's two ends ((2, 2) image pixels; the card to the right), or a part of an arc."""


def beside(path: Path, by_px: float) -> Path:
    """The path so many pixels farther out."""
    if isinstance(path, RoundPath):
        return path.beside(by_px)
    along = (path[1] - path[0]) / np.hypot(*(path[1] - path[0]))
    return np.asarray(path + by_px * np.array([-along[1], along[0]]))


@frozen
class Strip:
    """The pixels along an edge, of each stretch those at one distance (to a quarter pixel) together.

    ``distance`` (stretches, m) is their mean distance outwards in pixels, ``light`` (stretches, m, 3) their mean,
    ``count`` (stretches, m) their number; ``middles`` (stretches, 2) lie on the path looked along; ``outward`` is
    its unit normal, (2,) of a line, (stretches, 2) of an arc.
    """

    distance: Floats
    light: Floats
    count: Floats
    middles: Floats
    outward: Floats


def strip_along(crop: Crop, path: Path, trims: Floats, limits: tuple[float, float], stretch: float) -> Strip | None:
    """The strip along a path.

    ``trims`` (2,) are left out at a line's start and end, ``limits`` are the distances it reaches inwards
    (negative) and outwards, ``stretch`` is the length of each stretch, all in pixels. None when there is no whole
    stretch.
    """
    if isinstance(path, RoundPath):
        return _strip_round(crop, path, limits, stretch)
    if not np.isfinite(path).all():
        return None  # so far outside the picture that the lens shows it nowhere
    start, end = path
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
    half = math.ceil(max(-limits[0], limits[1]) / abs(along[major])) + 1
    other = np.round(centre).astype(int)[:, None] + np.arange(-half, half + 1)
    here = np.broadcast_to(lines[:, None], other.shape).astype(int)
    x, y = (other, here) if major else (here, other)
    distance = (x - start[0]) * outward[0] + (y - start[1]) * outward[1]
    height, width = crop.light.shape[:2]
    column, row = x - crop.corner[0], y - crop.corner[1]
    seen = (column >= 0) & (row >= 0) & (column < width) & (row < height)
    light = crop.light[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)].astype(float)
    use = seen & (distance >= limits[0]) & (distance <= limits[1])
    mids = lines.reshape(count, each).mean(axis=1)
    middles = start + along * ((mids - start[major]) / along[major])[:, None]
    way = 1 if along[major] > 0 else -1  # the stretches follow one another from start to end
    distance, use, light = (v.reshape(count, -1, *v.shape[2:])[::way] for v in (distance, use, light))
    number = np.broadcast_to(np.arange(count)[:, None], distance.shape)
    binned = _binned(distance[use], light[use], number[use], count, limits)
    return Strip(*binned, middles[::way], outward)


def _strip_round(crop: Crop, path: RoundPath, limits: tuple[float, float], stretch: float) -> Strip | None:
    """The strip along a part of an arc: each pixel's distance is taken in the plane, where it is a circle's."""
    curve, plane, scale = path.curve, path.plane, path.px_per_mm
    if not np.isfinite([path.start_mm, path.end_mm, scale]).all():
        return None
    count = int((path.end_mm - path.start_mm) * scale / stretch)
    if count < 1:
        return None
    edges = np.linspace(path.start_mm, path.end_mm, count + 1)
    on = curve.at((edges[:-1] + edges[1:]) / 2)
    middles = plane.to_px(on)
    if not np.isfinite(middles).all():
        return None
    # How far outwards a pixel's step leads, in mm: the plane may be seen aslant.
    ahead, behind = ([curve.off(plane.to_mm(middles + side * step)) for step in np.eye(2)] for side in (1, -1))
    steps = np.array(ahead) - np.array(behind)
    slope = np.hypot(*steps) / 2
    outward = (steps / (2 * slope)).T
    column, row = _band(crop, plane.to_px(curve.at(np.linspace(path.start_mm, path.end_mm, 8 * count + 1))), limits)
    at = plane.to_mm(np.column_stack([column, row]) + np.array(crop.corner, dtype=float))
    number = np.floor((curve.places(at) - path.start_mm) / (edges[1] - edges[0])).astype(int)
    here = (number >= 0) & (number < count)
    at, column, row, number = at[here], column[here], row[here], number[here]
    distance = curve.off(at) / slope[number]
    use = (distance >= limits[0]) & (distance <= limits[1])
    light = crop.light[row[use], column[use]].astype(float)
    binned = _binned(distance[use], light, number[use], count, limits)
    return Strip(*binned, middles, outward)


def _band(crop: Crop, path_px: Floats, limits: tuple[float, float]) -> tuple[Indices, Indices]:
    """Column and row, in the crop, of the pixels that may lie within ``limits`` of a polyline in the picture."""
    reach = math.ceil(max(-limits[0], limits[1])) + 2
    mask = np.zeros(crop.light.shape[:2], np.uint8)
    line = np.round(path_px - np.array(crop.corner)).astype(np.int32).reshape(-1, 1, 2)
    cv2.polylines(mask, [line], False, (1,), 2 * reach + 1)
    row, column = np.nonzero(mask)
    return column, row


def _binned(
    distance: Floats, light: Floats, number: Indices, stretches: int, limits: tuple[float, float]
) -> tuple[Floats, Floats, Floats]:
    """Mean distance, mean light and count of the pixels of each stretch (``number``), by the quarter pixel.

    ``distance`` (n,), ``light`` (n, 3) and ``number`` (n,) are the pixels'; the results (stretches, m) and so on.
    """
    bins = math.ceil((limits[1] - limits[0]) * _BINS_PER_PX)
    size = stretches * bins
    flat = np.clip((distance - limits[0]) * _BINS_PER_PX, 0, bins - 1).astype(int) + number * bins

    def total(values: Floats) -> Floats:
        return np.asarray(np.bincount(flat, values, size).reshape(-1, bins), dtype=float)

    count = total(np.ones_like(distance))
    safe = np.maximum(count, 1)
    channels = [total(light[..., channel]) / safe for channel in range(3)]
    return total(distance) / safe, np.stack(channels, axis=2), count
