"""Patches on strips cut across the fabric: patches of one height share strips."""

import math
from collections.abc import Iterator, Sequence
from itertools import product

from attrs import frozen

ALL_WAYS = 10  # so many sizes are tried both ways in every combination; more are bettered one by one
_HAIR = 1e-6


@frozen
class Cut:
    """Equal patches, or squares that are cut into some: how many, and their two sides, mm."""

    count: int
    sides: tuple[float, float]


@frozen
class Strip:
    """Equal strips across the fabric, and how many of which cut each holds."""

    high_mm: float
    number: int
    holds: tuple[tuple[int, int], ...]  # (index of the cut, how many)


@frozen
class StripGroup:
    """All strips of one height."""

    high_mm: float
    number: int
    cuts: tuple[int, ...]  # indices, the longest patch first


@frozen
class StripPlan:
    """All strips of one fabric, the highest first; ``length_mm`` is what they take of its length."""

    strips: tuple[Strip, ...]
    length_mm: float

    @property
    def number(self) -> int:
        """How many strips there are."""
        return sum(strip.number for strip in self.strips)

    def groups(self) -> Iterator[StripGroup]:
        """The strips by their height, the highest first."""
        for high in dict.fromkeys(strip.high_mm for strip in self.strips):
            own = [strip for strip in self.strips if strip.high_mm == high]
            cuts = tuple(dict.fromkeys(k for strip in own for k, _ in strip.holds))
            yield StripGroup(high, sum(strip.number for strip in own), cuts)


def on_strips(cuts: Sequence[Cut], usable_mm: float) -> StripPlan:
    """The strips that hold all cuts, each laid one of its two ways; the way that uses least fabric is looked for.

    A cut longer than ``usable_mm`` both ways takes a strip each, as high as its longer side: it runs down the
    length of the fabric, and is pieced or cut along it.
    """
    ways = [_ways(cut, usable_mm) for cut in cuts]
    if not cuts:
        return StripPlan((), 0.0)
    if len(cuts) <= ALL_WAYS:
        return min((_laid(cuts, way, usable_mm) for way in product(*ways)), key=lambda plan: plan.length_mm)
    way = [options[0] for options in ways]
    best = _laid(cuts, way, usable_mm)
    bettered = True
    while bettered:
        bettered = False
        for k, options in enumerate(ways):
            for option in options:
                tried = _laid(cuts, [*way[:k], option, *way[k + 1 :]], usable_mm)
                if tried.length_mm < best.length_mm - _HAIR:
                    best, way, bettered = tried, [*way[:k], option, *way[k + 1 :]], True
    return best


def _ways(cut: Cut, usable_mm: float) -> list[float]:
    """The heights of strip a cut can be taken from, the lower first."""
    low, high = sorted(cut.sides)
    if high > usable_mm + _HAIR or high - low < _HAIR:
        return [high]
    return [low, high]


def _laid(cuts: Sequence[Cut], heights: Sequence[float], usable_mm: float) -> StripPlan:
    """Every cut on strips of its height: the longest first, each into the first strip with room (first fit)."""
    strips: list[Strip] = []
    for high in sorted({round(height, 4) for height in heights}, reverse=True):
        mine = [k for k, height in enumerate(heights) if abs(height - high) < 1e-3]
        along = {k: sum(cuts[k].sides) - heights[k] for k in mine}
        open_strips: list[tuple[float, Strip]] = []
        for k in sorted(mine, key=lambda k: -along[k]):
            open_strips = _filled(open_strips, k, cuts[k].count, along[k], high, usable_mm)
        strips += [strip for _, strip in open_strips]
    return StripPlan(tuple(strips), sum(strip.number * strip.high_mm for strip in strips))


def _filled(
    strips: Sequence[tuple[float, Strip]], k: int, count: int, along: float, high: float, usable_mm: float
) -> list[tuple[float, Strip]]:
    """The strips, each with what is left of it, after ``count`` of cut ``k`` found room; new ones where needed."""
    result: list[tuple[float, Strip]] = []
    for left, strip in strips:
        fit = math.floor((left + _HAIR) / along)
        full = min(strip.number, count // fit) if fit else 0
        some = count - full * fit if fit and full < strip.number else 0
        count -= full * fit + some
        for number, held in ((full, fit), (1 if some else 0, some), (strip.number - full - bool(some), 0)):
            if number:
                holds = (*strip.holds, (k, held)) if held else strip.holds
                result.append((left - held * along, Strip(high, number, holds)))
    fit = max(1, math.floor((usable_mm + _HAIR) / along))
    for number, held in ((count // fit, fit), (1, count % fit)):
        if number and held:
            result.append((usable_mm - held * along, Strip(high, number, ((k, held),))))
    return result
