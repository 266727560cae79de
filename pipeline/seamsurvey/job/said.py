"""What the person said, brought to what the stages made: names, counts, units, the layout; what snapping did."""

from collections.abc import Sequence
from pathlib import Path

from attrs import evolve

from seamsurvey.errors import UndecidedError, UsageError, command
from seamsurvey.model import Advice, Block, TemplateSet, Wishes
from seamsurvey.units import INCH, fraction_text


def plain_counts(wishes: Wishes) -> dict[str, list[int]]:
    """Counts as plain lists, face up and reversed."""
    return {name: [count.face_up, count.reversed] for name, count in wishes.counts.items()}


def in_names_now(wishes: Wishes, templates: TemplateSet | None) -> Wishes:
    """The wishes by the names that templates have now, also where a person still calls one as it was called first.

    A template may have been given its first name by the measuring and another by what its card bears.
    """
    now = {t.found_as: t.name for t in (templates.templates if templates else ()) if t.found_as}

    def named(name: str) -> str:
        template, dash, piece = name.partition("-")
        return now.get(name, f"{now[template]}-{piece}" if dash and template in now else name)

    return evolve(
        wishes,
        counts={named(name): count for name, count in wishes.counts.items()},
        colours={named(name): colour for name, colour in wishes.colours.items()},
        fabrics={named(name): fabric for name, fabric in wishes.fabrics.items()},
        never_cut=tuple(named(name) for name in wishes.never_cut),
    )


def with_counts(templates: TemplateSet, wishes: Wishes) -> TemplateSet:
    """The templates with the counts the person gave; UsageError ``unknown-template``."""
    wishes = in_names_now(wishes, templates)
    names = {template.name for template in templates.templates}
    unknown = sorted(wishes.counts.keys() - names)
    if unknown:
        raise UsageError(
            "unknown-template",
            f"There is no template called {', '.join(unknown)}.",
            todo=f"The templates are {', '.join(sorted(names))}; overlay-*.png shows which is which.",
        )
    counted = (
        evolve(t, count=wishes.counts[t.name].face_up, reversed_count=wishes.counts[t.name].reversed)
        if t.name in wishes.counts
        else t
        for t in templates.templates
    )
    return evolve(templates, templates=tuple(counted))


def snapping(block: Block, grid_mm: float) -> list[str]:
    """What rounding to a grid moved, in one sentence."""
    if not block.snapped:
        return []
    most = max(block.snapped, key=lambda one: abs(one.to_mm - one.from_mm))
    moved = most.to_mm - most.from_mm
    of_inch = grid_mm / INCH * 64
    grid = fraction_text(grid_mm, 64) if abs(of_inch - round(of_inch)) < 1e-6 else f"{grid_mm:g} mm"
    lengths = f"{len(block.snapped)} length{'s' if len(block.snapped) > 1 else ''}"
    rounded = f"{lengths} rounded to {grid}, by {abs(moved):.2f} mm at most ({most.what})"
    return [f"{rounded}; --snap off leaves them as measured."]


def size_unknown(folder: Path) -> UndecidedError:
    """The error for a block to be made of templates without a scale."""
    return UndecidedError(
        "size-unknown",
        "The templates were measured without a scale: their shapes are known, the block's size is not.",
        where=str(folder),
        todo="Say how large the finished block is: --finish 10in (or what it is).",
    )


def several_layouts(folder: Path) -> UndecidedError:
    """The error for a block of which a person must choose the layout."""
    return UndecidedError(
        "several-layouts",
        "More than one layout fits these templates, and --ask leaves the choice to you.",
        where=f"{folder / 'layouts.svg'} shows them side by side, the likeliest first",
        likely="Layouts often differ only in how equal pieces are turned, or in the order of rows.",
        todo=f"Take one: {command('convert', '--into', folder, '--layout', 1)} (or 2, ...); "
        "or say more with --count or --symmetry.",
    )


def summed_up(advice: Sequence[Advice]) -> list[str]:
    """Return the advice as few sentences: a set-in block can have dozens of points."""
    points = sum(item.code == "set-in" for item in advice)
    head = f"{counted(points, 'point')} can't be sewn straight; report.html shows where, and how to set a seam in."
    return [*([head] if points else []), *(item.text for item in advice if item.code != "set-in")]


def counted(number: int, word: str) -> str:
    """Return "1 template", "3 templates"."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def overlay_name(photo: str) -> str:
    """Return the file name of the picture that shows what was found in a photo."""
    return f"overlay-{photo}.png"
