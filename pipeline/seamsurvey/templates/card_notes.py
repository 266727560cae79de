"""What a person is told of the writing on the cards: what was used, what may be so, and how to say otherwise."""

from collections.abc import Mapping, Sequence

import attrs

from seamsurvey.model import CardWriting, Count, Template, TemplateSet
from seamsurvey.templates.hypotheses import option_text
from seamsurvey.templates.labels import ALLOWANCE, COUNT, INCLUDED, NAME

_LIKELY = 0.5  # of probability: less is not worth a word


def card_notes(templates: Sequence[Template], counts: Mapping[str, Count]) -> tuple[str, ...]:
    """Sentences on the names and counts that were read; ``counts`` are a person's, by any name of a template."""
    said = {t.name: counts.get(t.name, counts.get(t.first_name)) for t in templates}
    used = [text for t in templates if (text := _used(t, said[t.name]))]
    notes = []
    if used:
        notes.append(
            f"Read on the cards: {'; '.join(used)}. What you say comes first: --count {templates[0].name}=4, names"
            " in job.toml; --cards ignore leaves all writing aside."
        )
    for template in templates:
        count = said[template.name]
        for each in _different(template, COUNT):
            if count is None and not each.clear:
                notes.append(_offered(template, each))
            elif count is not None and each.clear and each.means != count.plain:
                notes.append(
                    f"You count {count.plain} of {template.name}; its card says “{each.text}”. Yours was used."
                )
    return (*notes, *_names_not_used(templates))


def with_card_notes(templates: TemplateSet, counts: Mapping[str, Count]) -> TemplateSet:
    """The templates with the notes on names and counts as they are with a person's ``counts`` of now.

    Where the allowance is known, templates are measured without the counts, so that a count is no reason to measure
    again; the notes of then know of none.
    """
    before, now = card_notes(templates.templates, {}), card_notes(templates.templates, counts)
    if before == now:
        return templates
    others = [text for text in templates.warnings if text not in (*before, *now)]
    return attrs.evolve(templates, warnings=(*now, *others))


def allowance_notes(templates: Sequence[Template], allowance_mm: float) -> tuple[str, ...]:
    """Sentences on the allowances that were read and are not the one taken off."""
    taken = {option_text(allowance_mm), *([INCLUDED] if allowance_mm else [])}
    names: dict[str, list[str]] = {}
    writings: dict[str, CardWriting] = {}
    for template in templates:
        for each in _different(template, ALLOWANCE):
            if each.means and each.means not in taken:
                names.setdefault(each.means, []).append(template.name)
                if each.means not in writings or each.probability > writings[each.means].probability:
                    writings[each.means] = each
    return tuple(
        f"{_cards_of(names[means])} {'says' if each.clear else 'may say'} “{each.text}”, which is not what was"
        f" taken off: if that is so, say --allowance {'1/4in (or what it is)' if means == INCLUDED else means}."
        for means, each in writings.items()
    )


def _cards_of(names: Sequence[str]) -> str:
    return f"{names[0]}’s card" + (f", like {len(names) - 1} more," if len(names) > 1 else "")


def _used(template: Template, count: Count | None) -> str:
    called = f"{template.first_name} is called {template.name}" if template.named_by_card else ""
    cut = template.as_cards_say if count is None else ""
    if called:
        return f"{called}, {cut}" if cut else called
    return f"{template.name}, {cut}" if cut else ""


def _offered(template: Template, writing: CardWriting) -> str:
    if not writing.means:
        return (
            f"{template.name}’s card says something of a count, “{writing.text}”: say how many a block takes with"
            f" --count {template.name}=N."
        )
    say = " or ".join(f"--count {template.name}={way}" for way in writing.may_mean)
    if len(writing.may_mean) == 1:
        return f"{template.name}’s card may say “{writing.text}”: if so, say {say}."
    return f"{template.name}’s card may say “{writing.text}”, or have a 1 for the 7: say which with {say}."


def _names_not_used(templates: Sequence[Template]) -> tuple[str, ...]:
    if any(template.named_by_card for template in templates):
        return ()
    read = [
        f"{template.name}: {each.means}"
        for template in templates
        for each in _different(template, NAME)
        if each.means and each.probability > _LIKELY
    ]
    if not read:
        return ()
    return (
        f"Names seem to be written on the cards ({', '.join(read)}), but not all are clear, so none was used. To"
        f' call them so, write in job.toml: [templates.{templates[0].first_name}] name = "...".',
    )


def _different(template: Template, kind: str) -> list[CardWriting]:
    """What was read of a kind, each meaning once, the likeliest first."""
    ranked = sorted(template.said_by_card, key=lambda each: (not each.clear, -each.probability))
    by_meaning: dict[str, CardWriting] = {}
    for each in ranked:
        if each.kind == kind:
            by_meaning.setdefault(each.means, each)
    return list(by_meaning.values())
