"""Taking a region apart: full cuts, and bent cuts where there is no full one.

A full cut of a region is a straight line, from boundary to boundary, that runs along seams only inside the region
and leaves exactly two connected parts. A bent cut is the same along a run of seams with corners: sewn again, it is
a set-in seam.
"""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from attrs import frozen

from seamsurvey.foundation.arrangement import Arrangement, members
from seamsurvey.foundation.chains import Chain
from seamsurvey.foundation.corners import SNAP_MM

# Candidates for one bent cut. A region without a full cut has a handful of sensible ones; mazes are not worth more.
MOST_BENT_CUTS = 300


@frozen
class Cut:
    """Two connected parts of a region and the run of points between them.

    ``one`` is the part with the region's first piece. ``bends`` counts the corners of the run. ``separates`` says
    that the whole line, prolonged, has one part on either side. A cut along arcs is no fold: it is ``curved``.
    """

    one: int
    other: int
    run: tuple[int, ...]
    bends: int
    separates: bool
    curved: bool = False


def full_cuts(net: Arrangement, region: int) -> list[Cut]:
    """All full cuts of a connected region, in the order of the net's chains, those along curves last.

    A full cut may run along arcs: along their chords on one line, or smoothly from one into the next.
    """
    found: dict[tuple[int, int], Cut] = {}
    for chain in net.chains:
        for first, last in _runs(net, chain, region):
            run = chain.points[first : last + 1]
            parts = two_parts(net, region, chain.edges[first:last])
            if parts is None or not _is_straight(net, run):
                continue
            one, other = parts
            separates = (one & ~chain.left == 0 and other & ~chain.right == 0) or (
                one & ~chain.right == 0 and other & ~chain.left == 0
            )
            curved = net.is_curved(chain.edges[first:last])
            found.setdefault(parts, Cut(one, other, run, 0, separates and not curved, curved))
    for curve in net.curves:
        for first, last in _runs(net, curve, region):
            parts = two_parts(net, region, curve.edges[first:last])
            if parts is not None:
                run = curve.points[first : last + 1]
                found.setdefault(parts, Cut(*parts, run, 0, separates=False, curved=True))
    return list(found.values())


def _runs(net: Arrangement, chain: Chain, region: int) -> Iterator[tuple[int, int]]:
    """Stretches of a chain from boundary to boundary of the region, through its inner, as places in the chain."""
    start = None if net.inside(chain.points[0], region) else 0
    for k, edge in enumerate(chain.edges):
        if net.edge_pieces[edge] & ~region:
            start = k + 1  # the point after an edge that is not the region's own lies on its boundary
        elif not net.inside(chain.points[k + 1], region):
            if start is not None:
                yield start, k + 1
            start = k + 1


def _is_straight(net: Arrangement, run: tuple[int, ...]) -> bool:
    """Many steps that are each straight enough may still go round a bend."""
    if len(run) == 2:
        return True
    points = net.points[list(run)]
    along = points[-1] - points[0]
    steps = points - points[0]
    aside = np.abs(steps[:, 0] * along[1] - steps[:, 1] * along[0]) / np.hypot(*along)
    return float(aside.max()) <= 2 * SNAP_MM


def two_parts(net: Arrangement, region: int, edges: tuple[int, ...]) -> tuple[int, int] | None:
    """The parts of a region without these edges, if they are exactly two; the first holds the first piece."""
    severed = 0
    for edge in edges:
        severed |= 1 << edge
    barred: dict[int, int] = {}
    for edge in edges:
        pair = net.edge_pieces[edge]
        if net.shared[pair] & ~severed == 0:
            for piece in members(pair):
                barred[piece] = barred.get(piece, 0) | pair & ~(1 << piece)
    one = _connected(net, region, barred)
    rest = region & ~one
    if rest and _connected(net, rest, barred) == rest:
        return one, rest
    return None


def connected(net: Arrangement, region: int) -> bool:
    """Whether a region holds together along edges."""
    return _connected(net, region, {}) == region


def _connected(net: Arrangement, region: int, barred: dict[int, int]) -> int:
    """The connected part of a region that holds its first piece."""
    found = fresh = region & -region
    while fresh:
        grown = 0
        for piece in members(fresh):
            grown |= net.neighbours[piece] & ~barred.get(piece, 0)
        fresh = grown & region & ~found
        found |= fresh
    return found


def bent_cuts(net: Arrangement, region: int) -> list[Cut]:
    """Ways to part a region without a full cut by one bent run of seams, fewest corners first.

    All runs with the fewest corners that part it, and with one corner more, up to MOST_BENT_CUTS. Empty only for a
    region of one piece.
    """
    seams = _seams_by_point(net, region)
    found: dict[tuple[int, int], Cut] = {}
    fewest = 0
    for bends in range(1, len(net.edges)):
        if fewest and bends > fewest + 1:
            break
        for edges, run in _bent_runs(net, region, seams, bends):
            parts = two_parts(net, region, edges)
            if parts is not None:
                found.setdefault(parts, Cut(*parts, run, bends, separates=False))
            if len(found) >= MOST_BENT_CUTS:
                return list(found.values())
        if found and not fewest:
            fewest = bends
    return list(found.values()) or _pieces_set_in_all_round(net, region)


def _pieces_set_in_all_round(net: Arrangement, region: int) -> list[Cut]:
    """Where no run leads from boundary to boundary: one piece out of the middle of the rest."""
    cuts = []
    for piece in members(region):
        rest = region & ~(1 << piece)
        if rest and connected(net, rest):
            run = run_between(net, 1 << piece, rest)
            one, other = sorted((1 << piece, rest), key=lambda part: part & -part)
            cuts.append(Cut(one, other, run, len(corner_points(net, run)), separates=False))
    return cuts


def _seams_by_point(net: Arrangement, region: int) -> dict[int, list[tuple[int, int]]]:
    """For each point the edges inside the region that start there: (edge, far point)."""
    seams: dict[int, list[tuple[int, int]]] = {}
    for edge, (a, b) in enumerate(net.edges):
        if net.edge_pieces[edge] & ~region == 0:
            seams.setdefault(a, []).append((edge, b))
            seams.setdefault(b, []).append((edge, a))
    return seams


def _bent_runs(
    net: Arrangement, region: int, seams: dict[int, list[tuple[int, int]]], bends: int
) -> Iterator[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Runs from boundary to boundary with exactly so many corners, each in one direction only: edges, points."""
    chain_of = {edge: number for number, chain in enumerate(net.chains) for edge in chain.edges}
    stack: list[tuple[tuple[int, ...], tuple[int, ...], int]] = [
        ((edge,), (point, far), bends)
        for point in sorted(seams)
        if not net.inside(point, region)
        for edge, far in seams[point]
    ]
    stack.reverse()
    while stack:
        edges, run, left = stack.pop()
        if not net.inside(run[-1], region):
            if left == 0 and run[0] < run[-1]:
                yield edges, run
            continue
        for edge, far in reversed(seams[run[-1]]):
            turns = chain_of[edge] != chain_of[edges[-1]] and frozenset((edge, edges[-1])) not in net.smooth
            if far not in run and turns <= left:
                stack.append(((*edges, edge), (*run, far), left - turns))


def run_between(net: Arrangement, one: int, other: int) -> tuple[int, ...]:
    """The points along the run where two parts meet, from one end to the other.

    The run starts at its end further left (or lower, where both are alike). A run that is closed on itself starts
    and ends at the same point.
    """
    steps: dict[int, list[int]] = {}
    for edge in net.contact(one, other):
        a, b = net.edges[edge]
        steps.setdefault(a, []).append(b)
        steps.setdefault(b, []).append(a)
    ends = [point for point, onward in steps.items() if len(onward) == 1] or list(steps)
    start = min(ends, key=lambda p: (round(net.points[p][0], 3), round(net.points[p][1], 3), p))
    run = [start]
    while True:
        onward = [point for point in steps[run[-1]] if point not in run]
        if not onward:
            return tuple(run) if len(steps[run[-1]]) == 1 else (*run, start)
        run.append(onward[0])


def corner_points(net: Arrangement, run: tuple[int, ...]) -> tuple[int, ...]:
    """The points of a run at which it bends, its two ends included; an arc that runs on smoothly does not."""
    chain_of = {edge: number for number, chain in enumerate(net.chains) for edge in chain.edges}
    edges = _edges_of(net, run)
    bends = [
        point
        for point, before, after in zip(run[1:-1], edges, edges[1:], strict=False)
        if chain_of[before] != chain_of[after] and frozenset((before, after)) not in net.smooth
    ]
    return (run[0], *bends, run[-1])


def stretches(net: Arrangement, run: tuple[int, ...]) -> tuple[tuple[int, ...], tuple[float, ...]]:
    """The points of a run where one straight stretch or arc ends and the next begins, and the bulge of each."""
    bends = corner_points(net, run)
    bulges = [net.bows.get(ends, 0.0) for ends in pairwise(run)]
    stops, between = [run[0]], []
    for k, point in enumerate(run[1:], start=1):
        if k == len(run) - 1 or point in bends or bulges[k - 1] or bulges[k]:
            stops.append(point)
            between.append(bulges[k - 1])
    return tuple(stops), tuple(between) if any(between) else ()


def _edges_of(net: Arrangement, run: tuple[int, ...]) -> list[int]:
    number = {ends: edge for edge, ends in enumerate(net.edges)}
    return [number[min(a, b), max(a, b)] for a, b in pairwise(run)]
