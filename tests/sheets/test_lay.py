"""Laying figures on pages, checked with shapely on the exact outlines."""

from itertools import combinations

import pytest
import shapely

from seamsurvey.model import Block, FoundationPlan
from seamsurvey.sheets.lay import GAP_MM, TURNS, fits, lay
from seamsurvey.sheets.page import Region, body
from seamsurvey.sheets.section_figure import Figure, section_figure

from .examples import coiled_path, forked_road, goose_rungs, harbour_rows, leaning_sails

REGION = body("letter")


def figures_for(block: Block, plan: FoundationPlan) -> list[dict[int, Figure]]:
    """Every copy of every section at every turn that fits a page."""
    copies = []
    for section in plan.sections:
        turned = {t: section_figure(section, block, turn_deg=t, allowance_mm=6.35, caption="x") for t in TURNS}
        copies += [{t: figure for t, figure in turned.items() if fits(figure, REGION)}] * section.copies
    return copies


@pytest.mark.parametrize(
    "made", [leaning_sails(101.6), harbour_rows(20.0), goose_rungs(40.0), coiled_path(9.0), forked_road(130.0)],
    ids=["sails", "harbour", "geese", "coil", "fork"],
)  # fmt: skip
def test_nothing_overlaps_and_nothing_leaves_the_page(made: tuple[Block, FoundationPlan]) -> None:
    """All figures of four blocks lie inside the region, no two nearer than the gap."""
    copies = figures_for(*made) * 4
    pages = lay(copies, REGION)
    assert sum(map(len, pages)) == len(copies)
    frame = shapely.box(REGION.x, REGION.y, REGION.x + REGION.width, REGION.y + REGION.height).buffer(0.01)
    for page in pages:
        shapes = [shapely.affinity.translate(one.figure.footprint, *one.shift) for one in page]
        assert all(frame.contains(shape) for shape in shapes)
        for one, other in combinations(shapes, 2):
            assert one.distance(other) > GAP_MM - 0.01


def test_pages_are_used_well() -> None:
    """Forty triangles and quads take at most 1.35 times the pages their area alone would need."""
    copies = figures_for(*harbour_rows(9.0)) * 14
    pages = lay(copies, REGION)
    area = sum(min(figure.footprint.area for figure in turned.values()) for turned in copies)
    assert len(pages) <= max(1, 1.35 * area / (REGION.width * REGION.height) + 1)


def test_the_same_figures_give_the_same_pages() -> None:
    """Two runs put every figure on the same spot."""
    copies = figures_for(*leaning_sails(90.0))
    assert [[one.shift for one in page] for page in lay(copies, REGION)] == [
        [one.shift for one in page] for page in lay(copies, REGION)
    ]


def test_a_figure_too_large_is_refused() -> None:
    """A figure without room on an empty page is an error, not a page with a cut-off section."""
    (section,) = coiled_path(20.0)[1].sections
    figure = section_figure(section, coiled_path(20.0)[0], turn_deg=0, allowance_mm=6.35, caption="x")
    with pytest.raises(ValueError, match="no room"):
        lay([{0: figure}], Region(0, 0, 50, 50))
