"""What a comb's marks may stand for, by the hierarchy of their lengths.

On a centimetre edge each tenth mark is longest and each fifth between; on an inch edge the lengths fall from the
inch to the half, the quarter, the eighth. A reading is a graduation and the place of its whole units on the comb.
"""

import itertools
import math
from collections.abc import Sequence

import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.optimize import isotonic_regression

from seamsurvey.units import INCH

MIN_UNITS = 2.0  # whole units a comb must span before its hierarchy counts
MIN_LENGTH_SIGMA_PX = 0.7  # ends of marks are found no better than this
END_LOSS_PX = 4.0  # a ridge ends this much before its mark does, both ends together (measured on drawn rulers)
LENGTH_SIGMA_SHARE = 0.025  # of the usual length
GROSS = 3.0  # sigmas beyond which a length is worn, broken or run into a figure, and counts no further
MIN_MATCH = 0.65  # of the marks must have the length their place asks for
MAX_MISFIT = 0.65  # of the lengths' variation may be left unexplained
MIN_RISE = 0.07  # a whole unit's mark is longer than the next by this share of it
EVERY_OTHER = 0.12  # every other whole unit's mark longer by this share: the halves were taken for wholes
BINARY = (8, 16, 32, 64)  # units divided by halving
MIN_PRESENT = 0.5  # of the marks of every level a graduation asks for
OWN_LENGTH = 0.2  # marks of a kind lie within this share of the difference of wholes and halves
ALIKE = 0.65  # for so many of them at least; the others are worn
FEW = 4  # of fewer than so many marks, all must be alike
NO_GAIN = 4.0  # in chi-squared: two sigmas
RIVAL_MARGIN = 16.0  # in chi-squared: four sigmas between a reading and its rival

# The usual length of the shortest marks, as ln-normal: centimetre and inch rulers alike have 2 to 4 mm there,
# since it is the eye that reads them (common practice, no source; measured on the rulers at hand 1.9 to 3.2 mm).
SHORT_MARK_MM = 3.0
SHORT_MARK_LN_SIGMA = 0.3


@frozen
class Graduation:
    """A way rulers are divided: level j holds the marks whose number is a multiple of ``levels[j]``."""

    text: str  # as a person would say it
    unit: str  # "inch" or "cm"
    step_mm: float
    levels: tuple[int, ...]  # in steps, the whole unit first, 1 last

    @property
    def per_unit(self) -> int:
        """Steps in a whole unit."""
        return self.levels[0]


GRADUATIONS = (
    Graduation("cm, 1 mm", "cm", 1.0, (10, 5, 1)),
    Graduation("cm, 1/2 mm", "cm", 0.5, (20, 10, 2, 1)),
    Graduation("inch, 1/8", "inch", INCH / 8, (8, 4, 2, 1)),
    Graduation("inch, 1/16", "inch", INCH / 16, (16, 8, 4, 2, 1)),
    Graduation("inch, 1/32", "inch", INCH / 32, (32, 16, 8, 4, 2, 1)),
    Graduation("inch, 1/64", "inch", INCH / 64, (64, 32, 16, 8, 4, 2, 1)),
    Graduation("inch, 1/10", "inch", INCH / 10, (10, 5, 1)),
    Graduation("inch, 1/20", "inch", INCH / 20, (20, 10, 2, 1)),
    Graduation("inch, 1/50", "inch", INCH / 50, (50, 25, 5, 1)),
)


@frozen(eq=False)
class Reading:
    """A graduation laid on a comb: mark ``index`` is a whole unit when (index - phase) % per_unit == 0."""

    graduation: Graduation
    phase: int
    chi_squared: float  # of the lengths, gross ones capped
    match: float  # share of the marks whose length fits their level
    short_steps: float  # length of the shortest level, in steps

    @property
    def credence(self) -> float:
        """Ln likelihood of the shortest marks' true length, were this reading right."""
        length = self.short_steps * self.graduation.step_mm
        return -0.5 * (math.log(length / SHORT_MARK_MM) / SHORT_MARK_LN_SIGMA) ** 2


def read_graduation(index: NDArray[np.intp], lengths: NDArray[np.float64], step: float) -> list[Reading]:
    """The readings that marks of these ``lengths`` ((n,) px) at ``index`` ((n,) ascending) allow, best first.

    ``step`` is px. Only readings that no other one beats clearly are returned; none when the lengths follow no
    hierarchy, or when two different periods explain them equally well.
    """
    span = int(index[-1] - index[0])
    floor = max(MIN_LENGTH_SIGMA_PX, LENGTH_SIGMA_SHARE * float(np.median(lengths)))
    if np.percentile(lengths, 97) - np.percentile(lengths, 50) < GROSS * floor:
        return []  # all of one length
    candidates = []
    for graduation in GRADUATIONS:
        # Graduations of the same levels differ in nothing that lengths can show.
        if span >= MIN_UNITS * graduation.per_unit:
            candidates += [_fit(index, lengths, graduation, phase) for phase in range(graduation.per_unit)]
    if not candidates:
        return []
    sigma = max(floor, min(1.4826 * float(np.median(np.abs(fit.rest))) for fit in candidates))
    judged = [(fit, float(np.sum(np.minimum((fit.rest / sigma) ** 2, GROSS**2)))) for fit in candidates]
    judged = [(fit, chi) for fit, chi in judged if _sound(fit, index, sigma)]
    if not judged:
        return []
    best = min(chi for _, chi in judged)
    readings = []
    for fit, chi in judged:
        match = float(np.mean(np.abs(fit.rest) <= GROSS * sigma))
        if chi <= best + RIVAL_MARGIN and _misfit(fit, lengths) <= MAX_MISFIT and match >= MIN_MATCH:
            readings.append(Reading(fit.graduation, fit.phase, chi, match, _short_steps(fit, step)))
    readings = _without_chance(readings, judged, sigma, step)
    if any(_longer_at_every_other(reading, index, lengths, sigma) for reading in readings if len(readings) == 1):
        return []
    readings.sort(key=lambda reading: reading.chi_squared)
    # A near rival of the same graduation, a few marks on, means that the whole units are not seen.
    if any(a.graduation == b.graduation for a, b in itertools.combinations(readings, 2)):
        return []
    return readings


def is_sure(readings: Sequence[Reading]) -> bool:
    """Whether the lengths tell all but the unit: every reading has its long marks in the same places."""
    return len({reading.graduation.levels for reading in readings}) == 1


def shortest_mark(lengths: NDArray[np.float64]) -> float:
    """Px: the true length of the shortest kind of mark, which most marks are, where no hierarchy shows."""
    return float(np.median(lengths)) + END_LOSS_PX


def _short_steps(fit: "_Fit", step: float) -> float:
    """The true length of the shortest marks, in steps."""
    return (float(fit.means[-1]) + END_LOSS_PX) / step


def _without_chance(
    readings: list[Reading], judged: list[tuple["_Fit", float]], sigma: float, step: float
) -> list[Reading]:
    """The readings, those with units half as long put beside or in place of the ones that may be chance.

    Broken marks at every other inch by accident look like half inches. Only where each kind has its own
    even length is the longer unit sure; else both stand, or the shorter alone where the longer gains nothing.
    """
    result = []
    for reading in readings:
        shorter_fits = [(fit, chi) for fit, chi in judged if _is_part_of(fit, reading)]
        longer = next(
            fit for fit, _ in judged if (fit.graduation, fit.phase) == (reading.graduation, reading.phase)
        )
        if shorter_fits and not _kinds_differ(longer.wholes, longer.halves, sigma):
            fit, chi = max(shorter_fits, key=lambda item: item[0].graduation.per_unit)
            match = float(np.mean(np.abs(fit.rest) <= GROSS * sigma))
            shorter = Reading(fit.graduation, fit.phase, chi, match, _short_steps(fit, step))
            result += [shorter] if chi - reading.chi_squared <= NO_GAIN else [shorter, reading]
        else:
            result.append(reading)
    return [
        reading
        for place, reading in enumerate(result)
        if not any((r.graduation, r.phase) == (reading.graduation, reading.phase) for r in result[:place])
    ]


def _longer_at_every_other(
    reading: Reading, index: NDArray[np.intp], lengths: NDArray[np.float64], sigma: float
) -> bool:
    """Whether every other whole unit's mark is longer, so that the unit must be twice as long.

    Marks are shortened by wear and never lengthened: the longer ones of each kind are compared.
    """
    graduation = reading.graduation
    if graduation.per_unit not in BINARY:
        return False
    units, rest = np.divmod(index - reading.phase, graduation.per_unit)
    kinds = [lengths[(rest == 0) & (units % 2 == parity)] for parity in (0, 1)]
    if min(len(kind) for kind in kinds) < 2:
        return False
    long = [float(np.percentile(kind, 75)) for kind in kinds]
    return abs(long[0] - long[1]) > max(GROSS * sigma, EVERY_OTHER * max(long))


def _is_part_of(fit: "_Fit", reading: Reading) -> bool:
    """Whether a fit is the reading with its halves, or quarters, taken for wholes."""
    graduation = fit.graduation
    levels = reading.graduation.levels
    return (
        graduation.unit == reading.graduation.unit
        and graduation.levels in [levels[place:] for place in range(1, len(levels))]
        and fit.phase == reading.phase % graduation.per_unit
    )


@frozen(eq=False)
class _Fit:
    graduation: Graduation
    phase: int
    means: NDArray[np.float64]  # (levels,) px, falling
    counts: NDArray[np.intp]  # (levels,)
    rest: NDArray[np.float64]  # (n,) px
    wholes: NDArray[np.float64]  # px, the lengths of the whole units' marks
    halves: NDArray[np.float64]  # px, and of the next level's


def _level_of(index: NDArray[np.intp], graduation: Graduation, phase: int) -> NDArray[np.intp]:
    number = index - phase
    level = np.full(len(index), len(graduation.levels) - 1)
    for place in range(len(graduation.levels) - 2, -1, -1):
        level[number % graduation.levels[place] == 0] = place
    return level


def _fit(index: NDArray[np.intp], lengths: NDArray[np.float64], graduation: Graduation, phase: int) -> _Fit:
    level = _level_of(index, graduation, phase)
    count = len(graduation.levels)
    members = np.bincount(level, minlength=count)
    # All medians by one sort: each level's lengths stand together, in order.
    ordered = lengths[np.lexsort((lengths, level))]
    starts = np.cumsum(members) - members
    last = len(ordered) - 1
    lower = ordered[np.minimum(starts + np.maximum(members - 1, 0) // 2, last)]
    medians = (lower + ordered[np.minimum(starts + members // 2, last)]) / 2
    there = members > 0
    means = np.full(count, np.nan)
    means[there] = isotonic_regression(medians[there], weights=members[there], increasing=False).x
    return _Fit(graduation, phase, means, members, lengths - means[level], lengths[level == 0], lengths[level == 1])


def _kinds_differ(wholes: NDArray[np.float64], halves: NDArray[np.float64], sigma: float) -> bool:
    """Whether the whole units' marks and the halves' have each a length of their own; (n,) and (m,) px."""
    difference = float(np.median(wholes) - np.median(halves))
    near = max(OWN_LENGTH * difference, 2 * sigma)
    alike = [
        np.mean(np.abs(kind - np.median(kind)) <= near) >= (ALIKE if len(kind) >= FEW else 1.0)
        for kind in (wholes, halves)
    ]
    return difference > 2 * near and all(alike)


def _misfit(fit: _Fit, lengths: NDArray[np.float64]) -> float:
    """The share of the lengths' variation that the hierarchy leaves; gross errors count as its whole height."""
    height = float(np.nanmax(fit.means) - np.nanmin(fit.means)) + 1e-9
    left = np.sum(np.minimum(np.abs(fit.rest), height))
    return float(left / (np.sum(np.minimum(np.abs(lengths - np.median(lengths)), height)) + 1e-9))


def _sound(fit: _Fit, index: NDArray[np.intp], sigma: float) -> bool:
    """Whether the marks of each level are there, and the whole units stand out."""
    everywhere = np.arange(index[0], index[-1] + 1)
    expected = np.bincount(_level_of(everywhere, fit.graduation, fit.phase), minlength=len(fit.graduation.levels))
    if fit.counts[0] < 2 or np.any(fit.counts < MIN_PRESENT * expected):
        return False
    top, following = fit.means[0], fit.means[1]
    noise = GROSS * sigma * math.sqrt(1 / fit.counts[0] + 1 / fit.counts[1])
    if top - following < max(noise, MIN_RISE * following):
        return False
    # A binary row of two lengths could be any row at all; tenths with or without a middle mark are known.
    distinct = 1 + int(np.sum(-np.diff(fit.means) > MIN_RISE * fit.means[1:]))
    return distinct >= (3 if fit.graduation.per_unit in BINARY else 2)
