"""Where edges and corners lie in a picture, by plain means: to test the renderer, not the tool."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

Field = NDArray[np.float64]


def profile(light: Field, at: Field, across: Field, reach: float) -> tuple[Field, Field]:
    """Light along a line through `at` (x, y, px): offsets and bilinear samples a tenth of a pixel apart."""
    offsets = np.arange(-reach, reach + 0.05, 0.1)
    points = at[None, :] + offsets[:, None] * across[None, :]
    return offsets, map_coordinates(light, [points[:, 1], points[:, 0]], order=1)


def edge_line(light: Field, start: Field, end: Field) -> tuple[Field, float]:
    """The unit normal and offset of the line through an edge near start-end, from the light lost across it.

    Where a step of light lies follows from the area under its profile: blur, being even, moves nothing.
    """
    along = (end - start) / np.hypot(*(end - start))
    across = np.array([along[1], -along[0]])
    found = []
    for share in np.linspace(0.04, 0.96, 240):
        at = start + share * (end - start)
        offsets, values = profile(light, at, across, 6.0)
        low, high = values[:15].mean(), values[-15:].mean()
        found.append(at + (6.0 - np.trapezoid((values - low) / (high - low), offsets)) * across)
    points = np.array(found)
    t, h = (points - start) @ along, (points - start) @ across
    slope, offset = np.polyfit(t, h, 1)
    direction = along + slope * across
    direction /= np.hypot(*direction)
    normal = np.array([direction[1], -direction[0]])
    return normal, float(normal @ (start + offset * across))


def corners(light: Field, near: Field) -> Field:
    """(n, 2) where the edges found near an outline's edges meet, px."""
    lines = [edge_line(light, a, b) for a, b in zip(near, np.roll(near, -1, axis=0), strict=True)]
    return np.array(
        [np.linalg.solve([lines[k - 1][0], lines[k][0]], [lines[k - 1][1], lines[k][1]]) for k in range(len(lines))]
    )


def mark_offset(light: Field, foot: Field, inward: Field, along: Field, depths: Field) -> float:
    """How far (px, along the ruler) the light a mark takes lies from its axis, mean over depths from the edge."""
    offsets = []
    for depth in depths:
        at, values = profile(light, foot + depth * inward, along, 5.0)
        lost = np.median(np.concatenate([values[:15], values[-15:]])) - values
        lost[np.abs(at) > 3.5] = 0.0
        offsets.append(float((lost * at).sum() / lost.sum()))
    return float(np.mean(offsets))
