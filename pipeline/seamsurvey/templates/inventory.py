"""The cards as an inventory: which are copies of one template, what each is called, and what a person says of that.

Every card has a name that corrections never change: templates are T1, T2, ... by the first card of each as they lie
in the photos, in reading order; the best measured card of a template has the template's own name, and its copies
are T1b, T1c, ...
"""

from collections.abc import Callable, Mapping, Sequence

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.model import CopySeen, Correction, Corrections, Template
from seamsurvey.templates.regroup import NamedCard, named_otherwise, regrouped
from seamsurvey.templates.said import said_warnings
from seamsurvey.templates.twins import TRAP_MM, Comparison, Likeness, compare
from seamsurvey.units import mm_text

Floats = NDArray[np.float64]


@frozen(kw_only=True)
class Inventory:
    """Each template once, its copies with it; the cards that are left out because a person says so; what to say."""

    templates: tuple[Template, ...]
    cards: tuple[NamedCard, ...]  # of each template
    groups: tuple[tuple[NamedCard, ...], ...]  # each template's card with those of its copies
    excluded: tuple[NamedCard, ...] = ()
    warnings: tuple[str, ...] = ()


def inventory(
    drafts: Sequence[Template],
    shared: Floats,
    *,
    every_card: bool = False,
    corrections: Corrections | None = None,
    again: Callable[[NamedCard, Correction], Template] | None = None,
    written: Callable[[Sequence[Sequence[NamedCard]]], Mapping[str, str]] | None = None,
) -> Inventory:
    """The inventory of all cards' ``drafts``, with what a person corrects.

    ``shared`` (p, p) is the covariance of the errors they share; ``every_card``: none is a copy; ``again`` measures
    a card with what is said of it; ``written`` tells the names that stand on the cards of the groups, by first
    names. UsageError ``unknown-template``, ``no-such-part``, ``correction-impossible``.
    """
    corrections = corrections or Corrections()
    first = [[k] for k in range(len(drafts))] if every_card else gathered(drafts, shared)
    named = _named(first)
    groups, excluded = regrouped(named, corrections, drafts, shared)
    templates: list[Template] = []
    warnings: list[str] = []
    for group in groups:
        lead = group[0]
        template = attrs.evolve(drafts[lead.index], name=lead.name)
        said = corrections.templates.get(lead.name)
        if said is not None and again is not None:
            before, template = template, again(lead, said)
            warnings += said_warnings(before, template, said)
        copies = tuple(
            CopySeen(name=card.name, photo=drafts[card.index].photo, corners_px=drafts[card.index].corners_px)
            for card in group[1:]
        )
        templates.append(attrs.evolve(template, copies_seen=len(group), copies=copies))
    pairs = [] if every_card else likenesses(templates, shared)
    names = written(groups) if written is not None else {}
    called = named_otherwise(with_twins(templates, pairs), corrections, names)
    return Inventory(
        templates=tuple(called),
        cards=tuple(group[0] for group in groups),
        groups=tuple(tuple(group) for group in groups),
        excluded=tuple(excluded),
        warnings=(
            *warnings,
            *nearly_equal_warnings(called, pairs),
            *unsure_warnings(called, pairs),
            *equal_warnings(called, pairs, corrections.split),
        ),
    )


def gathered(drafts: Sequence[Template], shared: Floats) -> list[list[int]]:
    """The cards in groups of copies, by index, each group's best measured first; groups in the cards' order.

    A card is a copy only of what all cards of the group are: likeness does not go round by the grape-vine.
    """
    groups: list[list[int]] = []
    for k, draft in enumerate(drafts):
        fitting = []
        for group in groups:
            likenesses_ = [compare(drafts[j], draft, shared) for j in group]
            if all(each.likeness is Likeness.EQUAL for each in likenesses_):
                fitting.append((max(each.off_mm for each in likenesses_), group))
        if fitting:
            min(fitting, key=lambda pair: pair[0])[1].append(k)
        else:
            groups.append([k])
    return [sorted(group, key=lambda k: (_doubt(drafts[k]), k)) for group in groups]


def _doubt(template: Template) -> float:
    """mm², rounded to what matters: the less, the better measured."""
    return round(sum(edge.u_mm**2 for edge in template.edges), 6)


def _named(groups: Sequence[Sequence[int]]) -> list[list[NamedCard]]:
    return [
        [NamedCard(index, f"T{number}{copy_letters(k)}") for k, index in enumerate(group)]
        for number, group in enumerate(groups, 1)
    ]


def copy_letters(copy: int) -> str:
    """What tells a copy's name from its template's: none for the first card (0), then b, ..., z, ba, bb, ..."""
    letters = ""
    while copy:
        copy, letter = divmod(copy, 26)
        letters = chr(ord("a") + letter) + letters
    return letters


def likenesses(templates: Sequence[Template], shared: Floats) -> list[tuple[int, int, Comparison]]:
    """All pairs (indices) of templates that are alike in some way."""
    return [
        (i, j, comparison)
        for j in range(len(templates))
        for i in range(j)
        if (comparison := compare(templates[i], templates[j], shared)).likeness is not Likeness.DIFFERENT
    ]


def with_twins(templates: Sequence[Template], pairs: Sequence[tuple[int, int, Comparison]]) -> list[Template]:
    """The templates, the later of two mirror images pointing to the earlier."""
    result = list(templates)
    for i, j, comparison in pairs:
        if comparison.likeness is Likeness.MIRRORED and result[i].reversed_twin_of is None:
            result[j] = attrs.evolve(result[j], reversed_twin_of=result[i].name)
    return result


def nearly_equal_warnings(
    templates: Sequence[Template], pairs: Sequence[tuple[int, int, Comparison]]
) -> tuple[str, ...]:
    """A sentence for each two templates that are nearly one shape: that is how old sets go wrong."""
    warnings = []
    for i, j, comparison in pairs:
        if comparison.likeness in (Likeness.NEARLY_EQUAL, Likeness.NEARLY_MIRRORED):
            first = templates[i].edges[comparison.first_edge].length_mm
            second = templates[j].edges[comparison.second_edge].length_mm
            turned = ", one turned over," if comparison.likeness is Likeness.NEARLY_MIRRORED else ""
            warnings.append(
                f"{templates[i].name} and {templates[j].name} are nearly the same shape{turned} but not quite:"
                f" an edge measures {mm_text(first, 2)} on one and {mm_text(second, 2)} on the other."
                " They were kept apart. If they are copies, one of them was cut wrong."
            )
    return tuple(warnings)


def unsure_warnings(templates: Sequence[Template], pairs: Sequence[tuple[int, int, Comparison]]) -> tuple[str, ...]:
    """A sentence for each set of templates that may be copies, but are measured too coarsely to tell."""
    doubtful = [(i, j, each) for i, j, each in pairs if each.likeness is Likeness.UNSURE]
    warnings = []
    for members in _connected(len(templates), [(i, j) for i, j, _ in doubtful]):
        names = [templates[k].name for k in members]
        first_names = ", ".join(f'"{templates[k].first_name}"' for k in members)
        u = max(each.u_mm for i, _, each in doubtful if i in members)
        warnings.append(
            f"{_listed(names)} may be copies of one template: what they differ by is known only to ±"
            f" {mm_text(u, 1)}, and {mm_text(TRAP_MM, 0)} would make them different ones. They were kept apart."
            f" If they are copies, write in job.toml: merge = [[{first_names}]]."
        )
    warnings += [
        f"{templates[i].name} and {templates[j].name} may be mirror images of one another: what they differ by is"
        f" known only to ± {mm_text(each.u_mm, 1)}. They were kept apart."
        for i, j, each in pairs
        if each.likeness is Likeness.UNSURE_MIRRORED
    ]
    return tuple(warnings)


def equal_warnings(
    templates: Sequence[Template], pairs: Sequence[tuple[int, int, Comparison]], split: Sequence[str]
) -> tuple[str, ...]:
    """A sentence for each two templates that became one shape by what was corrected, or lie between the groups."""
    return tuple(
        f"{templates[i].name} and {templates[j].name} are one shape as they stand now, but count as two templates."
        f' If they are copies, write in job.toml: merge = [["{templates[i].first_name}",'
        f' "{templates[j].first_name}"]].'
        for i, j, each in pairs
        if each.likeness is Likeness.EQUAL and not {templates[i].first_name, templates[j].first_name} & set(split)
    )


def _connected(count: int, links: Sequence[tuple[int, int]]) -> list[list[int]]:
    """The sets, two or more each, of the indices below ``count`` that the links connect."""
    root = list(range(count))
    for i, j in links:
        keep, drop = sorted((root[i], root[j]))
        root = [keep if each == drop else each for each in root]
    sets = [[k for k in range(count) if root[k] == each] for each in sorted(set(root))]
    return [members for members in sets if len(members) > 1]


def _listed(names: Sequence[str]) -> str:
    return f"{', '.join(names[:-1])} and {names[-1]}"
