"""What to do about set-in seams: every cure is worked out as a whole plan, and all are told, the best first."""

from collections.abc import Iterator

import numpy as np
from attrs import evolve, frozen

from seamsurvey.foundation.arrangement import Arrangement, members
from seamsurvey.foundation.cures import cut_up
from seamsurvey.foundation.curves import drawn_curves
from seamsurvey.foundation.ways import Wanted, Way, as_drawn, with_added_seams, with_partial_seams
from seamsurvey.foundation.words import counted, listed
from seamsurvey.model import AddedSeam, Block, Cure

# Regions the search for the fewest added seams may look into, for each region of the budget of sections: it is as
# slow again, and where it stops a cure is known all the same.
SHARE_OF_CURES = 0.25
KINDS = ("added-seam", "partial", "set-in")

Segment = tuple[tuple[float, float], tuple[float, float]]


@frozen(eq=False)
class Choice:
    """The way to sew the block, its added seams, and all cures that were considered."""

    way: Way
    drawn: Way  # the block as it is, its set-in seams left
    cures: tuple[Cure, ...] = ()
    added_seams: tuple[AddedSeam, ...] = ()


def choose(block: Block, wanted: Wanted, cure: str, never_cut: frozenset[str]) -> Choice:
    """The best way to sew a block; ``cure`` names the kind that is wanted for set-in seams, or "auto".

    An added seam comes first: it leaves straight seams only. A partial seam cuts nothing, but is finished under the
    needle when its neighbours are on; a set-in seam is the last resort.
    """
    drawn = as_drawn(block, wanted)
    if drawn.kind == "straight":
        return Choice(drawn, drawn)
    if drawn_curves(drawn.net):
        # Straight cuts do not cure a curve; advice says where templates stay.
        return Choice(drawn, drawn)
    ways = {
        "added-seam": _with_added_seams(drawn, wanted, never_cut),
        "partial": with_partial_seams(drawn, wanted),
        "set-in": drawn,
    }
    found = {kind: way for kind in KINDS if (way := ways[kind]) is not None}
    chosen = cure if cure in found else next(iter(found))
    cures = tuple(
        Cure(
            kind=kind,
            text=_text(way),
            extra_fragments=way.cut_up.extra_fragments if way.cut_up else 0,
            sections=way.sections,
            prints=way.prints,
            lines=_lines(way),
            chosen=kind == chosen,
        )
        for kind, way in found.items()
    )
    return Choice(found[chosen], drawn, cures, _added_seams(found[chosen], drawn))


def _with_added_seams(drawn: Way, wanted: Wanted, never_cut: frozenset[str]) -> Way | None:
    net, block = drawn.net, drawn.block
    templates = [block.piece(name).template for name in net.ids]
    # A straight cut through a curved piece would end on its arc, and leave two arcs to ease in for one.
    protected = frozenset(
        k
        for k, (name, template) in enumerate(zip(net.ids, templates, strict=True))
        if {name, template} & never_cut or net.bulges[k]
    )
    cuts = cut_up(net, templates, protected, max(1, round(wanted.budget * SHARE_OF_CURES)))
    # Symmetry comes before what whole plans tell, so that those that keep less of it need not be worked out.
    cuts = [cut for cut in cuts if cut.asymmetry == cuts[0].asymmetry]
    each = evolve(wanted, budget=max(1, wanted.budget // max(1, len(cuts))))
    cured = [way for cut in cuts if (way := with_added_seams(drawn, cut, each)) is not None]
    return min(cured, key=Way.cost, default=None)


def _text(way: Way) -> str:
    sewn = f"{counted(way.sections, 'section')}, {counted(way.prints, 'different paper')}"
    if way.cut_up is not None:
        cut = way.cut_up
        most = "" if cut.proved else ", the fewest found"
        return (
            f"Added seams: {counted(len(cut.pieces), 'piece')} cut, "
            f"{counted(cut.extra_fragments, 'extra patch', 'extra patches')}{most}; all seams straight. {sewn}."
        )
    if way.kind == "partial":
        return (
            f"Partial seams: nothing is cut; {counted(len(way.slits), 'seam')} sewn part of the way first and "
            f"finished when the pieces round it are on. {sewn}."
        )
    return f"As drawn: nothing is cut; {counted(way.best.bends, 'Y-seam')}. {sewn}."


def _lines(way: Way) -> tuple[Segment, ...]:
    if way.kind == "partial":
        points = way.net.points
        return tuple((_point(points[slit.tip]), _point(points[slit.end])) for slit in way.slits)
    return tuple(segment for _, segment in _cuts(way))


def _cuts(way: Way) -> Iterator[tuple[str, Segment]]:
    """The added seams, piece by piece: each a straight run between parts of one piece."""
    net, parts = way.net, way.parts

    def cut(edge: int) -> str | None:
        names = [parts.get(net.ids[k], (net.ids[k], 0)) for k in members(net.edge_pieces[edge])]
        return names[0][0] if names[0][0] == names[1][0] and names[0][1] else None

    for chain in net.chains:
        start = 0
        pieces = [cut(edge) for edge in chain.edges]
        for k, piece in enumerate(pieces):
            if k + 1 == len(pieces) or pieces[k + 1] != piece:
                if piece is not None:
                    yield piece, (_point(net.points[chain.points[start]]), _point(net.points[chain.points[k + 1]]))
                start = k + 1


def _point(point: np.ndarray) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _added_seams(way: Way, drawn: Way) -> tuple[AddedSeam, ...]:
    return tuple(
        AddedSeam(piece, start, end, _why(drawn.net, piece, start, end))
        for piece, (start, end) in sorted(_cuts(way))
    )


def _why(net: Arrangement, piece: str, start: tuple[float, float], end: tuple[float, float]) -> str:
    """Which pieces would meet in a set-in seam at an end of the added seam."""
    passed = {point for chain in net.chains for point in chain.points[1:-1]}
    for place in (start, end):
        near = np.hypot(*(net.points - np.array(place)).T)
        point = int(np.argmin(near))
        if near[point] < 0.1 and not net.on_outline[point] and point not in passed:
            return f"so that {listed([net.ids[k] for k in members(net.around[point])])} can be sewn straight"
    return f"so that the seam at {piece} runs on from edge to edge"
