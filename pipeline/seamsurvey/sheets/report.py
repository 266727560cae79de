"""The report of a job as one HTML file: what was measured and how well, what was made of it, what to do next."""

from collections.abc import Mapping, Sequence

from seamsurvey.model import Arc, Block, FoundationPlan, PhotoReport, Template, TemplateSet
from seamsurvey.sheets.block_figure import block_marks, piece_colours, step_marks
from seamsurvey.sheets.drawing import Drawing, Mark, placed
from seamsurvey.sheets.edges_table import edges_table
from seamsurvey.sheets.fabric import CuttingList
from seamsurvey.sheets.fabrics import Fabric, swatch_marks
from seamsurvey.sheets.markup import Html, Part, drawing, element, joined, listed, page, picture, table
from seamsurvey.sheets.photo_facts import agreement_text, camera_text, expected_text, reference_text
from seamsurvey.sheets.svg import write_svg
from seamsurvey.sheets.words import count_text, size_text
from seamsurvey.units import INCH, nearest

# A reduced misfit above this says that some stated uncertainty is too small or some edge is wrong.
SUSPICIOUS_SIGMA0 = 1.5

_PICTURE_MM = 150.0
_STEP_MM = 36.0


_JOINED = {"partial": ", sewn part-way", "set-in": ", set in", "curved": ", curved: by hand"}


def report_html(
    templates: TemplateSet | None, block: Block, plan: FoundationPlan, cutting: CuttingList,
    fabrics: Mapping[str, Fabric], *, title: str, units: str, blocks: int, overlays: Mapping[str, bytes],
) -> str:  # fmt: skip
    """One HTML file with everything inside, no scripts and nothing from the network.

    ``templates`` is None for a block drawn elsewhere. ``overlays`` are PNGs by photo name; ``fabrics``
    are by piece. ``units`` is "inch" or "mm".
    """
    filled = piece_colours(fabrics)
    parts: list[Part] = [_next(blocks), _warnings(templates, block)]
    if templates is not None:
        for index, report in enumerate(templates.photos):
            seen = [template for template in templates.templates if template.photo == index]
            parts.append(_photo(report, seen, overlays.get(report.name), units))
        parts.append(_measured(templates, units))
    parts += [_block(block, plan, filled, units), _closure(block, units), edges_table(block)]
    parts.append(_sections(block, plan))
    parts += [_joins(block, plan), _advice(plan), _cutting(cutting, blocks)]
    size = size_text(block.width, block.height, units)
    under = f"{size} finished, {count_text(len(block.pieces), 'piece', 'pieces')}, {_counted_sections(plan)}"
    return page(title, under, parts, "Lengths in this report are finished sizes. Made by seamsurvey.")


def _counted_sections(plan: FoundationPlan) -> str:
    return count_text(sum(section.copies for section in plan.sections), "section", "sections")


def _next(blocks: int) -> Html:
    steps = [
        "Open foundations.pdf and read its first page.",
        "Print it at 100 %, without fit to page, and hold a ruler to both bars: 99.5 to 100.5 mm is good.",
        "Cut the patches of the cutting list, then sew section by section in the order of the numbers.",
    ]
    if blocks > 1:
        steps[1] += f" Print it {blocks} times, once for each block."
    return element("div", element("p", element("strong", "Next")), listed(steps, "ol"), css="next")


def _warnings(templates: TemplateSet | None, block: Block) -> Html:
    texts = [*(templates.warnings if templates else ()), *block.warnings]
    texts += [
        f"{photo.name}: {text}" for photo in (templates.photos if templates else ()) for text in photo.warnings
    ]
    if not texts:
        return Html("")
    return element("div", element("p", element("strong", "Please read")), listed(texts), css="warning")


def _photo(report: PhotoReport, templates: Sequence[Template], overlay: bytes | None, units: str) -> Html:
    width, height = report.size_px
    facts = [f"{width} × {height} pixels.", camera_text(report.plane)]
    facts += [f"{reference_text(seen)} {agreement_text(seen)}".strip() for seen in report.plane.references]
    if not report.plane.references:
        facts.append("Nothing in the picture gives a scale.")
    facts.append(expected_text(report.plane, templates, units))
    parts: list[Part] = [element("h2", f"Photo: {report.name}"), listed([fact for fact in facts if fact])]
    if overlay is not None:
        caption = (
            "The picture as it was read. Solid: the cards' cut edges; dashed: finished lines, where an allowance "
            "was taken off. Each edge carries its finished length."
        )
        if report.plane.kind == "photo":
            caption += (
                " The thin grid is the table's own; the small map shows how well a length can be measured where."
            )
        parts.append(picture(overlay, caption))
    return joined(parts)


def curve_text(arc: Arc, units: str) -> str:
    """An edge's arc in words; its uncertainties are k = 2."""
    radius = (
        f"{arc.radius_mm / INCH:.3f} ± {arc.u_radius_mm / INCH:.3f} in"
        if units == "inch"
        else f"{arc.radius_mm:.2f} ± {arc.u_radius_mm:.2f} mm"
    )
    hollow = ", hollow" if arc.sweep_deg < 0 else ""
    return f"arc, radius {radius}, sweep {abs(arc.sweep_deg):.1f} ± {arc.u_sweep_deg:.1f}°{hollow}"


def _measured(templates: TemplateSet, units: str) -> Html:
    """Every edge with its uncertainty, and the nearest length a ruler has; of a set without a scale, its pixels."""
    if templates.in_px:
        return _ratios(templates)
    rows: list[list[Part]] = []
    first = []
    for template in templates.templates:
        first.append(len(rows))
        for k, edge in enumerate(template.edges):
            named, off = nearest(edge.length_mm, units, edge.u_mm)
            shown = (
                [f"{edge.length_mm / INCH:.3f} in", f"± {edge.u_mm / INCH:.3f}", f"{edge.length_mm:.2f} mm"]
                if units == "inch"
                else [f"{edge.length_mm:.2f} mm", f"± {edge.u_mm:.2f}", f"{edge.length_mm / INCH:.3f} in"]
            )
            off_text = _signed(off / INCH, 3) + " in" if units == "inch" else _signed(off, 2) + " mm"
            inside = "" if abs(off) <= edge.u_mm else ", outside ±"
            name = template.name if k == 0 else ""
            curve = f"; {curve_text(edge.curve, units)}" if edge.curve else ""
            rows.append([name, str(k + 1), *shown, named, off_text + inside, edge.limited_by + curve])
    allowances = {_allowance(template) for template in templates.templates}
    alike = len(allowances) == 1
    facts = [f"All templates: {allowances.pop()}."] if alike else []
    for template in templates.templates:
        about = [f"{template.name}:"]
        if template.count is not None:
            reversed_count = template.reversed_count or 0
            turned = f" and {reversed_count} reversed" if reversed_count else ""
            said = ", as its card says" if template.as_cards_say else ""
            about.append(f"{template.count} a block{turned}{said};")
        if template.found_as:
            by = "its card" if template.named_by_card else "you"
            about.append(f"{template.found_as} in the photo, named by {by};")
        if template.copies_seen > 1:
            others = f" ({', '.join(copy.name for copy in template.copies)})" if template.copies else ""
            about.append(f"seen {template.copies_seen} times{others};")
        if template.reversed_twin_of:
            about.append(f"the mirror image of {template.reversed_twin_of};")
        if not alike:
            about.append(f"{_allowance(template)};")
        if len(about) > 1:
            facts.append(" ".join(about).removesuffix(";") + ".")
    headings = (
        "template",
        "edge",
        "length",
        "± (k = 2)",
        "the same",
        "nearest",
        "nearest − length",
        "largest doubt",
    )
    suggestion = "fraction" if units == "inch" else "whole or half millimetre"
    intro = (
        "Finished length of every edge with its expanded uncertainty: about 95 of 100 true lengths lie inside ±. "
        f"The nearest {suggestion} is only a suggestion; the length that counts is the measured one."
    )
    return joined(
        [
            element("h2", "What each template measures"),
            element("p", intro),
            table(headings, rows, numbers=(2, 3, 4, 6), first=first),
            listed(facts),
        ]
    )


def _ratios(templates: TemplateSet) -> Html:
    shortest = min(edge.length_mm for template in templates.templates for edge in template.edges)
    headings = ("template", "edge", "length", "± (k = 2)", "to the shortest")
    rows: list[list[Part]] = []
    first = []
    for template in templates.templates:
        first.append(len(rows))
        for k, edge in enumerate(template.edges):
            ratio = f"{edge.length_mm / shortest:.3f}"
            name = template.name if k == 0 else ""
            rows.append([name, str(k + 1), f"{edge.length_mm:.1f} px", f"± {edge.u_mm:.1f}", ratio])
    return joined(
        [
            element("h2", "What each template measures"),
            element("p", "Lengths are pixels: nothing in the picture was taken for a scale. Their ratios count."),
            table(headings, rows, numbers=(2, 3, 4), first=first),
        ]
    )


def _allowance(template: Template) -> str:
    if template.edge_allowances_mm:
        each = ", ".join(f"{allowance:.2f}" for allowance in template.edge_allowances_mm)
        return f"allowances of its edges {each} mm, set by you"
    taken_off = f"{template.allowance_mm:.2f} mm" if template.allowance_mm else "none"
    return f"allowance {taken_off} ({template.allowance_from})"


def _signed(value: float, decimals: int) -> str:
    """``+0.012``, ``-0.012``; what rounds to nothing has no sign."""
    return f"{value:+.{decimals}f}" if round(value, decimals) else f"{0:.{decimals}f}"


def _inline(marks: Sequence[Mark], width: float, height: float, title: str, prefix: str) -> str:
    """Marks as an SVG for the page, with a millimetre of white so that no border is cut off."""
    edge = 1.0
    sheet = Drawing(width + 2 * edge, height + 2 * edge, placed(marks, 0, (edge, edge)))
    return write_svg(sheet, title, id_prefix=prefix)


def _block(block: Block, plan: FoundationPlan, colours: Mapping[str, str], units: str) -> Html:
    scale = _PICTURE_MM / max(block.width, block.height)
    marks = block_marks(block, plan, colours, scale=scale)
    svg = _inline(marks, block.width * scale, block.height * scale, "The block", "block-")
    size = size_text(block.width, block.height, units)
    plus = f"{block.size_u_mm / INCH:.3f} in" if units == "inch" else f"{block.size_u_mm:.2f} mm"
    symmetry = "no symmetry" if block.symmetry == "none" else f"symmetry: {block.symmetry}"
    caption = (
        f"From the finished side. {size}, ± {plus} (k = 2); {symmetry}. Heavy lines: borders of sections; a letter "
        "and a number: the section, and the place in its sewing order."
    )
    return joined([element("h2", "The block"), drawing(svg, caption, "block")])


def _closure(block: Block, units: str) -> Html:
    """How well the measured pieces fitted before they were adjusted."""
    closure, proof = block.closure, block.proof

    def off(length_mm: float) -> str:
        return f"{length_mm:.2f} mm" + (f" ({length_mm / INCH:.3f} in)" if units == "inch" else "")

    sentences = [
        f"Before the adjustment the measured pieces missed one another by {off(closure.worst_gap_mm)} at worst and "
        f"{off(closure.rms_mm)} on average (rms); they now fit exactly."
    ]
    if closure.sigma0 > SUSPICIOUS_SIGMA0:
        sentences.append(
            f"That is {closure.sigma0:.1f} times what the stated uncertainties allow: some template was cut or "
            "measured wrong."
        )
    else:
        sentences.append(f"That agrees with the stated uncertainties (ratio {closure.sigma0:.2f}, 1 is expected).")
    found = count_text(proof.layouts_found, "layout", "layouts")
    searched = "All layouts were tried" if proof.searched_all else "The search stopped at its limit"
    sentences.append(f"{searched}; {found} fitted.")
    suspects = [
        suspect.text or f"{suspect.template}, edge {suspect.edge + 1}: {suspect.off_mm:+.2f} mm"
        for suspect in closure.suspect_edges
    ]
    parts: list[Part] = [element("h3", "Closure"), element("p", " ".join(sentences))]
    if suspects:
        parts.append(
            element(
                "div", element("p", element("strong", "Edges to measure again")), listed(suspects), css="warning"
            )
        )
    return joined(parts)


def _sections(block: Block, plan: FoundationPlan) -> Html:
    rows = [
        [
            section.name,
            str(section.copies),
            ", ".join(
                f"{piece.label} = {piece.unit or block.piece(piece.piece).template}" for piece in section.pieces
            ),
        ]
        for section in plan.sections
    ]
    proof = plan.proof
    claim = ""
    if proof.fewest_sections:
        claim = (
            f"No plan with straight cuts has fewer than {count_text(proof.lower_bound, 'section', 'sections')}."
            if proof.searched_all
            else f"At least {proof.lower_bound} are needed; whether fewer than these would do is not proved."
        )
    cuts = [f"Added seam through {cut.piece}: {cut.why}" for cut in plan.added_seams]
    return joined(
        [
            element("h2", "Sections"),
            element("p", f"{_counted_sections(plan)} for one block. {claim}"),
            table(("section", "sew", "patches in sewing order"), rows, numbers=(1,)),
            listed(cuts),
        ]
    )


def _joins(block: Block, plan: FoundationPlan) -> Html:
    if not plan.joins:
        return Html("")
    scale = _STEP_MM / max(block.width, block.height)
    figures = []
    for k, join in enumerate(plan.joins):
        earlier = {other.result: f"step {other.step}" for other in plan.joins[:k]}
        first, second = (earlier.get(part, part) for part in join.parts)
        kind = _JOINED.get(join.kind, "")
        marks = step_marks(plan, k, scale)
        svg = _inline(marks, block.width * scale, block.height * scale, f"Step {join.step}", f"step-{join.step}-")
        figures.append(drawing(svg, f"Step {join.step}: {first} + {second}{kind}"))
    return joined([element("h3", "Joining the sections"), element("div", *figures, css="steps")])


def _advice(plan: FoundationPlan) -> Html:
    if not plan.advice:
        return Html("")
    return joined([element("h3", "Good to know"), listed([advice.text for advice in plan.advice])])


def _cutting(cutting: CuttingList, blocks: int) -> Html:
    def named(fabric: Fabric, prefix: str) -> Html:
        svg = _inline(swatch_marks(fabric, 6.0), 6.0, 6.0, fabric.name, prefix)
        return Html(element("span", Html(svg), css="swatch").source + element("span", fabric.name).source)

    cells: list[list[Part]] = [
        [
            named(row.fabric, f"swatch-{k}-"),
            row.template + (" (part)" if row.part else ""),
            str(row.total),
            row.patch + (f", or {row.halved}" if row.halved else ""),
            str(row.strips),
            row.rule or "by template",
            row.exact,
        ]
        for k, row in enumerate(cutting.rows)
    ]
    headings = (
        "fabric",
        "template",
        "patches",
        "cut",
        "strips",
        "with ruler and rotary cutter",
        "exact, with allowance",
    )
    needs: list[list[Part]] = [
        [named(need.fabric, f"need-{k}-"), str(need.patches), str(need.strips), need.buy]
        for k, need in enumerate(cutting.needs)
    ]
    return joined(
        [
            element("h2", f"Cutting list for {count_text(blocks, 'block', 'blocks')}"),
            table(headings, cells, numbers=(2, 4)),
            table(("fabric", "patches", "strips", "to have"), needs, numbers=(1, 2)),
        ]
    )
