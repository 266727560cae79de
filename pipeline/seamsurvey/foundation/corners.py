"""Which points are one, and which corners of an outline are none: where it runs straight on."""

from collections.abc import Sequence

import numpy as np

from seamsurvey.geometry import Points

# Corners nearer than this are one point, and a corner this near a straight line lies on it: well below the
# thinnest printed line (0.05 mm), well above the rounding of any file.
SNAP_MM = 0.01


def corners_only(polygon: Points) -> Points:
    """The (n, 2) polygon without repeated corners and without those where the outline runs straight on."""
    return polygon[_corners(polygon, ())]


def without_straight_corners(outline: Points, bulges: Sequence[float]) -> tuple[Points, tuple[float, ...]]:
    """An outline with arcs without the corners between straight edges at which it runs straight on."""
    if not any(bulges):
        return corners_only(outline), ()
    kept = _corners(outline, bulges)
    return outline[kept], tuple(bulges[k] for k in kept)


def _corners(polygon: Points, bulges: Sequence[float]) -> list[int]:
    kept = list(range(len(polygon)))
    changed = True
    while changed and len(kept) > 3:
        changed = False
        for place, k in enumerate(kept):
            before, after = polygon[kept[place - 1]], polygon[kept[(place + 1) % len(kept)]]
            if bulges and (bulges[k] or bulges[kept[place - 1]]):
                continue
            if straight_on(before, polygon[k], after):
                del kept[place]
                changed = True
                break
    return kept


def straight_on(before: Points, here: Points, after: Points) -> bool:
    """Whether the way from one point to another runs straight on at a third between them."""
    chord, step = after - before, here - before
    length = float(np.hypot(*chord))
    if min(length, float(np.hypot(*step))) <= SNAP_MM:
        return True
    return (
        abs(float(chord[0] * step[1] - chord[1] * step[0])) <= SNAP_MM * length
        and 0 < float(step @ chord) < length**2
    )
