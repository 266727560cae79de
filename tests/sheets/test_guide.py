"""What the guide pages say, read from the PDF."""

import re

import numpy as np

from seamsurvey.model import Advice, FoundationPlan, Join
from seamsurvey.sheets.fabric import cutting_list
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.page import Imprint
from seamsurvey.sheets.pdf import foundations_pdf

from .examples import block_of, coiled_path, forked_road, leaning_sails, plan_of, section_of
from .reading import figures_of, read_pdf
from .test_pdf import printed


def words_of(content: bytes) -> str:
    """All text of a file, its line breaks closed."""
    return " ".join(" ".join(page.text.split()) for page in read_pdf(content))


def test_the_guide_tells_size_sections_and_joins() -> None:
    """Size, counts, every join in order and the advice stand before the first foundation."""
    text = words_of(printed(*leaning_sails()))
    assert "8 × 8 in finished" in text
    assert "16 pieces of 4 templates, 4 sections, 3 joins." in text
    at = [text.index(words) for words in ("Unit 1: make 2", "Cutting chart for 1 block", "Printed side up")]
    assert at == sorted(at)
    assert "A + A" in text
    assert "unit 1 + unit 1" in text
    assert not re.search(r"\bA-\d", text), "copies look like patches"
    assert "Eight points meet in the middle" in text


def test_the_pages_named_for_a_section_are_the_ones_it_is_printed_on() -> None:
    """The page numbers in the guide are those of the pages that hold the section's figures."""
    content = printed(*leaning_sails())
    pages = [number for number, page in enumerate(read_pdf(content), start=1) if figures_of(page)]
    assert len(pages) == 2  # a quarter of 4 1/2 in with its allowance: two on a page
    assert f"sew 4: pages {pages[0]} and {pages[-1]}" in words_of(content)


def test_set_in_seams_are_explained_only_where_there_are_any() -> None:
    """The forked road's guide says how a set-in seam is sewn; the leaning sails' does not mention one."""
    fork = words_of(printed(*forked_road()))
    assert "Y-seams" in fork
    assert "a Y-seam" in fork
    assert "Nothing is sewn across the allowance at the point itself." in fork
    assert "Y-seam" not in words_of(printed(*leaning_sails()))


def test_many_set_in_points_are_listed_by_their_places() -> None:
    """Three points are given as distances from the left and from the bottom, not in three long sentences."""
    block, plan = forked_road()
    points = tuple(Advice("set-in", "long words", (25.4 * k, 50.8)) for k in (1, 2, 3))
    text = words_of(printed(block, FoundationPlan(plan.sections, plan.joins, (), points)))
    assert "3 points" in text
    assert "1 × 2 in; 2 × 2 in; 3 × 2 in." in text
    assert "long words" not in text


def test_more_blocks_are_counted_and_the_file_is_printed_again() -> None:
    """For twelve blocks the cutting list counts twelve, while the foundations are those of one."""
    one, twelve = printed(*leaning_sails()), printed(*leaning_sails(), blocks=12)
    assert len(read_pdf(one)) == len(read_pdf(twelve))
    text = words_of(twelve)
    assert "Cutting chart for 12 blocks" in text
    assert "48 (4 a block)" in text
    assert "once for each of the 12 blocks" in text


def test_a_plan_of_sixty_joins_runs_over_pages_without_loss() -> None:
    """Sixty-one strips, each a section: every unit, every section and every row of the list is printed."""
    strips = {f"T{k}-1": np.array([[0, 0], [40, 0], [40, 3], [0, 3.0]]) + np.array([0, 3 * k]) for k in range(61)}
    block = block_of(strips)
    sections = [section_of(block, f"S{k}", [f"T{k}-1"]) for k in range(61)]
    joins, whole = [], "S0"
    for k in range(1, 61):
        joins.append(Join(k, (whole, f"S{k}"), f"J{k}", (0.0, 3.0 * k), (40.0, 3.0 * k), "straight"))
        whole = f"J{k}"
    pages = read_pdf(printed(block, plan_of(sections, joins)))
    text = " ".join(" ".join(page.text.split()) for page in pages)
    words = [word for page in pages for word, _, _ in page.words]
    assert sorted(int(k) for k in re.findall(r"Unit (\d+)", text)) == list(range(1, 60))
    assert all(f"unit {k}" in text for k in range(1, 60))
    assert {f"T{k}" for k in range(61)} <= set(words)
    assert {f"S{k}1" for k in range(61)} <= set(words)
    assert all(page.smallest_pt >= 7 - 1e-6 for page in pages)


def test_a_long_title_is_cut_short_and_a_strange_one_does_no_harm() -> None:
    """A title of 300 letters ends in an ellipsis before the page number; letters the font lacks are let pass."""
    block, plan = coiled_path(8.0)
    assert "…" in read_pdf(printed(block, plan, title="a very long title " * 20))[0].text
    fabrics = fabrics_of(block, {}, {})
    cutting = cutting_list(plan, block, None, fabrics, units="mm", blocks=1, allowance_mm=6.0)
    imprint = Imprint(title="布 (test)\n", paper="a4", job_hash="0")
    content = foundations_pdf(plan, block, cutting, fabrics, imprint=imprint, units="mm", allowance_mm=6.0)
    assert "(test)" in words_of(content)
    assert "6 mm beyond the line" in words_of(content)
