"""The set pieces of the booklet: cover, supplies, print check, fabrics, colouring page, the quilt's assembly."""

import math
from collections.abc import Mapping, Sequence

from seamsurvey.model import Block, FoundationPlan, Section
from seamsurvey.sheets import chart
from seamsurvey.sheets.block_figure import block_marks, line_marks, piece_colours
from seamsurvey.sheets.drawing import HAIRLINE, QUIET, Mark, Pen, Text, box, placed, polygon, segment
from seamsurvey.sheets.fabric import CuttingList
from seamsurvey.sheets.fabrics import Fabric, swatch_marks
from seamsurvey.sheets.flow import Flow
from seamsurvey.sheets.guide import chart_table, legend
from seamsurvey.sheets.page import Region
from seamsurvey.sheets.quilt import QuiltDesign
from seamsurvey.sheets.quilt_needs import HEADINGS, SHARES, QuiltNeed
from seamsurvey.sheets.type import broken, cap_mm, cut_short, line_mm, width_mm
from seamsurvey.sheets.words import count_text, size_text
from seamsurvey.units import INCH

TEXT_NOTE = "Pictures show the finished side of the block, as you will see it."
COLOURING_NOTE = "Colouring page: copy it, colour it, glue in your fabrics."
RECORD_NOTE = "What these templates were, and how well they were measured."
GLUING_TEXT = (
    "Lay each part over its neighbour so that the crosses meet, and glue along the dash-dotted line. The pictures "
    "show the printed side."
)
# A picture of more shapes than this makes a file that printers choke on: the block stands in for the quilt.
MOST_SHAPES = 3000
_TITLE_PT, _UNDER_PT, _CONTENTS_PT = 30.0, 12.0, 10.0
_SWATCH_MM, _SMALL_SWATCH_MM, _CHIP_MM = 26.0, 16.0, 3.2
_SWATCH_GAP_MM, _FEW, _SWATCH_ROWS = 4.0, 6, 3
_LEAST_QUILT_MM = 110.0
_COLUMNS, _COLUMN_GAP_MM = 3, 6.0


def cover(
    title: str, block: Block, plan: FoundationPlan, quilt: QuiltDesign, fabrics: Mapping[str, Fabric],
    contents: Sequence[tuple[str, int]], region: Region, *, units: str,
) -> list[Mark]:  # fmt: skip
    """Title, the quilt in colour as large as has room, the block's facts, and what is in the booklet."""
    marks: list[Mark] = []
    y = region.y + region.height
    for line in broken(title, _TITLE_PT, region.width, "bold")[:2]:
        y -= cap_mm(_TITLE_PT) + 4.0
        text = cut_short(line, _TITLE_PT, region.width, "bold")
        marks.append(Text(at=(region.x, y), text=text, size_pt=_TITLE_PT, weight="bold"))
    size = size_text(block.width, block.height, units)
    facts = (
        f"{size} block of {count_text(len(block.pieces), 'piece', 'pieces')},"
        f" sewn on {count_text(sum(s.copies for s in plan.sections), 'paper', 'papers')}"
    )
    lines = [facts, quilt.words[0]]
    for line in lines:
        y -= line_mm(_UNDER_PT) + 1.0
        marks.append(Text(at=(region.x, y), text=line, size_pt=_UNDER_PT, colour=QUIET))
    foot = math.ceil(len(contents) / 2) * (line_mm(_CONTENTS_PT) + 1.2) + 9.0
    room = y - 7.0 - region.y - foot
    full = len(quilt.marks) <= MOST_SHAPES
    wide, high = (quilt.width, quilt.height) if full else (block.width, block.height)
    scale = min(region.width / wide, room / high)
    left = region.x + (region.width - wide * scale) / 2
    bottom = region.y + foot + (room - high * scale) / 2
    drawn = placed(quilt.marks, 0, (left, bottom), scale) if full else placed(
        block_marks(block, None, piece_colours(fabrics), scale=scale), 0, (left, bottom)
    )  # fmt: skip
    marks += [mark for mark in drawn if not isinstance(mark, Text)]
    marks += _contents(contents, region, foot)
    return marks


def _contents(contents: Sequence[tuple[str, int]], region: Region, foot: float) -> list[Mark]:
    """Names and pages in two columns under a rule."""
    top = region.y + foot - 4.0
    marks: list[Mark] = [segment((region.x, top), (region.x + region.width, top), HAIRLINE, "rules")]
    rows, wide, gap = math.ceil(len(contents) / 2), region.width, 10.0
    column = (wide - gap) / 2
    for k, (name, page) in enumerate(contents):
        x = region.x + (k // rows) * (column + gap)
        y = top - 2.0 - cap_mm(_CONTENTS_PT) - (k % rows) * (line_mm(_CONTENTS_PT) + 1.2) - 1.0
        marks.append(Text(at=(x, y), text=name, size_pt=_CONTENTS_PT))
        marks.append(Text(at=(x + column, y), text=str(page), size_pt=_CONTENTS_PT, anchor="end"))
        start, end = x + width_mm(name, _CONTENTS_PT) + 2.0, x + column - width_mm(str(page), _CONTENTS_PT) - 2.0
        marks.append(segment((start, y + 0.6), (end, y + 0.6), Pen(0.18, QUIET, (0.3, 1.2)), "rules"))
    return marks


def supplies(flow: Flow, plan: FoundationPlan, cutting: CuttingList, pages: int, *, parted: bool) -> None:
    """What to have at hand. Common practice, no source."""
    flow.heading("Supplies")
    sheets = count_text(pages * cutting.blocks, "sheet", "sheets")
    lines = [
        f"Thin printer paper or foundation paper: {sheets}, {pages} for each block"
        if cutting.blocks > 1
        else f"Thin printer paper or foundation paper: {sheets}",
        "Cotton fabrics as listed below, washed as you mean to wash the quilt",
        "Thread in a middle tone, a size 80 or 90 needle, and a fresh one for after the paper",
        "Rotary cutter, mat and a ruler with 1/4 in lines; scissors that may cut paper",
        "Flat pins, a light or a window to see through the paper, a dry iron",
    ]
    if parted:
        lines.append("A glue stick: some sections are larger than the page and are printed in parts")
    if any(join.kind in ("set-in", "curved") for join in plan.joins):
        lines.append("A pencil for the points at which seams turn")
    for line in lines:
        flow.text(line, mark="·")


def print_check(flow: Flow) -> None:
    """How to print, and squares to measure the first page by."""
    flow.heading("Print check", keep_mm=75)
    flow.text(
        "Print at 100 %, never fitted to the page. Print this page first and measure both squares across and up: "
        "what is off here is off in every seam. Every page with papers or templates has bars of 100 mm and 4 in "
        "both ways besides: hold a ruler to each page."
    )
    flow.space(2)
    two, five = 2 * INCH, 50.0
    x = five + 12.0
    marks: list[Mark] = [
        polygon(box(0, 0, five, five), pen=Pen(0.35), layer="test square"),
        polygon(box(x, 0, two, two), pen=Pen(0.35), layer="test square"),
    ]
    for left, side, text, good in (
        (0.0, five, "50 mm square", "49.75 to 50.25 mm is good"),
        (x, two, "2 in square", "1 63/64 to 2 1/64 in is good"),
    ):
        for k, (line, weight) in enumerate(((text, "bold"), (good, "regular"))):
            at = (left + side / 2, side / 2 + 1.0 - k * 4.6)
            marks.append(Text(at=at, text=line, size_pt=9.0, weight=weight, anchor="middle"))
    flow.add(marks, two + 1.0)


def fabric_table(
    flow: Flow, cutting: CuttingList, needs: Sequence[QuiltNeed], quilt: QuiltDesign, *, units: str
) -> None:
    """How much of each fabric to have, for the blocks and for the rest of the quilt."""
    rows = chart.need_rows(cutting)
    flow.heading("Fabric requirements", keep_mm=min(len(rows) + 4, 10) * 6.0)
    flow.text(chart.need_text(cutting, units))
    flow.space(1)
    chart_table(flow, chart.NEED_HEADINGS, rows, chart.NEED_SHARES)
    if needs and cutting.blocks == quilt.blocks:
        flow.space(4)
        flow.need(len(needs) * 7.0 + 10.0)
        flow.text(f"Besides the blocks, for the quilt of {quilt.words[0].partition(':')[0]}:")
        flow.space(1)
        flow.table(HEADINGS, [need.cells for need in needs], SHARES)


def colouring(
    block: Block, plan: FoundationPlan, fabrics: Mapping[str, Fabric], region: Region
) -> list[list[Mark]]:
    """The block in lines as large as the page has room; below, or on pages, a space for a snip of each fabric."""
    kinds = list(dict.fromkeys(fabrics[piece.id] for piece in block.pieces))
    side = _SWATCH_MM if len(kinds) <= _FEW else _SMALL_SWATCH_MM
    across = int((region.width + _SWATCH_GAP_MM) / (side + _SWATCH_GAP_MM))
    row_mm = side + line_mm(8) + 4.0
    beside = math.ceil(len(kinds) / across) <= _SWATCH_ROWS
    under = math.ceil(len(kinds) / across) * row_mm + 6.0 if beside else 0.0
    room = region.height - under - 2.0
    scale = min(region.width / block.width, room / block.height)
    left = region.x + (region.width - block.width * scale) / 2
    bottom = region.y + under + (room - block.height * scale) / 2
    lines = list(placed(line_marks(block, plan, scale=scale), 0, (left, bottom)))
    if beside:
        return [[*lines, *_swatches(kinds, region, region.y + under - 6.0, side, across)]]
    a_page = across * int(region.height / row_mm)
    top = region.y + region.height
    pages = [kinds[k : k + a_page] for k in range(0, len(kinds), a_page)]
    return [lines, *(_swatches(some, region, top, side, across) for some in pages)]


def _swatches(kinds: Sequence[Fabric], region: Region, top: float, side: float, across: int) -> list[Mark]:
    """Spaces to glue fabric in, row by row from the top, each with its fabric's name."""
    marks: list[Mark] = []
    row_mm = side + line_mm(8) + 4.0
    for k, fabric in enumerate(kinds):
        x = region.x + (k % across) * (side + _SWATCH_GAP_MM)
        y = top - (k // across) * row_mm - side
        marks.append(polygon(box(x, y, side, side), pen=Pen(0.25, QUIET, (1.2, 0.8)), layer="swatch spaces"))
        marks += placed(swatch_marks(fabric, _CHIP_MM), 0, (x, y - _CHIP_MM - 0.8))
        name = cut_short(fabric.name, 8.0, side - _CHIP_MM - 1.5)
        marks.append(Text(at=(x + _CHIP_MM + 1.5, y - _CHIP_MM - 0.2), text=name, size_pt=8.0))
    return marks


def opening(
    flow: Flow, plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric], pages_of: Mapping[str, str]
) -> None:
    """The block in colour with its codes, and beside it the sections and the pages they are on."""
    scale = min(105.0 / block.width, 105.0 / block.height)
    high, wide = block.height * scale, block.width * scale
    beside = Flow(Region(wide + 10.0, 0.0, flow.region.width - wide - 10.0, max(high, 60.0)))
    beside.heading("Sections", keep_mm=0)
    beside.text("A letter and a number: the section, and the patch's place in its sewing order.")
    beside.space(1)
    listed = [(section.name, _section_words(section, pages_of)) for section in plan.sections]
    few = len(listed) * line_mm(9.0) * 1.2 < beside.y
    for name, words in listed if few else ():
        beside.text(words, mark=name)
    height = max(high, beside.top - beside.y if len(beside.pages) == 1 else high)
    picture = placed(block_marks(block, plan, piece_colours(fabrics), scale=scale), 0, (0.0, height - high))
    flow.add([*picture, *placed(beside.pages[0], 0, (0.0, height - beside.top))], height)
    for overflow in beside.pages[1:]:
        used = beside.top - min(mark.at[1] for mark in overflow if isinstance(mark, Text)) + 2
        flow.add(placed(overflow, 0, (0.0, used - beside.top)), used)
    flow.space(3)
    flow.add(legend(plan), 4.0)
    if not few:
        flow.space(3)
        _in_columns(flow, listed)


def _section_words(section: Section, pages_of: Mapping[str, str]) -> str:
    plain = len(section.pieces) == 1
    what = "a plain patch, cut" if plain else f"{count_text(len(section.pieces), 'patch', 'patches')}, make"
    return f"{what} {section.copies}: {pages_of[section.name]}"


def _in_columns(flow: Flow, listed: Sequence[tuple[str, str]]) -> None:
    """Names with their words, down one column after another."""
    wide = (flow.region.width + _COLUMN_GAP_MM) / _COLUMNS - _COLUMN_GAP_MM
    rows = math.ceil(len(listed) / _COLUMNS)
    for row in range(rows):
        cells = []
        for name, words in listed[row::rows]:
            cell = Flow(Region(0.0, 0.0, wide, 40.0))
            cell.text(words, mark=name)
            high = cell.top - cell.y
            cells.append((placed(cell.pages[0], 0, (0.0, high - cell.top)), high))
        flow.grid(cells, _COLUMNS, _COLUMN_GAP_MM)
        flow.space(-_COLUMN_GAP_MM)


_STEPS = {
    "straight": "Lay the blocks out as in the picture, turn by turn, before you sew two of them.",
    "on-point": "Lay the blocks out as in the picture, with the side and corner triangles round them.",
}


def assembly(flow: Flow, quilt: QuiltDesign, needs: Sequence[QuiltNeed]) -> None:
    """The quilt as large as the page has room, and how it is put together."""
    steps = _assembly_steps(quilt, {need.what for need in needs})
    words = sum(flow.text_mm(step, marked=True) for step in steps)
    flow.heading("Putting the quilt together", keep_mm=_LEAST_QUILT_MM + words)
    flow.text(quilt.words[0])
    flow.space(2)
    room = flow.y - flow.region.y - words - 12.0
    if len(quilt.marks) <= MOST_SHAPES and room > 60.0:
        scale = min(room / quilt.height, flow.region.width / quilt.width)
        left = (flow.region.width - quilt.width * scale) / 2
        flow.add(placed(quilt.marks, 0, (0.0, 0.0), scale), quilt.height * scale, x=left)
        flow.space(5)
    for number, step in enumerate(steps, start=1):
        flow.text(step, mark=str(number))


def _assembly_steps(quilt: QuiltDesign, needed: set[str]) -> list[str]:
    sashed = "sashing" in needed
    rows = "slanting rows, from corner to corner" if quilt.quilt.setting == "on-point" else "rows"
    between = " with a short piece of sashing between the blocks and at both ends" if sashed else ""
    measure = "Measure your blocks, and cut the short pieces to that length. " if sashed else ""
    press = (
        "towards the sashing" if sashed else "one way in odd rows, the other way in even ones, so that they nest"
    )
    steps = [
        _STEPS[quilt.quilt.setting],
        f"{measure}Sew the blocks into {rows}{between}; press the seams {press}.",
        "Sew the rows together"
        + (", with a long piece of sashing between them and above and below all" if sashed else "")
        + ". Take the paper out when all sides of a block are sewn.",
    ]
    if quilt.quilt.setting == "on-point":
        steps.append(
            "Sew the corner triangles on last, and trim the edges straight, 1/4 in outside the blocks' points."
        )
    if "border" in needed:
        steps.append(
            "Measure the quilt through its middle. Cut two borders as long as it is high, sew them to the sides; "
            "measure across the middle with them, cut the other two, and sew them on."
        )
    steps += [
        "Press the backing; lay it face down, the batting on it, the quilt on top, and baste or pin all three.",
        "Quilt; trim the batting and backing even with the top.",
        "Sew the binding's strips end to end, fold them in half along their length, sew them round with the raw "
        "edges together and folded corners, turn over the edge and sew down.",
    ]
    return steps
