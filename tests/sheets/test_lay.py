"""Laying outlines on pages, checked with shapely on the exact outlines."""

from itertools import combinations

import pytest
import shapely

from seamsurvey.geometry import rotation
from seamsurvey.model import Block, FoundationPlan
from seamsurvey.sheets.lay import GAP_MM, Turns, fits, lay
from seamsurvey.sheets.page import Region, body
from seamsurvey.sheets.section_figure import section_cut

from .examples import coiled_path, forked_road, goose_rungs, harbour_rows, leaning_sails

REGION = body("letter")


def outlines_for(_: Block, plan: FoundationPlan) -> list[list[list[Turns]]]:
    """Every copy of every section at the quarter turns in which it fits a page, each with one way to be laid."""
    items: list[list[list[Turns]]] = []
    for section in plan.sections:
        cut = section_cut(section, 6.35)
        turned: Turns = {float(turn): shapely.Polygon(cut @ rotation(turn).T) for turn in (0, 90, 180, 270)}
        items += [[[{t: shape for t, shape in turned.items() if fits(shape, REGION)}]]] * section.copies
    return items


@pytest.mark.parametrize(
    "made", [leaning_sails(101.6), harbour_rows(20.0), goose_rungs(40.0), coiled_path(9.0), forked_road(130.0)],
    ids=["sails", "harbour", "geese", "coil", "fork"],
)  # fmt: skip
def test_nothing_overlaps_and_nothing_leaves_the_page(made: tuple[Block, FoundationPlan]) -> None:
    """All outlines of four blocks lie inside the region, no two nearer than the gap."""
    items = outlines_for(*made) * 4
    pages = lay(items, REGION, trials=500)
    assert sorted(one.item for page in pages for one in page) == list(range(len(items)))
    frame = shapely.box(REGION.x, REGION.y, REGION.x + REGION.width, REGION.y + REGION.height).buffer(0.01)
    for page in pages:
        shapes = [shapely.affinity.translate(items[one.item][0][0][one.turn], *one.shift) for one in page]
        assert all(frame.contains(shape) for shape in shapes)
        for one, other in combinations(shapes, 2):
            assert one.distance(other) > GAP_MM - 0.01


def test_pages_are_used_well() -> None:
    """Forty triangles and quads take at most 1.35 times the pages their area alone would need."""
    items = outlines_for(*harbour_rows(9.0)) * 14
    pages = lay(items, REGION)
    area = sum(next(iter(item[0][0].values())).area for item in items)
    assert len(pages) <= max(1, 1.35 * area / (REGION.width * REGION.height) + 1)


def test_the_way_that_takes_fewer_pages_is_found() -> None:
    """A strip longer than the page, cut early or late: beside a wide block only one way leaves a single page."""
    wide = [[{0.0: shapely.box(0, 0, 80, 60)}]]
    early = [{0.0: shapely.box(0, 0, 20, 55)}, {0.0: shapely.box(0, 0, 20, 85)}]
    late = [{0.0: shapely.box(0, 0, 20, 100)}, {0.0: shapely.box(0, 0, 20, 30)}]
    region = Region(0, 0, 104, 101)
    (page,) = lay([wide, [early, late]], region)
    assert {(one.item, one.way) for one in page} <= {(0, 0), (1, 0), (1, 1)}
    assert len(page) == 3


def test_the_same_outlines_give_the_same_pages() -> None:
    """Two runs put every outline on the same spot."""
    items = outlines_for(*leaning_sails(90.0))
    assert lay(items, REGION) == lay(items, REGION)


def test_an_outline_too_large_is_refused() -> None:
    """An outline without room on an empty page is an error, not a page with a cut-off section."""
    with pytest.raises(ValueError, match="no room"):
        lay([[[{0.0: shapely.box(0, 0, 60, 20)}]]], Region(0, 0, 50, 50))
