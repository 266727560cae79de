"""The last page: what the templates were measured to be, by what, and how well; and a place for one's own notes."""

from collections.abc import Sequence

from seamsurvey.model import Block, Template, TemplateSet
from seamsurvey.sheets.drawing import HAIRLINE, segment
from seamsurvey.sheets.flow import Flow
from seamsurvey.sheets.photo_facts import agreement_text, camera_text, expected_text, reference_text
from seamsurvey.sheets.template_pages import TemplateFacts
from seamsurvey.sheets.words import length_text
from seamsurvey.units import doubt_text, fine_text

HEADINGS = ("template", "cut", "fabric", "finished edges", "as measured")
SHARES = (1.2, 1.8, 1.8, 4.0, 4.6)
_LINES = ("Made for", "Made by", "Date of the photo", "Date of the quilt")


def record(
    flow: Flow, templates: TemplateSet | None, block: Block, facts: TemplateFacts, came_from: Sequence[str], *,
    units: str, job: str,
) -> None:  # fmt: skip
    """Templates with what they were measured to be, the photos and their references, origin, lines to write on."""
    flow.heading("Templates")
    flow.text(
        "Finished edges, in order round each template as it lies face up; beside them what the cards measured, and "
        "how far off that may be: about 95 of 100 true lengths lie inside ±."
        if templates
        else "Finished edges, in order round each template as it lies face up."
    )
    flow.space(1)
    flow.table(HEADINGS, [_row(name, templates, facts, units) for name in facts.edges], SHARES)
    for photo, report in enumerate(templates.photos if templates else ()):
        flow.heading(f"Photo: {report.name}", keep_mm=20)
        width, height = report.size_px
        flow.text(f"{width} × {height} pixels; checksum {report.sha256[:12]}.", mark="·")
        seen = [template for template in (templates.templates if templates else ()) if template.photo == photo]
        lines = [camera_text(report.plane)]
        lines += [f"{reference_text(one)} {agreement_text(one)}".strip() for one in report.plane.references]
        lines.append(expected_text(report.plane, seen, units))
        for line in filter(None, lines):
            flow.text(line, mark="·")
    flow.heading("The block", keep_mm=16)
    size = f"{length_text(block.width, units)} × {length_text(block.height, units)}"
    plus = f" ± {doubt_text(block.size_u_mm, units)}" if block.size_u_mm else ""
    flow.text(f"{size} finished{plus}. Job {job}.", mark="·")
    for line in filter(None, came_from):
        flow.text(line, mark="·")
    flow.heading("For whoever has this after you", keep_mm=40)
    for words in _LINES:
        flow.space(3)
        flow.text(words)
        flow.add([segment((38.0, 2.4), (flow.region.width * 0.75, 2.4), HAIRLINE, "write")], 0.0)


def _row(name: str, templates: TemplateSet | None, facts: TemplateFacts, units: str) -> tuple[str, ...]:
    edges = ", ".join(_bare(length, units) for length in facts.edges[name]) + (" in" if units == "inch" else " mm")
    measured = next((t for t in (templates.templates if templates else ()) if t.name == name), None)
    return name, facts.counts[name], ", ".join(facts.fabrics[name]), edges, _measured(measured, units)


def _bare(length_mm: float, units: str) -> str:
    """A length without its unit, which stands once behind the last."""
    return length_text(length_mm, units).removesuffix(" in").removesuffix(" mm")


def _measured(template: Template | None, units: str) -> str:
    if template is None:
        return "–"
    lengths = ", ".join(fine_text(edge.length_mm, units).rpartition(" ")[0] for edge in template.edges)
    most = max((edge.u_mm for edge in template.edges), default=0.0)
    return f"{lengths} {'in' if units == 'inch' else 'mm'}, ± {doubt_text(most, units)}"
