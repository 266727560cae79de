"""The report's folded part: the photos, what each template measures and how surely, how the pieces fitted."""

from collections.abc import Sequence

import numpy as np

from seamsurvey.claims import layout_claim
from seamsurvey.geometry import centroid
from seamsurvey.model import Arc, Block, PhotoReport, Template, TemplateSet
from seamsurvey.sheets.drawing import Mark, Pen, centred, polygon
from seamsurvey.sheets.markup import Html, Part, drawing, element, inline_svg, joined, listed, picture, table
from seamsurvey.sheets.photo_facts import agreement_text, camera_text, expected_text, reference_text
from seamsurvey.sheets.words import SAME_MM
from seamsurvey.units import doubt_text, fine_text, nearest

# A misfit this many times what was to be expected says that some length was measured or cut wrong.
SUSPICIOUS_SIGMA0 = 1.5
_TEMPLATE_MM, _EDGE_NUMBER_PT = 34.0, 8.0
_NUMBER_IN_MM = 2.6  # from an edge to its number, inwards


def photo_part(report: PhotoReport, templates: Sequence[Template], overlay: bytes | None, units: str) -> Html:
    """What one photo was measured by, and the picture with all that was found drawn over it."""
    width, height = report.size_px
    facts = [f"{width} × {height} pixels.", camera_text(report.plane)]
    facts += [f"{reference_text(seen)} {agreement_text(seen)}".strip() for seen in report.plane.references]
    if not report.plane.references:
        facts.append("Nothing in the picture gives a scale.")
    facts.append(expected_text(report.plane, templates, units))
    parts: list[Part] = [element("h3", f"Photo: {report.name}"), listed([fact for fact in facts if fact])]
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
    """An edge's arc in words; with how far off each figure may be."""
    radius = f"{_bare(fine_text(arc.radius_mm, units))} ± {doubt_text(arc.u_radius_mm, units)}"
    concave = ", concave" if arc.sweep_deg < 0 else ""
    return f"arc, radius {radius}, sweep {abs(arc.sweep_deg):.1f} ± {arc.u_sweep_deg:.1f}°{concave}"


def _figures(templates: TemplateSet) -> Html:
    """Each template in outline with its edges' numbers, as the table names them."""
    found = []
    for template in templates.templates:
        outline = np.asarray(template.finished_outline)
        low, size = outline.min(axis=0), np.ptp(outline, axis=0)
        points = (outline - low) * (_TEMPLATE_MM / max(size))
        middle = centroid(points)
        marks: list[Mark] = [polygon(points, pen=Pen(0.35))]
        for k, (a, b) in enumerate(zip(points, np.roll(points, -1, axis=0), strict=True), start=1):
            at = (a + b) / 2
            inwards = (middle - at) / max(float(np.hypot(*(middle - at))), 1e-9)
            marks.append(centred(at + inwards * _NUMBER_IN_MM, str(k), _EDGE_NUMBER_PT, weight="bold"))
        wide, high = np.ptp(points, axis=0)
        svg = inline_svg(marks, float(wide), float(high), f"Template {template.name}", f"edges-{template.name}-")
        found.append(drawing(svg, f"{template.name}: its edges by number"))
    return element("div", *found, css="steps")


def measured_part(templates: TemplateSet, units: str) -> Html:
    """Every edge with its uncertainty, and the nearest length a ruler has; of a set without a scale, its pixels."""
    if templates.in_px:
        return _ratios(templates)
    rows: list[list[Part]] = []
    first = []
    for template in templates.templates:
        first.append(len(rows))
        for k, edge in enumerate(template.edges):
            named, off = nearest(edge.length_mm, units, edge.u_mm)
            shown = [_bare(fine_text(edge.length_mm, units)), f"± {_bare(doubt_text(edge.u_mm, units))}"]
            off_text = _signed(off, units)
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
        f"length, {'in' if units == 'inch' else 'mm'}",
        "±",
        "nearest",
        "nearest − length",
        "main error",
    )
    suggestion = "fraction" if units == "inch" else "whole or half millimetre"
    intro = (
        "Finished length of every edge, and how far off it may be: about 95 of 100 true lengths lie inside ±. "
        f"The nearest {suggestion} is only a suggestion; the length that counts is the measured one."
    )
    return joined(
        [
            element("h3", "What each template measures"),
            element("p", intro),
            _figures(templates),
            table(headings, rows, label="Measured lengths", numbers=(2, 3, 5), first=first),
            listed(facts),
        ]
    )


def _ratios(templates: TemplateSet) -> Html:
    shortest = min(edge.length_mm for template in templates.templates for edge in template.edges)
    headings = ("template", "edge", "length", "±", "to the shortest")
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
            element("h3", "What each template measures"),
            element("p", "Lengths are pixels: nothing in the picture was taken for a scale. Their ratios count."),
            table(headings, rows, label="Measured lengths", numbers=(2, 3, 4), first=first),
        ]
    )


def _allowance(template: Template) -> str:
    if template.edge_allowances_mm:
        each = ", ".join(f"{allowance:.2f}" for allowance in template.edge_allowances_mm)
        return f"allowances of its edges {each} mm, set by you"
    taken_off = f"{template.allowance_mm:.2f} mm" if template.allowance_mm else "none"
    return f"allowance {taken_off} ({template.allowance_from})"


def _signed(off_mm: float, units: str) -> str:
    """``+1/64 in``, ``-0.3 mm``; what rounds to nothing has no sign."""
    text = fine_text(abs(off_mm), units)
    return text if _bare(text) in ("0", "0.0") else f"{'+' if off_mm > 0 else '-'}{text}"


def _bare(text: str) -> str:
    """A length without its unit, which the column's heading or the next word has."""
    return text.removesuffix(" in").removesuffix(" mm")


def fit_part(block: Block, units: str, number: int) -> Html:
    """How well the measured pieces fitted before they were adjusted."""
    closure = block.closure

    if closure.worst_gap_mm < SAME_MM:
        sentences = [f"The measured pieces fit together to within {'1/64 in' if units == 'inch' else '0.4 mm'}."]
    else:
        sentences = [
            f"As measured, the pieces missed one another by {fine_text(closure.worst_gap_mm, units)} at worst; "
            "every length was then moved a little, the surest least, so that they fit exactly."
        ]
    if closure.sigma0 > SUSPICIOUS_SIGMA0:
        sentences.append(
            f"That is {closure.sigma0:.1f} times what the ± of the lengths allows: some template was cut or "
            "measured wrong."
        )
    else:
        sentences.append("That is no more than the ± of the lengths allows.")
    sentences.append(layout_claim(block.proof, number))
    suspects = [
        suspect.text or f"{suspect.template}, edge {suspect.edge + 1}: {suspect.off_mm:+.2f} mm"
        for suspect in closure.suspect_edges
    ]
    parts: list[Part] = [element("h3", "How well the pieces fit"), element("p", " ".join(filter(None, sentences)))]
    if suspects:
        parts.append(
            element(
                "div", element("p", element("strong", "Edges to measure again")), listed(suspects), css="warning"
            )
        )
    return joined(parts)
