"""How much of every pixel a polygon covers, exactly: the area integral, not a count of samples.

The signed-area accumulation known from font rasterisers: every edge is cut at the pixel borders; each
bit adds its height to its row and, weighted by where it lies in its pixel, its share of that pixel; a
running sum from left to right then gives the covered area. A pixel (i, j) is the unit square about the
integer point (x = i, y = j) of the image frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .geometry import Points

Grey = NDArray[np.float32]  # (height, width)


@dataclass(frozen=True)
class Patch:
    """Covered shares (0 to 1) of a window of the picture whose upper left pixel is (left, top)."""

    left: int
    top: int
    alpha: Grey

    @property
    def window(self) -> tuple[slice, slice]:
        """The rows and columns of the picture that the patch covers."""
        height, width = self.alpha.shape
        return slice(self.top, self.top + height), slice(self.left, self.left + width)


def cover(outlines: Sequence[Points], size: tuple[int, int], margin: int = 0) -> Patch:
    """The covered share of each pixel by the union of outlines that do not overlap (overlaps count once).

    `outlines`: (n, 2) float arrays in the image frame, px, either direction; `size`: picture width and
    height; `margin`: empty pixels to keep round the outlines. The patch is clipped to the picture; one
    without any pixel in it has a shape with a zero.
    """
    width, height = size
    points = np.concatenate(outlines)
    low, high = np.floor(points.min(axis=0)).astype(int), np.ceil(points.max(axis=0)).astype(int)
    left, top = max(int(low[0]) - margin, 0), max(int(low[1]) - margin, 0)
    right, bottom = min(int(high[0]) + 1 + margin, width), min(int(high[1]) + 1 + margin, height)
    if right <= left or bottom <= top:
        return Patch(left, top, np.zeros((0, 0), np.float32))
    columns, rows = right - left, bottom - top
    starts, ends = _edges(outlines, np.array([left - 0.5, top - 0.5]))
    cells = _accumulate(starts, ends, columns, rows)
    area = np.cumsum(cells, axis=1)[:, :columns]
    return Patch(left, top, np.clip(np.abs(area), 0.0, 1.0).astype(np.float32))


def _edges(outlines: Sequence[Points], corner: Points) -> tuple[Points, Points]:
    """All edges in the patch's own frame, all outlines turned the same way so that their areas add.

    In that frame pixel (0, 0) is the unit square with a corner at the origin.
    """
    starts, ends = [], []
    for outline in outlines:
        x, y = outline[:, 0], outline[:, 1]
        doubled = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)
        turned = outline if doubled > 0.0 else outline[::-1]
        starts.append(turned - corner)
        ends.append(np.roll(turned, -1, axis=0) - corner)
    return np.concatenate(starts), np.concatenate(ends)


def _accumulate(starts: Points, ends: Points, columns: int, rows: int) -> NDArray[np.float64]:
    """(rows, columns + 1) the height of the bits of edge in each pixel, split between it and the next."""
    a, b = _cut(starts, ends, axis=1)
    keep = a[:, 1] != b[:, 1]
    a, b = a[keep], b[keep]
    # Left of the window an edge acts like one on its border; right of it, it covers nothing in it.
    a, b = _cut_and_clamp(a, b, columns)
    middle = 0.5 * (a + b)
    rise = a[:, 1] - b[:, 1]
    row = np.floor(middle[:, 1]).astype(int)
    column = np.clip(np.floor(middle[:, 0]).astype(int), 0, columns)
    inside = (row >= 0) & (row < rows)
    row, column, rise, x = row[inside], column[inside], rise[inside], middle[inside, 0]
    share = np.clip(x - column, 0.0, 1.0)
    flat = row * (columns + 2) + column
    count = rows * (columns + 2)
    cells = np.bincount(flat, rise * (1.0 - share), count) + np.bincount(flat + 1, rise * share, count)[:count]
    return np.asarray(cells.reshape(rows, columns + 2)[:, : columns + 1])


def _cut_and_clamp(a: Points, b: Points, columns: int) -> tuple[Points, Points]:
    a, b = _cut(a, b, axis=0)
    a, b = a.copy(), b.copy()
    for ends in (a, b):
        np.clip(ends[:, 0], 0.0, float(columns), out=ends[:, 0])
    return a, b


def _cut(a: Points, b: Points, axis: int) -> tuple[Points, Points]:
    """The segments a-b cut wherever they cross an integer along `axis`."""
    low = np.minimum(a[:, axis], b[:, axis])
    high = np.maximum(a[:, axis], b[:, axis])
    first = np.floor(low) + 1.0
    crossings = np.maximum(np.ceil(high) - first, 0.0).astype(int)
    segment = np.repeat(np.arange(len(a)), crossings + 1)
    order = np.arange(len(segment)) - np.repeat(np.cumsum(crossings + 1) - (crossings + 1), crossings + 1)
    rising = (b[:, axis] >= a[:, axis])[segment]
    last = first[segment] + crossings[segment] - 1.0
    level_from = np.where(rising, first[segment] + order - 1.0, last - order + 1.0)
    level_to = np.where(rising, first[segment] + order, last - order)
    span = b[segment, axis] - a[segment, axis]
    safe = np.where(span == 0.0, 1.0, span)
    t_from = np.where(order == 0, 0.0, (level_from - a[segment, axis]) / safe)
    t_to = np.where(order == crossings[segment], 1.0, (level_to - a[segment, axis]) / safe)
    step = b[segment] - a[segment]
    starts = a[segment] + t_from[:, None] * step
    ends = a[segment] + t_to[:, None] * step
    starts[order == 0] = a
    ends[order == crossings[segment]] = b
    return starts, ends
