"""What can't be assembled, and why: the refusals of the room, with the numbers that prove or suggest them."""

from shapely import Polygon

from seamsurvey.block.find import Found
from seamsurvey.block.hypotheses import Known
from seamsurvey.block.outlines import OUTLINES
from seamsurvey.block.shapes import Shapes, bulges_of
from seamsurvey.block.symmetry import ORDER
from seamsurvey.errors import InputError, UsageError
from seamsurvey.geometry import signed_area
from seamsurvey.model import Template, TemplateSet


def check(templates: TemplateSet, symmetry: str, outline: str) -> None:
    """Refuse an empty set, an unknown symmetry or outline, and counts that say no piece at all."""
    if not templates.templates:
        raise InputError(
            "no-templates",
            "There are no templates to assemble.",
            likely="None was found in the picture, or the measurement file lists none.",
            todo="Look at the overlay picture of the measurement, and measure again.",
        )
    if symmetry != "auto" and symmetry not in ORDER:
        raise UsageError(
            "symmetry-unknown",
            f"“{symmetry}” is not a symmetry I know.",
            todo=f"Choose one of: auto, {', '.join(ORDER)}.",
        )
    if outline != "auto" and outline not in OUTLINES:
        raise UsageError(
            "outline-unknown",
            f"“{outline}” is not an outline I know.",
            todo=f"Choose one of: auto, {', '.join(OUTLINES)}.",
        )
    for template in templates.templates:
        if template.count is not None and template.count + (template.reversed_count or 0) <= 0:
            raise InputError(
                "count-cannot-fill",
                f"Template {template.name} is to be used no times at all.",
                todo=f"Give a count of 1 or more (--count {template.name}=1), or leave it out of the picture.",
            )
        _check_arcs(template)


def _check_arcs(template: Template) -> None:
    """Refuse a template whose arcs leave no plain polygon of corners: pieces are laid by their corners."""
    bulges = bulges_of(template)
    corners = template.finished_outline
    if any(bulges) and (len(corners) < 3 or not Polygon(corners).is_valid or signed_area(corners) <= 0):
        deepest = min(range(len(bulges)), key=lambda k: bulges[k])
        raise InputError(
            "arc-too-deep",
            f"The corners of template {template.name}, joined straight, make no polygon that keeps clear of "
            f"itself: edge {deepest + 1} bows in past another corner, or there are but two corners.",
            likely="Pieces are laid by their corners, and those of this one say too little of it.",
            todo="Draw the layout yourself, with a corner at the middle of each such arc and of the arc it meets, "
            "and go on from there: seamsurvey section JOB",
        )


def cannot_fill(shapes: Shapes, known: Known, fullest: Found, why: list[str]) -> InputError:
    """The refusal of counts for which every arrangement was tried: the numbers, and how far it came."""
    total = 0.0
    parts = []
    for t, (up, over) in enumerate(known):
        count = (up or 0) + (over or 0)
        total += count * shapes.areas[t]
        parts.append(f"{count} × {shapes.names[t]} at {shapes.areas[t] / 100:.1f} cm²")
    return InputError(
        "count-cannot-fill",
        f"These counts fill no block: {', '.join(parts)} make {total / 100:.1f} cm², as much as a square of "
        f"{total**0.5:.1f} mm, and every arrangement leaves a gap. "
        f"{' '.join([_far(shapes, fullest), *why])}",
        likely="A count is wrong, a template is missing, or --outline or --finish says another shape.",
        todo="Check the counts (--count NAME=N, or NAME=N+M with M reversed); leave out those you are not sure of.",
    )


def does_not_close(rms_mm: float, why: list[str]) -> InputError:
    """The refusal when pieces can be laid side by side, but miss one another by more than cards do."""
    return InputError(
        "no-layout",
        f"The pieces can be laid side by side in a block, but their corners miss one another by {rms_mm:.1f} mm on "
        "average, more than cards cut by hand do, and no single mis-measured edge explains it. " + " ".join(why),
        likely="Several edges are mis-measured, the allowance is wrong, or the templates are of different blocks.",
        todo="Compare the measured lengths with the cards, and check --allowance and --thickness.",
    )


def no_layout(
    shapes: Shapes, known: Known, fullest: Found, symmetry: str, why: list[str], *, late: bool
) -> InputError:
    """The refusal when nothing fits: what was tried, and how far the fullest attempt came."""
    counted = all(up is not None for up, _ in known)
    what = f"with symmetry {symmetry}" if symmetry != "auto" else "with any symmetry"
    end = "the limit was reached" if late else "all that was tried failed"
    likely = (
        "A count is wrong, or a template is missing, mis-measured, or has an allowance that was not taken off."
        if counted
        else "The block takes more copies than were tried, or a template is missing, mis-measured, or has an "
        "allowance that was not taken off."
    )
    todo = (
        "Check the measured lengths in the report, and --allowance; or give more time with --time-limit."
        if counted
        else "Say what you know: --count NAME=N for each template, --symmetry, --allowance."
    )
    return InputError(
        "no-layout",
        f"The pieces fill no block {what}: {fullest.tried} combinations of counts and shape were "
        f"tried in {fullest.steps} steps, {end}. "
        f"{' '.join([_far(shapes, fullest), *why])}",
        likely=likely,
        todo=todo,
    )


def _far(shapes: Shapes, fullest: Found) -> str:
    left = ", ".join(f"{n} × {shapes.names[t]}" for t, n in enumerate(fullest.best.left) if n)
    if not left:
        return "No piece could be placed."
    return f"The fullest attempt covered {100 * fullest.best.share:.0f} % of a block and left over {left}."
