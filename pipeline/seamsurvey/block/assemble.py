"""Stage 3: from the TemplateSet to the Block: find the layouts that fit, adjust each to close, say what is sure.

The table of contents of the room: shapes, find (hypotheses, search, rank), close, seams.
"""

import time
from collections.abc import Callable

from seamsurvey.adjustment import NotAdjustedError
from seamsurvey.block.close import Closed, close
from seamsurvey.block.find import Finder, Found
from seamsurvey.block.hypotheses import Known
from seamsurvey.block.orient import oriented, scaled
from seamsurvey.block.rank import Ranked
from seamsurvey.block.refuse import cannot_fill, check, no_layout
from seamsurvey.block.seams import seams_of
from seamsurvey.block.shapes import Shapes, shapes_of
from seamsurvey.model import Block, LayoutProof, TemplateSet

# The ladder of snaps, in standard deviations of an edge's length, then in mm for cards cut worse than they measure.
_SNAP_SIGMAS = (4.0, 6.0, 8.0)
_SNAPS_MM = (0.5, 1.0, 1.6, 2.5)
_LEAST_SNAP_MM = 0.3
_SNAP_OF_SHORTEST = 0.2  # a snap wider than this share of the shortest edge takes a neighbour for the true corner
_STEP = 1.25  # rungs nearer to one another than this ratio are one

# Hand-cut cards fit one another to half a millimetre or so (common practice, no source); a layout that fits worse
# is believed only if one mis-measured edge explains it.
_FITS_MM = 0.6
_EXPLAINED_SIGMA0 = 3.0
_DOUBTFUL = 1e-3  # p-value of the global test below which the block carries a warning
_MOST_RIVALS = 8

Tell = Callable[[str], None]


def assemble(
    templates: TemplateSet,
    *,
    symmetry: str = "auto",
    finish_mm: float | None = None,
    seed: int = 0,
    time_limit_s: float = 60.0,
    tell: Tell | None = None,
) -> tuple[Block, ...]:
    """Fill a square or a rectangle with the templates' pieces: the blocks that fit, the likeliest first.

    One block when it is clearly the likeliest (``rank`` states the rule), else it and its close rivals: a person must
    choose. Each tiles its outline exactly. Its lower left corner is the origin; of the ways it can be turned that
    one is taken that brings the first template's pieces lowest, then furthest left (``orient``). With ``finish_mm``
    the adjusted block is scaled to that width, its shape kept. Pieces are named by template and copy, "T1-1", from
    the lowest left on. ``proof.searched_all``: every layout with the block's counts and symmetry was tried.

    ``seed`` changes nothing: the search is deterministic; it is taken so that every stage can be called alike.
    Raises InputError ``no-templates``, ``count-cannot-fill``, or ``no-layout`` (with the fullest failure).
    """
    del seed
    check(templates, symmetry)
    shapes = shapes_of(templates)
    known = _known(templates)
    deadline = time.monotonic() + time_limit_s
    say = tell or (lambda _: None)
    finder = Finder(shapes, known, symmetry, deadline)
    fullest = Found()
    for snap in _ladder(shapes):
        say(f"placing pieces, corners meeting to {snap:.1f} mm")
        found = finder.at(snap)
        if found.layouts:
            blocks = _closed(templates, shapes, found, finish_mm)
            if blocks:
                say(f"{len(found.layouts)} layout(s) fit, {found.tried} tried in {found.steps} steps")
                return blocks
        if found.best.share >= fullest.best.share:
            fullest = found
        if time.monotonic() >= deadline:
            break
    if finder.counted and fullest.searched_all:
        raise cannot_fill(shapes, known, fullest)
    raise no_layout(shapes, known, fullest, symmetry, time.monotonic() >= deadline)


def _known(templates: TemplateSet) -> Known:
    return tuple(
        (t.count, t.reversed_count if t.reversed_count is not None else (0 if t.count is not None else None))
        for t in templates.templates
    )


def _ladder(shapes: Shapes) -> list[float]:
    widest = max(_SNAP_OF_SHORTEST * shapes.shortest_edge, _LEAST_SNAP_MM)
    rungs: list[float] = []
    for snap in sorted({max(k * shapes.sigma, _LEAST_SNAP_MM) for k in _SNAP_SIGMAS} | set(_SNAPS_MM)):
        if snap <= widest and (not rungs or snap >= _STEP * rungs[-1]):
            rungs.append(snap)
    return rungs or [widest]


def _closed(templates: TemplateSet, shapes: Shapes, found: Found, finish_mm: float | None) -> tuple[Block, ...]:
    """The likeliest layout and its rivals, adjusted; those that don't hold together are left out."""
    blocks = []
    for ranked in [*found.layouts[:1], *found.rivals][:_MOST_RIVALS]:
        try:
            closed = close(templates, shapes, ranked)
        except NotAdjustedError:
            continue
        if _believable(closed):
            blocks.append(_block(shapes, ranked, closed, found, finish_mm))
    return tuple(blocks)


def _believable(closed: Closed) -> bool:
    if closed.closure.rms_mm <= _FITS_MM:
        return True
    result = closed.adjustment
    if not closed.closure.suspect_edges or result.dof < 2:
        return False
    left = (result.chi_square - closed.suspect_w**2) / (result.dof - 1)
    return left <= _EXPLAINED_SIGMA0**2


def _block(shapes: Shapes, ranked: Ranked, closed: Closed, found: Found, finish_mm: float | None) -> Block:
    outline, pieces = oriented(shapes, ranked.layout, closed)
    scale = finish_mm / float(outline[1, 0]) if finish_mm else 1.0
    outline, pieces = scaled(outline, pieces, scale)
    return Block(
        outline=outline,
        size_u_mm=closed.size_u_mm * scale,
        symmetry=ranked.symmetry,
        pieces=pieces,
        seams=seams_of(pieces),
        closure=closed.closure,
        proof=LayoutProof(searched_all=found.searched_all, layouts_found=len(found.layouts)),
        warnings=_warnings(closed),
    )


def _warnings(closed: Closed) -> tuple[str, ...]:
    if closed.p_value >= _DOUBTFUL:
        return ()
    closure = closed.closure
    blame = (
        closure.suspect_edges[0].text
        if closure.suspect_edges
        else "No single edge explains it; the cards may be cut less truly than they were measured."
    )
    return (
        f"The pieces fit less well than they were measured (sigma0 {closure.sigma0:.1f}, corners "
        f"{closure.rms_mm:.2f} mm off on average). {blame}",
    )
