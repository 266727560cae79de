"""Stage 2 from end to end: the pictures' cards, found, outlined, measured, finished, compared and named."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial

import attrs
import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag

from seamsurvey.errors import UsageError
from seamsurvey.model import (
    Correction,
    Corrections,
    Count,
    LeftOut,
    PhotoReport,
    Picture,
    Plane,
    Template,
    TemplateSet,
)
from seamsurvey.templates.all_cards import Cards, outline_cards
from seamsurvey.templates.allowance import (
    DECIDED,
    GIVEN,
    SEAM_LINE,
    Allowance,
    drawn_allowances,
    finished_outlines,
    given_allowance,
    open_allowance,
    window_allowance,
    written_allowance,
)
from seamsurvey.templates.bare import in_pixels, is_bare, refuse_lengths
from seamsurvey.templates.budget import edge_bias_mm
from seamsurvey.templates.card_notes import allowance_notes, card_notes
from seamsurvey.templates.cards import EXCLUDED, NO_ROOM, left_out_warnings
from seamsurvey.templates.finished import finished_card, printed_seam
from seamsurvey.templates.hypotheses import USUAL_MM, Closes, decide
from seamsurvey.templates.inventory import Inventory, inventory
from seamsurvey.templates.labels import INCLUDED
from seamsurvey.templates.outlined import (
    pointed,
)
from seamsurvey.templates.page_or_cards import PageMeasures
from seamsurvey.templates.regroup import NamedCard, names_given
from seamsurvey.templates.said_by_cards import CardsSay, names_of, read_cards, said_by, with_writing
from seamsurvey.templates.tips import looks_trimmed

Floats = NDArray[np.float64]


def measure_templates(
    pictures: Sequence[tuple[Picture, Plane]],
    *,
    allowance_mm: float | None,
    thickness_mm: float | None = None,
    counts: Mapping[str, Count] | None = None,
    every_card: bool = False,
    closes: Closes | None = None,
    corrections: Corrections | None = None,
    templates_are: str = "auto",
    page_measures: PageMeasures = (None, None),
    writing: bool = False,
) -> TemplateSet:
    """Every template in the pictures, finished size, with its uncertainty.

    ``allowance_mm``: 0 when the templates are finished size; None when nobody knows. A seam line drawn on most of
    them then tells it; else ``closes``, which looks for a block, lets it be decided (``hypotheses``). Where that
    fails, or without ``closes``, they are measured as they were cut, ``allowance_from`` is "open", and a warning
    says so.
    ``counts``: by the names this function gives: T1, T2, ... as the templates lie, in reading order, or those that
    ``corrections`` give or the cards bear.
    ``every_card``: copies of one shape are each a template of their own, as a check of them needs.
    ``templates_are``: "cards", or "printed": outlines on a page (``printed_page``), whose seam lines, where they
    are drawn, are the finished outlines, and which are finished size where nothing tells otherwise.
    ``page_measures``: what a bar or test square on the page, and its grid's squares, should measure, mm
    (``page_scale``).
    ``writing``: what is written on the cards is read, and used where it is clear and nobody says otherwise
    (``said_by_cards``).

    InputError ``no-templates``, ``no-outlines``, ``no-page-measure``; PartMissingError ``no-reading``;
    UsageError ``unknown-template``, ``allowance-too-large``, ``no-such-part``, ``correction-impossible``,
    ``pixels-only``;
    UndecidedError ``cards-or-page``, ``several-measures``.
    """
    if is_bare(pictures):
        refuse_lengths(pictures, allowance_mm, corrections)
        as_seen = finish(
            outline_cards(pictures, templates_are="cards", corrections=corrections),
            Allowance(0.0, GIVEN),
            counts=counts,
            every_card=True,  # what two cards may differ by to be copies is a matter of millimetres
            corrections=corrections,
        )
        return in_pixels(as_seen)
    cards = outline_cards(
        pictures,
        templates_are=templates_are,
        thickness_mm=thickness_mm,
        page_measures=page_measures,
        corrections=corrections,
    )
    return measure_cards(
        cards,
        allowance_mm=allowance_mm,
        thickness_mm=thickness_mm,
        counts=counts,
        every_card=every_card,
        closes=closes,
        corrections=corrections,
        cards_say=read_cards(cards.pictures, cards.outlined) if writing else None,
    )


def measure_cards(
    cards: Cards,
    *,
    allowance_mm: float | None,
    thickness_mm: float | None = None,
    counts: Mapping[str, Count] | None = None,
    every_card: bool = False,
    closes: Closes | None = None,
    corrections: Corrections | None = None,
    cards_say: CardsSay | None = None,
) -> TemplateSet:
    """The same of cards that are outlined, and perhaps read, already."""
    cards_say = cards_say or CardsSay()
    set_of = partial(
        finish, thickness_mm=thickness_mm, counts=counts, every_card=every_card, corrections=corrections
    )
    finished = partial(set_of, cards, cards_say=cards_say)
    as_cut = _inventory(cards, 0.0, every_card=every_card)
    outlined = {card.name: cards.outlined[card.index] for card in as_cut.cards}
    seam_lines = {name: card.seam_line for name, card in outlined.items()}
    if all(card.window for card in cards.outlined):
        return finished(window_allowance(seam_lines))
    if allowance_mm is not None:
        return finished(given_allowance(allowance_mm, seam_lines))

    def concluded(allowance: Allowance) -> TemplateSet:
        # Where nobody said it, a card with no room for it was outlined wrongly, or is none; not where a person has
        # looked at what was doubtful.
        by_person = corrections is not None and (corrections.confirmed or corrections.drawn)
        roomy, say = (cards, cards_say) if by_person else _with_room(cards, cards_say, allowance)
        return set_of(roomy, allowance, cards_say=say)

    printed = all(card.printed for card in cards.outlined)
    drawn = drawn_allowances(seam_lines, printed=printed)
    told = written_allowance(cards_say.allowance, drawn)
    if told is not None:
        return concluded(told)
    if len(drawn) == 1:
        return concluded(drawn[0])
    still_open = (
        finished_outlines()
        if printed
        else open_allowance(
            seam_lines, {name: looks_trimmed(pointed(card, 0.0).edges) for name, card in outlined.items()}
        )
    )
    if closes is None:
        return concluded(drawn[0] if drawn else still_open)
    may_be = [each.mm for each in drawn] or [mm for mm in USUAL_MM if mm or cards_say.allowance != INCLUDED]
    decision = decide(list(_each(may_be, finished)), closes)
    if decision.allowance_mm is None and drawn:
        return concluded(drawn[0])
    if decision.allowance_mm is None:
        said = still_open.warnings if printed else still_open.warnings[1:]
        return finished(attrs.evolve(still_open, warnings=(decision.text, *said)))
    return finished(Allowance(decision.allowance_mm, DECIDED, (decision.text,)))


def _with_room(cards: Cards, cards_say: CardsSay, allowance: Allowance) -> tuple[Cards, CardsSay]:
    """The cards without those that have no room for an allowance, which are left out and named; what they say.

    As they were where none has room.
    """
    kept = [k for k in range(len(cards.outlined)) if _has_room(cards, k, allowance)]
    if not kept or len(kept) == len(cards.outlined):
        return cards, cards_say
    left_out = [
        LeftOut(photo=card.photo, outline_px=cards.pictures[card.photo][1].to_px(card.corners), why=NO_ROOM)
        for k, card in enumerate(cards.outlined)
        if k not in kept
    ]
    say = CardsSay(tuple(cards_say.cards[k] for k in kept)) if cards_say.cards else cards_say
    outlined = tuple(cards.outlined[k] for k in kept)
    return attrs.evolve(cards, outlined=outlined, left_out=(*cards.left_out, *left_out)), say


def _has_room(cards: Cards, index: int, allowance: Allowance) -> bool:
    card = cards.outlined[index]
    if card.seam and (card.window or allowance.source == SEAM_LINE):
        return True  # nothing is taken off: its seam line stands there (`_inventory`)
    try:
        finished_card(
            pointed(card, allowance.mm), cards.pictures, cards.wobbles[card.photo], allowance.mm, name=str(index)
        )
    except UsageError as error:
        if error.code != "allowance-too-large":
            raise
        return False
    return True


def _each(
    allowances_mm: Sequence[float], finished: Callable[[Allowance], TemplateSet]
) -> Iterator[tuple[float, TemplateSet]]:
    """The set finished with each of the allowances that the templates have room for."""
    for allowance_mm in allowances_mm:
        try:
            yield allowance_mm, finished(Allowance(allowance_mm, DECIDED))
        except UsageError as error:
            if error.code != "allowance-too-large":
                raise


def finish(
    cards: Cards,
    allowance: Allowance,
    *,
    thickness_mm: float | None = None,
    counts: Mapping[str, Count] | None = None,
    every_card: bool = False,
    corrections: Corrections | None = None,
    cards_say: CardsSay | None = None,
) -> TemplateSet:
    """The templates with an allowance taken off; UsageError as ``measure_templates``."""
    planes = [plane for _, plane in cards.pictures]
    given = counts or {}
    cards_say = cards_say or CardsSay()
    found = _inventory(
        cards,
        allowance.mm,
        every_card=every_card,
        corrections=corrections,
        by_seam=allowance.source == SEAM_LINE,
        written=lambda groups: names_of(said_by(groups, cards_say), names_given(corrections)),
    )
    templates = [
        attrs.evolve(
            template,
            allowance_from=_source(template, corrections) or allowance.source,
            thickness_mm=thickness_mm,
        )
        for template in with_writing(found.templates, said_by(found.groups, cards_say), given)
    ]
    excluded = [
        LeftOut(
            photo=cards.outlined[card.index].photo,
            outline_px=planes[cards.outlined[card.index].photo].to_px(cards.outlined[card.index].corners),
            why=f"{EXCLUDED} ({card.name})",
        )
        for card in found.excluded
    ]
    return TemplateSet(
        photos=tuple(
            PhotoReport(picture.name, picture.sha256, (picture.width, picture.height), plane, plane.warnings)
            for picture, plane in cards.pictures
        ),
        templates=tuple(_with_counts(templates, given)),
        shared_names=(
            *(f"plane {k}: {name}" for k, plane in enumerate(planes) for name in plane.parameter_names),
            "edge bias",
        ),
        shared_covariance=_shared_covariance(planes),
        left_out=(*cards.left_out, *excluded),
        warnings=(
            *cards.notes,
            *allowance.warnings,
            *card_notes(templates, given),
            *allowance_notes(templates, allowance.mm),
            *found.warnings,
            *_empty_pictures(cards),
            *left_out_warnings(cards.left_out, cards.pictures),
        ),
    )


def _inventory(
    cards: Cards,
    allowance_mm: float,
    *,
    every_card: bool,
    corrections: Corrections | None = None,
    by_seam: bool = False,
    written: Callable[[Sequence[Sequence[NamedCard]]], Mapping[str, str]] | None = None,
) -> Inventory:
    """Every card finished, its tips made up; copies gathered, and what a person corrects put in place.

    ``by_seam``: a printed seam line is the finished outline, as a window always is.
    """

    def finished(index: int, name: str, said: Correction | None = None) -> Template:
        # How far a tip is made up follows from what is taken off beside it: the set's allowance, or the card's own.
        own = said.allowance_mm if said is not None else None
        whole = cards.outlined[index]
        if (
            (by_seam or whole.window)
            and whole.seam
            and not (said and (said.corners or said.allowances_mm or own is not None))
        ):
            return printed_seam(
                whole, cards.pictures, cards.wobbles[whole.photo], allowance_mm, name=name, said=said
            )
        card = pointed(cards.outlined[index], allowance_mm if own is None else own)
        wobble = cards.wobbles[card.photo]
        return finished_card(card, cards.pictures, wobble, allowance_mm, name=name, said=said)

    return inventory(
        [finished(k, str(k)) for k in range(len(cards.outlined))],
        _shared_covariance([plane for _, plane in cards.pictures]),
        every_card=every_card,
        corrections=corrections,
        again=lambda card, said: finished(card.index, card.name, said),
        written=written,
    )


def _source(template: Template, corrections: Corrections | None) -> str:
    """How the template's own allowance is known where job.toml says it, else nothing."""
    said = corrections.templates.get(template.first_name) if corrections else None
    return GIVEN if said is not None and (said.allowance_mm is not None or said.allowances_mm) else ""


def _empty_pictures(cards: Cards) -> list[str]:
    """A sentence for each picture of several that shows no template: it may be the wrong one."""
    shown = {card.photo for card in cards.outlined}
    return [
        f"{picture.name} shows no template. Is it the right picture?"
        for index, (picture, _) in enumerate(cards.pictures)
        if index not in shown
    ]


def _shared_covariance(planes: Sequence[Plane]) -> Floats:
    """(p + 1, p + 1): of every plane's parameters in turn, and of the edge bias (the coarsest picture's)."""
    bias = max(edge_bias_mm(plane) for plane in planes)
    return np.asarray(block_diag(*(np.array(plane.covariance) for plane in planes), np.array([[bias**2]])))


def _with_counts(templates: Sequence[Template], counts: Mapping[str, Count]) -> list[Template]:
    names = [template.name for template in templates]
    for name in counts:
        if name not in (*names, *(template.first_name for template in templates)):
            raise UsageError(
                "unknown-template",
                f"There is no template {name} to count.",
                where=f"the templates are {', '.join(names)}",
                todo="Look at the names drawn over the picture, and run again with --count of one of these.",
            )
    said = {t.name: counts.get(t.name, counts.get(t.first_name)) for t in templates}
    return [
        attrs.evolve(t, count=count.face_up, reversed_count=count.reversed) if (count := said[t.name]) else t
        for t in templates
    ]
