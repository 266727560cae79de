"""The printed file, read back by two libraries that know nothing of how it was made."""

import re
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pypdfium2
import pytest
import shapely

from seamsurvey.model import Block, FoundationPlan, Section
from seamsurvey.sheets.fabric import cutting_list
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.page import Imprint
from seamsurvey.sheets.pdf import foundations_pdf

from .examples import coiled_path, forked_road, goose_rungs, harbour_rows, leaning_sails
from .reading import POINT_MM, FigureRead, Points, figures_of, proper_motions, read_pdf

# What the project promises of every printed length; what is written is a hundred times finer.
PROMISED_MM = 0.02
REACHED_MM = 0.001

Maker = Callable[[], tuple[Block, FoundationPlan]]
MAKERS: dict[str, Maker] = {
    "goose rungs": lambda: goose_rungs(90.0),
    "leaning sails": leaning_sails,
    "harbour rows": harbour_rows,
    "forked road": forked_road,
    "tiny coil": lambda: coiled_path(8.0),
}


def printed(
    block: Block, plan: FoundationPlan, *, paper: str = "letter", units: str = "inch", blocks: int = 1,
    title: str = "Test block", print_scale: tuple[float, float] = (1.0, 1.0),
) -> bytes:  # fmt: skip
    """The file for a block with a quarter inch allowance."""
    fabrics = fabrics_of(block, {}, {})
    cutting = cutting_list(plan, block, None, fabrics, units=units, blocks=blocks, allowance_mm=6.35)
    imprint = Imprint(title=title, paper=paper, job_hash="0123abcd", print_scale=print_scale)
    return foundations_pdf(plan, block, cutting, fabrics, imprint=imprint, units=units, blocks=blocks)


def section_figures(content: bytes) -> list[FigureRead]:
    """All printed sections of a file."""
    return [figure for page in read_pdf(content) for figure in figures_of(page)]


def as_printed(points: Points) -> Points:
    """The mirror image of block-frame points."""
    return np.asarray(points * np.array([-1.0, 1.0]))


def sewing_lines(section: Section) -> list[Points]:
    """Where each piece meets those before it, by shapely's intersections: independent of the room's own way."""
    shapes = [shapely.Polygon(piece.outline) for piece in section.pieces]
    lines = []
    for k in range(1, len(shapes)):
        shared = shapes[k].buffer(1e-7).intersection(shapely.union_all(shapes[:k], grid_size=1e-7).boundary)
        merged = shapely.line_merge(shared) if shared.geom_type == "MultiLineString" else shared
        for part in getattr(merged, "geoms", [merged]):
            if part.length > 0.01:
                ends = np.asarray(part.simplify(1e-4).coords)
                lines += [np.array([a, b]) for a, b in pairwise(ends)]
    return lines


def worst_gap(lines: list[Points], figure: FigureRead) -> float:
    """How far, at worst, an end of a line is from the same end of the printed stroke nearest to it, mm."""
    return max(
        (min(min(np.abs(p - q).max() for q in (line, line[::-1])) for p in figure.inner) for line in lines),
        default=0.0,
    )


@pytest.mark.parametrize("name", MAKERS)
def test_every_copy_is_printed_as_the_mirror_image_at_true_size(name: str) -> None:
    """Each section is found as often as one block needs it, mirrored, with every sewing line where it belongs."""
    block, plan = MAKERS[name]()
    figures = section_figures(printed(block, plan))
    for section in plan.sections:
        wanted = as_printed(section.outline)
        lines = [as_printed(line) for line in sewing_lines(section)]
        off = []
        for figure in figures:
            motions = proper_motions(wanted, figure.outline, REACHED_MM)
            if motions and len(figure.inner) == len(lines):
                off.append(
                    min(worst_gap([line @ turn.T + shift for line in lines], figure) for turn, shift in motions)
                )
        assert len(off) == section.copies
        assert max(off) < REACHED_MM < PROMISED_MM
    assert len(figures) == sum(section.copies for section in plan.sections)


def test_the_printed_side_is_not_the_finished_side() -> None:
    """A section without mirror symmetry can't be laid on its print by turning: it would have to be turned over."""
    block, plan = forked_road()
    figures = section_figures(printed(block, plan))
    for section in plan.sections:
        assert not any(proper_motions(section.outline, figure.outline, 1.0) for figure in figures)


@pytest.mark.parametrize("name", MAKERS)
def test_the_dashed_line_runs_a_quarter_inch_outside(name: str) -> None:
    """The dashed line is everywhere a quarter inch from the outline (its convex sides), and beyond the outline."""
    for figure in section_figures(printed(*MAKERS[name]())):
        border, dashed = shapely.LinearRing(figure.outline), figure.allowance
        middles = (dashed + np.roll(dashed, -1, axis=0)) / 2
        off = [border.distance(shapely.Point(p)) for p in middles]
        # 1/4 in, the usual allowance round a section (Quiltmaker, Jan/Feb 2020, p. 82).
        assert np.max(off) < 25.4 / 4 + 0.01
        assert np.min(off) > 25.4 / 4 - 0.01
        assert shapely.Polygon(dashed).contains(shapely.Polygon(figure.outline))


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_every_page_has_true_scale_bars_both_ways(paper: str) -> None:
    """On every page a lying and an upright stroke are 100.00 mm, and two more are 4.000 in."""
    block, plan = coiled_path(70.0)
    pages = read_pdf(printed(block, plan, paper=paper))
    assert len(pages) > 4
    for page in pages:
        spans = [np.abs(s.points[1] - s.points[0]) for s in page.strokes if len(s.points) == 2]
        for wanted in (100.0, 4 * 25.4):
            assert any(abs(x - wanted) < REACHED_MM and y < 1e-6 for x, y in spans)
            assert any(abs(y - wanted) < REACHED_MM and x < 1e-6 for x, y in spans)
        assert "99.5 to 100.5" in page.text


def test_the_scale_bar_is_100_mm_in_pixels_too() -> None:
    """Rendered by another engine at 600 dpi, the lying bar's dark run is 100 mm to within a pixel and a half."""
    content = printed(*harbour_rows())
    page = pypdfium2.PdfDocument(content)[0]
    dpi = 600
    picture = page.render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()
    (bar,) = [
        s.points for s in read_pdf(content)[0].strokes
        if len(s.points) == 2 and abs(s.points[1, 0] - s.points[0, 0] - 100) < 0.01
    ]  # fmt: skip
    row = round((11 * 25.4 - bar[0, 1]) * dpi / 25.4)
    dark = np.flatnonzero(picture[row - 1 : row + 2].min(axis=0) < 128)
    runs = np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1)
    longest = max(map(len, runs)) * 25.4 / dpi
    # Half of a tick, 0.25 mm wide, reaches beyond either end.
    assert longest == pytest.approx(100.0 + 0.25, abs=1.5 * 25.4 / dpi)


# ANSI/ASME Y14.1 (letter: 8.5 × 11 in) and ISO 216 (A4: 210 × 297 mm).
@pytest.mark.parametrize(("paper", "size"), [("letter", (215.9, 279.4)), ("a4", (210.0, 297.0))])
def test_pages_have_the_paper_s_size_and_keep_the_margins(paper: str, size: tuple[float, float]) -> None:
    """The page is the standard's size, and no stroke or word stands nearer to its edge than half an inch."""
    pages = read_pdf(printed(*coiled_path(70.0), paper=paper))
    for page in pages:
        assert page.size_mm == pytest.approx(size, abs=0.005)
        for points in [s.points for s in page.strokes] + [box.reshape(2, 2) for _, box, _ in page.words]:
            assert points.min() > 12.7 - 0.3
            assert (points.max(axis=0) < np.array(size) - 12.7 + 0.3).all()


def test_the_file_asks_for_no_scaling() -> None:
    """The viewer preferences hold /PrintScaling /None (ISO 32000-1, table 150), and no page a /UserUnit."""
    content = printed(*harbour_rows())
    assert re.search(rb"/ViewerPreferences\s*<<[^>]*/PrintScaling\s*/None", content)
    assert b"/UserUnit" not in content
    assert pytest.approx(25.4 / 72) == POINT_MM


def test_the_same_job_gives_the_same_bytes() -> None:
    """Two runs, and two papers that are the same, differ in no byte."""
    assert printed(*leaning_sails()) == printed(*leaning_sails())


@pytest.mark.parametrize("name", MAKERS)
def test_pages_say_what_they_are(name: str) -> None:
    """Every page carries its number of all, the title, the scale and the job's hash, in 7 pt or more."""
    pages = read_pdf(printed(*MAKERS[name]()))
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page.text
        for words in ("Test block", "scale 1:1", "0123abcd", "Print at 100 %"):
            assert words in page.text
        assert page.smallest_pt >= 7.0 - 1e-3


@pytest.mark.parametrize("name", MAKERS)
def test_labels_stand_upright_clear_of_all_lines(name: str) -> None:
    """Every piece's label is printed once a copy, upright, and no stroke of the section runs through it."""
    block, plan = MAKERS[name]()
    pages = [page for page in read_pdf(printed(block, plan)) if figures_of(page)]
    labels = {piece.label: section.copies for section in plan.sections for piece in section.pieces}
    seen = dict.fromkeys(labels, 0)
    for page in pages:
        lines = [
            shapely.LineString(np.vstack([s.points, s.points[:1]]) if s.closed else s.points)
            for s in page.strokes
            if not s.filled
        ]
        for text, (x0, y0, x1, y1), upright in page.words:
            if text not in labels:
                continue
            seen[text] += 1
            # The ink of capitals and digits stands in the upper three quarters of the line box.
            low = y0 + 0.28 * (y1 - y0)
            ink = shapely.box(x0, low, x1, y1 - 0.12 * (y1 - y0))
            assert upright
            assert not any(line.intersects(ink) for line in lines), text
    assert seen == labels


def test_a_section_too_large_for_the_page_is_printed_in_parts() -> None:
    """Each part of a section of 420 × 315 mm is printed once and named, and so are the neighbours it meets."""
    block, plan = coiled_path(70.0)
    pages = read_pdf(printed(block, plan))
    text = " ".join(" ".join(page.text.split()) for page in pages)
    parts = re.findall(r"section A · make 1 · page \d+ · part (\d+) of (\d+)", text)
    total = int(parts[0][1])
    # With the allowance 433 × 328 mm; on a page of 182 × 233 mm it takes two by two parts, lying:
    # (328 - 10) / 172 and (433 - 10) / 223 are both under 2, while upright it would be three by two.
    assert total == 4
    names = sorted(int(number) for number, _ in parts)
    assert names == [1, 2, 3, 4]
    assert "Sections printed in parts" in text
    assert all(f"meets A {k}/4" in text for k in range(1, 5))


@pytest.mark.parametrize("scale", [(0.982, 0.985), (1.01, 1.004)])
def test_a_printer_that_is_not_true_is_made_up_for(scale: tuple[float, float]) -> None:
    """Printed by such a printer, every section and both bars are true again, and each page says so."""
    block, plan = harbour_rows()
    pages = read_pdf(printed(block, plan, print_scale=scale))
    figures = [figure for page in pages for figure in figures_of(page)]
    for section in plan.sections:
        wanted = as_printed(section.outline)
        assert sum(bool(proper_motions(wanted, f.outline * scale, PROMISED_MM)) for f in figures) == 1
        assert not any(proper_motions(wanted, f.outline, PROMISED_MM) for f in figures)
    for page in pages:
        assert f"a printer of {scale[0] * 100:g} % across, {scale[1] * 100:g} % up" in page.text
        spans = [np.ptp(s.points, axis=0) * scale for s in page.strokes if len(s.points) == 2]
        for length in (100.0, 101.6):
            assert any(abs(x - length) < PROMISED_MM and y < 1e-6 for x, y in spans)
            assert any(abs(y - length) < PROMISED_MM and x < 1e-6 for x, y in spans)
        # Margins hold on the paper the printer makes.
        low = np.min([s.points.min(axis=0) for s in page.strokes], axis=0)
        assert (low * np.minimum(scale, 1.0) > 12.0).all()


def test_an_empty_wish_for_colours_takes_the_default_and_a_wish_is_kept() -> None:
    """A wished colour fills the block's picture on the first page; the others keep theirs."""
    block, plan = harbour_rows()
    fabrics = fabrics_of(block, {"T5": "#123456"}, {})
    cutting = cutting_list(plan, block, None, fabrics, units="inch", blocks=1, allowance_mm=6.35)
    imprint = Imprint(title="Colours", paper="letter", job_hash="0")
    content = foundations_pdf(plan, block, cutting, fabrics, imprint=imprint, units="inch")
    picture = pypdfium2.PdfDocument(content)[0].render(scale=1).to_numpy()
    assert (np.abs(picture.astype(int) - [0x56, 0x34, 0x12]).max(axis=2) < 3).sum() > 500
    assert (np.abs(picture.astype(int) - [0xDD, 0xAA, 0x77]).max(axis=2) < 3).sum() > 500
