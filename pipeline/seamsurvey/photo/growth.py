"""Growing a chain along its ruler: the next marks are predicted from the last ones found."""

import numpy as np
from numpy.typing import NDArray

from seamsurvey.photo.chains import SHORT_TURN_PX, Feet

AHEAD_SHARE = 0.25  # of the marks found so far: so many more are predicted at once
WINDOW = 40  # marks from which the next ones are predicted: their distances follow a parabola closely
CURVED_SPAN = 16  # numbers over which a parabola is seen in the distances,
CURVED_EDGE = 30  # and in the edge
PLACE_SHARE = 0.18  # of a step, by which a mark may miss its predicted place
PLACE_PX = 1.0  # or this, where the steps are long
TURN_DEG = 4.0  # by which it may miss the predicted direction,
FOOT_PX = 3.0  # marks' feet scatter by this much along them,
FOOT_SHARE = 0.2  # or by this share of the usual length
NEAREST = 6  # feet looked at for each mark predicted


def grown(chain: NDArray[np.intp], feet: Feet) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Numbers and rows (of the feet) of the marks that follow one another from the chain, to both sides."""
    index, rows = np.arange(len(chain)), chain
    sides = [1, -1]
    while sides:
        number, row = _next_marks(index, rows, sides[0], feet)
        if not len(number):
            sides.pop(0)
            continue
        order = np.argsort(np.concatenate([index, number]))
        index = np.concatenate([index, number])[order]
        rows = np.concatenate([rows, row])[order]
    return index, rows


def _next_marks(
    index: NDArray[np.intp], rows: NDArray[np.intp], side: int, feet: Feet
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The marks just beyond one end, as predicted from those before it."""
    part = slice(-WINDOW, None) if side > 0 else slice(None, WINDOW)
    k, some = index[part], rows[part]
    way = np.mean(feet.ways[some], axis=0)
    way /= np.hypot(*way)
    origin = feet.places[some[0]]
    edge = feet.places[some[-1]] - origin
    step = float(np.hypot(*edge)) / max(k[-1] - k[0], 1)
    # Along the edge and along the marks: a foot's scatter along its mark is none along the edge.
    basis = np.column_stack([edge / np.hypot(*edge), way])
    into = np.linalg.inv(basis)
    u, w = into @ (feet.places[some] - origin).T
    along = np.polynomial.Polynomial.fit(k, u, 2 if np.ptp(k) >= CURVED_SPAN else 1)
    inward = np.polynomial.Polynomial.fit(k, w, 2 if np.ptp(k) >= CURVED_EDGE else 1)
    ahead = max(3, int(AHEAD_SHARE * len(k)))
    number = (k[-1] if side > 0 else k[0]) + side * np.arange(1, ahead + 1)
    reach = max(FOOT_PX, FOOT_SHARE * float(np.median(feet.lengths[some])))
    expected = np.column_stack([along(number), inward(number)]) @ basis.T + origin
    distance, near = feet.tree.query(
        expected, k=min(NEAREST, len(feet.places)), distance_upper_bound=1.5 * reach + 1
    )
    there = np.isfinite(distance)
    near = np.where(there, near, 0)
    off = (feet.places[near] - expected[:, None, :]) @ into.T
    turn = np.abs(way[0] * feet.ways[near][..., 1] - way[1] * feet.ways[near][..., 0])
    slack = np.sin(np.radians(TURN_DEG)) + SHORT_TURN_PX / feet.lengths[near]
    tolerance = max(PLACE_SHARE * step, min(PLACE_PX, 0.25 * step))
    good = there & (np.abs(off[..., 0]) <= tolerance) & (np.abs(off[..., 1]) <= reach)
    good &= (feet.ways[near] @ way > 0) & (turn <= slack)
    miss = np.where(good, np.abs(off[..., 0]) / tolerance + np.abs(off[..., 1]) / reach, np.inf)
    best = np.argmin(miss, axis=1)
    found = np.isfinite(miss[np.arange(ahead), best])
    return number[found], near[np.arange(ahead), best][found]
