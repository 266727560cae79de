"""Combs seen at a slant: marks whose places follow a perspective, grown from a chain of neighbours.

The next marks are predicted from the last ones found; the whole is then laid into the frame of a flat ruler
(`edge_frame`), and every stroke that stands in the frame where a mark should is gathered, broken ones mended.
Nothing here knows a unit.
"""

from collections.abc import Iterator

import numpy as np
from attrs import evolve, frozen
from numpy.typing import NDArray

from seamsurvey.photo.chains import SHORT_TURN_PX, feet_of, find_chains
from seamsurvey.photo.edge_frame import EdgeFrame, MarkLines, Sight, fit_frame
from seamsurvey.photo.growth import FOOT_PX, FOOT_SHARE, PLACE_PX, TURN_DEG, grown
from seamsurvey.photo.segments import CORRELATED_POINTS, Segments

MIN_MARKS = 20  # two centimetres, or an inch and a quarter in sixteenths: less of a ruler gives no scale
SEED_MARKS = 12  # of one side of what covers a ruler: the other side's are looked for from there
MAX_CHAINS = 40  # of one polarity, the longest: a mat under the ruler has hundreds
PLACE_SHARES = (0.12, 0.25)  # of a step: a mark's place is good to no less, and to no more
WORN_SHARE = 0.6  # of the usual length: a mark may begin this far inside the edge
BROKEN_PX = 6.0  # a gap no longer than this, along one line, is a speck or a scratch across a mark
TAKEN_SHARE = 0.3  # of a chain already part of a comb: it is not followed again
BEYOND_SHARE = 0.8  # of the comb's length: a round looks this far beyond its ends, over what covers the ruler
PRESENT_WINDOW = 12  # steps, over which
MIN_PRESENT = 0.6  # of the marks are there
LONGEST_SHARE = 6.0  # of the usual length: a longer mark is a clear ruler's grid line; it counts as so long
STRAY = 5.0  # robust sigmas from the frame, beyond which a stroke is no mark of this comb,
STRAY_PX = 0.25  # and at least so many px
LEAST_WANDER_PX = 0.1  # no stroke is trusted to be straighter: the ridge of a sampled line wavers so much


@frozen(eq=False)
class SlantComb:
    """Evenly graduated marks along one edge, px of the level they were found on.

    Mark i is number ``index[i]``; its line passes the edge at ``feet[i]``, and is seen from ``nears[i]`` to
    ``fars[i]``. Numbers ascend so that, seen with y up, the marks run to the left.
    """

    index: NDArray[np.intp]  # (n,) ascending
    feet: NDArray[np.float64]  # (n, 2)
    nears: NDArray[np.float64]  # (n, 2)
    fars: NDArray[np.float64]  # (n, 2)
    anchors: NDArray[np.float64]  # (n, 2, 2) two points on the mark's line whose errors are independent
    anchor_sigma: NDArray[np.float64]  # (n,) px, one standard deviation of each, square to the mark
    lengths: NDArray[np.float64]  # (n,) px at the comb's middle, perspective taken off
    residuals: NDArray[np.float64]  # (n,) px along the edge, from the frame
    strength: float  # median contrast of the marks
    frame: EdgeFrame
    step: float  # px at the comb's middle
    dark: bool

    def places(self, numbers: NDArray[np.float64], inward: NDArray[np.float64]) -> NDArray[np.float64]:
        """(..., 2) px of places given by number and by px (at the comb's middle) inward from the edge."""
        flat = np.column_stack([numbers.ravel(), inward.ravel() / self.step])
        return self.frame.places(flat).reshape(*numbers.shape, 2)

    def scaled(self, factor: int) -> "SlantComb":
        """The same comb in the pixels of a picture ``factor`` times as fine (pixel centres are integers)."""
        shift = (factor - 1) / 2
        places, sizes = ("feet", "nears", "fars", "anchors"), ("anchor_sigma", "lengths", "residuals", "step")
        return evolve(
            self,
            frame=self.frame.scaled(factor),
            **{name: getattr(self, name) * factor + shift for name in places},
            **{name: getattr(self, name) * factor for name in sizes},
        )


def find_slant_combs(segments: Segments, dark: bool, sight: Sight) -> Iterator[SlantComb]:
    """Every comb among the strokes."""
    if not len(segments):
        return
    feet = feet_of(segments)
    taken = np.zeros(len(feet.places), dtype=bool)
    for chain in find_chains(feet)[:MAX_CHAINS]:
        if np.mean(taken[chain]) > TAKEN_SHARE:
            continue
        index, rows = grown(chain, feet)
        taken[rows] = True
        if len(rows) < SEED_MARKS:
            continue
        lines = MarkLines(index, feet.places[rows], feet.ways[rows], _way_precision(segments)[rows % len(segments)])
        found = _gathered(lines, segments, sight)
        if found is not None and len(found[0].index) >= MIN_MARKS:
            comb = _without_strays(_comb(*found, segments, dark))
            taken[_near_feet(comb, feet.places)] = True
            yield comb


@frozen(eq=False)
class _Marks:
    index: NDArray[np.intp]  # (n,) ascending
    longest: NDArray[np.intp]  # (n,) the longest stroke of each mark
    begin: NDArray[np.float64]  # (n,) height over the edge, in steps
    end: NDArray[np.float64]  # (n,)


def _gathered(lines: MarkLines, segments: Segments, sight: Sight) -> tuple[_Marks, EdgeFrame] | None:
    """All strokes that are marks of the comb begun by ``lines``, and the frame they stand in."""
    frame = fit_frame(lines, sight)
    known = -1
    while True:
        marks = _gather(frame, segments)
        if marks is None:
            return None
        frame = fit_frame(_lines(marks, segments, frame), sight)
        if len(marks.index) <= known:
            return marks, frame
        known = len(marks.index)


def _gather(frame: EdgeFrame, segments: Segments) -> _Marks | None:
    """The strokes that stand where marks should, one or more to a mark."""
    low, high = segments.ends
    # Only what lies in the band of the marks is mapped: beyond the horizon the frame says nothing.
    first, last = frame.first, frame.last
    beyond = max(BEYOND_SHARE * (last - first), 4.0)
    a, b = frame.numbers(low), frame.numbers(high)
    swap = a[:, 1] > b[:, 1]
    a[swap], b[swap] = b[swap].copy(), a[swap].copy()
    rise = b[:, 1] - a[:, 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        at_edge = a[:, 0] - a[:, 1] * (b[:, 0] - a[:, 0]) / rise
    step = frame.step_at((first + last) / 2)
    whole = np.rint(at_edge)
    tolerance = float(np.clip(PLACE_PX / step, *PLACE_SHARES))
    inside = (whole >= np.floor(first - beyond)) & (whole <= np.ceil(last + beyond))
    upright = np.abs(b[:, 0] - a[:, 0]) <= rise * np.tan(np.radians(TURN_DEG)) + SHORT_TURN_PX / step
    near = inside & upright & (np.abs(a[:, 0] - whole) <= tolerance) & (np.abs(at_edge - whole) <= 2 * tolerance)
    begun = near & (whole >= first) & (whole <= last) & (np.abs(a[:, 1]) <= FOOT_PX / step)
    if begun.sum() < SEED_MARKS:
        return None
    usual = float(np.median(b[begun, 1]))
    scatter = max(FOOT_PX / step, FOOT_SHARE * usual)
    near &= (a[:, 1] >= -scatter) & (b[:, 1] > 0.1 * usual)
    kept: list[tuple[int, int, float, float]] = []
    candidates = np.flatnonzero(near)
    candidates = candidates[np.lexsort((a[candidates, 1], whole[candidates]))]
    if not len(candidates):
        return None
    for run in np.split(candidates, np.flatnonzero(np.diff(whole[candidates])) + 1):
        if a[run[0], 1] > max(WORN_SHARE * usual, scatter):
            continue
        longest, end = run[0], b[run[0], 1]
        for part in run[1:]:
            if a[part, 1] > end + BROKEN_PX / step:
                break
            end = max(end, b[part, 1])
            if rise[part] > rise[longest]:
                longest = part
        kept.append((int(whole[longest]), int(longest), float(a[run[0], 1]), float(end)))
    index = np.array([item[0] for item in kept], dtype=np.intp)
    chosen = _present(index)
    if chosen.sum() < SEED_MARKS:
        return None
    return _Marks(
        index[chosen],
        np.array([item[1] for item in kept], dtype=np.intp)[chosen],
        np.array([item[2] for item in kept])[chosen],
        np.array([item[3] for item in kept])[chosen],
    )


def _present(index: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Which numbers lie between the first and the last stretch in which most marks are there."""
    there = np.zeros(index[-1] - index[0] + 1)
    there[index - index[0]] = 1
    window = min(PRESENT_WINDOW, len(there))
    share = np.convolve(there, np.ones(window) / window, mode="valid")
    good = np.flatnonzero(share >= MIN_PRESENT)
    if not len(good):
        return np.zeros(len(index), dtype=bool)
    first, last = index[0] + good[0], index[0] + good[-1] + window - 1
    return np.asarray((index >= first) & (index <= last))


def _lines(marks: _Marks, segments: Segments, frame: EdgeFrame) -> MarkLines:
    """The line of each mark, from where it begins."""
    begin = frame.places(np.column_stack([marks.index, marks.begin]))
    inward = frame.places(np.column_stack([marks.index, marks.begin + 1.0])) - begin
    way = segments.way[marks.longest]
    way = way * np.where(np.sum(way * inward, axis=1) < 0, -1.0, 1.0)[:, None]
    middle = segments.middle[marks.longest]
    along = np.sum((begin - middle) * way, axis=1)
    return MarkLines(marks.index, middle + along[:, None] * way, way, _way_precision(segments)[marks.longest])


def _way_precision(segments: Segments) -> NDArray[np.float64]:
    """(n,) one over the standard deviation of each stroke's direction, per radian."""
    wander = np.maximum(segments.wander, LEAST_WANDER_PX)
    free = np.maximum(segments.count / CORRELATED_POINTS, 1.0)
    return np.asarray(np.sqrt(segments.spread * free) / wander)


def _comb(marks: _Marks, frame: EdgeFrame, segments: Segments, dark: bool) -> SlantComb:
    strokes = segments.keep(marks.longest)
    way = _lines(marks, segments, frame).ways
    longest = LONGEST_SHARE * float(np.median(marks.end))
    end = np.minimum(marks.end, longest)
    edge = frame.places(np.column_stack([marks.index, np.zeros(len(marks.index))]))
    feet = strokes.middle + np.sum((edge - strokes.middle) * way, axis=1)[:, None] * way
    turned = np.sum(strokes.way * way, axis=1) < 0
    low = np.where(turned, -strokes.high, strokes.low)
    high = np.where(turned, -strokes.low, strokes.high)
    # Of a fitted line, the points one standard deviation of its points to either side err independently.
    side = np.sqrt(strokes.spread)[:, None] * way
    wander = np.maximum(strokes.wander, LEAST_WANDER_PX)
    free = np.maximum(strokes.count / CORRELATED_POINTS, 1.0)
    step = frame.step_at((marks.index[0] + marks.index[-1]) / 2)
    return SlantComb(
        index=marks.index,
        feet=feet,
        nears=strokes.middle + low[:, None] * way,
        fars=strokes.middle + high[:, None] * way,
        anchors=np.stack([strokes.middle - side, strokes.middle + side], axis=1),
        anchor_sigma=wander * np.sqrt(2 / free),
        lengths=(end - np.minimum(marks.begin, 0.0)) * step,
        residuals=(frame.numbers(feet)[:, 0] - marks.index) * step,
        strength=float(np.median(strokes.strength)),
        frame=frame,
        step=step,
        dark=dark,
    )


def _without_strays(comb: SlantComb) -> SlantComb:
    """The comb without what stands where a mark should, but not as exactly as the others: a cover's edge, say."""
    off = [
        np.abs((comb.frame.numbers(anchors)[:, 0] - comb.index) * comb.step)
        for anchors in (comb.anchors[:, 0], comb.anchors[:, 1])
    ]
    miss = np.maximum(*off)
    good = miss <= max(STRAY * 1.4826 * float(np.median(miss)), STRAY_PX)
    names = ("index", "feet", "nears", "fars", "anchors", "anchor_sigma", "lengths", "residuals")
    return evolve(comb, **{name: getattr(comb, name)[good] for name in names})


def _near_feet(comb: SlantComb, feet: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which feet stand on the comb's edge, so that no chain of them is followed again."""
    numbers = comb.frame.numbers(feet)
    inside = (numbers[:, 0] >= comb.index[0] - 0.5) & (numbers[:, 0] <= comb.index[-1] + 0.5)
    return np.asarray(inside & (np.abs(numbers[:, 1]) * comb.step <= FOOT_PX))
