"""The pages of the foundations file: guide pages, then every section at true size."""

from collections import defaultdict
from collections.abc import Mapping, Sequence

from attrs import frozen

from seamsurvey.model import Block, FoundationPlan, Section
from seamsurvey.sheets.drawing import Drawing, Mark, placed
from seamsurvey.sheets.fabric import CuttingRow
from seamsurvey.sheets.guide import guide_pages
from seamsurvey.sheets.lay import TURNS, fits, lay
from seamsurvey.sheets.page import Imprint, Region, body, sheet
from seamsurvey.sheets.section_figure import section_figure
from seamsurvey.sheets.tiles import tiles
from seamsurvey.sheets.words import count_text

_PRINT = "Print at 100 %, with no fit to page; then measure both bars with a ruler before sewing."
_GUIDE = "This guide shows the finished side of the block."
_BACK = "Printed side up: this is the back of the block, mirrored. Fabric goes underneath; sew on the solid lines."


@frozen
class _SectionPage:
    marks: tuple[Mark, ...]
    sections: tuple[str, ...]


def foundation_pages(
    plan: FoundationPlan, block: Block, rows: Sequence[CuttingRow], *, title: str, units: str, paper: str,
    allowance_mm: float, blocks: int, job_hash: str, colours: Mapping[str, str],
) -> list[Drawing]:  # fmt: skip
    """All pages for one block, in order; for more blocks the file is printed again."""
    region = body(paper)
    printed = _section_pages(plan, block, region, allowance_mm)
    # The guide names pages, and how many it takes itself does not depend on the numbers: set it twice.
    guide: list[tuple[Mark, ...]] = []
    for _ in range(2):
        guide = guide_pages(
            plan, block, rows, _pages_of(plan, printed, len(guide)), region=region, units=units,
            allowance_mm=allowance_mm, blocks=blocks, colours=colours,
        )  # fmt: skip
    imprint = Imprint(title=title, paper=paper, job_hash=job_hash)
    again = (
        f" Print these pages once for each of the {count_text(blocks, 'block', 'blocks')}." if blocks > 1 else ""
    )
    sheets = [(marks, (_PRINT, _GUIDE + again)) for marks in guide]
    sheets += [(page.marks, (_PRINT, _BACK)) for page in printed]
    return [
        sheet(imprint, marks, page=k, pages=len(sheets), notes=notes)
        for k, (marks, notes) in enumerate(sheets, start=1)
    ]


def _section_pages(plan: FoundationPlan, block: Block, region: Region, allowance_mm: float) -> list[_SectionPage]:
    """Every copy of every section: those that fit laid on shared pages, the others as tiles."""
    small, tiled = [], []
    for section in plan.sections:
        figures = {
            turn: section_figure(
                section, block, turn_deg=turn, allowance_mm=allowance_mm, caption=_caption(section)
            )
            for turn in TURNS
        }
        fitting = {turn: figure for turn, figure in figures.items() if fits(figure, region)}
        if fitting:
            small += [fitting] * section.copies
        else:
            pages = tiles(section, block, region, allowance_mm=allowance_mm, caption=_caption(section))
            tiled += [_SectionPage(tile.marks, (section.name,)) for _ in range(section.copies) for tile in pages]
    laid = [
        _SectionPage(
            tuple(mark for one in page for mark in placed(one.figure.marks, 0, one.shift)),
            tuple(one.figure.name for one in page),
        )
        for page in lay(small, region)
    ]
    return laid + tiled


def _caption(section: Section) -> str:
    return f"Section {section.name}" + (f": one of {section.copies}" if section.copies > 1 else "")


def _pages_of(plan: FoundationPlan, printed: Sequence[_SectionPage], before: int) -> dict[str, str]:
    """For each section: "page 3", "pages 3 and 5" or "pages 3 to 6"."""
    found: dict[str, list[int]] = defaultdict(list)
    for number, page in enumerate(printed, start=before + 1):
        for name in page.sections:
            if number not in found[name]:
                found[name].append(number)
    return {section.name: _listed(found[section.name]) for section in plan.sections}


def _listed(numbers: Sequence[int]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"pages {numbers[0]} to {numbers[-1]}"
    *most, last = map(str, numbers)
    return f"pages {', '.join(most)} and {last}" if most else f"page {last}"
