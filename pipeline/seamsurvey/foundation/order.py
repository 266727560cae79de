"""The sewing order within one section: every next piece meets what is sewn along one straight line.

Read backwards, each full cut takes off one piece. In a convex region any piece that can come off may come off first
(what is left of a valid order is a valid order), so no search is needed; the choice is free for the trade's habits.
"""

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from seamsurvey.foundation.arrangement import Arrangement, members
from seamsurvey.foundation.cuts import full_cuts
from seamsurvey.foundation.ranks import ranks
from seamsurvey.geometry import centroid

# From this many pieces on, a strip or fan is sewn from one end to the other; shorter ones from the middle outwards.
# Common practice, no source.
LONG_ROW = 4


class Peeling:
    """Which pieces can be sewn last, remembered for every region asked about."""

    def __init__(self, net: Arrangement, apart: Sequence[int] = ()) -> None:
        """``apart`` are pairs of pieces, as sets, that no section may hold both of: their seam is left open."""
        self.net = net
        self._apart = tuple(apart)
        self._last: dict[int, tuple[int, ...]] = {}

    def last_pieces(self, region: int) -> tuple[int, ...]:
        """Pieces that one full cut takes off the region, so that they can be sewn last."""
        if any(region & pair == pair for pair in self._apart):
            return ()
        if region not in self._last:
            loose = set[int]()
            for cut in full_cuts(self.net, region):
                if cut.separates:
                    loose.update(part.bit_length() - 1 for part in (cut.one, cut.other) if part & (part - 1) == 0)
            self._last[region] = tuple(sorted(loose))
        return self._last[region]

    def core(self, region: int) -> int:
        """What is left of a region when all pieces are taken off that can come off one by one."""
        while region & (region - 1):
            last = self.last_pieces(region)
            if not last:
                return region
            region &= ~(1 << last[0])
        return region

    def is_section(self, region: int) -> bool:
        """Whether a region can be sewn piece by piece."""
        core = self.core(region)
        return core & (core - 1) == 0

    def order(
        self, region: int, later: Callable[[int], tuple[float, ...]], core: int = 0
    ) -> tuple[int, ...] | None:
        """Pieces in sewing order, those with the greatest ``later`` sewn last; None when that leads nowhere.

        With a ``core``, only those that are sewn round it.
        """
        backwards: list[int] = []
        while region & (region - 1):
            if region == core:
                return tuple(reversed(backwards))
            last = self.last_pieces(region)
            if not last:
                return None
            piece = max(last, key=later)
            backwards.append(piece)
            region &= ~(1 << piece)
        return (region.bit_length() - 1, *reversed(backwards))


def sewing_order(
    peeling: Peeling, region: int, templates: Sequence[str], colours: Mapping[str, str], core: int = 0
) -> tuple[int, ...]:
    """The pieces of a section in sewing order.

    A long row is sewn from its smaller end; everything else from the middle outwards. Where two are alike, the
    darker comes later, for its allowance lies under itself. ``templates`` names each piece's template and
    ``colours`` gives "#rrggbb" by template. With a ``core`` (a pieced start), only what comes round it is ordered.
    """
    pieces = list(members(region))
    row = _row(peeling.net, pieces) if len(pieces) >= LONG_ROW and not core else None
    distance = dict(zip(pieces, _ranks_from_middle(peeling.net, region, pieces), strict=True))

    def from_the_middle(piece: int) -> tuple[float, ...]:
        return (distance[piece], _darkness(colours.get(templates[piece], "")), piece)

    if row is not None:
        by_size = ranks([peeling.net.areas[row[0]], peeling.net.areas[row[-1]]], tolerance=0.01)
        if (by_size[0], _darkness(colours.get(templates[row[0]], "")), row[0]) > (
            by_size[1], _darkness(colours.get(templates[row[-1]], "")), row[-1],
        ):  # fmt: skip
            row.reverse()
        place = {piece: k for k, piece in enumerate(row)}
        along = peeling.order(region, lambda piece: (place[piece],))
        if along == tuple(row):
            return along
    found = peeling.order(region, from_the_middle, core) or peeling.order(region, lambda piece: (-piece,), core)
    if found is None:
        raise ValueError("the region is not a section")
    return found


def _row(net: Arrangement, pieces: Sequence[int]) -> list[int] | None:
    """The pieces one after another, if each meets only the one before and the one after."""
    region = sum(1 << piece for piece in pieces)
    beside = {piece: list(members(net.neighbours[piece] & region)) for piece in pieces}
    ends = [piece for piece in pieces if len(beside[piece]) == 1]
    if len(ends) != 2 or any(len(others) > 2 for others in beside.values()):
        return None
    row = [ends[0]]
    while len(row) < len(pieces):
        row.append(next(piece for piece in beside[row[-1]] if piece not in row[-2:]))
    return row


def _ranks_from_middle(net: Arrangement, region: int, pieces: Sequence[int]) -> list[int]:
    middle = centroid(net.outline(region))
    return ranks([float(np.hypot(*(centroid(net.outlines[piece]) - middle))) for piece in pieces])


def _darkness(colour: str) -> float:
    """0 = white or unknown, 1 = black: from the luma of Rec. 709, enough to tell a dark cloth from a light one."""
    try:
        red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    except ValueError:
        return 0.0
    return round(1 - (0.2126 * red + 0.7152 * green + 0.0722 * blue), 3)
