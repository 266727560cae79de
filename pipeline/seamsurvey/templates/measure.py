"""Stage 2 from end to end: the pictures' cards, found, outlined, measured, finished, compared and named."""

from collections.abc import Callable, Iterator, Mapping, Sequence

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.linalg import block_diag

from seamsurvey.errors import InputError, UsageError
from seamsurvey.geometry import edge_lengths, offset_polygon
from seamsurvey.model import Count, LeftOut, PhotoReport, Picture, Plane, Template, TemplateSet
from seamsurvey.templates.allowance import (
    DECIDED,
    Allowance,
    drawn_allowance,
    given_allowance,
    open_allowance,
)
from seamsurvey.templates.budget import budgeted_edges, edge_bias_mm
from seamsurvey.templates.cards import TOO_SMALL, place_text
from seamsurvey.templates.hypotheses import USUAL_MM, Closes, decide
from seamsurvey.templates.lines import wobble_of
from seamsurvey.templates.outline import own_covariance, shared_sensitivity
from seamsurvey.templates.outlined import Outlined, outlined_cards, pointed, settled
from seamsurvey.templates.tips import looks_trimmed
from seamsurvey.templates.twins import gather, nearly_equal_warnings, with_twins
from seamsurvey.templates.wobble import Wobble
from seamsurvey.units import mm_text

Floats = NDArray[np.float64]


@frozen(kw_only=True)
class Cards:
    """All cards of the pictures, outlined, with what they share; nothing is taken off yet."""

    pictures: tuple[tuple[Picture, Plane], ...]
    outlined: tuple[Outlined, ...]
    wobbles: tuple[Wobble, ...]  # of each picture
    left_out: tuple[LeftOut, ...]


def measure_templates(
    pictures: Sequence[tuple[Picture, Plane]],
    *,
    allowance_mm: float | None,
    thickness_mm: float | None = None,
    counts: Mapping[str, Count] | None = None,
    every_card: bool = False,
    closes: Closes | None = None,
) -> TemplateSet:
    """Every template in the pictures, finished size, with its uncertainty.

    ``allowance_mm``: 0 when the templates are finished size; None when nobody knows. A seam line drawn on most of
    them then tells it; else ``closes``, which looks for a block, lets it be decided (``hypotheses``). Where that
    fails, or without ``closes``, they are measured as they were cut, ``allowance_from`` is "open", and a warning
    says so.
    ``counts``: by the names this function gives: T1, T2, ... as the templates lie, in reading order.
    ``every_card``: copies of one shape are each a template of their own, as a check of them needs.

    InputError ``no-templates``, ``template-at-border``, ``templates-touch``, ``edge-unclear``, ``no-ground``;
    UsageError ``unknown-template``, ``allowance-too-large``.
    """
    cards = outline_cards(pictures)

    def finished(allowance: Allowance) -> TemplateSet:
        return finish(cards, allowance, thickness_mm=thickness_mm, counts=counts, every_card=every_card)

    as_cut = _named(cards, 0.0, every_card=every_card)
    seam_lines = {name: card.seam_line for name, card in as_cut.items()}
    if allowance_mm is not None:
        return finished(given_allowance(allowance_mm, seam_lines))
    drawn = drawn_allowance(seam_lines)
    if drawn is not None:
        return finished(drawn)
    still_open = open_allowance(seam_lines, {name: looks_trimmed(card.lines) for name, card in as_cut.items()})
    if closes is None:
        return finished(still_open)
    decision = decide(list(_each_usual(finished)), closes)
    if decision.allowance_mm is None:
        return finished(attrs.evolve(still_open, warnings=(decision.text, *still_open.warnings[1:])))
    return finished(Allowance(decision.allowance_mm, DECIDED, (decision.text,)))


def _each_usual(finished: Callable[[Allowance], TemplateSet]) -> Iterator[tuple[float, TemplateSet]]:
    """The set finished with every usual allowance that the templates have room for."""
    for allowance_mm in USUAL_MM:
        try:
            yield allowance_mm, finished(Allowance(allowance_mm, DECIDED))
        except UsageError as error:
            if error.code != "allowance-too-large":
                raise


def outline_cards(pictures: Sequence[tuple[Picture, Plane]]) -> Cards:
    """All cards in the pictures, outlined, in reading order; the errors of ``measure_templates``."""
    left_out: list[LeftOut] = []
    outlined: list[Outlined] = []
    wobbles: list[Wobble] = []
    for photo, (picture, plane) in enumerate(pictures):
        found, rest = outlined_cards(picture, plane, photo)
        wobble = wobble_of([card.lines for card in found])
        left_out.extend(rest)
        outlined.extend(in_reading_order([settled(card, picture, plane, wobble) for card in found]))
        wobbles.append(wobble)
    if not outlined:
        raise _no_templates(pictures, left_out)
    return Cards(
        pictures=tuple(pictures), outlined=tuple(outlined), wobbles=tuple(wobbles), left_out=tuple(left_out)
    )


def _named(cards: Cards, allowance_mm: float, *, every_card: bool) -> dict[str, Outlined]:
    """The cards that are templates of their own, by name, their tips made up."""
    drafts, pointed_cards = _drafts(cards, allowance_mm)
    kept, _ = (drafts, []) if every_card else gather(drafts)
    return {f"T{k + 1}": pointed_cards[draft.name] for k, draft in enumerate(kept)}


def _drafts(cards: Cards, allowance_mm: float) -> tuple[list[Template], dict[str, Outlined]]:
    """Every card finished, named in reading order; and each card, its tips made up, by that name."""
    whole = {f"T{k + 1}": pointed(card, allowance_mm) for k, card in enumerate(cards.outlined)}
    drafts = [
        _finished(card, cards.pictures, cards.wobbles[card.photo], allowance_mm, name=name)
        for name, card in whole.items()
    ]
    return drafts, whole


def finish(
    cards: Cards,
    allowance: Allowance,
    *,
    thickness_mm: float | None = None,
    counts: Mapping[str, Count] | None = None,
    every_card: bool = False,
) -> TemplateSet:
    """The templates with an allowance taken off; UsageError ``unknown-template``, ``allowance-too-large``."""
    drafts, _ = _drafts(cards, allowance.mm)
    kept, pairs = (drafts, []) if every_card else gather(drafts)
    names = [f"T{k + 1}" for k in range(len(kept))]
    templates = with_twins(
        [
            attrs.evolve(draft, name=name, allowance_from=allowance.source, thickness_mm=thickness_mm)
            for draft, name in zip(kept, names, strict=True)
        ],
        pairs,
    )
    planes = [plane for _, plane in cards.pictures]
    return TemplateSet(
        photos=tuple(
            PhotoReport(picture.name, picture.sha256, (picture.width, picture.height), plane, plane.warnings)
            for picture, plane in cards.pictures
        ),
        templates=tuple(_with_counts(templates, counts or {})),
        shared_names=(
            *(f"plane {k}: {name}" for k, plane in enumerate(planes) for name in plane.parameter_names),
            "edge bias",
        ),
        shared_covariance=_shared_covariance(planes),
        left_out=cards.left_out,
        warnings=(
            *allowance.warnings,
            *nearly_equal_warnings(templates, pairs),
            *_left_out_warnings(cards.left_out, cards.pictures),
        ),
    )


def _left_out_warnings(left_out: Sequence[LeftOut], pictures: Sequence[tuple[Picture, Plane]]) -> tuple[str, ...]:
    """A sentence for each thing as large as a template that was not taken for one."""
    return tuple(
        f"Something as large as a template was left out ({place_text(each.outline_px, pictures[each.photo][0])}):"
        f" {each.why}."
        for each in left_out
        if each.why not in TOO_SMALL
    )


def _shared_covariance(planes: Sequence[Plane]) -> Floats:
    """(p + 1, p + 1): of every plane's parameters in turn, and of the edge bias (the coarsest picture's)."""
    bias = max(edge_bias_mm(plane) for plane in planes)
    return np.asarray(block_diag(*(np.array(plane.covariance) for plane in planes), np.array([[bias**2]])))


def in_reading_order(cards: Sequence[Outlined]) -> list[Outlined]:
    """Row by row from the top, each from the left: a row is what begins above its first card's middle."""
    waiting = sorted(cards, key=lambda card: -float(card.corners[:, 1].max()))
    ordered: list[Outlined] = []
    while waiting:
        first = waiting[0].corners[:, 1]
        middle = (float(first.max()) + float(first.min())) / 2
        row = [card for card in waiting if card.corners[:, 1].max() > middle]
        waiting = [card for card in waiting if card.corners[:, 1].max() <= middle]
        ordered.extend(sorted(row, key=lambda card: float(card.corners[:, 0].min())))
    return ordered


def _finished(
    card: Outlined,
    pictures: Sequence[tuple[Picture, Plane]],
    wobble: Wobble,
    allowance_mm: float,
    name: str,
) -> Template:
    picture, plane = pictures[card.photo]
    corners_px = plane.to_px(card.corners)
    try:
        finished = offset_polygon(card.corners, -allowance_mm)
    except ValueError as error:
        raise UsageError(
            "allowance-too-large",
            f"A template has no room for an allowance of {mm_text(allowance_mm, 2)} on every side: its shortest"
            f" edge measures {mm_text(float(edge_lengths(card.corners).min()))}.",
            where=place_text(corners_px, picture),
            likely="The templates are finished size, or the allowance is smaller.",
            todo="Run again with --allowance none, or with the right allowance.",
        ) from error
    own = own_covariance(card.lines, finished, wobble)
    shared = shared_sensitivity(card.lines, card.corners, allowance_mm, plane)
    counts = [len(other.parameter_names) for _, other in pictures]
    begin = sum(counts[: card.photo])
    sensitivity = np.zeros((len(shared), sum(counts) + 1))
    sensitivity[:, begin : begin + counts[card.photo]] = shared[:, :-1]
    sensitivity[:, -1] = shared[:, -1]
    return Template(
        name=name,
        photo=card.photo,
        cut_outline=card.corners,
        finished_outline=finished,
        corners_px=corners_px,
        edges=budgeted_edges(finished, own, shared[:, :-1], shared[:, -1], plane),
        own_covariance=own,
        sensitivity=sensitivity,
        allowance_mm=allowance_mm,
    )


def _with_counts(templates: Sequence[Template], counts: Mapping[str, Count]) -> list[Template]:
    names = [template.name for template in templates]
    for name in counts:
        if name not in names:
            raise UsageError(
                "unknown-template",
                f"There is no template {name} to count.",
                where=f"the templates are {', '.join(names)}",
                todo="Look at the names drawn over the picture, and run again with --count of one of these.",
            )
    return [
        attrs.evolve(t, count=counts[t.name].face_up, reversed_count=counts[t.name].reversed)
        if t.name in counts
        else t
        for t in templates
    ]


def _no_templates(pictures: Sequence[tuple[Picture, Plane]], left_out: Sequence[LeftOut]) -> InputError:
    reasons = sorted({each.why for each in left_out})
    return InputError(
        "no-templates",
        "There is no template in the picture: nothing in it is a card with straight edges.",
        where=", ".join(picture.name for picture, _ in pictures),
        likely=f"What was looked at and left out: {'; '.join(reasons)}." if reasons else "",
        todo="Lay the templates on a plain ground that differs from them, at least 5 mm apart, and take the picture"
        " again.",
    )
