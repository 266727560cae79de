"""Which pieces to cut, and where, so that a block with set-in seams can be sewn straight.

Each cell that no straight cut parts is cured by itself, and its equals are cured alike. Cures with the fewest extra
fragments are ranked by symmetry first; among the best, whole plans decide (``plan.py``).
"""

from collections.abc import Iterator, Sequence
from itertools import islice, product

import numpy as np
from attrs import evolve, field, frozen

from seamsurvey.foundation.added_seams import AddedSeams, Cell, StoppedError
from seamsurvey.foundation.arrangement import Arrangement
from seamsurvey.foundation.fragments import Fragments, Region, sharp_corners
from seamsurvey.foundation.isometries import Isometry, Patches, isometries, symmetries_of
from seamsurvey.foundation.lines import is_crowded, lines_of
from seamsurvey.foundation.ranks import reading_order_of
from seamsurvey.foundation.set_in import prices_of, set_in_points
from seamsurvey.geometry import Points, edge_lengths

# Cures of one cell that go into whole plans, and whole plans that are tried.
MOST_OF_A_CELL = 6
MOST_PLANS = 12
# Without any cure found at once, no more fragments than this for each set-in point of a cell, and this many beside.
MOST_A_POINT, MOST_BESIDE = 3, 4
# Where the best cut there and then leads to slivers only, a cure is seldom found: the share of the budget for it.
SHARE_WITHOUT_HOPE = 20


@frozen(eq=False)
class CutPiece:
    """A piece and the parts it is cut into, (n, 2) block each."""

    piece: int
    parts: tuple[Points, ...]


@frozen(eq=False)
class CutUp:
    """One cure of all cells: the pieces it cuts."""

    pieces: tuple[CutPiece, ...]
    asymmetry: int  # how many symmetries of the cells it does not keep
    extra_fragments: int
    off_axis: int  # pieces cut otherwise than along their own axis of symmetry
    length: float  # mm of added seams
    proved: bool  # no cure without slivers has fewer extra fragments


def cut_up(net: Arrangement, kinds: Sequence[str], protected: frozenset[int], budget: int) -> list[CutUp]:
    """The best cures of a block by added seams, the most symmetric first; empty where only slivers would do.

    ``kinds`` is each piece's template and ``protected`` the pieces that may not be cut; ``budget`` counts regions.
    """
    cured: list[tuple[int, list[_CellCure]]] = []
    for fragments in _attempts(net, protected):
        cured = _cured_cells(net, kinds, fragments, budget)
        if all(cures for _, cures in cured):
            break
    else:
        return []
    # Equal cells are cured alike, so that one choice is made for each kind of cell.
    first = dict(cured)
    plans = []
    for choice in islice(product(*(range(len(cures[:MOST_OF_A_CELL])) for cures in first.values())), MOST_PLANS):
        index = dict(zip(first, choice, strict=True))
        plans.append(_together(net, fragments, [cures[index[kind]] for kind, cures in cured]))
    return sorted(plans, key=lambda plan: (plan.asymmetry, plan.off_axis, round(plan.length, 1)))


def _attempts(net: Arrangement, protected: frozenset[int]) -> Iterator[Fragments]:
    """The lines to cut along and the sharp corners excused, with nothing cut yet; the kindest is tried first.

    A point of a piece that is under 20° as drawn stays under 20° in a fragment. The person sews it in any case, so
    that it does not stand against a cure; but a cure that cuts across it, or leaves it alone, comes first.
    """
    points = set_in_points(net)
    few = lines_of(net)
    crowded = [point for point in points if is_crowded(net, few, point, protected)]
    sets = [lines_of(net, crowded) if crowded else few]
    if set(crowded) != set(points):
        sets.append(lines_of(net, points))
    sharp = np.vstack([sharp_corners(outline) for outline in net.outlines])
    for excused in (None, sharp) if len(sharp) else (None,):
        for lines in sets:
            yield Fragments(lines, net.points[points].reshape(-1, 2), protected, excused)


def _cured_cells(
    net: Arrangement, kinds: Sequence[str], fragments: Fragments, budget: int
) -> "list[tuple[int, list[_CellCure]]]":
    """The cells of a block, each with its kind and its cures; the first without any is the last looked at."""
    whole = frozenset(fragments.number(k, outline) for k, outline in enumerate(net.outlines))
    search = _Cells(net, kinds, fragments, prices_of(net, fragments.lines, set_in_points(net)), budget)
    cured: list[tuple[int, list[_CellCure]]] = []
    for part in fragments.fall_apart(whole):
        if len(part) > 1 and all(cures for _, cures in cured):
            cured.append(search.cured(part))
    return cured


@frozen(eq=False)
class _CellCure:
    region: Region
    lost: int  # symmetries of the cell that it does not keep
    proved: bool


@frozen(eq=False)
class _Cells:
    """The cells of one block and their cures, each kind of cell thought through once."""

    net: Arrangement
    kinds: Sequence[str]
    fragments: Fragments
    prices: Points
    budget: int
    _known: list[tuple[Patches, list[_CellCure]]] = field(factory=list, init=False)

    def cured(self, part: Region) -> tuple[int, list[_CellCure]]:
        """The kind of a cell, and its cures in an order that is the same for all cells of a kind."""
        pieces = sorted(self.fragments.all[f].piece for f in part)
        protected = self.fragments.protected
        patches = Patches(
            {k: self.net.outlines[k] for k in pieces}, {k: (self.kinds[k], k in protected) for k in pieces}
        )
        for kind, (like, cures) in enumerate(self._known):
            way = next(isometries(like, patches), None)
            if way is not None:
                return kind, [evolve(cure, region=self._carried(cure.region, way)) for cure in cures]
        self._known.append((patches, self._solved(part, patches)))
        return len(self._known) - 1, self._known[-1][1]

    def _carried(self, region: Region, way: Isometry) -> Region:
        fragments = (self.fragments.all[f] for f in region)
        return frozenset(self.fragments.number(way.onto[f.piece], way.carry(f.outline)) for f in fragments)

    def _solved(self, part: Region, patches: Patches) -> list[_CellCure]:
        search = AddedSeams(self.fragments, Cell(part, symmetries_of(patches)), self.prices, self.budget)
        quick = search.first_found()
        if quick is None:
            search = evolve(search, budget=self.budget // SHARE_WITHOUT_HOPE)
        most = len(quick) - len(part) if quick else MOST_A_POINT * search.owing(part) + MOST_BESIDE
        try:
            found = search.cures() if search.fewest(most) is not None else []
            proved = True
        except StoppedError:
            found, proved = ([quick] if quick else []), False
        cures = [_CellCure(cure, search.lost(cure), proved) for cure in found]
        return sorted(cures, key=lambda cure: (cure.lost, *_unkindness(self.net, self.fragments, cure.region)))


def _together(net: Arrangement, fragments: Fragments, cures: Sequence[_CellCure]) -> CutUp:
    region = frozenset[int]().union(*(cure.region for cure in cures))
    off_axis, length = _unkindness(net, fragments, region)
    cut = _parts(fragments, region)
    return CutUp(
        pieces=tuple(CutPiece(piece, tuple(cut[piece])) for piece in sorted(cut)),
        asymmetry=sum(cure.lost for cure in cures),
        extra_fragments=sum(len(parts) - 1 for parts in cut.values()),
        off_axis=off_axis,
        length=length,
        proved=all(cure.proved for cure in cures),
    )


def _parts(fragments: Fragments, region: Region) -> dict[int, list[Points]]:
    """The parts of each piece that is cut, in reading order."""
    parts: dict[int, list[Points]] = {}
    for number in sorted(region):
        parts.setdefault(fragments.all[number].piece, []).append(fragments.all[number].outline)
    return {piece: [own[k] for k in reading_order_of(own)] for piece, own in parts.items() if len(own) > 1}


def _unkindness(net: Arrangement, fragments: Fragments, region: Region) -> tuple[int, float]:
    """How many pieces are cut otherwise than along their own axis, and the length of the added seams, 0.1 mm."""
    off_axis, length = 0, 0.0
    for piece, parts in _parts(fragments, region).items():
        off_axis += not _mirror_images(parts)
        length += (sum(edge_lengths(p).sum() for p in parts) - edge_lengths(net.outlines[piece]).sum()) / 2
    return off_axis, round(float(length), 1)


def _mirror_images(parts: Sequence[Points]) -> bool:
    if len(parts) != 2:
        return False
    one, other = (Patches({0: part}, {0: ""}) for part in parts)
    return any(way.mirrored for way in isometries(one, other))
