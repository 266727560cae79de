"""What stands on every paper, so that it is known again when it is cut out."""

import re
from collections.abc import Callable

import attrs
import numpy as np
import pytest
import shapely

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block, FoundationPlan
from seamsurvey.sheets.drawing import Drawing, Line, Text
from seamsurvey.sheets.fabric import cutting_list
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.foundations import foundation_pages
from seamsurvey.sheets.page import Imprint
from tests.foundation.blocks import cut_up, eight_pointed_star

from .examples import forked_road, harbour_rows, leaning_sails
from .reading import read_pdf
from .test_pdf import printed

Maker = Callable[[], tuple[Block, FoundationPlan]]


def star() -> tuple[Block, FoundationPlan]:
    """The eight-pointed star with its added seams."""
    block = eight_pointed_star()
    return block, plan_foundation(block, time_limit_s=3)


def random_block() -> tuple[Block, FoundationPlan]:
    """Forty pieces cut up at random."""
    block = cut_up(5, 40)
    return block, plan_foundation(block, time_limit_s=3)


MAKERS: list[Maker] = [star, leaning_sails, harbour_rows, forked_road, random_block]


def pages_of(
    block: Block, plan: FoundationPlan, fabrics: dict[str, str] | None = None, title: str = "Harbour"
) -> list[Drawing]:
    """The drawings of all pages."""
    cloth = fabrics_of(block, {}, fabrics or {})
    cutting = cutting_list(plan, block, None, cloth, units="inch", blocks=1, allowance_mm=6.35)
    imprint = Imprint(title=title, paper="letter", job_hash="0")
    return foundation_pages(
        plan, block, cutting, cloth, imprint=imprint, units="inch", allowance_mm=6.35, blocks=1, colours={}
    )


def papers(page: Drawing) -> list[tuple[shapely.Polygon, list[Text]]]:
    """Each paper of a page by its dashed line, with the texts that stand inside it."""
    cuts = [shapely.Polygon(m.points) for m in page.marks if isinstance(m, Line) and m.layer == "allowance"]
    texts = [m for m in page.marks if isinstance(m, Text)]
    return [(cut, [t for t in texts if cut.contains(shapely.Point(t.at))]) for cut in cuts]


@pytest.mark.parametrize("make", MAKERS)
def test_every_paper_says_its_block_section_number_and_page(make: Maker) -> None:
    """Inside every dashed line stand the block's name, the section, how many to make, and the page it is on."""
    block, plan = make()
    copies = {section.name: section.copies for section in plan.sections}
    seen = dict.fromkeys(copies, 0)
    for number, page in enumerate(pages_of(block, plan), start=1):
        for _, texts in papers(page):
            caption = " · ".join(t.text for t in texts if t.layer == "captions")
            match = re.search(r"(?:section )?\b([A-Z]+)(?:, a plain patch)? · make (\d+)", caption)
            assert match, caption
            assert "Harbour" in caption
            assert f"page {number}" in caption
            assert int(match[2]) == copies[match[1]]
            seen[match[1]] += 1
    assert seen == copies


def test_colourings_are_told_apart_and_counted() -> None:
    """A quarter of the sails in other cloth is a colouring of its own: three to make of one, one of the other."""
    block, plan = leaning_sails()
    captions = [
        text.text
        for page in pages_of(block, plan, {"T2-3": "red"})
        for _, texts in papers(page)
        for text in texts
        if text.layer == "captions"
    ]
    assert sum("A (colouring 1) · make 3" in caption for caption in captions) == 3
    assert sum("A (colouring 2) · make 1" in caption for caption in captions) == 1
    assert not any(re.search(r"\bA-\d", caption) for caption in captions)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("make", MAKERS)
def test_bars_keep_five_millimetres_from_cut_lines(make: Maker, paper: str) -> None:
    """No dashed line comes nearer than 5 mm to either bar, read from the file."""
    for page in read_pdf(printed(*make(), paper=paper)):
        bars = [
            shapely.LineString(s.points)
            for s in page.strokes
            if len(s.points) == 2 and any(abs(shapely.LineString(s.points).length - n) < 1e-3 for n in (100, 101.6))
        ]
        cuts = [shapely.LinearRing(s.points) for s in page.strokes if s.closed and s.dashed]
        assert len(bars) >= 4
        assert min((cut.distance(bar) for cut in cuts for bar in bars), default=9.0) > 5.0


@pytest.mark.parametrize("make", MAKERS)
def test_the_small_picture_is_on_every_page_and_touches_no_paper(make: Maker) -> None:
    """Every page with papers has the block from its finished side, clear of them."""
    block, plan = make()
    for page in pages_of(block, plan):
        cuts = [cut for cut, _ in papers(page)]
        lines = [m for m in page.marks if isinstance(m, Line) and m.layer == "sketch"]
        assert bool(lines) == bool(cuts)
        if not cuts:
            continue
        points = np.vstack([line.points for line in lines])
        box = shapely.box(*points.min(axis=0), *points.max(axis=0))
        assert min(cut.distance(box) for cut in cuts) > 0.5
        wide, high = np.ptp(points, axis=0)
        assert wide / high == pytest.approx(block.width / block.height, rel=1e-6)
        outline = max(lines, key=lambda line: shapely.Polygon(line.points).area)
        # Seen from the finished side: the outline is the block's own, not its mirror image.
        scale = wide / block.width
        gap = shapely.Polygon((outline.points - points.min(axis=0)) / scale).symmetric_difference(
            shapely.Polygon(block.outline - block.outline.min(axis=0))
        )
        assert gap.area < 1e-6 * block.width * block.height


def test_the_small_picture_is_grey_only_where_it_tells_something() -> None:
    """A page with all of a block shows it white; each of the pages of the star has its own two places grey."""
    for make, words, filled in ((forked_road, "The block, finished side.", 0), (star, "grey: on this page.", 2)):
        found = [page for page in pages_of(*make()) if papers(page)]
        for page in found:
            assert words in {mark.text for mark in page.marks if isinstance(mark, Text)}
            assert (
                sum(isinstance(m, Line) and m.layer == "sketch" and m.fill is not None for m in page.marks)
                == filled
            )


def test_edges_say_what_they_are_joined_to() -> None:
    """Of three rows each knows its neighbours: the middle one both, the outer ones the middle one."""
    found = {}
    for page in pages_of(*harbour_rows()):
        for _, texts in papers(page):
            (section,) = {m[1] for t in texts if (m := re.search(r"\b([ABC]) · make", t.text))}
            found[section] = {t.text for t in texts if t.layer == "notes"}
    assert found == {"A": {"to B"}, "B": {"to A", "to C"}, "C": {"to B"}}


def test_added_seams_are_marked_as_such() -> None:
    """On the star's papers each stretch of an added seam along a border is named; within a section it is dashed."""
    block, plan = star()
    notes = [t.text for page in pages_of(block, plan) for _, texts in papers(page) for t in texts]
    assert notes.count("added seam") == sum(
        section.copies * _added_on_border(section.outline, plan) for section in plan.sections
    )
    one = attrs.evolve(plan.sections[0].pieces[0], part=1)
    other = attrs.evolve(plan.sections[0].pieces[1], part=2, piece=one.piece)
    section = attrs.evolve(plan.sections[0], pieces=(one, other, *plan.sections[0].pieces[2:]))
    drawn = pages_of(block, attrs.evolve(plan, sections=(section, *plan.sections[1:])))
    dashed = [m for page in drawn for m in page.marks if isinstance(m, Line) and m.layer == "added seams"]
    on_papers = [line for line in dashed if line.pen and line.pen.width_mm >= 0.5]
    assert len(on_papers) == section.copies
    assert all(line.pen and line.pen.dash for line in on_papers)


def _added_on_border(outline: np.ndarray, plan: FoundationPlan) -> int:
    ring = shapely.LinearRing(outline).buffer(0.01)
    return sum(ring.contains(shapely.LineString([cut.start, cut.end])) for cut in plan.added_seams)


def test_a_section_of_one_patch_is_called_a_plain_patch() -> None:
    """The forked road's three sections have one patch each: all their papers say so."""
    captions = [
        text.text
        for page in pages_of(*forked_road())
        for _, texts in papers(page)
        for text in texts
        if "plain patch" in text.text
    ]
    assert len(captions) == 3
