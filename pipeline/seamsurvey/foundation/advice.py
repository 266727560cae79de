"""What the planner says in words: set-in seams and their places, and when foundations are not worth the paper."""

from collections import Counter
from collections.abc import Collection, Sequence
from itertools import pairwise

import numpy as np

from seamsurvey.foundation.arrangement import Arrangement, members
from seamsurvey.foundation.corners import SNAP_MM
from seamsurvey.foundation.curves import ArcSeam, Curve, arc_seams, drawn_curves
from seamsurvey.foundation.cuts import corner_points, full_cuts, run_between
from seamsurvey.foundation.joins import Joined, Unit
from seamsurvey.foundation.ranks import reading_order
from seamsurvey.foundation.set_in import set_in_points
from seamsurvey.foundation.ways import Way
from seamsurvey.foundation.words import counted, listed
from seamsurvey.geometry import Points, edge_vectors
from seamsurvey.model import Advice, Block, PlanProof
from seamsurvey.units import fraction_text, mm_text

# A finer even grid than this across a block is no longer a matter of a few strips. Common practice, no source.
FINEST_GRID = 8


def advise(
    way: Way, drawn: Way, joined: Joined, proof: PlanProof, units: str, labels: Sequence[str]
) -> tuple[Advice, ...]:
    """All advice on a plan, the gravest first; ``drawn`` is the block uncured, ``units`` "inch" or "mm".

    ``labels`` are what the pieces of ``way`` are called on the papers: A1, B2.
    """
    curves = drawn_curves(way.net) if way.kind == "set-in" else []
    on_curves = {point for curve in curves for point in curve.points}
    set_in = set_in_advice(way.net, way.whole, units, on_curves, labels) if way.kind == "set-in" else ()
    rotary = rotary_advice(way.net, way.block, units) if way.kind == "straight" and not way.net.bows else ()
    curved = (
        *curve_advice(way.net, curves, units, labels),
        *(_arc_advice(way, seam, joined, units) for seam in arc_seams(way.sewn, way.whole)),
    )
    return (
        *curved,
        *set_in,
        *partial_advice(way, units, labels),
        *_added_advice(way, drawn),
        *rotary,
        *_search_advice(proof, (*curved, *set_in)),
    )


def curve_advice(
    net: Arrangement, curves: Sequence[Curve], units: str, labels: Sequence[str]
) -> tuple[Advice, ...]:
    """One sentence for every curved seam, with the middle of it."""
    result = []
    for curve in curves:
        middle = net.points[list(curve.points)].mean(axis=0)
        point = min(curve.points, key=lambda p: float(np.hypot(*(net.points[p] - middle))))
        x, y = (float(v) for v in net.points[point])
        names = _called(labels, curve.pieces)
        text = (
            f"{names} meet in a curved seam, {_where(net, x, y, units)} about its middle: no foundation can hold a "
            "curve. Keep the templates for these pieces, cut with the allowance, pin the seam at its middle and "
            "its ends, and sew it before the straight seams beside it."
        )
        result.append(Advice("curved-seam", text, (x, y)))
    return tuple(result)


def _arc_advice(way: Way, seam: ArcSeam, joined: Joined, units: str) -> Advice:
    """Where a curved seam is, and how it is sewn: between what is finished, never on paper."""
    x, y = (float(v) for v in seam.middle)
    names = listed(sorted(_sections(joined.named[unit.region]) for unit in (seam.left, seam.right)))
    text = fraction_text if units == "inch" else mm_text
    arcs = listed([f"radius {text(radius)}, {sweep:.0f}°" for radius, sweep in seam.arcs])
    concave = "the side that bows in" if seam.hollow is None else _sections(joined.named[seam.hollow.region])
    bends = " Where the seam bends beside its arcs, stop, turn, and sew on." if seam.bends else ""
    pieces = listed(sorted({way.block.piece(way.net.ids[piece]).template for piece in members(seam.pieces)}))
    return Advice(
        "curved-seam",
        f"{names} meet in a curved seam ({arcs}), {_where(way.net, x, y, units)} about its middle. It is joined by "
        f"hand between the finished sections: mark the middles, clip the concave allowance of {concave}, pin, ease "
        f"in.{bends} The template pages hold the shapes of {pieces}.",
        (x, y),
    )


def _sections(name: str) -> str:
    """The letters of the sections in a place or a result: "A-2+B" is A + B; a unit of many keeps its name."""
    if "unit" in name:
        return name
    return " + ".join(sorted({part.partition("-")[0] for part in name.split("+")}))


def _called(labels: Sequence[str], pieces: int) -> str:
    """What pieces are called on the papers; copies of one patch are counted."""
    counts = Counter(labels[piece] for piece in members(pieces))
    return listed([f"{number} of {name}" if number > 1 else name for name, number in counts.items()])


def partial_advice(way: Way, units: str, labels: Sequence[str]) -> tuple[Advice, ...]:
    """One sentence for every partial seam, with the point it must not be sewn up to at first."""
    result = []
    for slit in way.slits:
        x, y = (float(v) for v in way.net.points[slit.tip])
        names = _called(labels, slit.beside)
        text = (
            f"{names} meet in a partial seam: begin at its far end and stop half-way, well before the point "
            f"{_where(way.net, x, y, units)}. When the pieces round it are on, sew it to its end."
        )
        result.append(Advice("partial-seam", text, (x, y)))
    return tuple(result)


def _added_advice(way: Way, drawn: Way) -> tuple[Advice, ...]:
    """Say what the added seams are for, and that the parts of a piece stay one fabric."""
    if way.cut_up is None:
        return ()
    points = set_in_points(drawn.net)
    templates = [drawn.block.piece(name).template for name in drawn.net.ids]
    where = f"at {counted(len(points), 'point')}"
    if not points:
        knot = sorted({templates[k] for k in members(_knot(drawn))})
        where = f"where pieces of {listed(knot)} lie round one another"
    cut = Counter(templates[piece.piece] for piece in way.cut_up.pieces)
    pieces = listed([f"{number} of {name}" for name, number in sorted(cut.items())])
    extra = counted(way.cut_up.extra_fragments, "extra patch", "extra patches")
    text = (
        f"As drawn, the block has Y-seams {where}, and no foundation can hold them. Added seams remove them, with "
        f"{extra}: they cut {pieces}. Cut the parts of a piece from one fabric, and the added seam hardly shows. "
        "To sew the block as drawn, see the other ways to sew it."
    )
    return (Advice("added-seam", text),)


def _knot(drawn: Way) -> int:
    """The pieces of a cell that no straight cut parts."""
    waiting = [drawn.net.everything]
    while waiting:
        region = waiting.pop()
        cuts = full_cuts(drawn.net, region)
        if not cuts and region & (region - 1):
            return region
        waiting += [part for cut in cuts[:1] for part in (cut.one, cut.other)]
    return drawn.net.everything


def set_in_advice(
    net: Arrangement, whole: Unit, units: str, on_curves: Collection[int], labels: Sequence[str]
) -> tuple[Advice, ...]:
    """One sentence or two for every point at which a seam has to be set in, in reading order, curves left out."""
    bends = sorted(
        {
            point
            for one, other in whole.joins()
            for point in corner_points(net, run_between(net, one.region, other.region))[1:-1]
            if point not in on_curves
        }
    )
    passed = {point for chain in net.chains for point in chain.points[1:-1]}
    result = []
    for k in reading_order(net.points[bends]) if bends else []:
        point = bends[k]
        x, y = (float(v) for v in net.points[point])
        names = _called(labels, net.around[point])
        how = (
            "The straight seam past this point can also be sewn as a partial seam: part of the way first, the rest "
            "when the pieces round it are on."
            if point in passed
            else "Sew to the point and stop there, turn, and sew on along the next edge."
        )
        text = f"{names} meet in a Y-seam, {_where(net, x, y, units)}: no foundation can hold them all. {how}"
        result.append(Advice("set-in", text, (x, y)))
    return tuple(result)


def _where(net: Arrangement, x: float, y: float, units: str) -> str:
    left, bottom = net.points.min(axis=0)
    text = fraction_text if units == "inch" else mm_text
    return f"{text(x - left)} from the left and {text(y - bottom)} from the bottom"


def _search_advice(proof: PlanProof, set_in: Sequence[Advice]) -> tuple[Advice, ...]:
    if proof.searched_all or set_in:
        return ()
    return (
        Advice(
            "search-stopped",
            f"The time limit ended the search: this plan has {proof.fewest_sections} sections, and none can have "
            f"fewer than {proof.lower_bound}. A longer time limit may find a better one.",
        ),
    )


def rotary_advice(net: Arrangement, block: Block, units: str) -> tuple[Advice, ...]:
    """Say so where the block is a plain grid, or a pieced block of squares and their halves and quarters."""
    if len(net.ids) < 2:
        return ()
    if all(_is_upright_rectangle(outline) for outline in net.outlines):
        if not any(_lie_in_rows(net.outlines, axis) for axis in (0, 1)):
            return ()
        text = (
            "Every patch is a rectangle and they lie in straight rows, so rotary cutting is quicker: cut strips, "
            "cut them across, and sew row by row. Foundations would only add paper to print and to tear away."
        )
        return (Advice("rotary-cutting", text),)
    for across in range(1, FINEST_GRID + 1):
        step = block.width / across
        if _on_even_grid(net, block, step):
            size = fraction_text(step) if units == "inch" else mm_text(step)
            text = (
                "Every patch is a square, a rectangle, or a square cut once or twice from corner to corner, on an "
                f"even grid of {size}, so rotary cutting is quicker: the patches come from strips, several at a "
                "time, and there is no paper to print and to tear away. Foundations are still the surer way to "
                "sharp points."
            )
            return (Advice("rotary-cutting", text),)
    return ()


def _is_upright_rectangle(outline: Points) -> bool:
    return len(outline) == 4 and bool(np.all(np.min(np.abs(edge_vectors(outline)), axis=1) <= SNAP_MM))


def _lie_in_rows(outlines: Sequence[Points], axis: int) -> bool:
    """Whether rectangles fall into bands across the block: their extents along an axis are alike or apart."""
    extents = sorted((float(o[:, axis].min()), float(o[:, axis].max())) for o in outlines)
    return all(
        b[0] >= a[1] - SNAP_MM or (abs(b[0] - a[0]) <= SNAP_MM and abs(b[1] - a[1]) <= SNAP_MM)
        for a, b in pairwise(extents)
    )


def _on_even_grid(net: Arrangement, block: Block, step: float) -> bool:
    corner = np.asarray(block.outline).min(axis=0)
    if not _whole_steps(np.array([[block.width, block.height]]), step):
        return False
    return all(_is_grid_patch(outline - corner, step) for outline in net.outlines)


def _is_grid_patch(outline: Points, step: float) -> bool:
    """A rectangle or half-square triangle on the grid, or a quarter-square triangle with its long side on it."""
    if _is_upright_rectangle(outline):
        return _whole_steps(outline, step)
    if len(outline) != 3:
        return False
    along = edge_vectors(outline)
    lengths = np.hypot(along[:, 0], along[:, 1])
    longest = int(np.argmax(lengths))
    legs = np.delete(lengths, longest)
    if abs(legs[0] - legs[1]) > 2 * SNAP_MM or abs(lengths[longest] - legs[0] * np.sqrt(2)) > 4 * SNAP_MM:
        return False
    upright = np.min(np.abs(along), axis=1) <= 2 * SNAP_MM
    if np.all(np.delete(upright, longest)):
        return _whole_steps(outline, step)
    return bool(upright[longest]) and _whole_steps(outline[[longest, (longest + 1) % 3]], step)


def _whole_steps(points: Points, step: float) -> bool:
    return bool(np.all(np.abs(points - np.round(points / step) * step) <= 4 * SNAP_MM))
