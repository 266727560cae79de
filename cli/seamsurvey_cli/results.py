"""Results as a person reads them on the screen."""

from collections import Counter
from typing import TYPE_CHECKING

from seamsurvey.claims import layout_claim
from seamsurvey.errors import command
from seamsurvey.units import doubt_text, fraction_text, mm_text, nearest
from seamsurvey_cli.console import wrapped

if TYPE_CHECKING:
    from seamsurvey.convert import Line
    from seamsurvey.model import Block, FoundationPlan, TemplateSet


_JOINED = {"partial": "sewn part-way", "set-in": "set in", "curved": "curved, by hand"}


def length_text(length_mm: float, units: str) -> str:
    """A length in the person's units."""
    return fraction_text(length_mm, 32) if units == "inch" else mm_text(length_mm)


def measured_lines(line: "Line", verbose: bool) -> list[str]:  # noqa: ARG001
    """Every template with its finished edges, and what its card says."""
    templates = line.measured()
    return [*templates_table(templates, line.units(templates)), *_said_by_cards(line, templates)]


def _said_by_cards(line: "Line", templates: "TemplateSet") -> list[str]:
    """What was read on the cards and used, in a few lines."""
    used = [t for t in templates.templates if not {t.name, t.first_name} & line.wishes.counts.keys()]
    said = [f"{t.name} {t.as_cards_say}" for t in used if t.as_cards_say]
    return _wrapped("Cards say", ", ".join(said)) if said else []


def templates_table(templates: "TemplateSet", units: str) -> list[str]:
    """One line an edge: length, ±, nearest name, its main error; of a set without a scale, ratios."""
    if templates.in_px:
        return _ratios_table(templates)
    lines = [f"{'template':<10}{'edge':<6}{'length':>11}  {'±':>8}  {'nearest':<12}{'off':>9}  main error"]
    for template in templates.templates:
        for number, edge in enumerate(template.edges, 1):
            name, off = nearest(edge.length_mm, units, edge.u_mm)
            first = template.name if number == 1 else ""
            lines.append(
                f"{first:<10}{number:<6}{edge.length_mm:>8.1f} mm  {doubt_text(edge.u_mm):>8}  {name:<12}"
                f"{off:>+6.1f} mm  {edge.limited_by}"
            )
    return lines


def _ratios_table(templates: "TemplateSet") -> list[str]:
    shortest = min(edge.length_mm for template in templates.templates for edge in template.edges)
    lines = [f"{'template':<10}{'edge':<6}{'length':>11}  {'±':>8}  {'to the shortest':>15}"]
    for template in templates.templates:
        for number, edge in enumerate(template.edges, 1):
            first = template.name if number == 1 else ""
            lines.append(
                f"{first:<10}{number:<6}{edge.length_mm:>8.1f} px  {edge.u_mm:>5.1f} px"
                f"  {edge.length_mm / shortest:>15.3f}"
            )
    return [*lines, "", "Lengths are pixels: nothing in the picture was taken for a scale."]


def block_lines(line: "Line", verbose: bool) -> list[str]:  # noqa: ARG001
    """The block in a few lines."""
    return [*_block(line.layout(), line.units(line.measured())), *_rivals(line)]


def plan_lines(line: "Line", verbose: bool) -> list[str]:  # noqa: ARG001
    """The sections and joins in a few lines."""
    return _plan(line.plan())


def sheet_lines(line: "Line", verbose: bool) -> list[str]:  # noqa: ARG001
    """Where the sheets are."""
    return _where(line)


def whole_lines(line: "Line", verbose: bool) -> list[str]:
    """The whole job: block, plan, and what to open first."""
    templates = line.measured_if_any()  # none of a block drawn elsewhere
    return [
        *(templates_table(templates, line.units(templates)) if verbose and templates else []),
        *(_said_by_cards(line, templates) if templates else []),
        *_block(line.layout(), line.units(templates)),
        *_plan(line.plan()),
        *_rivals(line),
        "",
        *_where(line),
    ]


def _where(line: "Line") -> list[str]:
    folder = line.job.path
    return [
        f"Open first   {folder / 'report.html'}",
        f"Then print   {folder / 'foundations.pdf'}   at 100 %, and measure the bars on its pages",
        f"To change    {folder / 'job.toml'}, then run the same command again",
    ]


def _wrapped(word: str, text: str) -> list[str]:
    return wrapped(text, f"{word:<13}", " " * 13)


def _block(block: "Block", units: str) -> list[str]:
    size = f"{length_text(block.width, units)} × {length_text(block.height, units)}"
    exact = f"{block.width:.1f} × {block.height:.1f} mm, ± {doubt_text(block.size_u_mm)}"
    return [
        f"Block        {size} ({exact}), {len(block.pieces)} pieces, symmetry: {block.symmetry}",
        *([f"Known as     {block.known_as}"] if block.known_as else []),
        f"Fit          as measured, the pieces missed one another by {block.closure.worst_gap_mm:.1f} mm at worst",
        *(line for suspect in block.closure.suspect_edges for line in _wrapped("Look again", suspect.text)),
    ]


def _rivals(line: "Line") -> list[str]:
    """How sure the layout is, and how another is taken; nothing of a block drawn elsewhere."""
    rivals, folder = line.rivals(), line.job.path
    if rivals is None:
        return _wrapped("Layout", layout_claim(line.layout().proof))
    first = rivals.others[0]
    return [
        *_wrapped("Layout", f"{rivals.claim}{' You took it.' if rivals.by_person else ''}"),
        f"Look at      {folder / 'layouts.svg'}   all of them side by side",
        *_wrapped("To take", f"another: {command('convert', '--into', folder, '--layout', first)}"),
    ]


def _plan(plan: "FoundationPlan") -> list[str]:
    names = ", ".join(s.name if s.copies == 1 else f"{s.name} ×{s.copies}" for s in plan.sections)
    from seamsurvey.job.said import summed_up

    kinds = Counter(join.kind for join in plan.joins if join.kind != "straight")
    bent = [f"{number} {_JOINED[kind]}" for kind, number in kinds.items()]
    return [
        f"Sections     {sum(s.copies for s in plan.sections)} to sew: {names}",
        f"Joins        {len(plan.joins)}" + (f", {', '.join(bent)}" if bent else ", all straight"),
        *(
            line
            for number, cure in enumerate(plan.cures, 1)
            for line in _wrapped(
                f"Way {number}", f"{'chosen' if cure.chosen else f'--way {cure.kind}'}: {cure.text}"
            )
        ),
        *(line for text in summed_up(plan.advice) for line in _wrapped("Advice", text)),
    ]
