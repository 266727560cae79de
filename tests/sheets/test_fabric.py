"""The cutting list, against blocks whose patches one can work out on paper."""

import csv
import io
from collections import Counter
from collections.abc import Callable

import attrs
import numpy as np
import pytest
import shapely

from seamsurvey.model import AddedSeam, Block, FoundationPlan, Place, Section, SectionPiece
from seamsurvey.sheets.fabric import CuttingList, CuttingRow, cutting_list, cutting_list_csv, fabric_length, strips
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.units import INCH

from .examples import Points, block_of, forked_road, goose_rungs, harbour_rows, leaning_sails, templates_for

Maker = Callable[[], tuple[Block, FoundationPlan]]


def list_of(make: tuple[Block, FoundationPlan], units: str = "inch", blocks: int = 1) -> CuttingList:
    """The cutting list of a (block, plan), every template a fabric of its own."""
    block, plan = make
    fabrics = fabrics_of(block, {}, {})
    return cutting_list(
        plan, block, templates_for(block), fabrics, units=units, blocks=blocks, allowance_mm=INCH / 4
    )


def rows_of(make: tuple[Block, FoundationPlan], units: str = "inch", blocks: int = 1) -> tuple[CuttingRow, ...]:
    """The rows of its cutting list."""
    return list_of(make, units, blocks).rows


def test_patches_of_a_goose_ladder_are_as_worked_out_by_hand() -> None:
    """The patches of a 4 in wide ladder are a goose's 4 × 2 in and a wing's √8 × √2 in, 1 in more, up to 1/8."""
    sill, goose, wing = rows_of(goose_rungs(4 * INCH))
    assert (sill.template, sill.per_block, sill.patch) == ("T1", 2, "5 × 2 1/4 in")
    assert (goose.template, goose.per_block, goose.patch) == ("T2", 3, "5 × 3 in")
    # A wing is sewn on along its long side, √8 = 2.828 in, and is √2 = 1.414 in high over it.
    assert (wing.template, wing.per_block, wing.patch) == ("T3", 6, "3 7/8 × 2 1/2 in")
    # Published for a 2 × 4 in flying goose: 5 1/4 in and 2 7/8 in (K. Combs, Formulas for Quilters, 2002); between
    # two sills no long side lies on the border, so the goose is cut as a half: 2√2 + 7/8 in.
    # Half an inch larger on every side the wing is half a square of 2 + 1/2 (2 + √2) = 3.707 in.
    assert wing.halved == "square 3 3/4 in, cut once corner to corner: 2 triangles"
    assert sill.halved == ""
    assert wing.rule == "square 2 7/8 in, cut once corner to corner: 2 triangles"
    assert goose.rule == "square 3 3/4 in, cut once corner to corner: 2 triangles"


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
            assert any(_covers(row, grown, edge) for row in rows if row.template == template for edge in edges)


def _covers(row: CuttingRow, shape: shapely.Polygon, along: Points) -> bool:
    turned = shapely.affinity.rotate(shape, -np.degrees(np.arctan2(along[1], along[0])), origin=(0, 0))
    x0, y0, x1, y1 = turned.bounds
    return bool(x1 - x0 <= row.width_mm + 1e-6 and y1 - y0 <= row.height_mm + 1e-6)


def test_counts_follow_copies_and_blocks() -> None:
    """Patches of all rows together are the pieces of the block, times the blocks."""
    block, plan = leaning_sails()
    rows = rows_of((block, plan), blocks=12)
    assert sum(row.per_block for row in rows) == len(block.pieces) == 16
    assert Counter({row.template: row.total for row in rows}) == {"T1": 48, "T2": 48, "T3": 48, "T4": 48}


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
    assert row.part
    assert row.per_block == 2
    # Along its seam a half is 4√2 = 5.657 in long and 2.828 in high: with 1 in more, 6 3/4 × 3 7/8 in.
    assert row.patch == "6 3/4 × 3 7/8 in"
    assert row.rule == ""


def test_metric_patches_are_whole_steps_of_5_mm() -> None:
    """In millimetres every patch is a multiple of 5 mm, and at most 5 mm more than it must be."""
    for row in rows_of(harbour_rows(25.0), "mm"):
        for length in (row.width_mm, row.height_mm):
            assert length % 5 == pytest.approx(0, abs=1e-9)


def test_the_csv_reads_back_as_the_rows() -> None:
    """The csv module reads the same figures back, whatever stands in a template's name."""
    cutting = list_of(harbour_rows(), blocks=3)
    rows = cutting.rows
    read = list(csv.DictReader(io.StringIO(cutting_list_csv(cutting))))
    assert [line["template"] for line in read] == [row.template for row in rows]
    assert [int(line["patches in all"]) for line in read] == [row.total for row in rows] == [3] * 9
    assert [float(line["cut width mm"]) for line in read] == pytest.approx(
        [row.width_mm for row in rows], abs=0.005
    )


def test_rows_stand_in_the_order_of_the_inventory() -> None:
    """With an inventory its order counts, without one the natural order: T2 before T10."""
    block, plan = harbour_rows()
    inventory = templates_for(block)
    backwards = attrs.evolve(inventory, templates=inventory.templates[::-1])
    fabrics = fabrics_of(block, {}, {})
    cutting = cutting_list(plan, block, backwards, fabrics, units="inch", blocks=1, allowance_mm=6.35)
    assert [row.template for row in cutting.rows] == [f"T{k}" for k in range(9, 0, -1)]


def test_a_patch_wider_than_the_fabric_is_turned() -> None:
    """A patch longer than the usable width lies along the fabric instead, and needs one strip each."""
    assert strips(3, 1500.0, 200.0, 1020.0) == (1, 1500.0)
    assert strips(6, 1500.0, 200.0, 1020.0) == (2, 3000.0)


# Worked examples of a guild (a stored copy). 80 squares of 2 1/2 in on 40 in: 16 a strip, 5 strips, 12 1/2 in;
# with 6 % for shrinkage 13 1/4 in, 3/8 yd. 56 squares of 6 1/2 in on 42 in: 65 in, 1 7/8 yd.
def test_strips_and_yardage_of_worked_examples() -> None:
    """Strips, their length and the fabric to buy are as published."""
    assert strips(80, 2.5 * INCH, 2.5 * INCH, 40 * INCH) == pytest.approx((5, 12.5 * INCH))
    assert fabric_length(12.5 * 1.06 * INCH, "inch") == pytest.approx(3 / 8 * 36 * INCH)
    assert strips(56, 6.5 * INCH, 6.5 * INCH, 42 * INCH) == pytest.approx((10, 65 * INCH))
    assert fabric_length(65 * INCH, "inch") == pytest.approx((1 + 7 / 8) * 36 * INCH)


def test_fabrics_gather_templates_and_add_up_what_they_need() -> None:
    """Two templates of one fabric are rows of it; what to buy is for both, rounded up once."""
    block, plan = goose_rungs(4 * INCH)
    fabrics = fabrics_of(block, {"sky": "#99ccee"}, {"T1": "sky", "T3": "sky", "T2-2": "red check"})
    cutting = cutting_list(plan, block, None, fabrics, units="inch", blocks=20, allowance_mm=INCH / 4)
    assert [(row.fabric.name, row.template, row.total) for row in cutting.rows] == [
        ("sky", "T1", 40), ("sky", "T3", 120), ("T2", "T2", 40), ("red check", "T2", 20),
    ]  # fmt: skip
    assert {row.fabric.colour for row in cutting.rows if row.fabric.name == "sky"} == {"#99ccee"}
    sky = cutting.needs[0]
    # 40 sills of 5 × 2 1/4 in: 17 a strip of 5 in; 3 strips, 15 in (lying: 8 a strip, 5 strips, 11 1/4 in).
    # 120 wings of 3 7/8 × 2 1/2 in: 16 a strip of 3 7/8 in, 8 strips, 31 in (lying: 10, 12 strips, 30 in).
    assert sky.length_mm == pytest.approx((11.25 + 30) * INCH)
    assert sky.buy == "1 1/4 yd"
