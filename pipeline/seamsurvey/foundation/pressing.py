"""To which side each join is pressed, so that allowances that meet lie beside one another and not on one another.

A seam within a section is folded towards its later patch; there is no choice. Each straight join can be pressed
either way: where two seams meet across a later join, they nest if they are pressed to opposite sides along it.
"""

from collections.abc import Mapping, Sequence
from itertools import product

from attrs import frozen

from seamsurvey.foundation.arrangement import Arrangement, members
from seamsurvey.foundation.joins import Unit
from seamsurvey.geometry import Points, centroid

# So many joins are tried in every combination; more are bettered one by one.
ALL_COMBINATIONS = 10


Seam = tuple[int | None, bool]


@frozen
class _Crossing:
    """Two seams that meet across a join.

    Each is the join it is sewn in, or None within a section; and whether it is pressed forward along the crossed
    join, of a join: when that is pressed towards its second part.
    """

    one: Seam
    other: Seam

    def nests(self, choice: Sequence[bool]) -> bool:
        """Whether the two are pressed to opposite sides."""
        sides = [forward if join is None else forward == choice[join] for join, forward in (self.one, self.other)]
        return sides[0] != sides[1]


def press_towards(
    net: Arrangement, pairs: Sequence[tuple[Unit, Unit]], orders: Mapping[int, Sequence[int]]
) -> list[int]:
    """For each pair of units that are joined, 0 or 1: the part to whose side the allowances are pressed.

    ``orders`` is the sewing order of the pieces of each section, by its region.
    """
    if not pairs:
        return []
    seams = _Seams(net, pairs, orders)
    crossings = [crossing for pair in pairs for crossing in seams.crossings(pair)]
    flatter = [seams.ending(one, other) > seams.ending(other, one) for one, other in pairs]
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


class _Seams:
    """How each stretch of seam is sewn: in a section towards its later patch, or in a join."""

    def __init__(
        self, net: Arrangement, pairs: Sequence[tuple[Unit, Unit]], orders: Mapping[int, Sequence[int]]
    ) -> None:
        self._net, self._pairs = net, pairs
        self._later = {piece: place for order in orders.values() for place, piece in enumerate(order)}
        self._section = {piece: region for region, order in orders.items() for piece in order}
        self._sewn_in = {
            edge: k for k, (one, other) in enumerate(pairs) for edge in net.contact(one.region, other.region)
        }

    def ending(self, one: Unit, other: Unit) -> int:
        """How many seams of a unit end on its join with another."""
        points = {p for edge in self._net.contact(one.region, other.region) for p in self._net.edges[edge]}
        return sum(len(self._inner(point, one.region)) for point in points)

    def crossings(self, pair: tuple[Unit, Unit]) -> list[_Crossing]:
        """Every two seams that meet across the join of two units."""
        one, other = pair
        ends = {p for edge in self._net.contact(one.region, other.region) for p in self._net.edges[edge]}
        if not ends:
            return []
        points = self._net.points
        along = (
            points[max(ends, key=lambda p: tuple(points[p]))] - points[min(ends, key=lambda p: tuple(points[p]))]
        )
        return [
            _Crossing(self._pressed(a, along), self._pressed(b, along))
            for point in sorted(ends)
            for a in self._inner(point, one.region)
            for b in self._inner(point, other.region)
        ]

    def _inner(self, point: int, region: int) -> list[int]:
        """The stretches of seam within a region that end at a point."""
        pairs = enumerate(self._net.edge_pieces)
        return [e for e, pair in pairs if pair and pair & ~region == 0 and point in self._net.edges[e]]

    def _pressed(self, edge: int, along: Points) -> Seam:
        net = self._net
        one, other = members(net.edge_pieces[edge])
        forward = float((centroid(net.outlines[other]) - centroid(net.outlines[one])) @ along) > 0
        join = self._sewn_in.get(edge)
        if join is not None:
            return join, forward == bool(self._pairs[join][1].region >> other & 1)
        if self._section[one] == self._section[other]:
            return None, forward == (self._later[other] > self._later[one])
        # Between a pieced start and the section round it: towards the patch that is sewn on.
        return None, forward == (not self._section[one] >> other & 1)
