"""The joins: the sections put together again along the cuts, shortest first within what the cuts demand."""

from collections.abc import Callable, Mapping

import numpy as np
from attrs import frozen

from seamsurvey.foundation.arrangement import Arrangement
from seamsurvey.foundation.cuts import corner_points, run_between
from seamsurvey.foundation.ranks import ranks, reading_order
from seamsurvey.foundation.sections import Sectioning
from seamsurvey.geometry import Points
from seamsurvey.model import Join

# A result of more sections than this is named by its step: a longer string of names is no name.
MOST_NAMES = 4
WHOLE = "block"


@frozen
class Unit:
    """A region of the block as it is taken apart: one section, or two units that are joined."""

    region: int
    parts: "tuple[Unit, Unit] | None"

    def sections(self) -> list[int]:
        """The regions of the sections it is made of."""
        if self.parts is None:
            return [self.region]
        return self.parts[0].sections() + self.parts[1].sections()

    def joins(self) -> "list[Unit]":
        """It and the units within it that are joined from two."""
        if self.parts is None:
            return []
        return [self, *self.parts[0].joins(), *self.parts[1].joins()]


def take_apart(sectioning: Sectioning, region: int) -> Unit:
    """A region taken apart down to its sections, in the best way the search knows."""
    parts = sectioning.best(region).parts
    if parts is None:
        return Unit(region, None)
    return Unit(region, (take_apart(sectioning, parts[0]), take_apart(sectioning, parts[1])))


def join_up(net: Arrangement, whole: Unit, names: Mapping[int, str]) -> tuple[Join, ...]:
    """All joins of a block in an order that works; ``names`` gives each section's place name by its region."""
    waiting = whole.joins()
    runs = {unit.region: _run(net, unit) for unit in waiting}
    middles = np.array([net.points[list(run)].mean(axis=0) for run in runs.values()])
    lengths = ranks([_length(net.points[list(run)]) for run in runs.values()])
    reading = {k: place for place, k in enumerate(reading_order(middles))} if runs else {}
    urgency = {region: (lengths[k], reading[k]) for k, region in enumerate(runs)}
    done = dict(names)
    joins: list[Join] = []
    while waiting:
        unit = min((u for u in waiting if _ready(u, done)), key=lambda u: urgency[u.region])
        waiting.remove(unit)
        join = _join(net, unit, runs[unit.region], len(joins) + 1, done.__getitem__, last=not waiting)
        done[unit.region] = join.result
        joins.append(join)
    return tuple(joins)


def _ready(unit: Unit, done: Mapping[int, str]) -> bool:
    return unit.parts is not None and all(part.region in done for part in unit.parts)


def _run(net: Arrangement, unit: Unit) -> tuple[int, ...]:
    assert unit.parts is not None  # noqa: S101 - joins() gives only such units
    return run_between(net, unit.parts[0].region, unit.parts[1].region)


def _length(points: Points) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def _join(
    net: Arrangement, unit: Unit, run: tuple[int, ...], step: int, name: Callable[[int], str], *, last: bool
) -> Join:
    assert unit.parts is not None  # noqa: S101 - see _run
    one, other = (name(part.region) for part in unit.parts)
    corners = tuple((float(x), float(y)) for x, y in net.points[list(corner_points(net, run))])
    together = f"{one}+{other}" if len(unit.sections()) <= MOST_NAMES else f"unit {step}"
    return Join(
        step=step,
        parts=(one, other),
        result=WHOLE if last else together,
        start=corners[0],
        end=corners[-1],
        kind="straight" if len(corners) == 2 else "set-in",
        corners=() if len(corners) == 2 else corners,
    )
