"""What the person said, brought to what the stages made: counts, the layout chosen; and what snapping did."""

from collections.abc import Sequence

from attrs import evolve

from seamsurvey.errors import UsageError
from seamsurvey.model import Block, TemplateSet, Wishes


def plain_counts(wishes: Wishes) -> dict[str, list[int]]:
    """Counts as plain lists, face up and reversed."""
    return {name: [count.face_up, count.reversed] for name, count in wishes.counts.items()}


def with_counts(templates: TemplateSet, wishes: Wishes) -> TemplateSet:
    """The templates with the counts the person gave; UsageError ``unknown-template``."""
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


def chosen_first(layouts: Sequence[Block], choice: int | None) -> list[Block]:
    """The chosen layout (1 = the likeliest) before the others; UsageError ``no-such-layout``."""
    if choice is None:
        return list(layouts)
    if not 1 <= choice <= len(layouts):
        raise UsageError(
            "no-such-layout",
            f"There is no layout {choice}: {len(layouts)} fit.",
            todo="Leave --layout out to see them all.",
        )
    return [layouts[choice - 1], *layouts[: choice - 1], *layouts[choice:]]


def snapping(block: Block) -> list[str]:
    """What snapping moved, in one sentence."""
    if not block.snapped:
        return []
    most = max(block.snapped, key=lambda one: abs(one.to_mm - one.from_mm))
    moved = most.to_mm - most.from_mm
    lengths = f"{len(block.snapped)} length{'s' if len(block.snapped) > 1 else ''}"
    return [f"{lengths} set to the grid, at most {abs(moved):.2f} mm off it ({most.what}); --snap off leaves them."]
