"""The joins: the sections put together again along the cuts, shortest first within what the cuts demand."""

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
from attrs import evolve, frozen

from seamsurvey.arcs import arc_length
from seamsurvey.foundation.arrangement import Arrangement
from seamsurvey.foundation.cuts import corner_points, run_between, stretches
from seamsurvey.foundation.ranks import ranks, reading_order
from seamsurvey.foundation.sections import Sectioning
from seamsurvey.foundation.slits import Slit
from seamsurvey.model import Join

# A result of more sections than this is named by its step: a longer string of names is no name.
MOST_NAMES = 4
WHOLE = "block"


@frozen
class Unit:
    """A region of the block as it is taken apart: one section, or two units that are joined.

    The ``core`` of a section is its pieced start: a unit that is joined first and pinned as the first patch.
    """

    region: int
    parts: "tuple[Unit, Unit] | None"
    core: "Unit | None" = None

    def sections(self) -> list[int]:
        """The regions of the sections it is made of."""
        if self.core is not None:
            return [self.region, *self.core.sections()]
        if self.parts is None:
            return [self.region]
        return self.parts[0].sections() + self.parts[1].sections()

    def joins(self) -> "list[tuple[Unit, Unit]]":
        """The pairs of units that are joined to make it, its own last join first."""
        if self.core is not None:
            return self.core.joins()
        if self.parts is None:
            return []
        return [self.parts, *self.parts[0].joins(), *self.parts[1].joins()]

    def cores(self) -> "dict[int, Unit]":
        """The pieced start of each section that has one, by the section's region."""
        if self.core is not None:
            return {self.region: self.core, **self.core.cores()}
        return {} if self.parts is None else {**self.parts[0].cores(), **self.parts[1].cores()}


def take_apart(sectioning: Sectioning, region: int) -> Unit:
    """A region taken apart down to its sections, in the best way the search knows."""
    parts = sectioning.parts(region)
    if parts is None:
        core = sectioning.core(region)
        return Unit(region, None, None if core is None else take_apart(sectioning, core))
    return Unit(region, (take_apart(sectioning, parts[0]), take_apart(sectioning, parts[1])))


@frozen
class Joined:
    """All joins in an order that works, and the name of each unit by its region."""

    joins: tuple[Join, ...]
    named: Mapping[int, str]


def join_up(net: Arrangement, whole: Unit, names: Mapping[int, str], slits: Sequence[Slit] = ()) -> Joined:
    """Put a block together again, the shortest join first within what the cuts demand.

    ``names`` gives each section's place name by its region, in the order in which they are to be named. ``slits``
    are the stretches that partial seams leave open at first; ``net`` is the net opened along them.
    """
    pairs = whole.joins()
    if not pairs:
        return Joined((), dict(names))
    runs = [run_between(net, one.region, other.region) for one, other in pairs]
    lengths = ranks([_length(net, run) for run in runs])
    reading = reading_order(np.array([net.points[list(run)].mean(axis=0) for run in runs]))
    waiting = sorted(range(len(pairs)), key=lambda k: (lengths[k], reading.index(k)))
    turn = {region: place for place, region in enumerate(names)}
    done, cores = dict(names), whole.cores()

    def is_sewn(unit: Unit) -> bool:
        core = cores.get(unit.region)
        return unit.region in done and (core is None or is_sewn(core))

    joins: list[Join] = []
    complete: list[int] = []  # the region each step makes
    while waiting:
        k = next(k for k in waiting if all(is_sewn(unit) for unit in pairs[k]))
        waiting.remove(k)
        one, other = sorted(pairs[k], key=lambda unit: min(turn[region] for region in unit.sections()))
        parts = (done[one.region], done[other.region])
        together = f"{parts[0]}+{parts[1]}"
        if len(one.sections()) + len(other.sections()) > MOST_NAMES:
            together = f"unit {len(joins) + 1}"
        joins.append(
            _join(
                net,
                runs[k],
                len(joins) + 1,
                parts,
                WHOLE if one.region | other.region == whole.region else together,
            )
        )
        done[one.region | other.region] = joins[-1].result
        complete.append(one.region | other.region)
    for slit in slits:
        finish = next(step for step, region in enumerate(complete, start=1) if slit.pieces & ~region == 0)
        step = next(n for n, region in enumerate(complete) if slit.beside & ~region == 0)
        joins[step] = _sewn_part_way(net, joins[step], slit, finish)
    return Joined(tuple(joins), done)


def _sewn_part_way(net: Arrangement, join: Join, slit: Slit, finish: int) -> Join:
    """The join whose seam goes on along a slit: from its far end to the middle first, the rest later."""
    tip, (x, y) = net.points[slit.tip], (float(v) for v in net.points[slit.end])
    far = max((join.start, join.end), key=lambda end: float(np.hypot(*(tip - end))))
    middle = (tip + np.array(far)) / 2
    return evolve(
        join, kind="partial", start=far, end=(x, y), stop=(float(middle[0]), float(middle[1])), finish_after=finish
    )


def _length(net: Arrangement, run: tuple[int, ...]) -> float:
    chords = np.hypot(*np.diff(net.points[list(run)], axis=0).T)
    if not net.bows:
        return float(chords.sum())
    bulges = (net.bows.get(ends, 0.0) for ends in pairwise(run))
    return sum(arc_length(float(chord), bulge) for chord, bulge in zip(chords, bulges, strict=True))


def _join(net: Arrangement, run: tuple[int, ...], step: int, parts: tuple[str, str], result: str) -> Join:
    bent = len(corner_points(net, run)) > 2
    stops, bulges = stretches(net, run)
    corners = tuple((float(x), float(y)) for x, y in net.points[list(stops)])
    return Join(
        step=step,
        parts=parts,
        result=result,
        start=corners[0],
        end=corners[-1],
        kind="set-in" if bent else "curved" if bulges else "straight",
        corners=corners if bent or bulges else (),
        bulges=bulges,
    )
