"""Whether a layout is sewn in straight seams alone: it falls apart by cuts from side to side, again and again."""

import numpy as np

from seamsurvey.block.search import Layout


def falls_apart(layout: Layout, near: float) -> bool:
    """Whether cuts along its seams, each straight through what it cuts, part a layout into its pieces.

    Sewn back the other way round, no seam is set in and none is sewn part-way. Corners within ``near`` mm of a cut
    lie on it.
    """
    at = np.array(layout.at)
    rings = [at[list(corners)] for _, _, corners in layout.pieces]
    waiting = [list(range(len(rings)))]
    while waiting:
        some = waiting.pop()
        if len(some) > 1:
            sides = cut_apart([rings[k] for k in some], near)
            if sides is None:
                return False
            waiting += [
                [k for k, side in zip(some, sides, strict=True) if side == which] for which in (False, True)
            ]
    return True


def cut_apart(rings: list[np.ndarray], near: float) -> list[bool] | None:
    """On which side of a straight cut each piece lies, of an upright or level one if there is; None without any."""
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1) for ring in rings])
    turns = ((ends - starts) / np.abs(ends - starts)).conjugate()
    offsets = ((starts[None, :] - starts[:, None]) * turns[:, None]).imag  # of each corner from each edge's line
    bounds = np.cumsum([0, *(len(ring) for ring in rings)])[:-1]
    low, high = np.minimum.reduceat(offsets, bounds, axis=1), np.maximum.reduceat(offsets, bounds, axis=1)
    left, right = low >= -near, high <= near
    # A piece as slim as `near` may lie on both sides: it goes to the left, and must leave one on the right.
    able = (left | right).all(axis=1) & left.any(axis=1) & ~left.all(axis=1)
    lines = np.flatnonzero(able)
    if not len(lines):
        return None
    slant = np.minimum(np.abs(turns.real), np.abs(turns.imag))[lines]
    return [bool(side) for side in left[lines[int(np.argmin(np.round(slant, 6)))]]]
