"""Even spacing: which of many places on a line are numbered steps of one length."""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

MIN_STEP_PX = 3.5  # closer lines run into one another before they are found
SAME_PX = 1.5  # two places this close are one mark, broken
STEP_SHARE = 0.15  # a mark lies within this share of a step of its place (an engraved mark: far closer)
RUN = 4  # steps in a row a comb is begun with
MIN_MARKS = 20
MIN_PRESENT = 0.6  # of the marks a comb should have, where it is
PRESENT_WINDOW = 24  # steps over which the presence is judged
GROWTH = 1.5  # a comb is followed this much further in each round
BEND_MARKS = 15  # from so many on, a comb may bend (a photo taken at a slant must be told from a scan)
HALF_SHARE = 0.3  # more than so many marks halfway between the steps: the step is half as long
ODD_SHARE = 0.35  # fewer than so many odd marks present beside the even ones: it is twice as long


@frozen(eq=False)
class Spacing:
    """Evenly spaced members of a list of places."""

    members: NDArray[np.intp]  # (n,) which places, in ascending order along the line
    index: NDArray[np.intp]  # (n,) the number of each, ascending, the first one 0


def even_spacing(places: NDArray[np.float64]) -> Spacing | None:
    """The longest evenly spaced run among ``places`` ((n,), px, in any order), or None when there is none.

    A few may be missing, several in a row too, and others may lie between; the comb and those of half and of
    double the step are all tried.
    """
    order = np.argsort(places)
    ordered = places[order]
    distinct = np.concatenate([[True], np.diff(ordered) > SAME_PX])
    order, ordered = order[distinct], ordered[distinct]
    if len(ordered) < MIN_MARKS:
        return None
    begun = _begin(ordered)
    if begun is None:
        return None
    start, step = begun
    for _ in range(4):
        followed = _follow(ordered, start, step)
        if followed is None:
            return None
        members, index = followed
        step = float(np.polyfit(index, ordered[members], 1)[0])
        between = _between(ordered, members, index)
        if between > HALF_SHARE and step / 2 >= MIN_STEP_PX:
            step /= 2
            continue
        odd = float(np.mean(index % 2 == 1))
        if min(odd, 1 - odd) < ODD_SHARE / (1 + ODD_SHARE) and _dense(index):
            step *= 2
            start = int(members[np.flatnonzero(index % 2 == (odd > 0.5))[len(index) // 4]])
            continue
        break
    members, index = _present_part(members, index)
    if len(members) < MIN_MARKS:
        return None
    return Spacing(order[members], index - index[0])


def _begin(ordered: NDArray[np.float64]) -> tuple[int, float] | None:
    """A place in the middle of a run of equal distances, and that distance."""
    gaps = np.diff(ordered)
    fit = gaps[gaps >= MIN_STEP_PX]
    if len(fit) < RUN:
        return None
    support = np.array([np.sum(np.abs(fit - gap) <= 0.06 * gap) for gap in np.unique(np.round(fit, 1))])
    step = float(np.unique(np.round(fit, 1))[int(np.argmax(support))])
    step = float(np.median(fit[np.abs(fit - step) <= 0.08 * step]))
    even = (np.abs(gaps - step) <= 0.12 * step).astype(int)
    run = np.convolve(even, np.ones(RUN, dtype=int), mode="valid")
    if not len(run) or run.max() < RUN:
        return None
    best = np.flatnonzero(run == run.max())
    middle = int(best[len(best) // 2])
    stretch = ordered[middle : middle + RUN + 1]
    return middle + RUN // 2, float((stretch[-1] - stretch[0]) / RUN)


def _follow(
    ordered: NDArray[np.float64], start: int, step: float
) -> tuple[NDArray[np.intp], NDArray[np.intp]] | None:
    """Members and their index numbers, found by following the comb outwards from place ``start``."""
    fit = np.polynomial.Polynomial([0.0, 1 / step])  # from the distance to the start to the index
    away = ordered - ordered[start]
    reach = (RUN / 2 + 1) * step
    members = np.zeros(0, dtype=np.intp)
    numbers = np.zeros(0, dtype=np.intp)
    while True:
        near = np.flatnonzero(np.abs(away) <= reach)
        value = fit(away[near])
        whole = np.rint(value)
        good = np.abs(value - whole) <= STEP_SHARE
        members, numbers = near[good], whole[good].astype(np.intp)
        members, numbers = _nearest_only(members, numbers, fit(away[members]))
        if len(members) < RUN - 1:
            return None
        degree = 2 if len(members) >= BEND_MARKS else 1
        fit = np.polynomial.Polynomial.fit(away[members], numbers, degree).convert()
        if reach > np.abs(away).max():
            break
        reach *= GROWTH
    return (members, numbers) if len(members) >= MIN_MARKS else None


def _nearest_only(
    members: NDArray[np.intp], numbers: NDArray[np.intp], value: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """One member for each number: the one nearest to its place."""
    order = np.lexsort((np.abs(value - numbers), numbers))
    first = np.concatenate([[True], np.diff(numbers[order]) > 0]) if len(order) else np.zeros(0, dtype=bool)
    kept = order[first]
    return members[kept], numbers[kept]


def _between(ordered: NDArray[np.float64], members: NDArray[np.intp], index: NDArray[np.intp]) -> float:
    """The share of neighbouring marks that have another place halfway between them."""
    left, right = members[:-1], members[1:]
    neighbours = np.diff(index) == 1
    middle = (ordered[left] + ordered[right]) / 2
    slack = 0.1 * (ordered[right] - ordered[left])
    inside = np.searchsorted(ordered, middle + slack) - np.searchsorted(ordered, middle - slack) > 0
    return float(np.mean(inside[neighbours])) if neighbours.any() else 0.0


def _dense(index: NDArray[np.intp]) -> bool:
    """Whether the marks of one parity are nearly all there, so that the other's absence means something."""
    span = index[-1] - index[0] + 1
    return bool(len(index) >= 0.4 * span)


def _present_part(members: NDArray[np.intp], index: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The part of the comb between the first and the last stretch in which most marks are present."""
    there = np.zeros(index[-1] - index[0] + 1)
    there[index - index[0]] = 1
    window = min(PRESENT_WINDOW, len(there))
    share = np.convolve(there, np.ones(window) / window, mode="valid")
    good = np.flatnonzero(share >= MIN_PRESENT)
    if not len(good):
        return members[:0], index[:0]
    first, last = index[0] + good[0], index[0] + good[-1] + window - 1
    inside = (index >= first) & (index <= last)
    return members[inside], index[inside]
