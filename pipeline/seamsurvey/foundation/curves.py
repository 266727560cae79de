"""Curved seams: no foundation holds them, so that they are sewn by hand and their templates stay.

A curve is an arc, or one arc after another, or, in a layout drawn as polygons, a run of seam between the same two
pieces that turns a little at every corner.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from attrs import frozen

from seamsurvey.arcs import along_arc, centre_of, radius_of, sweep_of
from seamsurvey.foundation.arrangement import Arrangement
from seamsurvey.foundation.cuts import corner_points, run_between, stretches
from seamsurvey.foundation.joins import Unit
from seamsurvey.geometry import Points

# A drawn curve has corners of a few degrees; a seam that bends on purpose bends by more, and not time after time.
LARGEST_TURN_DEG = 30.0
FEWEST_CORNERS = 3
SAME_CENTRE = 0.01  # of the radius: arcs that follow one another about one centre are one to whoever sews them


@frozen
class ArcSeam:
    """A join with arcs: the units left and right of its run, and whether it bends besides, to be set in.

    ``arcs`` are (radius mm, sweep degrees), all different, those of one circle taken together; ``hollow`` is the
    unit whose edge bows in, None where the arcs bow both ways. ``middle`` is (2,) mm, block frame, on the run's
    middle arc.
    """

    left: Unit
    right: Unit
    hollow: Unit | None
    bends: bool
    arcs: tuple[tuple[float, float], ...]
    middle: Points
    pieces: int  # beside its arcs, as a set


def arc_seams(net: Arrangement, whole: Unit) -> list[ArcSeam]:
    """The joins of a block with arcs in them, in the order in which it is taken apart."""
    return [seam for pair in whole.joins() if (seam := _arc_seam(net, *pair)) is not None] if net.bows else []


def _arc_seam(net: Arrangement, one: Unit, other: Unit) -> ArcSeam | None:
    run = run_between(net, one.region, other.region)
    stops, bulges = stretches(net, run)
    if not bulges:
        return None
    curved = [(a, b, bulge) for a, b, bulge in zip(stops, stops[1:], bulges, strict=False) if bulge]
    left, right = (one, other) if one.region >> net.owner[run[0], run[1]] & 1 else (other, one)
    ways = {bulge > 0 for _, _, bulge in curved}
    a, b, bulge = curved[len(curved) // 2]
    beside = 0
    for edge in net.contact(one.region, other.region):
        beside |= net.edge_pieces[edge] if net.is_curved([edge]) else 0
    return ArcSeam(
        left=left,
        right=right,
        # An arc that runs counter-clockwise has its middle on the left: what lies there bows out.
        hollow=None if len(ways) > 1 else right if ways.pop() else left,
        bends=len(corner_points(net, run)) > 2,
        arcs=_circles(net, curved),
        middle=along_arc(net.points[a], net.points[b], bulge, np.array([0.5]))[0],
        pieces=beside,
    )


def _circles(net: Arrangement, arcs: Sequence[tuple[int, int, float]]) -> tuple[tuple[float, float], ...]:
    """(radius, sweep) of a run's arcs (point, next point, bulge): each kind once, what is one circle's as one."""
    whole: list[tuple[float, float]] = []
    last: tuple[int, Points] | None = None  # where the arc before ended, and its centre
    for a, b, bulge in arcs:
        start, end = net.points[a], net.points[b]
        radius, sweep = radius_of(float(np.hypot(*(end - start))), bulge), abs(sweep_of(bulge))
        centre = centre_of(start, end, bulge)
        if last is not None and last[0] == a and np.hypot(*(centre - last[1])) < SAME_CENTRE * radius:
            whole[-1] = (whole[-1][0], whole[-1][1] + sweep)
        else:
            whole.append((radius, sweep))
        last = (b, centre)
    return tuple(sorted({(round(radius, 2), round(sweep, 1)) for radius, sweep in whole}))


@frozen
class Curve:
    """The corners along one drawn curve, ends left out, and the two pieces beside it, as a set."""

    points: tuple[int, ...]
    pieces: int


def drawn_curves(net: Arrangement) -> list[Curve]:
    """All curves of a block that are drawn as runs of short chords, in the order of its pieces."""
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
            and not any((point, other) in net.bows for other in others)
        ):
            yield point, (others[0], others[1])


def _turn(net: Arrangement, point: int, ends: tuple[int, int]) -> float:
    before, after = net.points[point] - net.points[ends[0]], net.points[ends[1]] - net.points[point]
    cross = float(before[0] * after[1] - before[1] * after[0])
    return float(np.degrees(np.arctan2(abs(cross), float(before @ after))))
