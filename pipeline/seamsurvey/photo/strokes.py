"""Straight thin strokes that all run one way: a ruler's marks among them."""

import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from seamsurvey.photo.ridges import Ridges

DIRECTION_WINDOW = 5.0  # degrees: a ridge point within it may belong to a stroke of the direction
MAX_DIRECTIONS = 8  # of a picture, the most frequent ones
MIN_DIRECTION_POINTS = 120  # fewer ridge points than 20 marks of 6 px leave
MIN_STROKE_POINTS = 4
BRIDGE = 2  # px from one pixel of a stroke to the next, at most
MAX_STRAIGHTNESS_PX = 0.6  # rms of a stroke's points about its own line


@frozen(eq=False)
class Strokes:
    """Strokes of one direction and one polarity, in a frame turned to them.

    A point's ``u`` runs along ``across`` (square to the strokes, along a ruler), ``v`` along ``along``; both
    are unit vectors in the image frame, px. A stroke is the line u = middle_u + slope (v - middle_v).
    """

    across: NDArray[np.float64]  # (2,)
    along: NDArray[np.float64]  # (2,)
    dark: bool
    middle_u: NDArray[np.float64]  # (n,)
    middle_v: NDArray[np.float64]  # (n,)
    slope: NDArray[np.float64]  # (n,)
    slope_weight: NDArray[np.float64]  # (n,) sum of squared distances from the middle, px²
    low: NDArray[np.float64]  # (n,) smallest v
    high: NDArray[np.float64]  # (n,) largest v
    wander: NDArray[np.float64]  # (n,) rms of the points about the line

    def __len__(self) -> int:
        return len(self.middle_u)

    def keep(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> "Strokes":
        """The chosen strokes, in the same frame."""
        names = ("middle_u", "middle_v", "slope", "slope_weight", "low", "high", "wander")
        return evolve(self, **{name: getattr(self, name)[chosen] for name in names})


def directions(ridges: Ridges, dark: bool) -> list[float]:
    """Degrees in [0, 180), most frequent first, in which many ridge points of one polarity run."""
    chosen = ridges.along_deg[ridges.dark == dark]
    counts = np.bincount(chosen.astype(int) % 180, minlength=180).astype(float)
    found: list[float] = []
    while len(found) < MAX_DIRECTIONS:
        smooth = np.sum([np.roll(counts, shift) for shift in (-2, -1, 0, 1, 2)], axis=0)
        best = int(np.argmax(smooth))
        if smooth[best] < MIN_DIRECTION_POINTS:
            break
        around = np.arange(best - 2, best + 3)
        found.append(float(np.average(around, weights=counts[around % 180] + 1e-9) + 0.5) % 180)
        counts[np.arange(best - 4, best + 5) % 180] = 0
    return found


def find_strokes(ridges: Ridges, direction_deg: float, dark: bool) -> Strokes:
    """The strokes within a few degrees of ``direction_deg``."""
    radians = np.radians(direction_deg)
    along = np.array([np.cos(radians), np.sin(radians)])
    across = np.array([along[1], -along[0]])
    turned = np.abs((ridges.along_deg - direction_deg + 90) % 180 - 90)
    chosen = (ridges.dark == dark) & (turned <= DIRECTION_WINDOW)
    pixels, points = ridges.pixels[chosen], ridges.points[chosen]
    labels = _labels(pixels)
    u, v = points @ across, points @ along
    count = np.bincount(labels).astype(float)
    few = np.maximum(count, 1)

    def mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.bincount(labels, values, minlength=len(count)) / few)

    middle_u, middle_v = mean(u), mean(v)
    du, dv = u - middle_u[labels], v - middle_v[labels]
    spread = mean(dv**2)
    slope = mean(du * dv) / np.maximum(spread, 1e-9)
    wander = np.sqrt(np.maximum(mean(du**2) - slope**2 * spread, 0))
    low, high = np.full(len(count), np.inf), np.full(len(count), -np.inf)
    np.minimum.at(low, labels, v)
    np.maximum.at(high, labels, v)
    strokes = Strokes(across, along, dark, middle_u, middle_v, slope, spread * count, low, high, wander)
    straight = (count >= MIN_STROKE_POINTS) & (high - low >= MIN_STROKE_POINTS) & (wander <= MAX_STRAIGHTNESS_PX)
    return strokes.keep(straight)


def _labels(pixels: NDArray[np.intp]) -> NDArray[np.intp]:
    """Which connected run of pixels each of the (n, 2) pixels belongs to, from 0; a gap of one pixel is bridged.

    A few thousand pixels lie scattered over millions, so they are joined by looking each neighbour up.
    """
    if not len(pixels):
        return np.zeros(0, dtype=np.intp)
    width = int(pixels[:, 0].max()) + 2 * BRIDGE + 1
    place = pixels[:, 1] * width + pixels[:, 0]
    order = np.argsort(place)
    ordered = place[order]
    steps = [(x, y) for y in range(BRIDGE + 1) for x in range(-BRIDGE, BRIDGE + 1) if (y, x) > (0, 0)]
    pairs = []
    for x, y in steps:
        found = np.searchsorted(ordered, ordered + y * width + x)
        found = np.minimum(found, len(ordered) - 1)
        here = np.flatnonzero(ordered[found] == ordered + y * width + x)
        pairs.append(np.column_stack([order[here], order[found[here]]]))
    first, second = np.concatenate(pairs).T
    graph = coo_array((np.ones(len(first), dtype=bool), (first, second)), shape=(len(pixels), len(pixels)))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.intp)
