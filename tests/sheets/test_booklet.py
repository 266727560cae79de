"""The booklet, read back: its parts in order, pages that are not empty, and what it says of the templates."""

import re
from collections.abc import Callable
from functools import cache

import attrs
import numpy as np
import pypdfium2
import pytest
import shapely

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block, FoundationPlan, Quilt, Wishes
from seamsurvey.sheets.all_sheets import more_size_files, sheet_files
from seamsurvey.units import INCH, fraction_text
from tests.foundation.blocks import cut_up, eight_pointed_star, hourglass

from .examples import harbour_rows, leaning_sails, templates_for
from .reading import PageRead, read_pdf


def plan_of(block: Block, width: float) -> tuple[Block, FoundationPlan]:
    """A block brought to a width, with its plan."""
    factor = width / block.width
    names = {name: f"T{k}" for k, name in enumerate(dict.fromkeys(p.template for p in block.pieces), start=1)}
    pieces = tuple(
        attrs.evolve(piece, outline=piece.outline * factor, template=names[piece.template])
        for piece in block.pieces
    )
    scaled = attrs.evolve(block, outline=block.outline * factor, pieces=pieces)
    return scaled, plan_foundation(scaled, time_limit_s=3)


# From 4 to 100 pieces, on Letter and A4, in inches and millimetres.
CASES: dict[str, tuple[Callable[[], tuple[Block, FoundationPlan]], str, str, dict[str, str]]] = {
    "hourglass": (lambda: plan_of(hourglass(), 6 * INCH), "letter", "inch", {}),
    "star": (lambda: plan_of(eight_pointed_star(), 300.0), "a4", "mm", {}),
    "harbour": (harbour_rows, "a4", "inch", {}),
    "hundred": (lambda: plan_of(cut_up(3, 100), 12 * INCH), "letter", "mm", {"T1": "ink", "T2": "sky"}),
}


@cache
def booklet(name: str) -> bytes:
    """The booklet of a case."""
    make, paper, units, fabrics = CASES[name]
    block, plan = make()
    cloth = (
        {p.template: fabrics.get(p.template, f"cloth {k % 5}") for k, p in enumerate(block.pieces)}
        if fabrics
        else {}
    )
    wishes = Wishes(paper=paper, fabrics=cloth, quilt=Quilt(3, 4, sashing_mm=50.0 if units == "mm" else 2 * INCH))
    files = sheet_files(
        templates_for(block),
        block,
        plan,
        wishes,
        title="Harbour wind",
        units=units,
        job_hash="0123abcd",
        overlays={},
    )
    return files["booklet.pdf"]


@cache
def pages_of(name: str) -> tuple[PageRead, ...]:
    """Its pages."""
    return tuple(read_pdf(booklet(name)))


@pytest.mark.parametrize("name", CASES)
def test_the_parts_stand_in_order_and_the_contents_name_their_pages(name: str) -> None:
    """Every line of the cover's contents names the page its part begins on, and the parts come in their order."""
    pages = pages_of(name)
    cover = " ".join(pages[0].text.split())
    wanted = {
        "Supplies": "Supplies", "Print check": "Print check", "Fabric requirements": "Fabric requirements",
        "Cutting chart": "Cutting chart for", "Colouring page": "Colouring page:",
        "Sewing a section": "Sewing a section", "Putting the quilt together": "Putting the quilt together",
        "Foundations": "Printed side up", "Templates": "Templates, face up",
        "The record": "What these templates were",
    }  # fmt: skip
    for name_, words in wanted.items():
        match = re.search(re.escape(name_) + r"[ .]*(\d+)", cover)
        assert match, name_
        first = next(k for k, page in enumerate(pages, start=1) if k > 1 and words in " ".join(page.text.split()))
        assert first == int(match[1]), name_
    found = [re.search(re.escape(part) + r"[ .]*(\d+)", cover) for part in wanted if part != "Colouring page"]
    order = [int(match[1]) for match in found if match]
    assert order == sorted(order)
    assert "Harbour wind" in cover
    assert "page 1 of" not in cover


@pytest.mark.parametrize("name", CASES)
def test_no_page_is_two_thirds_empty(name: str) -> None:
    """On every page strokes and words reach over more than a third of the height between head and foot."""
    for number, page in enumerate(pages_of(name), start=1):
        low, high = 12.7 + (12.5 if "This bar is" in page.text else 0.0), page.size_mm[1] - 24.0
        inside = [
            float(np.clip(y, low, high))
            for stroke in page.strokes
            if np.ptp(stroke.points[:, 1]) < 0.9 * page.size_mm[1]
            for y in stroke.points[:, 1]
            if y < high
        ] + [float(box[1]) for _, box, _ in page.words if low < box[1] < high]
        assert (high - min(inside)) / (high - low) > 1 / 3, number


@pytest.mark.parametrize("name", CASES)
def test_words_are_large_enough_and_inside_the_margins(name: str) -> None:
    """No word is set smaller than 7 pt, none nearer to the paper's edge than half an inch, and none on another."""
    for page in pages_of(name):
        assert page.smallest_pt >= 7.0 - 1e-3
        boxes = [box for _, box, upright in page.words if upright]
        if "scale 1:1" in page.text:
            continue  # slanted words, whose upright boxes overlap: see test_pdf
        assert min((float(box.min()) for box in boxes), default=20.0) > 12.7 - 0.5
        # Ink of capitals fills the upper three quarters of a word's line box.
        inks = np.array([[x0, y0 + 0.3 * (y1 - y0), x1, y1 - 0.15 * (y1 - y0)] for x0, y0, x1, y1 in boxes])
        for k, (x0, y0, x1, y1) in enumerate(inks):
            others = np.delete(inks, k, axis=0)
            on = (others[:, 0] < x1) & (others[:, 2] > x0) & (others[:, 1] < y1) & (others[:, 3] > y0)
            assert not on.any()


@pytest.mark.parametrize("name", CASES)
def test_no_letter_lies_on_another_at_any_slant(name: str) -> None:
    """On papers and templates too, whose words run along slanted edges, no two letters' ink overlaps."""
    for number, page in enumerate(pages_of(name), start=1):
        inks = [shapely.Polygon(letter) for letter in page.letters]
        one, other = shapely.STRtree(inks).query(inks, predicate="intersects")
        assert len(inks) > 20
        assert not np.any(one < other), number


@pytest.mark.parametrize("name", CASES)
def test_no_sentence_is_cut_short_and_no_list_of_steps_is_parted(name: str) -> None:
    """No page has an ellipsis, and the steps of sewing a section stand on one page, after their heading."""
    pages = [" ".join(page.text.split()) for page in pages_of(name)]
    assert not any("…" in page for page in pages)
    (steps,) = [page for page in pages[1:] if "Sewing a section" in page]
    assert steps.index("Sewing a section") < steps.index("Go on by number")


def test_the_test_squares_measure_50_mm_and_2_in() -> None:
    """The print check's page has a square of 50.00 mm and one of 2.000 in."""
    (page,) = [page for page in pages_of("hourglass") if "50 mm square" in page.text]
    sizes = [np.ptp(s.points, axis=0) for s in page.strokes if s.closed and not s.filled]
    for side in (50.0, 50.8):
        assert any(np.allclose(size, side, atol=1e-3) for size in sizes)


def test_the_record_has_every_template_with_its_measured_lengths() -> None:
    """The last page tells each template's finished and measured edges, the photo, its reference and the ±."""
    block, _ = harbour_rows()
    text = " ".join(pages_of("harbour")[-1].text.split())
    for template in templates_for(block).templates:
        assert all(fraction_text(edge.length_mm, 64).removesuffix(" in") in text for edge in template.edges)
    assert "bench-scan.png" in text
    assert "97 marks" in text
    assert "Date of the photo" in text


def test_templates_carry_size_fabric_and_grain() -> None:
    """A template's page has its fabric's name and its finished edges, and the grain's arrow."""
    make, paper, units, _ = CASES["harbour"]
    block, plan = make()
    wishes = Wishes(paper=paper, fabrics={"T1": "sky blue"})
    files = sheet_files(None, block, plan, wishes, title="x", units=units, job_hash="0", overlays={})
    text = " ".join(" ".join(page.text.split()) for page in read_pdf(files["templates.pdf"]))
    assert "cut 1 from sky blue" in text
    assert "2 1/2 in" in text
    assert "Where each one goes." in text


def test_only_the_foundations_where_no_more_is_wished() -> None:
    """Who wishes only the foundations gets that file and no other, the same as beside the others."""
    block, plan = leaning_sails()
    wishes = Wishes()

    def made(wishes: Wishes) -> dict[str, bytes]:
        return sheet_files(None, block, plan, wishes, title="x", units="inch", job_hash="0", overlays={})

    only = made(attrs.evolve(wishes, only="foundations"))
    assert list(only) == ["foundations.pdf"]
    assert only["foundations.pdf"] == made(wishes)["foundations.pdf"]


def test_another_size_has_files_of_its_own() -> None:
    """The sails at 9 in have their own booklet, papers, templates and list, named by the size."""
    block, plan = leaning_sails(9 * INCH)
    files = more_size_files(None, block, plan, Wishes(), title="Sails", units="inch", job_hash="0")
    assert sorted(files) == ["booklet-9in.pdf", "cutting-list-9in.csv", "foundations-9in.pdf", "templates-9in.pdf"]
    assert "9 × 9 in" in read_pdf(files["booklet-9in.pdf"])[0].text


def test_the_same_job_gives_the_same_booklet() -> None:
    """Two runs differ in no byte, and every page renders."""
    booklet.cache_clear()
    first = booklet("hourglass")
    booklet.cache_clear()
    assert booklet("hourglass") == first
    document = pypdfium2.PdfDocument(first)
    assert all(page.render(scale=0.2).to_numpy().min() < 128 for page in document)
