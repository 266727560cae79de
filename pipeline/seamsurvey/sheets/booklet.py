"""The whole pattern as one booklet: cover, what to have, cutting, colouring, sewing, the quilt, papers, record."""

from collections.abc import Iterator, Mapping, Sequence

from attrs import frozen

from seamsurvey.model import Block, FoundationPlan, TemplateSet
from seamsurvey.sheets import booklet_parts as parts
from seamsurvey.sheets.drawing import Drawing, Mark, Text
from seamsurvey.sheets.fabric import CuttingList
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.flow import Flow
from seamsurvey.sheets.foundations import gluing_of, page_numbers, paper_sheets
from seamsurvey.sheets.guide import CAUTIONS, PRESSING, cutting_charts, glued, joining, odd_seams, sewing_steps
from seamsurvey.sheets.joining import units_of
from seamsurvey.sheets.page import Imprint, Region, sheet, text_body
from seamsurvey.sheets.quilt import QuiltDesign
from seamsurvey.sheets.quilt_needs import QuiltNeed
from seamsurvey.sheets.record import record
from seamsurvey.sheets.sketches import PrintedSections
from seamsurvey.sheets.template_pages import NOTE, TemplateFacts, template_sheets


@frozen(kw_only=True)
class Booklet:
    """Everything the booklet tells of; ``cutting`` is for all blocks of the quilt, or as many as were wished."""

    templates: TemplateSet | None
    block: Block
    plan: FoundationPlan
    cutting: CuttingList
    fabrics: Mapping[str, Fabric]
    sections: PrintedSections
    quilt: QuiltDesign
    needs: Sequence[QuiltNeed]
    came_from: Sequence[str]
    imprint: Imprint
    units: str
    allowance_mm: float
    facts: TemplateFacts


@frozen
class _Page:
    """One page before it is numbered."""

    marks: tuple[Mark, ...]
    note: str
    true: bool = False  # something on it is at true size
    sketch: tuple[Mark, ...] = ()
    head: bool = True


_CONTENTS = (
    "Supplies", "Print check", "Fabric requirements", "Cutting chart", "Sewing a section", "Joining the sections",
    "Putting the quilt together",
)  # fmt: skip


def booklet_pages(book: Booklet) -> list[Drawing]:
    """All pages in order. Text pages hold no scale bars: nothing on them is at true size but the test squares."""
    region = text_body(book.imprint.paper, book.imprint.print_scale)
    # The text names pages, and how many it takes itself does not depend on the numbers: set it twice.
    text: list[_Page] = []
    for _ in range(2):
        text = _text(book, region, page_numbers(book.plan, book.sections, len(text) + 1))
    papers, templates, last = list(_papers(book)), list(_templates(book)), list(_record(book, region))
    first = 2 + len(text)
    contents = [
        *_found(text), ("Foundations", first), ("Templates", first + len(papers)),
        ("The record", first + len(papers) + len(templates)),
    ]  # fmt: skip
    cover = parts.cover(
        book.imprint.title, book.block, book.plan, book.quilt, book.fabrics, contents, region, units=book.units
    )
    pages = [_Page(tuple(cover), "", head=False), *text, *papers, *templates, *last]
    return [
        sheet(
            book.imprint, page.marks, page=k, pages=len(pages), note=page.note, sketch=page.sketch, true=page.true,
            head=page.head,
        )
        for k, page in enumerate(pages, start=1)
    ]  # fmt: skip


def _found(text: Sequence[_Page]) -> list[tuple[str, int]]:
    """On which page each heading of the contents stands; the cover is page 1."""
    found = []
    for number, page in enumerate(text, start=2):
        bold = [mark.text for mark in page.marks if isinstance(mark, Text) and mark.weight == "bold"]
        found += [(name, number) for name in _CONTENTS if any(words.startswith(name) for words in bold)]
        if page.note == parts.COLOURING_NOTE:
            found.append(("Colouring page", number))
    first: dict[str, int] = {}
    for name, number in found:
        first.setdefault(name, number)
    return list(first.items())


def _text(book: Booklet, region: Region, pages_of: Mapping[str, str]) -> list[_Page]:
    """What is read before the papers, in one flow; the colouring page stands after the cutting chart."""
    flow = Flow(region)
    papers, parted = len(book.sections.pages.pages), bool(gluing_of(book.sections))
    parts.supplies(flow, book.plan, book.cutting, papers, parted=parted)
    parts.print_check(flow)
    parts.fabric_table(flow, book.cutting, book.needs, book.quilt, units=book.units)
    cutting_charts(
        flow, book.cutting, units=book.units, blocks=book.cutting.blocks, allowance_mm=book.allowance_mm,
        needs=False,
    )  # fmt: skip
    cut = len(flow.pages)
    _sewing(flow, book, pages_of)
    parts.assembly(flow, book.quilt, book.needs)
    pages = [_Page(tuple(page), parts.TEXT_NOTE) for page in flow.pages]
    colouring = [
        _Page(tuple(marks), parts.COLOURING_NOTE)
        for marks in parts.colouring(book.block, book.plan, book.fabrics, region)
    ]
    return [*pages[:cut], *colouring, *pages[cut:]]


def _sewing(flow: Flow, book: Booklet, pages_of: Mapping[str, str]) -> None:
    flow.heading("The block", keep_mm=110)
    parts.opening(flow, book.plan, book.block, book.fabrics, pages_of)
    sewing_steps(flow, book.allowance_mm, book.units)
    gluing = gluing_of(book.sections)
    if gluing:
        flow.heading("Sections printed in parts", keep_mm=60)
        flow.text(parts.GLUING_TEXT)
        flow.space(2)
        flow.grid([glued(one) for one in gluing], 3, 6.0)
    if book.plan.joins:
        joining(flow, units_of(book.plan, book.block, book.fabrics))
    odd_seams(flow, book.plan, book.units)
    flow.heading("Pressing")
    for line in PRESSING if book.plan.joins else PRESSING[:1]:
        flow.text(line, mark="·")
    flow.heading("Take care")
    for line in CAUTIONS:
        flow.text(line, mark="·")
    others = [advice for advice in book.plan.advice if advice.code not in ("set-in", "curved-seam")]
    if others:
        flow.heading("Good to know")
        for advice in others:
            flow.text(advice.text, mark="·")


def _papers(book: Booklet) -> Iterator[_Page]:
    for marks, note, sketch in paper_sheets(book.plan, book.block, book.sections, book.imprint):
        yield _Page(marks, note, true=True, sketch=sketch)


def _templates(book: Booklet) -> Iterator[_Page]:
    pages = template_sheets(
        book.block, book.plan, imprint=book.imprint, allowance_mm=book.allowance_mm, facts=book.facts
    )
    for marks in pages:
        yield _Page(marks, NOTE, true=True)


def _record(book: Booklet, region: Region) -> Iterator[_Page]:
    flow = Flow(region)
    record(
        flow, book.templates, book.block, book.facts, book.came_from, units=book.units, job=book.imprint.job_hash
    )
    for page in flow.pages:
        yield _Page(tuple(page), parts.RECORD_NOTE)
