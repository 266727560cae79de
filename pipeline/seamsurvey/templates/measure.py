"""Stage 2 from end to end: the pictures' cards, found, outlined, measured, finished, compared and named."""

from collections.abc import Mapping, Sequence

import attrs
import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag

from seamsurvey.errors import InputError, UsageError
from seamsurvey.geometry import edge_lengths, offset_polygon
from seamsurvey.model import Count, LeftOut, PhotoReport, Picture, Plane, Template, TemplateSet
from seamsurvey.templates.allowance import decide_allowance
from seamsurvey.templates.budget import budgeted_edges, edge_bias_mm
from seamsurvey.templates.cards import TOO_SMALL, place_text
from seamsurvey.templates.lines import wobble_of
from seamsurvey.templates.outline import own_covariance, shared_sensitivity
from seamsurvey.templates.outlined import Outlined, outlined_cards, settled
from seamsurvey.templates.tips import looks_trimmed
from seamsurvey.templates.twins import gather, nearly_equal_warnings, with_twins
from seamsurvey.templates.wobble import Wobble
from seamsurvey.units import mm_text

Floats = NDArray[np.float64]


def measure_templates(
    pictures: Sequence[tuple[Picture, Plane]],
    *,
    allowance_mm: float | None,
    thickness_mm: float | None = None,
    counts: Mapping[str, Count] | None = None,
    every_card: bool = False,
) -> TemplateSet:
    """Every template in the pictures, finished size, with its uncertainty.

    ``allowance_mm``: 0 when the templates are finished size; None when nobody knows: they are then taken for
    finished size, with a warning, unless a drawn seam line says otherwise (UndecidedError ``allowance-unclear``).
    ``counts``: by the names this function gives: T1, T2, ... as the templates lie, in reading order.
    ``every_card``: copies of one shape are each a template of their own, as a check of them needs.

    InputError ``no-templates``, ``template-at-border``, ``templates-touch``, ``edge-unclear``, ``no-ground``;
    UsageError ``unknown-template``, ``allowance-too-large``.
    """
    left_out: list[LeftOut] = []
    outlined: list[Outlined] = []
    wobbles: list[Wobble] = []
    for photo, (picture, plane) in enumerate(pictures):
        found, rest = outlined_cards(picture, plane, photo)
        wobble = wobble_of([card.lines for card in found])
        left_out.extend(rest)
        outlined.extend(in_reading_order([settled(card, picture, plane, wobble, allowance_mm) for card in found]))
        wobbles.append(wobble)
    if not outlined:
        raise _no_templates(pictures, left_out)

    drafts = [
        _finished(card, pictures, wobbles[card.photo], allowance_mm or 0.0, name=f"T{k + 1}")
        for k, card in enumerate(outlined)
    ]
    by_draft = dict(zip((draft.name for draft in drafts), outlined, strict=True))
    kept, pairs = (drafts, []) if every_card else gather(drafts)
    names = [f"T{k + 1}" for k in range(len(kept))]
    cards = [by_draft[draft.name] for draft in kept]
    allowance = decide_allowance(
        allowance_mm,
        {name: card.seam_line for name, card in zip(names, cards, strict=True)},
        {name: looks_trimmed(card.lines) for name, card in zip(names, cards, strict=True)},
    )
    templates = with_twins(
        [
            attrs.evolve(draft, name=name, allowance_from=allowance.source, thickness_mm=thickness_mm)
            for draft, name in zip(kept, names, strict=True)
        ],
        pairs,
    )
    return TemplateSet(
        photos=tuple(
            PhotoReport(picture.name, picture.sha256, (picture.width, picture.height), plane, plane.warnings)
            for picture, plane in pictures
        ),
        templates=tuple(_with_counts(templates, counts or {})),
        shared_names=(
            *(f"plane {k}: {name}" for k, (_, plane) in enumerate(pictures) for name in plane.parameter_names),
            "edge bias",
        ),
        shared_covariance=_shared_covariance([plane for _, plane in pictures]),
        left_out=tuple(left_out),
        warnings=(
            *allowance.warnings,
            *nearly_equal_warnings(templates, pairs),
            *_left_out_warnings(left_out, pictures),
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
