"""The guide pages that stand before the foundations: the block, how to sew it, the joins, the quilt, the fabric."""

from collections.abc import Mapping, Sequence

import numpy as np
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Advice, Block, FoundationPlan
from seamsurvey.sheets import chart
from seamsurvey.sheets.block_figure import (
    PARTIAL,
    SET_IN,
    block_marks,
    line_marks,
    piece_colours,
)
from seamsurvey.sheets.drawing import HAIRLINE, INK, Mark, Pen, Text, placed, polygon, segment
from seamsurvey.sheets.fabric import CuttingList
from seamsurvey.sheets.fabrics import Fabric, swatch_marks
from seamsurvey.sheets.flow import Flow
from seamsurvey.sheets.joining import Unit, units_of
from seamsurvey.sheets.labels import Label, inside
from seamsurvey.sheets.page import Region
from seamsurvey.sheets.quilt import QuiltDesign
from seamsurvey.sheets.rivals import Rivals
from seamsurvey.sheets.rivals_strip import rivals_strip
from seamsurvey.sheets.unit_figure import unit_cell
from seamsurvey.sheets.words import allowance_text, count_text, length_text, size_text

_PICTURE_MM = 108.0  # the block on the first page, its longer side
_LINES_MM = 52.0  # the same in lines
_GLUE_MM = 44.0
_QUILT_MM = 78.0
# A preview of more shapes than this is a picture of its own (quilt.svg), not one in the middle of a guide.
_QUILT_SHAPES = 3000

CAUTIONS = (
    "Close the rotary cutter's blade each time you put it down, and cut away from yourself.",
    "Stand the iron on its heel; keep pins in a cushion, never between the lips.",
    "Paper dulls a needle: put in a fresh one when the block is done.",
)

SET_IN_TEXT = (
    "Heavy red dashes in the pictures: a Y-seam, which turns at a point. Sew it in straight stretches, from the "
    "outside to the point and no further; end the thread there, turn the upper piece to the next stretch, and "
    "begin again at the point. Nothing is sewn across the allowance at the point itself."
)
PARTIAL_TEXT = (
    "Blue dashes: a seam sewn in two goes. Sew it from its end to the diamond and stop; sew the rest when the step "
    "named under the picture is done."
)
CURVED_TEXT = (
    "No paper folds along a curve: these seams are sewn between finished sections, by hand or under the needle. "
    "Mark the middle of both edges (the short strokes), clip the concave edge's allowance every 6 mm (1/4 in), "
    "short of the seam, pin the middle, then the ends, ease in the rest, and sew with the concave side on top."
)
JOINING_TEXT = (
    "The pictures show the finished side, the two parts a little apart. Lay them right sides together so that "
    "the heavy edges meet, match the short strokes in the allowance, pin, sew from end to end, take off the paper "
    "along the seam, and press the way the arrow points."
)
NEST_TEXT = (
    "At a dot two seams meet that are pressed to opposite sides: they nest. Push them together until they stop, "
    "and pin there first."
)
UNIT_COLUMNS = ((4, 32.0), (3, 44.0), (2, 62.0))
_UNIT_GAP_MM = 6.0
PRESSING = (
    "In a section every patch is pressed away from the one before it, over its seam, as you go.",
    "Between sections press the seam flat as it was sewn, then the allowances to one side, as the arrows show; "
    "with a dry iron while paper is in.",
)
SHAPES_TEXT = (
    "A plain geometric shape is anyone's to use; a printed pattern's drawings and words may not be. Ask before you "
    "pass on a living designer's."
)


@frozen
class Gluing:
    """A section printed in parts: the parts' shapes, seen in the printed side turned by ``turn_deg``."""

    name: str
    turn_deg: float
    shapes: tuple[BaseGeometry, ...]


def how_to_sew(allowance_mm: float, units: str) -> tuple[str, ...]:
    """Sewing on a foundation, in five lines."""
    allowance = length_text(allowance_mm, units)
    return (
        f"Lay patch 1 on the blank side of the paper, its wrong side to the paper, so that it covers area 1 and at "
        f"least {allowance_text(allowance_mm, units)} more all round. Hold it to the light to see; pin.",
        "Lay patch 2 on patch 1, right sides together, so that it will cover area 2 once it is folded over.",
        "Turn to the printed side. Sew on the line between 1 and 2 in short stitches, about 1.5 mm, beginning and "
        f"ending {allowance} beyond the line.",
        f"Fold the paper back along the line, trim the seam to {allowance}, unfold, turn patch 2 over and press.",
        "Go on by number. Last, trim on the dashed line. The paper stays in until all neighbours are joined.",
    )


def guide_pages(
    plan: FoundationPlan, block: Block, cutting: CuttingList, fabrics: Mapping[str, Fabric],
    pages_of: Mapping[str, str], *, region: Region, units: str, allowance_mm: float, blocks: int,
    came_from: Sequence[str], gluing: Sequence[Gluing], quilt: QuiltDesign | None, rivals: Rivals | None,
    colours: Mapping[str, str],
) -> list[tuple[Mark, ...]]:  # fmt: skip
    """The marks of each guide page. ``pages_of`` says on which pages each section is printed ("4 and 5")."""
    flow = Flow(region)
    _opening(flow, plan, block, pages_of, units=units, fabrics=fabrics)
    if rivals is not None:
        rivals_strip(flow, rivals, colours)
    sewing_steps(flow, allowance_mm, units)
    flow.heading("Take care")
    for line in CAUTIONS:
        flow.text(line, mark="·")
    if gluing:
        flow.heading("Sections printed in parts", keep_mm=60)
        flow.text(
            "Lay each part over its neighbour so that the crosses meet, and glue along the dash-dotted line. The "
            "pictures show the printed side."
        )
        flow.space(2)
        flow.grid([glued(one) for one in gluing], 3, 6.0)
    if plan.joins:
        joining(flow, units_of(plan, block, fabrics))
    odd_seams(flow, plan, units)
    flow.heading("Pressing")
    for line in PRESSING if plan.joins else PRESSING[:1]:
        flow.text(line, mark="·")
    others = [advice for advice in plan.advice if advice.code not in ("set-in", "curved-seam")]
    if others:
        flow.heading("Good to know")
        for advice in others:
            flow.text(advice.text, mark="·")
    origin(flow, came_from)
    cutting_charts(flow, cutting, units=units, blocks=blocks, allowance_mm=allowance_mm)
    if quilt is not None and len(quilt.marks) <= _QUILT_SHAPES:
        _quilt(flow, quilt)
    return [tuple(page) for page in flow.pages]


def sewing_steps(flow: Flow, allowance_mm: float, units: str) -> None:
    """How a section is sewn, all of it on one page: it is read at the machine."""
    steps = how_to_sew(allowance_mm, units)
    flow.heading("Sewing a section", keep_mm=sum(flow.text_mm(step, marked=True) for step in steps))
    for number, step in enumerate(steps, start=1):
        flow.text(step, mark=str(number))


def odd_seams(flow: Flow, plan: FoundationPlan, units: str) -> None:
    """How Y-seams, partial and curved ones are sewn, where there are any, and the other ways to sew the block."""
    set_in = [advice for advice in plan.advice if advice.code == "set-in"]
    if set_in or any(join.kind == "set-in" for join in plan.joins):
        flow.heading("Y-seams")
        flow.text(SET_IN_TEXT)
        for line in _set_in_lines(set_in, units):
            flow.text(line, mark="·")
    if any(join.kind == "partial" for join in plan.joins):
        flow.heading("Partial seams")
        flow.text(PARTIAL_TEXT)
    curved = [advice for advice in plan.advice if advice.code == "curved-seam"]
    if curved:
        flow.heading("Curved seams")
        flow.text(CURVED_TEXT)
        for advice in curved:
            flow.text(advice.text, mark="·")
    rivals = [cure for cure in plan.cures if not cure.chosen]
    if rivals:
        flow.heading("Other ways to sew it")
        for cure in rivals:
            flow.text(cure.text, mark="·")


def _set_in_lines(set_in: Sequence[Advice], units: str) -> list[str]:
    """The advice on each point in full where it is short, else only the points' places in one line."""
    if len(set_in) <= 2 or any(advice.at is None for advice in set_in):
        return [advice.text for advice in set_in]
    places = [size_text(advice.at[0], advice.at[1], units) for advice in set_in if advice.at]
    return [f"{len(places)} points, each as its distance from the left × from the bottom: {'; '.join(places)}."]


def _opening(
    flow: Flow, plan: FoundationPlan, block: Block, pages_of: Mapping[str, str], *, units: str,
    fabrics: Mapping[str, Fabric],
) -> None:  # fmt: skip
    """The block in colour, with its facts and the same in lines beside it."""
    scale = min(_PICTURE_MM / max(block.width, block.height), 1.0)
    high, wide = block.height * scale, block.width * scale
    column = max(wide, 70.0) + 9.0
    facts = Flow(Region(column, 0.0, flow.region.width - column, max(high, 90.0)))
    facts.heading("The block", keep_mm=0)
    facts.text(f"{size_text(block.width, block.height, units)} finished, as you see it from its right side.")
    facts.text(
        f"{count_text(len(block.pieces), 'piece', 'pieces')} of "
        f"{count_text(len({piece.template for piece in block.pieces}), 'template', 'templates')}, "
        f"{count_text(sum(section.copies for section in plan.sections), 'section', 'sections')}, "
        f"{count_text(len(plan.joins), 'join', 'joins')}."
    )
    facts.heading("Sections", keep_mm=0)
    for section in plan.sections:
        line = f"{count_text(len(section.pieces), 'patch', 'patches')}, sew {section.copies}"
        facts.text(f"{line}: {pages_of[section.name]}", mark=section.name)
    # The line drawing stands under the facts where there is room, else below the picture.
    room = facts.y - 6.0 if len(facts.pages) == 1 else 0.0
    lines_high = min(_LINES_MM, room) if room > _LINES_MM * 0.6 else _LINES_MM
    lines_scale = min(lines_high / max(block.width, block.height), facts.region.width / block.width, scale)
    lines_high = block.height * lines_scale
    if room >= lines_high:
        facts.space(4)
        facts.add(line_marks(block, plan, scale=lines_scale), lines_high)
        lines_high = 0.0
    height = max(high, facts.top - facts.y if len(facts.pages) == 1 else high)
    picture = placed(block_marks(block, plan, piece_colours(fabrics), scale=scale), 0, (0.0, height - high))
    beside = placed(facts.pages[0], 0, (0.0, height - facts.top))
    flow.add([*picture, *beside], height)
    for overflow in facts.pages[1:]:
        used = facts.top - min(mark.at[1] for mark in overflow if isinstance(mark, Text)) + 2
        flow.add(placed(overflow, 0, (0.0, used - facts.top)), used)
    flow.space(3)
    flow.add(legend(plan), 4.0)
    if lines_high:
        flow.space(4)
        flow.add(line_marks(block, plan, scale=lines_scale), lines_high)


def legend(plan: FoundationPlan) -> list[Mark]:
    """What the lines of the picture mean."""
    entries = [(Pen(0.25), "seam"), (Pen(0.7), "border of a section")]
    if plan.added_seams:
        entries.append((Pen(0.35, INK, (1.2, 0.8)), "added seam"))
    if any(join.kind == "set-in" for join in plan.joins):
        entries.append((SET_IN, "Y-seam"))
    if any(join.kind == "partial" for join in plan.joins):
        entries.append((PARTIAL, "partial seam"))
    marks: list[Mark] = []
    for k, (pen, name) in enumerate(entries):
        x = 38.0 * k
        marks += [segment((x, 1.0), (x + 9, 1.0), pen, "legend"), Text(at=(x + 11, 0.0), text=name, size_pt=8)]
    return marks


def joining(flow: Flow, units: Sequence[Unit]) -> None:
    """Every unit once, pictures as small as their letters let them be."""
    flow.heading("Joining the sections", keep_mm=60)
    flow.text(JOINING_TEXT)
    if any(unit.nests for unit in units):
        flow.text(NEST_TEXT)
    flow.space(2)
    flow.rows([_unit_cell(unit, flow.region.width) for unit in units], _UNIT_GAP_MM)


def _unit_cell(unit: Unit, room: float) -> tuple[list[Mark], float, float]:
    """A unit's marks, height and width, in the narrowest of the columns that its letters have room in."""
    for columns, high in UNIT_COLUMNS:
        width = (room + _UNIT_GAP_MM) / columns - _UNIT_GAP_MM
        marks, height, roomy = unit_cell(unit, width, high)
        if roomy:
            return marks, height, width
    # No size holds all letters: the parts carry their names, which a small picture holds as well.
    columns, high = UNIT_COLUMNS[1]
    width = (room + _UNIT_GAP_MM) / columns - _UNIT_GAP_MM
    marks, height, _ = unit_cell(unit, width, high)
    return marks, height, width


def glued(one: Gluing) -> tuple[list[Mark], float]:
    """A section's parts in place, numbered."""
    outlines = [
        np.asarray(part.exterior.coords)[:-1]
        for shape in one.shapes
        for part in [max(getattr(shape, "geoms", [shape]), key=lambda p: p.area)]
    ]
    low, high = np.vstack(outlines).min(axis=0), np.vstack(outlines).max(axis=0)
    scale = _GLUE_MM / max(high - low)
    below = 5.0
    marks: list[Mark] = []
    for k, outline in enumerate(outlines, 1):
        small = (outline - low) * scale + np.array([0.0, below])
        marks.append(polygon(small, pen=Pen(0.35), layer="parts"))
        label = inside(small, Label(f"{k}/{len(outlines)}", "", 8.0))
        marks += label[0] if label else []
    marks.append(Text(at=(0.0, 0.8), text=f"Section {one.name}", size_pt=8, weight="bold"))
    return marks, below + float(high[1] - low[1]) * scale


def cutting_charts(
    flow: Flow, cutting: CuttingList, *, units: str, blocks: int, allowance_mm: float, needs: bool = True
) -> None:
    """The cutting chart, how much of each fabric to have (``needs``), and the sizes for sewing without paper."""
    flow.heading(f"Cutting chart for {count_text(blocks, 'block', 'blocks')}, on paper", keep_mm=45)
    flow.text(chart.margin_text(cutting, units))
    flow.space(1)
    chart_table(flow, chart.CHART_HEADINGS, chart.chart_rows(cutting, units), chart.CHART_SHARES)
    if needs:
        rows = chart.need_rows(cutting)
        flow.heading("Fabric to have", keep_mm=min(len(rows) + 3, 12) * 6.0)
        flow.text(chart.need_text(cutting, units))
        flow.space(1)
        chart_table(flow, chart.NEED_HEADINGS, rows, chart.NEED_SHARES)
    flow.heading(f"Cutting for {count_text(blocks, 'block', 'blocks')} without paper", keep_mm=40)
    flow.text(chart.exact_text(allowance_mm, units))
    flow.space(1)
    chart_table(flow, chart.ROTARY_HEADINGS, chart.rotary_table(cutting), chart.ROTARY_SHARES)


def chart_table(
    flow: Flow, headings: Sequence[str], rows: Sequence[chart.ChartRow], shares: Sequence[float]
) -> None:
    """A table whose first column has the fabrics' swatches."""

    def swatch(k: int, size: float) -> list[Mark]:
        fabric = rows[k].fabric
        return swatch_marks(fabric, size) if fabric else []

    flow.table(headings, [row.cells for row in rows], shares, swatch)


def _quilt(flow: Flow, quilt: QuiltDesign) -> None:
    """The quilt drawn small, with what its setting takes."""
    scale = _QUILT_MM / max(quilt.width, quilt.height)
    high, wide = quilt.height * scale, quilt.width * scale
    flow.heading("The quilt", keep_mm=high)
    beside = Flow(Region(wide + 8, 0.0, flow.region.width - wide - 8, max(high, 30.0)))
    for line in quilt.words:
        beside.text(line)
    flow.add(
        [*placed(quilt.marks, 0, (0.0, 0.0), scale), *placed(beside.pages[0], 0, (0.0, high - beside.top))], high
    )


def origin(flow: Flow, came_from: Sequence[str]) -> None:
    """Where the pattern came from, or a line to write it on."""
    flow.heading("Where it came from", keep_mm=24)
    for line in came_from:
        flow.text(line, mark="·")
    if not any(came_from):
        flow.space(4)
        flow.add([segment((0, 0), (flow.region.width * 0.7, 0), HAIRLINE, "write")], 1.0)
        flow.text(
            "Whose templates, from when, from where: write it here, for whoever has this after you.", size_pt=8
        )
    flow.text(SHAPES_TEXT, size_pt=8)
