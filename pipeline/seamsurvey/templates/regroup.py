"""What a person says of the inventory: cards left out, merged, split off, and called by other names."""

from collections.abc import Mapping, Sequence

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.errors import UsageError
from seamsurvey.model import Corrections, Template
from seamsurvey.templates.twins import Likeness, compare

Floats = NDArray[np.float64]

_MIRRORED = (Likeness.MIRRORED, Likeness.NEARLY_MIRRORED, Likeness.UNSURE_MIRRORED)


@frozen
class NamedCard:
    """A card by its place among all cards, and the name it keeps."""

    index: int
    name: str


def regrouped(
    groups: Sequence[Sequence[NamedCard]], corrections: Corrections, drafts: Sequence[Template], shared: Floats
) -> tuple[list[list[NamedCard]], list[NamedCard]]:
    """The groups of copies as a person wants them, each one's measured card first; and the cards left out.

    UsageError ``unknown-template``, ``correction-impossible``.
    """
    if not corrections:
        return [list(group) for group in groups], []
    _check_names(groups, corrections)
    result: list[list[NamedCard]] = []
    for group in groups:
        split = [card for card in group if card.name in corrections.split]
        rest = [card for card in group if card.name not in corrections.split]
        result += [each for each in (rest, *([card] for card in split)) if each]
    # The template that bears the name of its group keeps its place, whoever was split off.
    order = {card.name: (k, number) for k, group in enumerate(groups) for number, card in enumerate(group)}
    result.sort(key=lambda group: order[group[0].name])
    for names in corrections.merge:
        result = _merged(result, names, drafts, shared)
    excluded: list[NamedCard] = []
    kept: list[list[NamedCard]] = []
    gone = {name for name, said in corrections.templates.items() if said.exclude}
    for group in result:
        if group[0].name in gone:
            excluded += group
        else:
            excluded += [card for card in group if card.name in gone]
            kept.append([card for card in group if card.name not in gone])
    if not kept:
        raise _impossible("job.toml excludes every template.", 'Take "exclude = true" from one of them.')
    _check_measured(kept, corrections)
    return kept, excluded


def _merged(
    groups: list[list[NamedCard]], names: Sequence[str], drafts: Sequence[Template], shared: Floats
) -> list[list[NamedCard]]:
    joined = [group for group in groups if any(card.name in names for card in group)]
    first = next(group for group in joined if any(card.name == names[0] for card in group))
    others = [group for group in joined if group is not first]
    for group in others:
        likeness = compare(drafts[first[0].index], drafts[group[0].index], shared).likeness
        one, other = first[0].name, group[0].name
        if likeness in _MIRRORED:
            raise _impossible(
                f"{other} is no copy of {one} but its mirror image.",
                f"Leave it out with [templates.{other}] exclude = true, and count {one} reversed:"
                f' [counts] {one} = "4+4".',
            )
        if len(drafts[first[0].index].edges) != len(drafts[group[0].index].edges):
            raise _impossible(
                f"{other} is no copy of {one}: the one has {len(drafts[group[0].index].edges)} edges, the other"
                f" {len(drafts[first[0].index].edges)}.",
                f"If one of them is damaged, leave it out: [templates.{other}] exclude = true.",
            )
    whole = [*first, *(card for group in others for card in group)]
    return [whole if group is first else group for group in groups if all(group is not each for each in others)]


def _check_names(groups: Sequence[Sequence[NamedCard]], corrections: Corrections) -> None:
    known = [card.name for group in groups for card in group]
    said = [
        *((name, f"[templates.{name}]") for name in corrections.templates),
        *((name, "merge") for names in corrections.merge for name in names),
        *((name, "split") for name in corrections.split),
    ]
    for name, where in said:
        if name not in known:
            raise UsageError(
                "unknown-template",
                f"There is no {name} to correct.",
                where=f"{where} in job.toml; the photos show {', '.join(known)}",
                likely="Corrections go by the names of the first measuring, which stay: also where a template is"
                " called otherwise by now.",
                todo="Look at the overlay picture, and mend the name in job.toml.",
            )
    for group in groups:
        if len(group) == 1 and group[0].name in corrections.split:
            raise _impossible(
                f"{group[0].name} was not taken for a copy: there is nothing to split it off.",
                "Take it from the list split.",
            )


def _check_measured(groups: Sequence[Sequence[NamedCard]], corrections: Corrections) -> None:
    """Nothing may be set on a card that another one stands for: it would be lost without a word."""
    for group in groups:
        for card in group[1:]:
            if card.name in corrections.templates:
                raise _impossible(
                    f"{card.name} counts as a copy of {group[0].name}, whose measurements stand for both.",
                    f'Write it for {group[0].name}, or split the card off: split = ["{card.name}"].',
                )


def named_otherwise(
    templates: Sequence[Template], corrections: Corrections, written: Mapping[str, str]
) -> list[Template]:
    """The templates under the names a person gave them, or else those ``written`` on their cards, by first names.

    UsageError ``correction-impossible`` when two have one.
    """
    called = {**written, **names_given(corrections)}
    result = [
        attrs.evolve(
            template,
            name=called.get(template.name, template.name),
            found_as=template.name if template.name in called else "",
            reversed_twin_of=called.get(template.reversed_twin_of or "", template.reversed_twin_of),
        )
        for template in templates
    ]
    names = [template.name for template in result]
    for template in result:
        if template.found_as and (
            names.count(template.name) > 1
            or any(template.name == card.name for other in result for card in other.copies)
        ):
            raise _impossible(
                f"Two templates would be called {template.name}.",
                f"Give {template.found_as} another name.",
            )
    return result


def names_given(corrections: Corrections | None) -> dict[str, str]:
    """The names a person gave, by first names."""
    said = corrections.templates if corrections else {}
    return {name: each.name for name, each in said.items() if each.name}


def _impossible(what: str, todo: str) -> UsageError:
    return UsageError("correction-impossible", what, where="job.toml", todo=todo)
