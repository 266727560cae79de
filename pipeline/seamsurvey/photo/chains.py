"""Chains: neighbouring strokes side by side at even distances, where a ruler seen at a slant may show itself.

A perspective changes the distance of a ruler's marks little from one to the next, so a few in a row look as evenly
spaced as on a scan. A chain is only where the search for a comb begins.
"""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from seamsurvey.photo.segments import Segments

NEIGHBOURS = 16  # strokes' ends looked at round each
SAME_WAY_DEG = 8.0  # two neighbouring marks run the same way
SHORT_TURN_PX = 1.0  # and a short stroke's direction is off by this over its length
# A right angle on a table seen at 35° is off by 11° in the middle of the picture, by twice that in its corners.
LEAN = 0.5  # tangent of the angle between the marks and the square to their edge
FOOT_SCATTER_PX = 2.5  # ends of strokes scatter by this much along them
LEAST_STEP_PX = 3.0
UNEVEN = 0.12  # share of a step by which two neighbouring distances differ, at most
UNEVEN_PX = 0.6
LEAST_CHAIN = 5  # marks: of a worn ruler no more may stand side by side


@frozen(eq=False)
class Feet:
    """Both ends of every stroke, as places where a mark may begin; rows i and n + i are the ends of stroke i."""

    places: NDArray[np.float64]  # (2n, 2) px
    ways: NDArray[np.float64]  # (2n, 2) unit vector, the way the stroke runs from there
    lengths: NDArray[np.float64]  # (2n,) px
    tree: cKDTree


def feet_of(segments: Segments) -> Feet:
    """The ends of at least one stroke."""
    places = np.vstack(segments.ends)
    ways = np.vstack([segments.way, -segments.way])
    return Feet(places, ways, np.tile(segments.length, 2), cKDTree(places))


def find_chains(feet: Feet) -> list[NDArray[np.intp]]:
    """Rows of the feet that begin evenly spaced neighbouring strokes, longest chains first.

    Seen with y up, the marks run to the left of the way their numbers ascend.
    """
    after = _neighbours(feet)
    gap = np.full(len(after), np.nan)
    linked = after >= 0
    offset = feet.places[after[linked]] - feet.places[linked]
    gap[linked] = np.abs(_cross(feet.ways[linked], offset))
    # A link holds on while the distances stay even.
    chains = []
    starts = np.ones(len(after), dtype=bool)
    starts[after[linked]] = False
    seen = np.zeros(len(after), dtype=bool)
    for start in np.concatenate([np.flatnonzero(starts & linked), np.flatnonzero(linked & ~starts)]):
        run: list[int] = []
        here = int(start)
        while here >= 0 and not seen[here]:
            if len(run) >= 2 and abs(gap[run[-1]] - gap[run[-2]]) > max(UNEVEN * gap[run[-2]], UNEVEN_PX):
                chains.append(np.array(run, dtype=np.intp))
                run = run[-1:]
            run.append(here)
            seen[here] = True
            here = int(after[here])
        chains.append(np.array(run, dtype=np.intp))
    chains = [chain for chain in chains if len(chain) >= LEAST_CHAIN]
    return sorted(chains, key=len, reverse=True)


def _neighbours(feet: Feet) -> NDArray[np.intp]:
    """(2n,) the next foot on the right of each, where each is the other's nearest; -1 where there is none."""
    ways, length = feet.ways, feet.lengths
    near = np.asarray(feet.tree.query(feet.places, k=min(NEIGHBOURS, len(ways)))[1])
    offset = feet.places[near] - feet.places[:, None, :]
    across = ways[:, None, 0] * offset[..., 1] - ways[:, None, 1] * offset[..., 0]
    along = np.abs(np.sum(ways[:, None, :] * offset, axis=2))
    turn = np.abs(ways[:, None, 0] * ways[near][..., 1] - ways[:, None, 1] * ways[near][..., 0])
    slack = np.sin(np.radians(SAME_WAY_DEG)) + SHORT_TURN_PX * (1 / length[:, None] + 1 / length[near])
    good = (np.sum(ways[:, None, :] * ways[near], axis=2) > 0) & (turn <= slack)
    good &= (np.abs(across) >= LEAST_STEP_PX) & (along <= FOOT_SCATTER_PX + LEAN * np.abs(across))
    result = []
    rows = np.arange(len(ways))
    for side in (1.0, -1.0):
        distance = np.where(good & (side * across > 0), np.abs(across), np.inf)
        nearest = np.argmin(distance, axis=1)
        result.append(np.where(np.isfinite(distance[rows, nearest]), near[rows, nearest], -1))
    right, left = result
    return np.where((right >= 0) & (left[right] == rows), right, -1)


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
