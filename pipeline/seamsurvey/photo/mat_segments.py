"""Short straight pieces of thin lines: a mat's grid is seen as such, broken at each crossing."""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from seamsurvey.photo.ridges import Ridges

BEND_DEG = 15.0  # from one ridge point to the next, at most: the next line's points stand at 30 and more
BRIDGE = 2  # px from one pixel of a segment to the next, at most
MIN_LENGTH = 6.0  # px: the direction of a shorter one says little
MAX_WANDER_PX = 0.5  # rms of a segment's points about its own line


@frozen(eq=False)
class Segments:
    """Straight pieces of lines, n of them; image frame of the level they were found on."""

    middle: NDArray[np.float64]  # (n, 2) px
    along: NDArray[np.float64]  # (n, 2) unit vectors
    length: NDArray[np.float64]  # (n,) px

    def __len__(self) -> int:
        return len(self.length)

    def keep(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> "Segments":
        """The chosen segments."""
        return Segments(self.middle[chosen], self.along[chosen], self.length[chosen])


def find_segments(ridges: Ridges, dark: bool) -> Segments:
    """The segments of one polarity."""
    chosen = ridges.dark == dark
    points = ridges.points[chosen]
    if not len(points):
        return Segments(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0))
    labels = _runs(ridges.pixels[chosen], ridges.along_deg[chosen])
    count = np.bincount(labels).astype(float)

    def mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(np.bincount(labels, values) / count)

    middle = np.column_stack([mean(points[:, 0]), mean(points[:, 1])])
    dx, dy = (points - middle[labels]).T
    xx, xy, yy = mean(dx * dx), mean(dx * dy), mean(dy * dy)
    turn = 0.5 * np.arctan2(2 * xy, xx - yy)
    half_sum, root = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    length = np.sqrt(12 * (half_sum + root))  # of an evenly filled line with that spread
    wander = np.sqrt(np.maximum(half_sum - root, 0))
    along = np.column_stack([np.cos(turn), np.sin(turn)])
    straight = (length >= MIN_LENGTH) & (wander <= MAX_WANDER_PX)
    return Segments(middle, along, length).keep(straight)


def _runs(pixels: NDArray[np.intp], along_deg: NDArray[np.float64]) -> NDArray[np.intp]:
    """Which run each ridge point belongs to: neighbours that run the same way are joined."""
    width = int(pixels[:, 0].max()) + 2 * BRIDGE + 1
    place = pixels[:, 1] * width + pixels[:, 0]
    order = np.argsort(place)
    ordered = place[order]
    pairs = []
    for y in range(BRIDGE + 1):
        for x in range(-BRIDGE, BRIDGE + 1):
            if (y, x) <= (0, 0):
                continue
            wanted = ordered + y * width + x
            found = np.minimum(np.searchsorted(ordered, wanted), len(ordered) - 1)
            here = np.flatnonzero(ordered[found] == wanted)
            pairs.append(np.column_stack([order[here], order[found[here]]]))
    first, second = np.concatenate(pairs).T
    turned = np.abs((along_deg[first] - along_deg[second] + 90) % 180 - 90)
    first, second = first[turned <= BEND_DEG], second[turned <= BEND_DEG]
    graph = coo_array((np.ones(len(first), dtype=bool), (first, second)), shape=(len(pixels), len(pixels)))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.intp)
