"""Where the straight grain of a patch runs.

Straight grain belongs on the block's outer edges; half-square triangles then have it on the legs, quarter-square
triangles on the long side. Inside the block it runs along the block's sides where a patch has such an edge, else
along the patch's longest edge (common practice, no source).
"""

from collections.abc import Sequence

import numpy as np

from seamsurvey.foundation.corners import SNAP_MM
from seamsurvey.geometry import Points, edge_lengths, edge_vectors, moved
from seamsurvey.model import Place

PARALLEL_DEG = 0.5  # directions nearer than this are one; no eye sees it, and cloth moves more


def grain_deg(
    outline: Points, block_outline: Points, places: Sequence[Place], bulges: Sequence[float] = ()
) -> float:
    """Direction (degrees, 0 <= g < 180) of a patch's straight grain, block frame, at its section's first place.

    ``outline`` is (n, 2) mm at the first place; ``places`` are all places of its section. The grain of a patch
    follows none of its arcs (``bulges``) where it has a straight edge.
    """
    along, lengths = edge_vectors(outline), edge_lengths(outline)
    directions = np.degrees(np.arctan2(along[:, 1], along[:, 0]))
    outer = np.zeros(len(outline), dtype=bool)
    for place in places:
        outer |= _on_outline(moved(outline, place.turn_deg, place.shift_mm), block_outline)
    sides = edge_vectors(block_outline)
    side = float(np.degrees(np.arctan2(*sides[int(np.argmax(edge_lengths(block_outline)))][::-1])))
    off = np.abs((directions - side + 45) % 90 - 45)
    rank = np.where(outer, 2, np.where(off <= PARALLEL_DEG, 1, 0))
    rank = np.where(np.asarray(bulges, dtype=bool), -1, rank) if any(bulges) else rank
    best = max(range(len(outline)), key=lambda k: (rank[k], round(float(lengths[k]), 2), -k))
    grain = round(float(directions[best]) % 180, 4)
    return 0.0 if grain >= 180 - 1e-4 else grain


def _on_outline(outline: Points, around: Points) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """(n,): whether each edge lies along the block's outline."""
    result = np.zeros(len(outline), dtype=bool)
    for start, end in zip(around, np.roll(around, -1, axis=0), strict=True):
        along = (end - start) / np.hypot(*(end - start))
        aside = np.abs((outline - start) @ np.array([-along[1], along[0]])) <= 4 * SNAP_MM
        result |= aside & np.roll(aside, -1)
    return result
