"""Stage 3: from the TemplateSet to the Block: find the layouts that fit, adjust each to close, say what is sure.

The table of contents of the room: shapes, find (hypotheses, search, rank), close, seams.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamsurvey.adjustment import NotAdjustedError
from seamsurvey.block.climb import Climb, Offer, ladder
from seamsurvey.block.close import Closed, close
from seamsurvey.block.find import Finder, Found
from seamsurvey.block.hint import chosen
from seamsurvey.block.hypotheses import Known, whole_block
from seamsurvey.block.lengths import matches
from seamsurvey.block.misfits import misfits
from seamsurvey.block.orient import oriented, scaled
from seamsurvey.block.outlines import OUTLINES, SQUARE, Outline, box, corner_angles
from seamsurvey.block.partial import partial_block
from seamsurvey.block.prior import prior_of
from seamsurvey.block.rank import Ranked
from seamsurvey.block.refuse import cannot_fill, check, counts_guessed, does_not_close, is_guess, no_layout
from seamsurvey.block.seams import seams_of
from seamsurvey.block.shapes import Shapes, shapes_of
from seamsurvey.block.snap import snap
from seamsurvey.block.work import Work
from seamsurvey.model import Block, LayoutProof, Match, Snapped, TemplateSet

# Hand-cut cards fit one another to half a millimetre or so (common practice, no source); a layout that fits worse
# is believed only if one mis-measured edge explains it.
_FITS_MM = 0.6
_EXPLAINED_SIGMA0 = 3.0
_DOUBTFUL = 1e-3  # p-value of the global test below which the block carries a warning
_MOST_RIVALS = 8
_MOST_CLOSED = 24  # rivals that are adjusted, to see what each leaves unexplained
# A layout holds only if certain lengths and angles agree. One that leaves two agreements of the measured templates
# unexplained, which another needs, takes them for chance; one alone may be, on a grid of quarter inches.
_UNEXPLAINED = 2

Tell = Callable[[str], None]


def assemble(
    templates: TemplateSet,
    *,
    symmetry: str = "auto",
    outline: str = "auto",
    finish_mm: float | None = None,
    finish_height_mm: float | None = None,
    grid_mm: float | None = None,
    picture: NDArray[np.uint8] | None = None,
    seed: int = 0,
    time_limit_s: float = 60.0,
    tell: Tell | None = None,
    on_partial: Callable[[Block], None] | None = None,
    even_guessed: bool = False,
) -> tuple[Block, ...]:
    """Fill an outline with the templates' pieces: the blocks that fit, the likeliest first.

    ``outline`` is the name of one of ``outlines.OUTLINES``, or "auto"; with ``finish_height_mm`` it is the
    rectangle ``finish_mm`` wide and so high.

    One block when it is clearly the likeliest (``rank`` states the rule), else it and its close rivals: a person
    must choose. Each tiles its outline exactly. Its lower left corner is the origin; of the ways it can be turned
    that one is taken that brings the first template's pieces lowest, then furthest left (``orient``). Pieces are
    named by template and copy, "T1-1", from the lowest left on. ``proof.searched_all``: every layout with the
    block's counts and symmetry was tried.

    With ``grid_mm`` lengths are set to that grid where the measurements allow it (``snap``); with ``finish_mm`` the
    block is then scaled to that width, its shape kept. ``picture`` (h, w, 3) uint8 RGB shows the assembled block;
    it only helps to choose between layouts that fit (``hint``). Before a refusal ``on_partial`` is given the
    fullest partial layout, as it was laid, not adjusted. With ``even_guessed`` a layout is returned that is else
    raised for a question, as one who only asks whether the pieces close needs it.

    ``seed`` changes nothing: the search is deterministic; it is taken so that every stage can be called alike.
    Raises UndecidedError ``several-layouts`` when a single layout fits counts that were guessed without symmetry to
    go by; InputError ``no-templates``, ``count-cannot-fill``, or ``no-layout`` (with the fullest failure).
    """
    del seed
    check(templates, symmetry, outline)
    shapes = shapes_of(templates)
    known = whole_block(shapes, _known(templates), symmetry)
    outlines = _outlines(outline, finish_mm, finish_height_mm)
    work = Work(time_limit_s)
    say = tell or (lambda _: None)

    finish = _Finish(finish_mm, grid_mm, matches(templates), picture)

    def offered(found: Found) -> Offer:
        return _closed(templates, shapes, found, finish, work)

    finder = Finder(shapes, known, symmetry, outlines, work)
    climb = Climb(finder, ladder(shapes), offered, say)
    sewn = climb.sewn()
    if sewn:
        return sewn
    for group in finder.groups():
        blocks = climb.blocks(group)
        if blocks:
            if not (finder.counted or even_guessed) and is_guess(blocks, cut_short=finder.late()):
                raise counts_guessed(blocks[0])
            return blocks
    if climb.doubtful.blocks:
        return _looked_at_again(climb.doubtful, finder, offered)
    partial = partial_block(shapes, climb.fullest.best)
    if partial and on_partial:
        on_partial(partial)
    why = misfits(templates, finish.matches, corner_angles(outlines))
    if math.isfinite(climb.open_mm):
        raise does_not_close(climb.open_mm, why)
    if finder.counted and climb.fullest.searched_all:
        raise cannot_fill(shapes, known, climb.fullest, why)
    raise no_layout(shapes, known, climb.fullest, symmetry, why, late=work.over())


def _looked_at_again(doubtful: Offer, before: Finder, offered: Callable[[Found], Offer]) -> tuple[Block, ...]:
    """The doubtful blocks; or, with the edge that is suspected set right, what a tight search finds then.

    The wide snap that a wrong edge needs loses layouts. Layouts are adjusted with what was measured all the same.
    """
    if doubtful.mended is None:
        return doubtful.blocks
    shapes = shapes_of(doubtful.mended)
    finder = before.with_shapes(shapes)
    climb = Climb(finder, ladder(shapes)[:2], offered, lambda _: None)
    for group in finder.groups():
        blocks = climb.blocks(group) or climb.doubtful.blocks
        if blocks:
            return blocks
    return doubtful.blocks


def _outlines(name: str, width: float | None, height: float | None) -> tuple[Outline, ...]:
    if width and height:
        return (SQUARE,) if width == height else (box(height / width),)
    return tuple(OUTLINES.values()) if name == "auto" else (OUTLINES[name],)


def _known(templates: TemplateSet) -> Known:
    return tuple(
        (t.count, t.reversed_count if t.reversed_count is not None else (0 if t.count is not None else None))
        for t in templates.templates
    )


def _closed(templates: TemplateSet, shapes: Shapes, found: Found, finish: "_Finish", work: Work) -> Offer:
    """Adjust the likeliest layout and its rivals; those that don't hold together are left out."""
    held: list[tuple[Ranked, Closed]] = []
    open_mm = math.inf
    for ranked in [*found.layouts[:1], *found.rivals][:_MOST_CLOSED]:
        work.spend("closed", len(ranked.layout.pieces))
        work.spend("solved", len(ranked.layout.at) ** 3)
        try:
            closed = close(templates, shapes, ranked)
        except NotAdjustedError:
            continue
        if _believable(closed):
            held.append((ranked, closed))
        else:
            open_mm = min(open_mm, closed.closure.rms_mm)
    if not held:
        return Offer(open_mm=open_mm)
    held = _explaining(held, seen_all=len(found.rivals) < _MOST_CLOSED)
    best = held[0][1]
    drawn = [_block(templates, shapes, one, found, finish) for one in held[:_MOST_RIVALS]]
    blocks = drawn if finish.picture is None else chosen(drawn, finish.picture)
    return Offer(tuple(blocks), open_mm, best.mended, best.p_value < _DOUBTFUL)


def _explaining(held: list[tuple[Ranked, Closed]], *, seen_all: bool) -> list[tuple[Ranked, Closed]]:
    """The likeliest first, counting what each explains; without those that leave too much to chance."""
    held = sorted(held, key=lambda one: (-one[0].order, -one[1].adjustment.dof))
    (best, closed), *_ = held
    if not seen_all:
        return held
    return [
        (ranked, other)
        for ranked, other in held
        if other.adjustment.dof > closed.adjustment.dof - _UNEXPLAINED or ranked.counts != best.counts
    ]


def _believable(closed: Closed) -> bool:
    if closed.closure.rms_mm <= _FITS_MM:
        return True
    result = closed.adjustment
    if not closed.closure.suspect_edges or result.dof < 2:
        return False
    left = (result.chi_square - closed.suspect_w**2) / (result.dof - 1)
    return left <= _EXPLAINED_SIGMA0**2


@dataclass(frozen=True)
class _Finish:
    """What is done to a layout once it is closed."""

    width_mm: float | None
    grid_mm: float | None
    matches: tuple[Match, ...]
    picture: NDArray[np.uint8] | None


def _block(
    templates: TemplateSet, shapes: Shapes, held: tuple[Ranked, Closed], found: Found, finish: _Finish
) -> Block:
    ranked, measured = held
    closed: Closed = measured
    snapped: tuple[Snapped, ...] = ()
    if finish.grid_mm and measured.p_value >= _DOUBTFUL:
        closed, snapped = snap(templates, shapes, ranked, measured, finish.grid_mm)
    outline, pieces = oriented(shapes, ranked.layout, closed)
    scale = finish.width_mm / float(np.ptp(outline[:, 0])) if finish.width_mm else 1.0
    outline, pieces = scaled(outline, pieces, scale)
    return Block(
        outline=outline,
        size_u_mm=measured.size_u_mm * scale,
        symmetry=ranked.symmetry,
        pieces=pieces,
        seams=seams_of(pieces),
        closure=measured.closure,
        proof=LayoutProof(searched_all=found.searched_all, layouts_found=len(found.layouts)),
        warnings=(*_doubts(measured), *_unshown(found)),
        prior=prior_of(outline, pieces, ranked.meeting_points),
        matches=finish.matches,
        snapped=snapped,
    )


def _doubts(closed: Closed) -> tuple[str, ...]:
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


def _unshown(found: Found) -> tuple[str, ...]:
    fit = 1 + len(found.rivals)
    if fit <= _MOST_RIVALS:
        return ()
    count = f"{fit}" if found.searched_all else f"At least {fit}"
    return (f"{count} layouts fit equally well; the first {_MOST_RIVALS} are given. Rows can often be exchanged.",)
