"""Cards that were seen and not measured: asked about, unless the person said what they are."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from shapely import Polygon

from seamsurvey.errors import UndecidedError, UsageError, command
from seamsurvey.job.said import overlay_name
from seamsurvey.model import Array, LeftOut, TemplateSet
from seamsurvey.places import inside, lies_at

_COARSE = 0.02  # of its length: an outline to begin a drawing with need be no nearer to what was seen
_FEW = 6  # corners that a person still types


def places_of(templates: TemplateSet, said: Sequence[str]) -> tuple[str, ...]:
    """What is told by number or place as places in photos, "scan.jpg 310 420", whatever number each has.

    UsageError ``no-such-thing`` where nothing that was left out has a number.
    """
    places = (_place(templates, each) if each.isdecimal() else each for each in said)
    return tuple(dict.fromkeys(places))


def nothing_numbered() -> UsageError:
    """The error for a number where no overlay shows any yet."""
    return UsageError(
        "no-such-thing",
        "Nothing was measured in this job yet, so that nothing has a number.",
        todo="Run it without --confirm, or confirm in job.toml, and look at the numbers behind × in the overlay.",
    )


def unanswered(templates: TemplateSet, may_be: Sequence[int], ignore: Sequence[str]) -> list[int]:
    """Of the things (indices into ``left_out``) those that nobody said are no templates."""
    ignored = [place for place in ignore if not place.isdecimal()]
    numbers = {int(number) - 1 for number in ignore if number.isdecimal()}
    return [
        k
        for k in may_be
        if k not in numbers and not any(_left_at(templates, templates.left_out[k], place) for place in ignored)
    ]


def refuse_unclear(templates: TemplateSet, may_be: Sequence[int], ignore: Sequence[str], folder: Path) -> None:
    """UndecidedError ``card-unclear`` for the things (indices into ``left_out``) nobody said are no templates."""
    asked = unanswered(templates, may_be, places_of(templates, ignore))
    if not asked:
        return
    overlays = sorted({overlay_name(templates.photos[templates.left_out[k].photo].name) for k in asked})
    one = len(asked) == 1
    reasons: dict[str, list[str]] = {}
    for k in asked:
        reasons.setdefault(templates.left_out[k].why, []).append(f"×{k + 1}")
    raise UndecidedError(
        "card-unclear",
        f"{'Something lies' if one else f'{len(asked)} things lie'} there like a card but could not be measured."
        f" {'Is it a template' if one else 'Are they templates'}? Without one of its templates no block is sure.",
        where="; ".join(f"×{k + 1} {_where(templates, templates.left_out[k])}" for k in asked)
        + f". {'It is' if one else 'They are'} marked in {', '.join(str(folder / name) for name in overlays)}",
        likely="; ".join(f"{', '.join(numbers)}: {why}" for why, numbers in reasons.items()) + ".",
        todo=_answers(templates, asked, folder),
    )


def belongs_text(templates: TemplateSet, places: Sequence[str], known: str, folder: Path) -> str:
    """What is said of things at these places that were taken for templates, for with them the cards are a block.

    ``known``: the trade's name of it; "" where it has none.
    """
    cards = [(t.name, t.first_name, t.photo, t.corners_px) for t in templates.templates]
    cards += [(copy.name, copy.name, copy.photo, copy.corners_px) for t in templates.templates for copy in t.copies]
    taken = [
        (name, first)
        for name, first, photo, corners in cards
        if any(lies_at(corners, templates.photos[photo].name, place) for place in places)
    ]
    names = ", ".join(name for name, _ in taken)
    none = command("set", folder, *(f"{first}.exclude=true" for _, first in taken))
    if len(taken) == 1:
        said = f"{names} was seen less clearly than the others, and is taken for a template: with it"
    else:
        said = f"{names} were seen less clearly than the others, and are taken for templates: with them"
    those = "If it is none" if len(taken) == 1 else "Those that are none"
    whole = f"are the trade's {known}" if known else "fit together into a block"
    return f"{said} the cards {whole}. {those}: {none}."


def _answers(templates: TemplateSet, asked: Sequence[int], folder: Path) -> str:
    """What can be said of them, each as it is typed."""
    all_of = {
        option: command("convert", "--into", folder, *(word for k in asked for word in (f"--{option}", k + 1)))
        for option in ("confirm", "ignore")
    }
    first = templates.left_out[asked[0]]
    corners = " ".join(f"{x:.0f},{y:.0f}" for x, y in _begun(first.outline_px))
    drawn = command("convert", "--into", folder, "--drawn", f"{templates.photos[first.photo].name} {corners}")
    return (
        f"{'A template' if len(asked) == 1 else 'Those that are templates'}: {all_of['confirm']}."
        f" {'None' if len(asked) == 1 else 'Those that are none'}: {all_of['ignore']}."
        " A template seen wrongly, or that can't be measured as it was seen: draw it, its corners in pixels of the"
        f" picture, about ×{asked[0] + 1} say {drawn}."
        " Or lay it flat and clear of everything else, and take the picture again."
    )


def _begun(outline_px: Array) -> Array:
    """(n, 2) image px: a few corners about an outline, for a person to mend."""
    shape = Polygon(outline_px).buffer(0)
    coarse = shape.convex_hull.simplify(_COARSE * shape.length)
    if len(coarse.boundary.coords) - 1 > _FEW:
        coarse = shape.minimum_rotated_rectangle
    return np.asarray(coarse.boundary.coords)[:-1]


def refuse_ignored_card(templates: TemplateSet, ignore: Sequence[str], folder: Path) -> None:
    """UsageError ``ignored-card`` for a place of ``ignore`` where a card was measured."""
    cards = [
        (name, photo, corners)
        for template in templates.templates
        for name, photo, corners in (
            (template.first_name, template.photo, template.corners_px),
            *((copy.name, copy.photo, copy.corners_px) for copy in template.copies),
        )
    ]
    for place in ignore:
        if place.isdecimal():
            continue
        for name, photo, corners in cards:
            if lies_at(corners, templates.photos[photo].name, place):
                raise UsageError(
                    "ignored-card",
                    f"ignore in job.toml says that what lies at {place} is no template, but a card was measured"
                    f" there: {name}.",
                    where=f"{place}; the overlay shows {name}",
                    todo=f"If it is none: {command('set', folder, f'{name}.exclude=true')}. If it is one, take its"
                    " place out of ignore.",
                )


def _where(templates: TemplateSet, left: LeftOut) -> str:
    x, y = left.outline_px.mean(axis=0)
    return f"in {templates.photos[left.photo].name}, round {x:.0f}, {y:.0f}"


def _place(templates: TemplateSet, number: str) -> str:
    if not 1 <= int(number) <= len(templates.left_out):
        raise UsageError(
            "no-such-thing",
            f"Nothing that was left out has the number {number}.",
            todo="Look at the numbers behind × in the overlay picture, and mend --confirm or --ignore, or what"
            " job.toml has of them.",
        )
    left = templates.left_out[int(number) - 1]
    x, y = inside(left.outline_px)
    return f"{templates.photos[left.photo].name} {x:.0f} {y:.0f}"


def _left_at(templates: TemplateSet, left: LeftOut, place: str) -> bool:
    return lies_at(left.outline_px, templates.photos[left.photo].name, place)
