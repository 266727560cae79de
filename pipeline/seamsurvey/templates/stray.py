"""Points of an outline that lie astray, on dust, a letter or a nick, and not on the edge their neighbours show."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from seamsurvey.geometry import Points
from seamsurvey.templates.chords import OFF_MM

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

NOISE_MM = 0.01  # no scan shows the shape of an edge better than this
_CLEAN_MM = 2.5  # a point is judged by the lines through this much of its neighbours
_LEAST_REACH = 4  # points to each side: through fewer no line says anything of another


def cleaned(points: Points, *, bent: bool = False, forgiving: bool = False) -> Points:
    """The points without those that fit neither the line through their neighbours before, after nor around.

    With ``bent``, nor the parabola through those around. ``forgiving``: each edge has a limit of its own, up to a
    letter's.
    """
    count = len(points)
    if count < 4 * _LEAST_REACH:
        return points  # of none at all there is no spacing
    spacing = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    reach = max(_LEAST_REACH, round(_CLEAN_MM / spacing))
    if count < 4 * reach:
        return points
    steps = np.arange(1, reach + 1)
    here = np.arange(count)[:, None]
    half = steps[: reach // 2 + 1]
    windows = (here - steps, here + steps, np.concatenate([here - half, here + half], axis=1))
    off: Floats = np.min([_off_line(points, points[window % count]) for window in windows], axis=0)
    if bent:
        off = np.minimum(off, _off_parabola(points, here, half))
    limit = max(4 * 1.4826 * float(np.median(off)), 3 * NOISE_MM)
    limits = np.full(count, limit)
    if forgiving:
        nearby: Floats = median_filter(off, 4 * reach + 1, mode="wrap")
        limits = np.clip(4 * 1.4826 * nearby, limit, max(limit, OFF_MM))
    return np.asarray(points[off <= limits])


def _off_line(points: Points, neighbours: Floats) -> Floats:
    """(n,) distance of each point from the line through its (n, m, 2) neighbours."""
    middle = neighbours.mean(axis=1)
    spread = neighbours - middle[:, None]
    turn = 0.5 * np.arctan2(
        2 * np.sum(spread[..., 0] * spread[..., 1], axis=1),
        np.sum(spread[..., 0] ** 2 - spread[..., 1] ** 2, axis=1),
    )
    gap = points - middle
    return np.asarray(np.abs(gap[:, 1] * np.cos(turn) - gap[:, 0] * np.sin(turn)))


def _off_parabola(points: Points, here: Indices, half: Indices) -> Floats:
    """(n,) distance of each point from the parabola through as many neighbours before as after."""
    steps = np.concatenate([-half[::-1], half]).astype(float)
    shares = np.linalg.pinv(np.column_stack([np.ones_like(steps), steps, steps**2]))[0]
    neighbours = points[(here + np.concatenate([-half[::-1], half])) % len(points)]
    along = neighbours[:, -1] - neighbours[:, 0]
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    gap = points - np.einsum("j,njk->nk", shares, neighbours)
    return np.asarray(np.abs(gap[:, 1] * along[:, 0] - gap[:, 0] * along[:, 1]))
