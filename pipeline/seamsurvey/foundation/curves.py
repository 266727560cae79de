"""Curved seams: no foundation holds them and no straight cut cures them, so that templates must stay there.

Outlines are polygons; a curve is a run of seam between the same two pieces that turns a little at every corner.
"""

from collections.abc import Iterator

import numpy as np
from attrs import frozen

from seamsurvey.foundation.arrangement import Arrangement

# A drawn curve has corners of a few degrees; a seam that bends on purpose bends by more, and not time after time.
LARGEST_TURN_DEG = 30.0
FEWEST_CORNERS = 3


@frozen
class Curve:
    """The corners along one curved seam, ends left out, and the two pieces beside it, as a set."""

    points: tuple[int, ...]
    pieces: int


def curved_seams(net: Arrangement) -> list[Curve]:
    """All curved seams of a block, in the order of its pieces."""
    bends = {point: ends for point, ends in _bends(net).items() if _turn(net, point, ends) <= LARGEST_TURN_DEG}
    curves, done = [], set[int]()
    for point in sorted(bends, key=lambda p: (net.around[p], p)):
        if point in done:
            continue
        run, waiting = [point], [point]
        while waiting:
            for other in bends[waiting.pop()]:
                if other in bends and other not in run and net.around[other] == net.around[point]:
                    run.append(other)
                    waiting.append(other)
        done.update(run)
        if len(run) >= FEWEST_CORNERS:
            curves.append(Curve(tuple(run), net.around[point]))
    return curves


def _bends(net: Arrangement) -> dict[int, tuple[int, int]]:
    """The corners at which one seam between two pieces bends and nothing else ends, and the corners beside."""
    passed = {point for chain in net.chains for point in chain.points[1:-1]}
    beside: dict[int, list[int]] = {}
    for a, b in net.edges:
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    return dict(_two_each(net, beside, passed))


def _two_each(
    net: Arrangement, beside: dict[int, list[int]], passed: set[int]
) -> Iterator[tuple[int, tuple[int, int]]]:
    for point, others in beside.items():
        if (
            len(others) == 2
            and net.around[point].bit_count() == 2
            and point not in passed
            and not net.on_outline[point]
        ):
            yield point, (others[0], others[1])


def _turn(net: Arrangement, point: int, ends: tuple[int, int]) -> float:
    before, after = net.points[point] - net.points[ends[0]], net.points[ends[1]] - net.points[point]
    cross = float(before[0] * after[1] - before[1] * after[0])
    return float(np.degrees(np.arctan2(abs(cross), float(before @ after))))
