"""Parts of a section larger than a page, laid together again with shapely."""

import numpy as np
import pytest
import shapely

from seamsurvey.model import Block, FoundationPlan
from seamsurvey.sheets.drawing import Line, Text
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.foundations import section_motifs
from seamsurvey.sheets.page import Region
from seamsurvey.sheets.parts import OVERLAP_MM, largest_parts, part_figure, partings

from .examples import coiled_path, goose_rungs, harbour_rows

REGION = Region(0, 0, 120, 150)


@pytest.mark.parametrize(
    "made", [coiled_path(60.0), goose_rungs(180.0), harbour_rows(40.0)], ids=["coil", "geese", "harbour"]
)
def test_parts_laid_together_hold_every_line_whole(made: tuple[Block, FoundationPlan]) -> None:
    """However a section is parted, its parts fit the page, overlap, hold all lines, and their crosses meet."""
    block, plan = made
    for motif, _ in section_motifs(plan, block, fabrics_of(block, {}, {}), allowance_mm=6.35):
        for parting in partings(motif.cut, REGION)[:4]:
            for shape in parting.shapes:
                x0, y0, x1, y1 = shape.bounds
                assert x1 - x0 < REGION.width + 1e-6
                assert y1 - y0 < REGION.height + 1e-6
            largest = largest_parts(motif, parting)
            figures = [part_figure(motif, parting, k, 0, largest) for k in range(len(parting.windows))]
            turned = motif.turned(parting.turn_deg)
            drawn = [[m for m in f.marks if isinstance(m, Line) and m.layer == "seams"] for f in figures]
            paper = shapely.union_all([shapely.LineString(m.points) for lines in drawn for m in lines]).buffer(1e-4)
            assert all(paper.contains(shapely.LineString(m.points)) for m in turned.lines if m.layer == "seams")
            # Either side of every glue line half an overlap is printed on both parts.
            for glue in parting.glue:
                strip = shapely.LineString([glue.start, glue.end]).buffer(OVERLAP_MM / 2 - 0.01, cap_style="flat")
                inside = strip.intersection(shapely.Polygon(turned.cut))
                assert all(parting.shapes[part - 1].buffer(0.01).contains(inside) for part in glue.parts)
            middles = [
                {tuple(np.round(m.points.mean(axis=0), 3)) for m in f.marks if isinstance(m, Line) and _cross(m)}
                for f in figures
            ]
            assert all(any(at in other for j, other in enumerate(middles) if j != k)
                       for k, own in enumerate(middles) for at in own)  # fmt: skip


def _cross(mark: Line) -> bool:
    return mark.layer == "glue" and not (mark.pen and mark.pen.dash)


def test_every_piece_is_labelled_in_some_part() -> None:
    """The coil's nine pieces, cut up by the parting, each carry their label in one part at least."""
    block, plan = coiled_path(60.0)
    ((motif, _),) = section_motifs(plan, block, fabrics_of(block, {}, {}), allowance_mm=6.35)
    for parting in partings(motif.cut, REGION):
        largest = largest_parts(motif, parting)
        texts = {
            mark.text
            for k in range(len(parting.windows))
            for mark in part_figure(motif, parting, k, 90, largest).marks
            if isinstance(mark, Text)
        }
        assert {piece.label for piece in plan.sections[0].pieces} <= texts
