"""The joins: the sections put together again along the cuts, shortest first within what the cuts demand."""

from collections.abc import Mapping

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

    def joins(self) -> "list[tuple[Unit, Unit]]":
        """The pairs of units that are joined to make it, its own last join first."""
        if self.parts is None:
            return []
        return [self.parts, *self.parts[0].joins(), *self.parts[1].joins()]


def take_apart(sectioning: Sectioning, region: int) -> Unit:
    """A region taken apart down to its sections, in the best way the search knows."""
    parts = sectioning.parts(region)
    if parts is None:
        return Unit(region, None)
    return Unit(region, (take_apart(sectioning, parts[0]), take_apart(sectioning, parts[1])))


def join_up(net: Arrangement, whole: Unit, names: Mapping[int, str]) -> tuple[Join, ...]:
    """All joins of a block in an order that works.

    ``names`` gives each section's place name by its region, in the order in which they are to be named.
    """
    pairs = whole.joins()
    if not pairs:
        return ()
    runs = [run_between(net, one.region, other.region) for one, other in pairs]
    lengths = ranks([_length(net.points[list(run)]) for run in runs])
    reading = reading_order(np.array([net.points[list(run)].mean(axis=0) for run in runs]))
    waiting = sorted(range(len(pairs)), key=lambda k: (lengths[k], reading.index(k)))
    turn = {region: place for place, region in enumerate(names)}
    done = dict(names)
    joins: list[Join] = []
    while waiting:
        k = next(k for k in waiting if all(unit.region in done for unit in pairs[k]))
        waiting.remove(k)
        one, other = sorted(pairs[k], key=lambda unit: min(turn[region] for region in unit.sections()))
        parts = (done[one.region], done[other.region])
        together = f"{parts[0]}+{parts[1]}"
        if len(one.sections()) + len(other.sections()) > MOST_NAMES:
            together = f"unit {len(joins) + 1}"
        joins.append(_join(net, runs[k], len(joins) + 1, parts, together if waiting else WHOLE))
        done[one.region | other.region] = joins[-1].result
    return tuple(joins)


def _length(points: Points) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def _join(net: Arrangement, run: tuple[int, ...], step: int, parts: tuple[str, str], result: str) -> Join:
    corners = tuple((float(x), float(y)) for x, y in net.points[list(corner_points(net, run))])
    bent = len(corners) > 2
    return Join(
        step=step,
        parts=parts,
        result=result,
        start=corners[0],
        end=corners[-1],
        kind="set-in" if bent else "straight",
        corners=corners if bent else (),
    )
