"""Cards that were seen and not measured: asked about, unless the person said that they are none."""

from collections.abc import Sequence
from pathlib import Path

from shapely import Point, Polygon

from seamsurvey.errors import UndecidedError, UsageError, command
from seamsurvey.job.said import overlay_name
from seamsurvey.model import LeftOut, TemplateSet


def ignored_places(templates: TemplateSet, ignore: Sequence[str]) -> tuple[str, ...]:
    """What is to be ignored by its place in its photo, "scan.jpg 310 420", whatever number it has.

    UsageError ``no-such-thing`` where nothing that was left out has a number.
    """
    places = (_place(templates, said) if said.isdecimal() else said for said in ignore)
    return tuple(dict.fromkeys(places))


def refuse_unclear(templates: TemplateSet, may_be: Sequence[int], ignore: Sequence[str], folder: Path) -> None:
    """UndecidedError ``card-unclear`` for the things (indices into ``left_out``) nobody said are no templates."""
    ignored = ignored_places(templates, ignore)
    asked = [k for k in may_be if not any(_lies_at(templates, templates.left_out[k], place) for place in ignored)]
    if not asked:
        return
    each = "; ".join(f"×{k + 1} {_where(templates, templates.left_out[k])}" for k in asked)
    overlays = sorted({overlay_name(templates.photos[templates.left_out[k].photo].name) for k in asked})
    options = [word for k in asked for word in ("--ignore", k + 1)]
    one = len(asked) == 1
    raise UndecidedError(
        "card-unclear",
        f"{'Something lies' if one else f'{len(asked)} things lie'} there like a card but could not be measured."
        f" {'Is it a template' if one else 'Are they templates'}? Without one of its templates no block is sure.",
        where=f"{each}. They are marked in {', '.join(str(folder / name) for name in overlays)}"
        if not one
        else f"{each}. It is marked in {folder / overlays[0]}",
        likely=_reasons([templates.left_out[k] for k in asked]),
        todo="A template: lay it flat and clear of everything else, and take the picture again. "
        f"{'If it is none' if one else 'Those that are none'}: {command('convert', '--into', folder, *options)}",
    )


def _reasons(left_out: Sequence[LeftOut]) -> str:
    said = "; ".join(dict.fromkeys(left.why for left in left_out))
    return f"{said[:1].upper()}{said[1:]}."


def _where(templates: TemplateSet, left: LeftOut) -> str:
    x, y = left.outline_px.mean(axis=0)
    return f"in {templates.photos[left.photo].name}, round {x:.0f}, {y:.0f}"


def _place(templates: TemplateSet, number: str) -> str:
    if not 1 <= int(number) <= len(templates.left_out):
        raise UsageError(
            "no-such-thing",
            f"Nothing that was left out has the number {number}.",
            todo="Look at the numbers behind × in the overlay picture, and mend --ignore, or ignore in job.toml.",
        )
    left = templates.left_out[int(number) - 1]
    inside = Polygon(left.outline_px).buffer(0).representative_point()
    return f"{templates.photos[left.photo].name} {inside.x:.0f} {inside.y:.0f}"


def _lies_at(templates: TemplateSet, left: LeftOut, place: str) -> bool:
    name, x, y = place.rsplit(" ", 2)
    if templates.photos[left.photo].name != name:
        return False
    return bool(Polygon(left.outline_px).buffer(1.0).covers(Point(int(x), int(y))))  # rounded to a pixel
