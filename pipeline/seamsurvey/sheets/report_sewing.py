"""The report's part for the sewing table: the papers, the units, other ways to sew the block, what to cut."""

from collections.abc import Mapping, Sequence

from seamsurvey.model import Block, FoundationPlan, SectionPiece
from seamsurvey.sheets import chart
from seamsurvey.sheets.fabric import CuttingList
from seamsurvey.sheets.fabrics import Fabric, swatch_marks
from seamsurvey.sheets.joining import Unit, unit_names, units_of
from seamsurvey.sheets.markup import Html, Part, drawing, element, inline_svg, joined, listed, table
from seamsurvey.sheets.part_names import part_names
from seamsurvey.sheets.unit_figure import unit_picture, unit_words
from seamsurvey.sheets.words import count_text

_UNIT_MM = 44.0
LABELS = {"patch": "Cutting chart", "need": "Fabric to have", "rotary": "Cutting without paper"}


def counted_sections(plan: FoundationPlan) -> str:
    """``8 sections``."""
    return count_text(sum(section.copies for section in plan.sections), "section", "sections")


def sections_part(block: Block, plan: FoundationPlan, fabrics: Mapping[str, Fabric]) -> Html:
    """Which patches each section has in sewing order, and how few sections there can be."""
    parts, made = part_names(plan, block), unit_names(plan, block, fabrics)

    def what(piece: SectionPiece) -> str:
        if piece.unit is not None:
            return made.get(piece.unit, piece.unit)
        return parts.get(piece.label) or block.piece(piece.piece).template

    rows: list[list[Part]] = [
        [
            section.name,
            str(section.copies),
            ", ".join(f"{piece.label} = {what(piece)}" for piece in section.pieces),
        ]
        for section in plan.sections
    ]
    proof = plan.proof
    claim = ""
    if proof.fewest_sections:
        claim = (
            f"No plan with straight cuts has fewer than {count_text(proof.lower_bound, 'section', 'sections')}."
            if proof.searched_all
            else f"At least {proof.lower_bound} are needed; whether fewer than these would do is not sure."
        )
    added = ""
    if plan.added_seams:
        added = f"{count_text(len(plan.added_seams), 'added seam', 'added seams')}: dashed in the picture."
    text = " ".join(filter(None, (f"{counted_sections(plan)} for one block.", claim, added)))
    return joined(
        [
            element("h2", "Sewing the block"),
            element("p", text),
            table(("section", "make", "patches in sewing order"), rows, label="Sections", numbers=(1,)),
        ]
    )


def joining_part(block: Block, plan: FoundationPlan, fabrics: Mapping[str, Fabric]) -> Html:
    """The units as pictures; nothing for a block of one section."""
    if not plan.joins:
        return Html("")
    figures = [_unit(k, unit) for k, unit in enumerate(units_of(plan, block, fabrics))]
    return joined([element("h3", "Joining the sections"), element("div", *figures, css="steps")])


def _unit(k: int, unit: Unit) -> Html:
    made = unit_picture(unit, _UNIT_MM, _UNIT_MM)
    name = unit.name[0].upper() + unit.name[1:]
    parts = " + ".join(part.name for part in unit.parts)
    how = "".join(f"; {words}" for words in unit_words(unit))
    number = f", make {unit.make}" if unit.make > 1 else ""
    svg = inline_svg(made.marks, *made.size, f"{name}: {parts}", f"unit-{k}-")
    return drawing(svg, f"{name}{number}: {parts}{how}")


def other_ways_part(plan: FoundationPlan) -> Html:
    """The other ways to sew it, and what else is good to know."""
    rivals = [cure.text for cure in plan.cures if not cure.chosen]
    found: list[Html] = []
    if rivals:
        found += [element("h3", "Other ways to sew it"), listed(rivals)]
    if plan.advice:
        found += [element("h3", "Good to know"), listed([advice.text for advice in plan.advice])]
    return joined(found)


def cutting_part(cutting: CuttingList, units: str, allowance_mm: float) -> Html:
    """What to cut for the papers, fabric to have, and what to cut without papers."""
    counted = count_text(cutting.blocks, "block", "blocks")
    return joined(
        [
            element("h2", f"Cutting chart for {counted}, on paper"),
            element("p", chart.margin_text(cutting, units)),
            _chart(chart.CHART_HEADINGS, chart.chart_rows(cutting, units), "patch"),
            element("h3", "Fabric to have"),
            element("p", chart.need_text(cutting, units)),
            _chart(chart.NEED_HEADINGS, chart.need_rows(cutting), "need"),
            element("h3", f"Cutting for {counted} without paper"),
            element("p", chart.exact_text(allowance_mm, units)),
            _chart(chart.ROTARY_HEADINGS, chart.rotary_table(cutting), "rotary"),
        ]
    )


def _chart(headings: Sequence[str], rows: Sequence[chart.ChartRow], prefix: str) -> Html:
    """A table with the fabrics' swatches in its first column."""
    cells: list[list[Part]] = []
    for k, row in enumerate(rows):
        name: Part = row.cells[0]
        if row.fabric:
            svg = inline_svg(swatch_marks(row.fabric, 6.0), 6.0, 6.0, row.fabric.name, f"{prefix}-{k}-")
            name = joined([element("span", Html(svg), css="swatch"), element("span", row.fabric.name)])
        cells.append([name, *row.cells[1:]])
    return table(headings, cells, label=LABELS[prefix], first=[k for k, row in enumerate(rows) if row.fabric])
