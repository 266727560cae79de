"""To which side each join is pressed, so that allowances that meet lie beside one another and not on one another.

A seam within a section is folded towards its later patch; there is no choice. Each straight join can be pressed
either way: where two seams meet across a later join, they nest if they are pressed to opposite sides along it.
"""

from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np
from attrs import frozen

from seamsurvey.foundation.arrangement import Arrangement, members
from seamsurvey.foundation.joins import Unit
from seamsurvey.geometry import centroid

# So many joins are tried in every combination; more are bettered one by one.
ALL_COMBINATIONS = 10


@frozen
class _Crossing:
    """Two seams that meet across a join; each is (join, sign of pressing along the crossed join when it is True)."""

    one: tuple[int | None, bool]
    other: tuple[int | None, bool]

    def nests(self, choice: Sequence[bool]) -> bool:
        def side(seam: tuple[int | None, bool]) -> bool:
            join, forward = seam
            return forward if join is None else forward == choice[join]

        return side(self.one) != side(self.other)


def press_towards(
    net: Arrangement, pairs: Sequence[tuple[Unit, Unit]], orders: Mapping[int, Sequence[int]]
) -> list[int]:
    """For each pair of units that are joined, 0 or 1: the part to whose side the allowances are pressed.

    ``orders`` is the sewing order of the pieces of each section, by its region.
    """
    if not pairs:
        return []
    later = {piece: place for order in orders.values() for place, piece in enumerate(order)}
    section = {piece: region for region, order in orders.items() for piece in order}
    sewn_in = {edge: k for k, (one, other) in enumerate(pairs) for edge in net.contact(one.region, other.region)}
    crossings = [c for k in range(len(pairs)) for c in _crossings(net, pairs, k, later, section, sewn_in)]
    flatter = [_seams_ending(net, one, other) > _seams_ending(net, other, one) for one, other in pairs]
    return [int(second) for second in _best(crossings, flatter)]


def _best(crossings: Sequence[_Crossing], flatter: Sequence[bool]) -> Sequence[bool]:
    """The choice (True: towards the second part) with the most crossings that nest, then the flattest."""

    def worth(choice: Sequence[bool]) -> tuple[int, int]:
        return sum(c.nests(choice) for c in crossings), sum(a == b for a, b in zip(choice, flatter, strict=True))

    if len(flatter) <= ALL_COMBINATIONS:
        return max(product((False, True), repeat=len(flatter)), key=worth)
    choice, bettered = list(flatter), True
    while bettered:
        bettered = False
        for k in range(len(choice)):
            turned = [*choice[:k], not choice[k], *choice[k + 1 :]]
            if worth(turned) > worth(choice):
                choice, bettered = turned, True
    return choice


def _seams_ending(net: Arrangement, one: Unit, other: Unit) -> int:
    """How many seams of a unit end on its join with another."""
    points = {p for edge in net.contact(one.region, other.region) for p in net.edges[edge]}
    return sum(
        pair != 0 and pair & ~one.region == 0 and bool(points & set(ends))
        for pair, ends in zip(net.edge_pieces, net.edges, strict=True)
    )


def _crossings(
    net: Arrangement, pairs: Sequence[tuple[Unit, Unit]], k: int, later: Mapping[int, int],
    section: Mapping[int, int], sewn_in: Mapping[int, int],
) -> list[_Crossing]:  # fmt: skip
    one, other = pairs[k]
    border = net.contact(one.region, other.region)
    if not border:
        return []
    ends = [p for edge in border for p in net.edges[edge]]
    start, end = min(ends, key=lambda p: tuple(net.points[p])), max(ends, key=lambda p: tuple(net.points[p]))
    along = net.points[end] - net.points[start]
    found = []
    for point in sorted(set(ends)):
        seams = []
        for unit in (one, other):
            inner = [e for e, pair in enumerate(net.edge_pieces)
                     if pair and point in net.edges[e] and pair & ~unit.region == 0]  # fmt: skip
            seams.append([_pressed(net, pairs, e, along, later, section, sewn_in) for e in inner])
        found += [_Crossing(a, b) for a in seams[0] for b in seams[1]]
    return found


def _pressed(
    net: Arrangement, pairs: Sequence[tuple[Unit, Unit]], edge: int, along: np.ndarray, later: Mapping[int, int],
    section: Mapping[int, int], sewn_in: Mapping[int, int],
) -> tuple[int | None, bool]:  # fmt: skip
    """The join an edge is sewn in, or None within a section; and whether it is pressed forward along a line.

    For a join: whether it is when the join is pressed towards its second part.
    """
    one, other = members(net.edge_pieces[edge])
    forward = float((centroid(net.outlines[other]) - centroid(net.outlines[one])) @ along) > 0
    if edge in sewn_in:
        second = pairs[sewn_in[edge]][1].region
        return sewn_in[edge], forward == bool(second >> other & 1)
    if section[one] == section[other]:
        return None, forward == (later[other] > later[one])
    # Between a pieced start and the section round it: towards the patch that is sewn on.
    return None, forward == (section[one] & 1 << other == 0)
