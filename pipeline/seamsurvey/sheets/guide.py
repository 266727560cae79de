"""The guide pages that stand before the foundations: the block, how to sew it, the joins, the cutting list."""

from collections.abc import Mapping, Sequence

from seamsurvey.model import Advice, Block, FoundationPlan
from seamsurvey.sheets.block_figure import SET_IN, block_marks, step_marks
from seamsurvey.sheets.drawing import INK, Mark, Pen, Text, box, placed, polygon, segment
from seamsurvey.sheets.fabric import CuttingRow
from seamsurvey.sheets.flow import Flow
from seamsurvey.sheets.page import Region
from seamsurvey.sheets.type import broken, line_mm
from seamsurvey.sheets.words import count_text, length_text, size_text

_PICTURE_MM = 112.0  # the block on the first page, its longer side
_STEP_MM = 30.0
_COLUMNS = 4

CAUTIONS = (
    "Close the rotary cutter's blade each time you put it down, and cut away from yourself.",
    "Stand the iron on its heel; keep pins in a cushion, never between the lips.",
    "Paper dulls a needle: put in a fresh one when the block is done.",
    "A plain geometric shape is anyone's to use; a printed pattern's drawings and words may not be. "
    "Write down where these templates came from.",
)

SET_IN_TEXT = (
    "Heavy red dashes in the pictures: a seam that turns at a point. Sew it in straight stretches, from the "
    "outside to the point and no further; end the thread there, turn the upper piece to the next stretch, and "
    "begin again at the point. Nothing is sewn across the allowance at the point itself."
)


def how_to_sew(allowance: str) -> tuple[str, ...]:
    """Sewing on a foundation, in five lines; ``allowance`` is its width in words."""
    return (
        f"Lay patch 1 on the blank side of the paper, its wrong side to the paper, so that it covers area 1 and at "
        f"least {allowance} more all round. Hold it to the light to see; pin.",
        "Lay patch 2 on patch 1, right sides together, so that it will cover area 2 once it is folded over.",
        "Turn to the printed side. Sew on the line between 1 and 2 in short stitches, about 1.5 mm, beginning and "
        f"ending {allowance} beyond the line.",
        f"Fold the paper back along the line, trim the seam to {allowance}, unfold, turn patch 2 over and press.",
        "Go on by number. Last, trim on the dashed line. The paper stays in until all neighbours are joined.",
    )


def guide_pages(
    plan: FoundationPlan, block: Block, rows: Sequence[CuttingRow], pages_of: Mapping[str, str], *,
    region: Region, units: str, allowance_mm: float, blocks: int, colours: Mapping[str, str],
) -> list[tuple[Mark, ...]]:  # fmt: skip
    """The marks of each guide page. ``pages_of`` says on which pages each section is printed ("4 and 5")."""
    flow = Flow(region)
    _opening(flow, plan, block, pages_of, units=units, colours=colours)
    flow.heading("Sewing a section")
    for number, line in enumerate(how_to_sew(length_text(allowance_mm, units)), start=1):
        flow.text(line, mark=str(number))
    flow.heading("Take care")
    for line in CAUTIONS:
        flow.text(line, mark="·")
    if plan.joins:
        flow.heading("Joining the sections", keep_mm=50)
        flow.text("The pictures show the finished side. Match the short marks at the border, pin, sew, press.")
        flow.space(2)
        flow.grid([_step(plan, block, k, region.width) for k in range(len(plan.joins))], _COLUMNS, 5.0)
    set_in = [advice for advice in plan.advice if advice.code == "set-in"]
    if set_in or any(join.kind == "set-in" for join in plan.joins):
        flow.heading("Set-in seams")
        flow.text(SET_IN_TEXT)
        for line in _set_in_lines(set_in, units):
            flow.text(line, mark="·")
    others = [advice for advice in plan.advice if advice.code != "set-in"]
    if others:
        flow.heading("Good to know")
        for advice in others:
            flow.text(advice.text, mark="·")
    _cutting(flow, rows, units=units, blocks=blocks, allowance_mm=allowance_mm, colours=colours)
    return [tuple(page) for page in flow.pages]


def _set_in_lines(set_in: Sequence[Advice], units: str) -> list[str]:
    """The advice on each point in full where it is short, else only the points' places in one line."""
    if len(set_in) <= 2 or any(advice.at is None for advice in set_in):
        return [advice.text for advice in set_in]
    places = [size_text(advice.at[0], advice.at[1], units) for advice in set_in if advice.at]
    return [f"{len(places)} points, each as its distance from the left × from the bottom: {'; '.join(places)}."]


def _opening(
    flow: Flow, plan: FoundationPlan, block: Block, pages_of: Mapping[str, str], *, units: str,
    colours: Mapping[str, str],
) -> None:  # fmt: skip
    """The block in colour with its facts beside it."""
    scale = min(_PICTURE_MM / max(block.width, block.height), 1.0)
    high, wide = block.height * scale, block.width * scale
    column = max(wide, 70.0) + 8.0
    facts = Flow(Region(column, 0.0, flow.region.width - column, max(high, 60.0)))
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
    height = max(high, facts.top - facts.y if len(facts.pages) == 1 else high)
    picture = placed(block_marks(block, plan, colours, scale=scale), 0, (0.0, height - high))
    beside = placed(facts.pages[0], 0, (0.0, height - facts.top))
    flow.add([*picture, *beside], height)
    for overflow in facts.pages[1:]:
        used = facts.top - min(mark.at[1] for mark in overflow if isinstance(mark, Text)) + 2
        flow.add(placed(overflow, 0, (0.0, used - facts.top)), used)
    flow.space(3)
    flow.add(_legend(plan), 4.0)


def _legend(plan: FoundationPlan) -> list[Mark]:
    """What the lines of the picture mean."""
    entries = [(Pen(0.25), "seam"), (Pen(0.7), "border of a section")]
    if plan.added_seams:
        entries.append((Pen(0.35, INK, (1.2, 0.8)), "added seam"))
    if any(join.kind == "set-in" for join in plan.joins):
        entries.append((SET_IN, "set-in seam"))
    marks: list[Mark] = []
    for k, (pen, name) in enumerate(entries):
        x = 40.0 * k
        marks += [segment((x, 1.0), (x + 9, 1.0), pen, "legend"), Text(at=(x + 11, 0.0), text=name, size_pt=8)]
    return marks


def _step(plan: FoundationPlan, block: Block, k: int, room: float) -> tuple[list[Mark], float]:
    """One join as a small picture with its words below."""
    join = plan.joins[k]
    width = (room + 5.0) / _COLUMNS - 5.0
    scale = min(min(width, _STEP_MM * 1.2) / block.width, _STEP_MM / block.height)
    kind = {"straight": "", "partial": ", sewn part-way", "set-in": ", set in"}.get(join.kind, "")
    # An earlier result is called by its step: its own name may list a dozen places.
    earlier = {other.result: f"step {other.step}" for other in plan.joins[:k]}
    first, second = (earlier.get(part, part) for part in join.parts)
    words = broken(f"{first} + {second}{kind}", 8, width)
    below = (len(words)) * line_mm(8) + 4.4
    marks: list[Mark] = list(placed(step_marks(plan, k, scale), 0, (0.0, below)))
    y = below - 3.6
    marks.append(Text(at=(0.0, y), text=f"Step {join.step}", size_pt=8, weight="bold"))
    for line in words:
        y -= line_mm(8)
        marks.append(Text(at=(0.0, y), text=line, size_pt=8))
    return marks, below + block.height * scale


def _cutting(
    flow: Flow,
    rows: Sequence[CuttingRow],
    *,
    units: str,
    blocks: int,
    allowance_mm: float,
    colours: Mapping[str, str],
) -> None:
    """The cutting list as a table."""
    usable = "40 in" if units == "inch" else "102 cm"
    over = "1/2 in" if units == "inch" else "13 mm"
    flow.heading(f"Cutting list for {count_text(blocks, 'block', 'blocks')}", keep_mm=45)
    flow.text(
        f"Patches for foundations: rectangles {over} larger on every side than the finished piece, measured along "
        f"the seam it is sewn on first. Strips and fabric count on {usable} of usable width."
    )
    flow.space(1)

    def swatch(k: int, size: float) -> list[Mark]:
        return [polygon(box(0, 0, size, size), pen=Pen(0.18), fill=colours.get(rows[k].template, "#ffffff"))]

    flow.table(
        ("template", "patches", "cut", "strips", "fabric", "with ruler and rotary cutter", "exact, with allowance"),
        [
            (
                row.template + (" (part)" if row.part else ""),
                f"{row.total}" + (f" ({row.per_block} a block)" if blocks > 1 else ""),
                row.patch, str(row.strips), row.fabric, row.rule or "by template", row.exact,
            )
            for row in rows
        ],
        (1.5, 2.2, 2.2, 0.9, 1.1, 3.6, 2.4),
        swatch,
    )  # fmt: skip
    flow.space(2)
    flow.text(
        f"The last two columns are for sewing without paper: finished size and {length_text(allowance_mm, units)} "
        "all round, the rotary sizes rounded up.",
        size_pt=8,
    )
