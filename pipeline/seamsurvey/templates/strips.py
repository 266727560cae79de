"""The pixels along an edge, each with its own exact distance from it: nothing is resampled."""

import math

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.templates.contour import Crop

Floats = NDArray[np.float64]

_BINS_PER_PX = 4  # what this blurs is a hundredth of the picture's own blur


@frozen
class Strip:
    """The pixels along an edge, of each stretch those at one distance (to a quarter pixel) together.

    ``distance`` (stretches, m) is their mean distance outwards in pixels, ``light`` (stretches, m, 3) their mean,
    ``count`` (stretches, m) their number; ``middles`` (stretches, 2) lie on the line looked along.
    """

    distance: Floats
    light: Floats
    count: Floats
    middles: Floats
    outward: Floats


def strip_along(
    crop: Crop, ends: Floats, trims: Floats, limits: tuple[float, float], stretch: float
) -> Strip | None:
    """The strip along the line between two ``ends`` ((2, 2) image pixels; the card to the right of it).

    ``trims`` (2,) are left out at its start and end, ``limits`` are the distances it reaches inwards (negative) and
    outwards, ``stretch`` is the length of each stretch, all in pixels. None when there is no whole stretch.
    """
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
    binned = _binned(distance, light, use, limits)
    return Strip(*binned, middles[::way], outward)


def _binned(
    distance: Floats, light: Floats, use: NDArray[np.bool_], limits: tuple[float, float]
) -> tuple[Floats, Floats, Floats]:
    """Mean distance, mean light and count of each stretch's pixels, by the quarter pixel."""
    bins = math.ceil((limits[1] - limits[0]) * _BINS_PER_PX)
    size = len(distance) * bins
    place = np.clip((distance - limits[0]) * _BINS_PER_PX, 0, bins - 1).astype(int)
    flat = (place + np.arange(len(distance))[:, None] * bins)[use]

    def total(values: Floats) -> Floats:
        return np.asarray(np.bincount(flat, values[use], size).reshape(-1, bins), dtype=float)

    count = total(np.ones_like(distance))
    safe = np.maximum(count, 1)
    channels = [total(light[..., channel]) / safe for channel in range(3)]
    return total(distance) / safe, np.stack(channels, axis=2), count
