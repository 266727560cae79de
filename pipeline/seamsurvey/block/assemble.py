"""Stage 3: from the TemplateSet to the Block: find the layouts that fit, adjust each to close, put them in order.

The table of contents of the room: shapes; survey (classes, sizes, groups, tiles, fill, guesses, traits, meaning),
or where that finds none the search by measured shapes (find, climb); close; snap; seams.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.adjustment import NotAdjustedError
from seamsurvey.block.classes import mostly_drawn
from seamsurvey.block.climb import Climb, Offer, ladder
from seamsurvey.block.close import Closed, close
from seamsurvey.block.contenders import (
    Contender,
    contender_of,
    in_order,
    weighed_by_counts,
    with_straight_seams,
)
from seamsurvey.block.doubts import DOUBTFUL, fit_doubt, size_doubt
from seamsurvey.block.find import Finder, Found
from seamsurvey.block.guesses import Guesses
from seamsurvey.block.hint import shown_among, shown_first
from seamsurvey.block.hypotheses import Known, whole_block
from seamsurvey.block.lack import but_for_one, lack_of
from seamsurvey.block.lengths import matches
from seamsurvey.block.meaning import asked_size, reasons
from seamsurvey.block.meets import Meeting, check_meetings, met
from seamsurvey.block.misfits import misfits
from seamsurvey.block.orient import oriented, scaled
from seamsurvey.block.outlines import OUTLINES, SQUARE, Outline, box, corner_angles
from seamsurvey.block.partial import partial_block
from seamsurvey.block.prior import prior_of
from seamsurvey.block.rank import ranked, same_layout
from seamsurvey.block.refuse import cannot_fill, check, does_not_close, no_layout
from seamsurvey.block.seams import seams_of
from seamsurvey.block.shapes import Shapes, shapes_of
from seamsurvey.block.snap import snap
from seamsurvey.block.survey import nearness, surveyed
from seamsurvey.block.turned import turned_layouts
from seamsurvey.block.work import Work
from seamsurvey.model import Block, LayoutProof, Match, Reason, Snapped, TemplateSet
from seamsurvey.unions import united

# Hand-cut cards fit one another to half a millimetre or so (common practice, no source); a layout that fits worse
# is believed only if the errors of the lengths as they were measured explain it, or one mis-measured edge.
_FITS_MM = 0.6
_EXPLAINED = 0.05  # p-value of the global test: by as much as that lengths are off one time in twenty
_EXPLAINED_SIGMA0 = 3.0
_TILES = 1e-7  # of the block's area: closed layouts tile to rounding, or miss by far more
_MOST_OFFERED = 12
_TURNING_S = 3.0
_LAST_RESORT = 6  # times less for the search by measured shapes where regular ones were searched
_MOST_CLOSED = 40  # layouts that are adjusted; with a picture to choose by, the more
_MOST_SHOWN = 24
# Of so many pieces, cut anyhow, hardly two edges are alike by chance: sewn from below a block is found in a second,
# filled from a corner on it is not.
_MANY_PIECES = 24
_WORST_FIT = 8.0  # logarithm of odds that the worst fit costs: measurements may be worse than they say

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
    meets: Sequence[Meeting] = (),
    seed: int = 0,
    time_limit_s: float = 60.0,
    tell: Tell | None = None,
    on_partial: Callable[[Block], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> tuple[Block, ...]:
    """Fill an outline with the templates' pieces: the blocks that fit, the likeliest first.

    ``outline`` is the name of one of ``outlines.OUTLINES``, or "auto"; with ``finish_height_mm`` it is the
    rectangle ``finish_mm`` wide and so high.

    At most so many blocks as one can look at; ``proof`` says how many fit. ``meaning`` states what puts them in
    order, and each block's ``reasons`` what speaks for it. Each tiles its outline exactly. Its lower left corner is
    the origin; of the ways it can be turned that one is taken that brings the first template's pieces lowest, then
    furthest left (``orient``). Pieces are named by template and copy, "T1-1", from the lowest left on.
    ``proof.searched_all``: every layout with the block's counts was looked for, in every outline asked for.

    With ``grid_mm`` lengths are set to that grid where the measurements allow it (``snap``). With ``finish_mm``
    blocks that measure so come first, and are then scaled to that width, their shape kept. ``picture`` (h, w, 3)
    uint8 RGB shows the assembled block; it only helps to choose between layouts that fit (``hint``), as ``meets``
    does: edges that a person has seen sewn to one another. Before a
    refusal ``on_partial`` is given the fullest partial layout, as it was laid, not adjusted. Once ``stop`` is true
    the best so far is taken; ``tell`` hears how far the search has come.

    ``seed`` changes nothing: the search is deterministic; it is taken so that every stage can be called alike.
    Raises InputError ``no-templates``, ``count-cannot-fill``, or ``no-layout`` (with the fullest failure).
    """
    del seed
    check(templates, symmetry, outline)
    shapes = shapes_of(templates)
    check_meetings(shapes, meets)
    known = whole_block(shapes, _known(templates), symmetry)
    outlines = _outlines(outline, finish_mm, finish_height_mm)
    work = Work(time_limit_s, stop)
    say = tell or (lambda _: None)
    finish = _Finish((finish_mm, finish_height_mm), grid_mm, matches(templates), picture, tuple(meets))
    counted = all(up is not None for up, _ in known)
    guessed = None if counted else Guesses.of(shapes, known, outlines, planned=False)
    closing = _Closing(templates, shapes, finish, work, guessed)

    finder = Finder(shapes, known, symmetry, outlines, work)
    pieces = sum((up or 0) + (over or 0) for up, over in known)
    sewn_first = counted and pieces > _MANY_PIECES and not mostly_drawn(templates)
    if sewn_first:
        blocks = Climb(finder, ladder(shapes), closing.of_found, say).sewn()
        if blocks:
            return blocks

    say("laying pieces in every outline")
    asked = (finish_mm, finish_height_mm or finish_mm) if finish_mm else None
    survey = surveyed(templates, shapes, known, outlines, symmetry, work, asked, say)
    offer = closing.offer(survey.contenders, found=survey.found, searched_all=survey.all)
    if offer.doubtful and offer.mended is not None:
        # An edge that was measured wrong hides the layouts that need it: with what its neighbours say they show.
        mended = surveyed(offer.mended, shapes_of(offer.mended), known, outlines, symmetry, work, asked)
        some = [*survey.contenders, *mended.contenders]
        offer = closing.offer(some, found=survey.found + mended.found, searched_all=survey.all and mended.all)
        if offer.blocks:
            return offer.blocks
    if offer.blocks and not offer.doubtful:
        if not survey.all and survey.found < _MOST_OFFERED:
            some = [*survey.contenders, *_with_parts_turned(shapes, survey.contenders)]
            offer = closing.offer(some, found=len(some), searched_all=False)
        say(f"{survey.found} layout(s) fit")
        return but_for_one(offer.blocks, templates, shapes, known)
    # Another search, with a limit of its own: for cards that follow a plan a last resort, which seldom finds more.
    work = Work(time_limit_s / _LAST_RESORT if survey.planned else time_limit_s, stop)
    closing = _Closing(templates, shapes, finish, work, guessed)
    finder = Finder(shapes, known, symmetry, outlines, work, sew=not sewn_first)
    measured = _by_measured_shapes(templates, finder, closing, say)
    if measured.blocks and not (measured.doubtful and offer.blocks):
        return measured.blocks
    if offer.blocks:
        return offer.blocks
    climb = measured.climb
    lack = lack_of(templates, shapes, known, outlines)
    partial = lack.partial or partial_block(shapes, climb.fullest.best)
    if partial and on_partial:
        on_partial(partial)
    why = [*lack.words, *misfits(templates, finish.matches, corner_angles(outlines))]
    if math.isfinite(climb.open_mm):
        raise does_not_close(climb.open_mm, why)
    if survey.all and climb.fullest.searched_all:
        raise cannot_fill(shapes, known, climb.fullest, why)
    raise no_layout(shapes, known, climb.fullest, symmetry, why, late=work.over())


def _with_parts_turned(shapes: Shapes, found: Sequence[Contender]) -> list[Contender]:
    """Rivals of the likeliest layout that a search cut short may have missed: with a part turned where it lies."""
    near = nearness(shapes)
    rivals = ranked(shapes, list(turned_layouts(shapes, found[0].layout, Work(_TURNING_S))))
    return [
        contender_of(shapes, one, near)
        for one in rivals
        if not any(same_layout(shapes, one.layout, c.layout) for c in found)
    ]


@dataclass(frozen=True)
class _Measured:
    """What the search by measured shapes came to."""

    blocks: tuple[Block, ...]
    doubtful: bool
    climb: Climb


def _by_measured_shapes(templates: TemplateSet, finder: Finder, closing: "_Closing", say: Tell) -> _Measured:
    """The search that holds noisy shapes together as it lays them: for cards that follow no plan, and arcs."""
    shapes = shapes_of(templates)
    climb = Climb(finder, ladder(shapes), closing.of_found, say)
    sewn = climb.sewn()
    if sewn:
        return _Measured(sewn, False, climb)
    for group in finder.groups():
        blocks = climb.blocks(group)
        if blocks:
            return _Measured(blocks, False, climb)
    if not climb.doubtful.blocks:
        return _Measured((), False, climb)
    return _Measured(_looked_at_again(climb.doubtful, finder, closing), True, climb)


def _looked_at_again(doubtful: Offer, before: Finder, closing: "_Closing") -> tuple[Block, ...]:
    """The doubtful blocks; or, with the edge that is suspected set right, what a tight search finds then.

    The wide snap that a wrong edge needs loses layouts. Layouts are adjusted with what was measured all the same.
    """
    if doubtful.mended is None:
        return doubtful.blocks
    shapes = shapes_of(doubtful.mended)
    finder = before.with_shapes(shapes)
    climb = Climb(finder, ladder(shapes)[:2], closing.of_found, lambda _: None)
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


@dataclass(frozen=True)
class _Finish:
    """What was asked of the block, and is done to a layout once it is closed."""

    size_mm: tuple[float | None, float | None]
    grid_mm: float | None
    matches: tuple[Match, ...]
    picture: NDArray[np.uint8] | None
    meets: tuple[Meeting, ...]


@dataclass(frozen=True, eq=False)
class _Held:
    """A layout that closes; ``points`` with what its size and its fit say."""

    contender: Contender
    closed: Closed
    extra: tuple[Reason, ...]

    @property
    def points(self) -> float:
        return self.contender.points + sum(reason.points for reason in self.extra)


class _Closing:
    """Adjusts layouts, the likeliest first; those that don't hold together are left out."""

    def __init__(
        self, templates: TemplateSet, shapes: Shapes, finish: _Finish, work: Work, guesses: Guesses | None
    ) -> None:
        self._templates, self._shapes, self._finish, self._work = templates, shapes, finish, work
        self._guesses = guesses  # where the counts are not known
        self._counted = guesses is None

    def of_found(self, found: Found) -> Offer:
        """The blocks of layouts that were found by measured shapes."""
        near = nearness(self._shapes)
        some = in_order([contender_of(self._shapes, ranked, near) for ranked in found.layouts])
        if self._guesses:
            some = weighed_by_counts(some, self._guesses.against)
        some = with_straight_seams(some, near)
        return self.offer(some, found=len(some), searched_all=found.searched_all)

    def offer(self, contenders: Sequence[Contender], *, found: int, searched_all: bool) -> Offer:
        """The blocks of layouts in order; ``found`` of them there are, those not handed over included."""
        line = sorted(contenders, key=lambda c: -c.points - sum(reason.points for reason in self._asked(c)))
        most = _MOST_OFFERED
        if self._finish.picture is not None:
            # Every layout is compared as it was laid; only those that the picture shows best are adjusted.
            line, most = shown_among(line, self._finish.picture), _MOST_SHOWN
        held: list[_Held] = []
        open_mm = math.inf
        refused = 0
        for contender in line[: max(_MOST_CLOSED, most)]:
            if len(held) >= most or (held and self._work.over()):
                break
            one = self._held(contender)
            if isinstance(one, _Held):
                held.append(one)
            else:
                refused += 1
                open_mm = min(open_mm, one)
        if not held:
            return Offer(open_mm=open_mm)
        held.sort(key=lambda one: -one.points)
        best = held[0].closed
        # Of counts that nobody told there are always more.
        proof = LayoutProof(
            searched_all and self._counted, max(found - refused, len(held)), round(self._work.done_s, 2)
        )
        blocks = [self._block(one, proof) for one in held]
        if self._finish.picture is not None:
            blocks = shown_first(blocks, self._finish.picture)
        return Offer(tuple(blocks[:_MOST_OFFERED]), open_mm, best.mended, best.p_value < DOUBTFUL)

    def _held(self, contender: Contender) -> "_Held | float":
        """The layout closed, or how far it misses, mm."""
        self._work.spend("closed", len(contender.layout.pieces))
        self._work.spend("solved", len(contender.layout.at) ** 3)
        try:
            closed = close(self._templates, self._shapes, contender.layout)
        except NotAdjustedError:
            return math.inf
        if not _believable(closed) or not _tiles(contender, closed):
            return closed.closure.rms_mm
        return _Held(contender, closed, (*self._asked(contender), *_fit(closed)))

    def _asked(self, contender: Contender) -> tuple[Reason, ...]:
        """What speaks for a layout by what a person has said."""
        meets = met(self._shapes, contender.layout, self._finish.meets)
        return *meets, *asked_size(contender.traits, *self._finish.size_mm)

    def _block(self, held: _Held, proof: LayoutProof) -> Block:
        contender, measured, finish = held.contender, held.closed, self._finish
        closed: Closed = measured
        snapped: tuple[Snapped, ...] = ()
        if finish.grid_mm and measured.p_value >= DOUBTFUL:
            closed, snapped = snap(self._templates, self._shapes, contender.layout, measured, finish.grid_mm)
        outline, pieces = oriented(self._shapes, contender.layout, closed)
        width = finish.size_mm[0]
        scale = width / float(np.ptp(outline[:, 0])) if width else 1.0
        outline, pieces = scaled(outline, pieces, scale)
        # What was measured, as far as it may be off, is within this of the size that was set, too.
        said = width is not None or self._templates.in_px
        u_mm = (measured.size_u_mm + _apart(closed.size, measured.size)) * scale
        return Block(
            outline=outline,
            size_u_mm=u_mm,
            symmetry=contender.symmetry,
            pieces=pieces,
            seams=seams_of(pieces),
            closure=measured.closure,
            proof=proof,
            warnings=(*fit_doubt(measured), *(() if said else size_doubt(float(np.ptp(outline[:, 0])), u_mm))),
            prior=prior_of(outline, pieces, contender.traits.vertices),
            reasons=(*held.extra, *contender.extra, *reasons(contender.traits)),
            matches=finish.matches,
            snapped=snapped,
        )


def _apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    return max(abs(a - b) for a, b in zip(one, other, strict=True))


def _believable(closed: Closed) -> bool:
    if closed.closure.rms_mm <= _FITS_MM or closed.p_value >= _EXPLAINED:
        return True
    result = closed.adjustment
    if not closed.closure.suspect_edges or result.dof < 2:
        return False
    left = (result.chi_square - closed.suspect_w**2) / (result.dof - 1)
    return left <= _EXPLAINED_SIGMA0**2


def _tiles(contender: Contender, closed: Closed) -> bool:
    """Whether the closed pieces leave no gap and overlap nowhere: a corner taken for another shows here."""
    outline = Polygon([(z.real, z.imag) for z in contender.layout.outline.at(*closed.size)])
    pieces = [Polygon(closed.vertices[list(ring)]) for _, _, ring in contender.layout.pieces]
    if not all(piece.is_valid for piece in pieces):
        return False
    off = _TILES * outline.area
    return (
        abs(sum(piece.area for piece in pieces) - outline.area) <= off
        and abs(united(pieces).area - outline.area) <= off
    )


def _fit(closed: Closed) -> tuple[Reason, ...]:
    """What a poor fit says against a layout: the logarithm of the likelihood that it lost beyond chance."""
    dof = closed.adjustment.dof
    lost = (closed.adjustment.chi_square - dof - 2 * math.sqrt(2 * dof)) / 2
    if lost <= 0:
        return ()
    text = f"its pieces miss one another by {closed.closure.rms_mm:.1f} mm"
    return (Reason("fit", text, -min(lost, _WORST_FIT)),)
