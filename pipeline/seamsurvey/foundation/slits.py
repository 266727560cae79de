"""Partial seams: a seam sewn part of the way, finished when the pieces round it are on.

A straight seam that runs from a region's boundary past a point inside may be left open from the boundary to that
point. Left open, the stretch is boundary: a whirl of pieces then falls apart by full cuts. Sewn again, the seam is
begun at its far end and stopped short of the point; when everything round it is joined, it is sewn to its end.
"""

from collections.abc import Iterator

from attrs import evolve, frozen

from seamsurvey.foundation.arrangement import Arrangement, members
from seamsurvey.foundation.chains import Chain
from seamsurvey.foundation.cuts import full_cuts


@frozen
class Slit:
    """The stretch of a seam that is left open at first: its edges, from ``tip`` inside to ``end``."""

    edges: tuple[int, ...]
    tip: int  # a point
    end: int  # a point
    beside: int  # the two pieces, as a set, between which the seam goes on beyond the tip
    pieces: int  # all along the slit, both sides


def opened(net: Arrangement, slits: "tuple[Slit, ...]") -> Arrangement:
    """The net with these stretches of seam as boundary."""
    severed = {edge for slit in slits for edge in slit.edges}
    pairs = tuple(0 if k in severed else pair for k, pair in enumerate(net.edge_pieces))
    neighbours = [0] * len(net.ids)
    shared: dict[int, int] = {}
    for edge, pair in enumerate(pairs):
        if pair:
            shared[pair] = shared.get(pair, 0) | 1 << edge
            for piece in members(pair):
                neighbours[piece] |= pair & ~(1 << piece)
    on_outline = list(net.on_outline)
    for edge in severed:
        for point in net.edges[edge]:
            on_outline[point] = True
    return evolve(
        net,
        edge_pieces=pairs,
        neighbours=tuple(neighbours),
        shared=shared,
        on_outline=tuple(on_outline),
        chains=tuple(part for chain in net.chains for part in _without(chain, severed)),
    )


def _without(chain: Chain, severed: set[int]) -> Iterator[Chain]:
    start = 0
    for k, edge in enumerate((*chain.edges, -1)):
        if edge == -1 or edge in severed:
            if k > start:
                yield evolve(chain, points=chain.points[start : k + 1], edges=chain.edges[start:k])
            start = k + 1


def partial_seams(net: Arrangement) -> tuple[Slit, ...]:
    """One slit in each cell that needs one, so that the block falls apart; empty where that does not do."""
    slits: tuple[Slit, ...] = ()
    waiting = list(_cells(net, net.everything))
    while waiting:
        cell = waiting.pop()
        ways = []
        for slit in _slits(net, cell):
            left = list(_cells(opened(net, (*slits, slit)), cell))
            # What still hangs together must be smaller, and not hold both sides of the seam that is left open.
            if cell not in left and not any(rest & slit.beside == slit.beside for rest in left):
                ways.append((len(left), round(_length(net, slit), 1), slit.end, slit.tip, left, slit))
        if not ways:
            return ()
        *_, left, slit = min(ways, key=lambda way: way[:4])
        slits += (slit,)
        waiting += left
    return slits


def _cells(net: Arrangement, region: int) -> Iterator[int]:
    """The parts of a region of two pieces or more that no full cut parts."""
    waiting = [region]
    while waiting:
        part = waiting.pop()
        if part & (part - 1):
            cuts = full_cuts(net, part)
            if cuts:
                waiting += [cuts[0].one, cuts[0].other]
            else:
                yield part


def _length(net: Arrangement, slit: Slit) -> float:
    a, b = net.points[slit.tip], net.points[slit.end]
    return float(((a - b) ** 2).sum() ** 0.5)


def _slits(net: Arrangement, region: int) -> Iterator[Slit]:
    for chain in net.chains:
        if net.is_curved(chain.edges):
            continue
        for points, edges in (
            (chain.points, chain.edges),
            (chain.points[::-1], chain.edges[::-1]),
        ):
            for start, point in enumerate(points[:-2]):
                if net.inside(point, region):
                    continue
                for tip in range(start + 1, len(points) - 1):
                    if net.edge_pieces[edges[tip - 1]] & ~region or not net.inside(points[tip], region):
                        break
                    run = edges[start:tip]
                    if net.edge_pieces[edges[tip]] & ~region == 0:
                        along = 0
                        for edge in run:
                            along |= net.edge_pieces[edge]
                        yield Slit(run, points[tip], point, net.edge_pieces[edges[tip]], along)
