"""Sorting places and lengths so that floating-point noise never decides."""

from collections.abc import Sequence

import numpy as np

from seamsurvey.geometry import Points

# Values nearer than this are one value when things are put in order: far above rounding, far below any patch.
SAME_MM = 0.05


def ranks(values: Sequence[float], tolerance: float = SAME_MM) -> list[int]:
    """Rank of each value, 0 = least; values within ``tolerance`` of their neighbour in size share a rank."""
    result = [0] * len(values)
    rank, last = 0, None
    for index in sorted(range(len(values)), key=lambda i: values[i]):
        if last is not None and values[index] - last > tolerance:
            rank += 1
        result[index], last = rank, values[index]
    return result


def reading_order(points: Points) -> list[int]:
    """Indices of (n, 2) points, mm, block frame, as one reads a page: rows from the top, each from the left."""
    rows, columns = ranks([-float(y) for y in points[:, 1]]), ranks([float(x) for x in points[:, 0]])
    return sorted(range(len(points)), key=lambda i: (rows[i], columns[i], i))


def reading_order_of(outlines: Sequence[Points]) -> list[int]:
    """Indices of outlines, by the reading order of the middles of their corners."""
    return reading_order(np.array([outline.mean(axis=0) for outline in outlines]))
