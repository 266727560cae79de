"""Marks: the strokes of a comb, mended where they are broken or worn at the graduated edge."""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.photo.strokes import Strokes

BROKEN_PX = 6.0  # a gap no longer than this, along one line, is a speck or a scratch across a mark
WORN_SHARE = 0.6  # of the usual length: a mark may begin this far inside the edge
STRAY_PX = 1.0  # a stroke this near to a mark's place belongs to it,
STRAY_SHARE = 0.1  # or this share of a step
ALIGNED_PX = 4.0  # ends of marks scatter by this much about the edge's line, at the least
ALIGNED_SHARE = 0.12  # or by this share of the marks' usual length, on worn edges


@frozen(eq=False)
class Marks:
    """One line for each number of a comb, in the strokes' turned frame (u across, v along the marks)."""

    index: NDArray[np.intp]  # (n,) ascending
    middle_u: NDArray[np.float64]  # (n,)
    middle_v: NDArray[np.float64]  # (n,)
    slope: NDArray[np.float64]  # (n,)
    weight: NDArray[np.float64]  # (n,) of the slope
    start: NDArray[np.float64]  # (n,) v of the end at the graduated edge
    far: NDArray[np.float64]  # (n,) v of the other end


def gather(strokes: Strokes, members: Strokes, index: NDArray[np.intp], upper: bool) -> Marks:
    """The marks of a comb begun by ``members`` (n of them, numbered ``index``), out of all ``strokes``.

    A broken mark's parts become one; a mark that is worn at the edge, and so no member yet, is taken in.
    ``upper`` tells that the edge lies at the marks' larger v.
    """
    sign = -1.0 if upper else 1.0
    begin, end = (members.high, members.low) if upper else (members.low, members.high)
    slope = float(np.average(members.slope, weights=members.slope_weight))
    edge = np.polynomial.Polynomial.fit(members.middle_u, begin, 1)
    usual = float(np.median(np.abs(end - begin)))

    def at_edge(some: Strokes) -> NDArray[np.float64]:
        return np.asarray(some.middle_u + slope * (edge(some.middle_u) - some.middle_v))

    number = np.polynomial.Polynomial.fit(at_edge(members), index, 2)
    step = float((at_edge(members)[-1] - at_edge(members)[0]) / (index[-1] - index[0]))
    value = number(at_edge(strokes))
    whole = np.rint(value)
    level = edge(strokes.middle_u)
    depth = sign * ((strokes.high if upper else strokes.low) - level)
    reach = sign * ((strokes.low if upper else strokes.high) - level)
    near = np.abs(value - whole) <= min(max(STRAY_SHARE, STRAY_PX / step), 0.2)
    near &= (whole >= index[0]) & (whole <= index[-1])
    near &= (depth >= -max(ALIGNED_PX, ALIGNED_SHARE * usual)) & (reach > 0)

    candidates = np.flatnonzero(near)
    candidates = candidates[np.lexsort((depth[candidates], whole[candidates]))]
    runs = np.split(candidates, np.flatnonzero(np.diff(whole[candidates])) + 1) if len(candidates) else []
    kept: list[tuple[int, int, float, float]] = []
    for run in runs:
        if depth[run[0]] > WORN_SHARE * usual:
            continue
        longest, far = run[0], reach[run[0]]
        for part in run[1:]:
            if depth[part] > far + BROKEN_PX:
                break
            far = max(far, reach[part])
            if strokes.slope_weight[part] > strokes.slope_weight[longest]:
                longest = part
        kept.append((int(whole[longest]), int(longest), float(depth[run[0]]), float(far)))
    rows = np.array([longest for _, longest, _, _ in kept], dtype=np.intp)
    chosen = strokes.keep(rows)
    return Marks(
        index=np.array([number for number, _, _, _ in kept], dtype=np.intp),
        middle_u=chosen.middle_u,
        middle_v=chosen.middle_v,
        slope=chosen.slope,
        weight=chosen.slope_weight / np.maximum(chosen.wander, 0.05) ** 2,
        start=level[rows] + sign * np.array([depth for _, _, depth, _ in kept]),
        far=level[rows] + sign * np.array([far for _, _, _, far in kept]),
    )
