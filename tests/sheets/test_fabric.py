"""The cutting list, against blocks whose patches one can work out on paper."""

import csv
import io
import math
from collections import Counter
from collections.abc import Callable

import attrs
import numpy as np
import pytest
import shapely

from seamsurvey.model import AddedSeam, Block, FoundationPlan, Place, Section, SectionPiece
from seamsurvey.sheets.cutting_csv import cutting_list_csv
from seamsurvey.sheets.fabric import CuttingList, PatchRow, cutting_list
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.part_names import part_names
from seamsurvey.units import INCH

from .examples import (
    Points,
    block_of,
    forked_road,
    goose_rungs,
    harbour_rows,
    leaning_sails,
    plan_of,
    section_of,
    templates_for,
)

Maker = Callable[[], tuple[Block, FoundationPlan]]


def list_of(make: tuple[Block, FoundationPlan], units: str = "inch", blocks: int = 1) -> CuttingList:
    """The cutting list of a (block, plan), every template a fabric of its own."""
    block, plan = make
    fabrics = fabrics_of(block, {}, {})
    return cutting_list(
        plan, block, templates_for(block), fabrics, units=units, blocks=blocks, allowance_mm=INCH / 4
    )


def rows_of(make: tuple[Block, FoundationPlan], units: str = "inch", blocks: int = 1) -> tuple[PatchRow, ...]:
    """The rows of its cutting list."""
    return list_of(make, units, blocks).rows


def test_patches_of_a_goose_ladder_are_as_worked_out_by_hand() -> None:
    """The patches of a 4 in wide ladder are a goose's 4 × 2 in and a wing's √8 × √2 in, 1 in more, up to 1/8."""
    cutting = list_of(goose_rungs(4 * INCH))
    sill, goose, wing = cutting.rows
    assert (sill.templates, sill.per_block, sill.text("inch")) == (("T1",), 2, "5 × 2 1/4 in")
    assert sill.patches == ("A1", "A11")
    # A goose is 4 × 2 in over its long side: 5 × 3 in. As half a square of 2√2 + 1/2 (2 + √2) = 4.536 in three
    # take two squares of 4 5/8 in, 42.8 square inches; three rectangles 45.
    assert (goose.templates, goose.per_block) == (("T2",), 3)
    assert goose.text("inch") == "square 4 5/8 in, cut once corner to corner: 2 triangles"
    # A wing is half a square of 2 + 1/2 (2 + √2) = 3.707 in; alone, along its long side, it would be 3 7/8 × 2 1/2.
    assert (wing.templates, wing.per_block, wing.cuts) == (("T3",), 6, 3)
    assert wing.text("inch") == "square 3 3/4 in, cut once corner to corner: 2 triangles"
    # Published for a 2 × 4 in flying goose: 5 1/4 in and 2 7/8 in (K. Combs, Formulas for Quilters, 2002); between
    # two sills no long side lies on the border, so the goose is cut as a half: 2√2 + 0.8536 = 3.682 in, which a
    # ruler has to 1/64 in: 3 11/16 in. The wing's 2.8536 in it has not: it is cut roomy, and the goose trimmed.
    assert [row.text for row in cutting.rotary] == [
        "rectangle 4 1/2 × 1 3/4 in",
        "square 3 11/16 in, cut once corner to corner: 2 triangles",
        "square 2 7/8 in, cut once corner to corner: 2 triangles; trim the sewn unit of 3 to 4 1/2 × 2 1/2 in",
    ]


@pytest.mark.parametrize("units", ["inch", "mm"])
@pytest.mark.parametrize("make", [leaning_sails, harbour_rows, forked_road, goose_rungs])
def test_a_patch_covers_its_piece_with_a_quarter_inch_to_spare(make: Maker, units: str) -> None:
    """Every piece grown by 1/4 in fits into its patch, laid square to some seam (APQ, Oct 2019, p. 102)."""
    block, plan = make()
    rows = rows_of((block, plan), units)
    for section in plan.sections:
        for piece in section.pieces:
            template = block.piece(piece.piece).template
            grown = shapely.Polygon(piece.outline).buffer(INCH / 4)
            edges = np.roll(piece.outline, -1, axis=0) - piece.outline
            assert any(_covers(row, grown, edge) for row in rows if template in row.templates for edge in edges)


def _covers(row: PatchRow, shape: shapely.Polygon, along: Points) -> bool:
    turned = shapely.affinity.rotate(shape, -np.degrees(np.arctan2(along[1], along[0])), origin=(0, 0))
    x0, y0, x1, y1 = turned.bounds
    longer, shorter = max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0)
    if row.from_each == 1:
        return bool(longer <= row.sides_mm[0] + 1e-6 and shorter <= row.sides_mm[1] + 1e-6)
    # A triangle of a square: the shape, grown with sharp corners, has no longer edge than the triangle.
    side = row.sides_mm[0]
    long_side = side * np.sqrt(2) if row.from_each == 2 else side
    whole = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    extents = np.hypot(*np.diff(whole[:3], axis=0).T)
    return bool(max(extents) <= long_side + 1e-6)


def test_counts_follow_copies_and_blocks() -> None:
    """Patches of all rows together are the pieces of the block, times the blocks."""
    block, plan = leaning_sails()
    rows = rows_of((block, plan), blocks=12)
    assert sum(row.per_block for row in rows) == len(block.pieces) == 16
    assert Counter({row.templates: row.total for row in rows}) == {(f"T{k}",): 48 for k in range(1, 5)}


def test_parts_of_a_piece_are_listed_apart() -> None:
    """A square divided by an added seam is listed as two equal parts, not as a whole square."""
    side = 4 * INCH
    block = block_of({"T1-1": np.array([[0, 0], [side, 0], [side, side], [0, side]])})
    halves = [
        np.array([[0, 0], [side, 0], [side, side]]),
        np.array([[0, 0], [side, side], [0, side]]),
    ]
    section = Section(
        name="A",
        outline=block.outline,
        pieces=tuple(SectionPiece(label=f"A{k}", piece="T1-1", outline=half) for k, half in enumerate(halves, 1)),
        places=(Place("A", 0.0, (0.0, 0.0)),),
    )
    plan = FoundationPlan((section,), added_seams=(AddedSeam("T1-1", (0, 0), (side, side), "to sew straight"),))
    (row,) = rows_of((block, plan))
    assert row.templates == ("T1a",)
    assert row.per_block == 2
    assert row.patches == ("A1", "A2")
    # Half of a square of 4 + 1/2 (2 + √2) = 5.707 in, of which one gives both.
    assert (row.cuts, row.text("inch")) == (1, "square 5 3/4 in, cut once corner to corner: 2 triangles")


def test_parts_that_differ_have_names_that_differ() -> None:
    """Two equal squares cut in two, one straight and one aslant: each part has a name, and equal parts share it."""
    side = 4 * INCH
    squares = {
        f"T1-{k + 1}": np.array([[0, 0], [side, 0], [side, side], [0, side]]) + np.array([k * side, 0])
        for k in (0, 1)
    }
    block = block_of(squares)
    cuts = {
        "T1-1": [[(0, 0), (2, 0), (2, 4), (0, 4)], [(2, 0), (4, 0), (4, 4), (2, 4)]],
        "T1-2": [[(4, 0), (5, 0), (7, 4), (4, 4)], [(5, 0), (8, 0), (8, 4), (7, 4)]],
    }
    pieces = [
        SectionPiece(label=f"A{k}", piece=name, outline=np.array(outline) * INCH, part=part)
        for k, (name, part, outline) in enumerate(
            ((name, part, outline) for name, both in cuts.items() for part, outline in enumerate(both, 1)), 1
        )
    ]
    section = Section(name="A", outline=block.outline, pieces=tuple(pieces), places=(Place("A", 0.0, (0.0, 0.0)),))
    names = part_names(FoundationPlan((section,)), block)
    # The halves of the straight cut are equal; those of the slanting one are each other turned by a half.
    assert names == {"A1": "T1a", "A2": "T1a", "A3": "T1b", "A4": "T1b"}


def test_metric_patches_are_whole_steps_of_5_mm() -> None:
    """In millimetres every patch is a multiple of 5 mm, and at most 5 mm more than it must be."""
    for row in rows_of(harbour_rows(25.0), "mm"):
        for length in row.sides_mm:
            assert length % 5 == pytest.approx(0, abs=1e-9)


def test_the_csv_reads_back_as_the_rows() -> None:
    """The csv module reads the same figures back, first for the foundations, then without them."""
    cutting = list_of(harbour_rows(), blocks=3)
    read = list(csv.DictReader(io.StringIO(cutting_list_csv(cutting, "inch"))))
    paper = [line for line in read if line["sewn"] == "on paper"]
    assert [line["template"] for line in paper] == [" ".join(row.templates) for row in cutting.rows]
    assert [int(line["patches in all"]) for line in paper] == [row.total for row in cutting.rows] == [3] * 9
    assert [float(line["cut width mm"]) for line in paper] == pytest.approx(
        [row.sides_mm[0] for row in cutting.rows], abs=0.005
    )
    without = [line["cut"] for line in read if line["sewn"] == "without paper"]
    assert without == [row.text for row in cutting.rotary]


def test_rows_stand_in_the_order_of_the_inventory() -> None:
    """With an inventory its order counts, without one the natural order: T2 before T10."""
    block, plan = harbour_rows()
    inventory = templates_for(block)
    backwards = attrs.evolve(inventory, templates=inventory.templates[::-1])
    fabrics = fabrics_of(block, {}, {})
    cutting = cutting_list(plan, block, backwards, fabrics, units="inch", blocks=1, allowance_mm=6.35)
    assert [row.templates for row in cutting.rows] == [(f"T{k}",) for k in range(9, 0, -1)]


def test_equal_patches_of_a_fabric_are_one_row_whatever_their_template_or_turn() -> None:
    """Two templates of 2 × 3 in and 3 × 2 in, of one fabric, are one row named by what stands on the papers."""
    block = block_of(
        {
            "T1-1": np.array([[0, 0], [2, 0], [2, 3], [0, 3]]) * INCH,
            "T2-1": np.array([[2, 0], [5, 0], [5, 2], [2, 2]]) * INCH,
            "T3-1": np.array([[2, 2], [5, 2], [5, 3], [2, 3]]) * INCH,
        }
    )
    plan = plan_of([section_of(block, "A", ["T1-1", "T3-1"]), section_of(block, "B", ["T2-1"])], [])
    fabrics = fabrics_of(block, {}, {"T1": "sky", "T2": "sky"})
    cutting = cutting_list(plan, block, None, fabrics, units="inch", blocks=1, allowance_mm=INCH / 4)
    (row,) = [row for row in cutting.rows if row.fabric.name == "sky"]
    assert (row.patches, row.templates, row.per_block) == (("A1", "B1"), ("T1", "T2"), 2)
    assert row.text("inch") == "4 × 3 in"


def test_fabrics_gather_templates_and_add_up_what_they_need() -> None:
    """Two templates of one fabric are rows of it; what to buy is for both, with the reserve, rounded up once."""
    block, plan = goose_rungs(4 * INCH)
    fabrics = fabrics_of(block, {"sky": "#99ccee"}, {"T1": "sky", "T3": "sky", "T2-2": "red check"})
    cutting = cutting_list(plan, block, None, fabrics, units="inch", blocks=20, allowance_mm=INCH / 4)
    assert [(row.fabric.name, row.templates, row.total) for row in cutting.rows] == [
        ("sky", ("T3",), 120), ("sky", ("T1",), 40), ("T2", ("T2",), 40), ("red check", ("T2",), 20),
    ]  # fmt: skip
    assert {row.fabric.colour for row in cutting.rows if row.fabric.name == "sky"} == {"#99ccee"}
    sky = cutting.needs[0]
    # 40 sills of 5 × 2 1/4 in, 8 a strip: 5 strips, 11 1/4 in. 120 wings from 60 squares of 3 3/4 in, 10 a strip:
    # 6 strips, 22 1/2 in. Together 33 3/4 in, with 10 % 37 1/8 in: 1 1/8 yd is 40 1/2 in.
    assert sky.length_mm == pytest.approx((11.25 + 22.5) * INCH)
    assert sky.buy == "1 1/8 yd"


@pytest.mark.parametrize("units", ["inch", "mm"])
def test_what_is_to_have_holds_all_cuts_with_the_reserve(units: str) -> None:
    """No strips and no fat quarters are less cloth than the cuts' areas: what no packing can do with less."""
    made = [
        list_of(make, units, blocks)
        for make in (goose_rungs(), leaning_sails(), harbour_rows())
        for blocks in (1, 30)
    ]
    for cutting in made:
        for cuts, need in zip(cutting.fabrics, cutting.needs, strict=True):
            area = sum(row.cuts * math.prod(row.sides_mm) for row in cuts.rows)
            assert need.length_mm * cutting.widths.usable_mm >= area - 1e-6
            assert need.buy_mm >= need.length_mm * 1.1 - 1e-6
            if need.fat_quarters is not None:
                assert need.fat_quarters * math.prod(cutting.widths.fat_quarter_mm) >= 1.1 * area - 1e-6


def test_the_chart_starts_with_the_widest_strip() -> None:
    """In the chart every fabric's strips get narrower, and patches on one strip shorter."""
    cutting = list_of(harbour_rows(), blocks=4)
    for cuts in cutting.fabrics:
        highs = [group.high_mm for group in cuts.strips.groups()]
        assert highs == sorted(highs, reverse=True)
        for group in cuts.strips.groups():
            along = [sum(cuts.rows[k].sides_mm) - group.high_mm for k in group.cuts]
            assert along == sorted(along, reverse=True)
