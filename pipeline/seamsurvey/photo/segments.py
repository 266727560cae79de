"""Straight thin strokes in every direction, as a camera at a slant sees a ruler's marks among others.

A scan's marks all run one way and are found together (`strokes`); a camera fans them out, so here each stroke
has a direction of its own.
"""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from seamsurvey.photo.ridges import Ridges

BRIDGE = 2  # px from one pixel of a stroke to the next, at most
TURN_DEG = 22.0  # between the ridge's directions at two neighbouring pixels of one stroke
MIN_POINTS = 4
MIN_LENGTH_PX = 3.0
MAX_WANDER_PX = 0.6  # rms of a stroke's points about its own line
CORRELATED_POINTS = 4.0  # ridge points so many pixels apart have errors of their own: the ridge filter's width


@frozen(eq=False)
class Segments:
    """Straight strokes of one polarity; image frame, px, of the level they were found on.

    Stroke i has ``count[i]`` ridge points about ``middle[i]``, runs along ``way[i]``, and ends at
    ``middle + low * way`` and ``middle + high * way``.
    """

    middle: NDArray[np.float64]  # (n, 2)
    way: NDArray[np.float64]  # (n, 2) unit vector, of either sense
    low: NDArray[np.float64]  # (n,) px, negative
    high: NDArray[np.float64]  # (n,) px
    count: NDArray[np.float64]  # (n,)
    spread: NDArray[np.float64]  # (n,) mean squared distance of the points from the middle, along the stroke
    wander: NDArray[np.float64]  # (n,) px, rms of the points about the line
    strength: NDArray[np.float64]  # (n,) mean of the ridge points' strengths

    def __len__(self) -> int:
        return len(self.low)

    @property
    def length(self) -> NDArray[np.float64]:
        """(n,) px."""
        return self.high - self.low

    @property
    def ends(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Both ends, (n, 2) each."""
        return self.middle + self.low[:, None] * self.way, self.middle + self.high[:, None] * self.way

    def keep(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> "Segments":
        """The chosen strokes."""
        names = ("middle", "way", "low", "high", "count", "spread", "wander", "strength")
        return Segments(*(getattr(self, name)[chosen] for name in names))


def find_segments(ridges: Ridges, dark: bool) -> Segments:
    """The straight strokes among the ridge points of one polarity."""
    chosen = ridges.dark == dark
    points, along = ridges.points[chosen], np.radians(ridges.along_deg[chosen])
    labels = _labels(ridges.pixels[chosen], ridges.along_deg[chosen])
    if not len(labels):
        nothing = np.zeros(0)
        return Segments(np.zeros((0, 2)), np.zeros((0, 2)), *[nothing] * 6)
    count = np.bincount(labels).astype(float)

    def mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.bincount(labels, values, minlength=len(count)) / count)

    middle = np.column_stack([mean(points[:, 0]), mean(points[:, 1])])
    dx, dy = (points - middle[labels]).T
    xx, yy, xy = mean(dx * dx), mean(dy * dy), mean(dx * dy)
    # The principal axis of the points; the ridge's own directions would be biased by what is beside it.
    root = np.hypot((xx - yy) / 2, xy)
    angle = 0.5 * np.arctan2(2 * xy, xx - yy)
    way = np.column_stack([np.cos(angle), np.sin(angle)])
    offset = dx * way[labels, 0] + dy * way[labels, 1]
    low, high = np.full(len(count), np.inf), np.full(len(count), -np.inf)
    np.minimum.at(low, labels, offset)
    np.maximum.at(high, labels, offset)
    wander = np.sqrt(np.maximum((xx + yy) / 2 - root, 0))
    # A stroke shorter than it is wide has its points' axis across it; the ridge's direction tells.
    agree = np.abs(mean(np.cos(2 * along)) * np.cos(2 * angle) + mean(np.sin(2 * along)) * np.sin(2 * angle))
    segments = Segments(middle, way, low, high, count, (xx + yy) / 2 + root, wander, mean(ridges.strength[chosen]))
    good = (count >= MIN_POINTS) & (high - low >= MIN_LENGTH_PX) & (wander <= MAX_WANDER_PX) & (agree >= 0.8)
    return segments.keep(good)


def _labels(pixels: NDArray[np.intp], along_deg: NDArray[np.float64]) -> NDArray[np.intp]:
    """Which run of neighbouring pixels of like direction each of the (n, 2) pixels belongs to, from 0."""
    if not len(pixels):
        return np.zeros(0, dtype=np.intp)
    width = int(pixels[:, 0].max()) + 2 * BRIDGE + 1
    place = pixels[:, 1] * width + pixels[:, 0]
    order = np.argsort(place)
    ordered, turned = place[order], along_deg[order]
    pairs = []
    for y in range(BRIDGE + 1):
        for x in range(-BRIDGE, BRIDGE + 1):
            if (y, x) <= (0, 0):
                continue
            wanted = ordered + y * width + x
            found = np.minimum(np.searchsorted(ordered, wanted), len(ordered) - 1)
            here = np.flatnonzero(ordered[found] == wanted)
            turn = np.abs((turned[here] - turned[found[here]] + 90) % 180 - 90)
            # Runs side by side, two px apart, are no neighbours: the step lies along the run.
            step = np.abs((np.degrees(np.arctan2(y, x)) - turned[here] + 90) % 180 - 90)
            here = here[(turn <= TURN_DEG) & (step <= 60.0)]
            pairs.append(np.column_stack([order[here], order[found[here]]]))
    first, second = np.concatenate(pairs).T
    graph = coo_array((np.ones(len(first), dtype=bool), (first, second)), shape=(len(pixels), len(pixels)))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.intp)
