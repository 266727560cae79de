"""Sizes for sewing without paper, against the drawn shapes, and the block they are sewn to."""

import math

import numpy as np
import pytest
import shapely

from seamsurvey.model import Block
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.rotary import RotaryRow, rotary_rows
from tests.foundation.blocks import cut_up, eight_pointed_star, flying_goose, grid, of_family, square_in_a_square
from tests.scene.families import designs, family

from .patch_grids import Cell, random_grid

INCH = 25.4  # NBS Circular 572, addendum 1960
S = INCH / 4
EXACT = INCH / 64
WHOLE = INCH / 32  # what a row of patches across a whole block may be off


def rows_of(block: Block, units: str = "inch", allowance_mm: float = S) -> tuple[RotaryRow, ...]:
    """The rows of a block, every template a fabric of its own."""
    fabrics = fabrics_of(block, {}, {})
    order = sorted(set(fabrics.values()), key=lambda fabric: fabric.name)
    return rotary_rows(block, fabrics, order, allowance_mm=allowance_mm, units=units)


def cut_outline(piece: np.ndarray, s: float) -> tuple[float, float]:
    """The sides of the smallest box round a finished shape with its allowance, mitred (shapely), longer first."""
    grown = shapely.Polygon(piece).buffer(s, join_style="mitre", mitre_limit=50)
    ring = shapely.get_coordinates(shapely.minimum_rotated_rectangle(grown))
    sides = np.hypot(*np.diff(ring[:3], axis=0).T)
    return float(sides.max()), float(sides.min())


def check_sizes(block: Block, units: str, s: float = S) -> list[RotaryRow]:
    """Every size told is the exact cut shape's to 1/64 in, on a ruler's lines; what is not exact is trimmed."""
    rows = rows_of(block, units, s)
    for row in rows:
        if not row.sizes_mm:
            assert row.text.startswith(f"cut by template {row.template}")
            continue
        step = INCH / 16 if units == "inch" else 1.0
        for size in row.sizes_mm:
            assert size / step == pytest.approx(round(size / step), abs=1e-6)
        for piece in (piece for piece in block.pieces if piece.template == row.template):
            _check_piece(row, piece.outline, s)
    return list(rows)


def _check_piece(row: RotaryRow, outline: np.ndarray, s: float) -> None:
    edges = np.hypot(*(np.roll(outline, -1, axis=0) - outline).T)
    grown = np.asarray(shapely.Polygon(outline).buffer(s, join_style="mitre", mitre_limit=50).exterior.coords)
    sides = np.sort(np.hypot(*np.diff(grown, axis=0).T))
    if "once" in row.text or "twice" in row.text:
        # A triangle of a square cut once has the square's side as its legs, of one cut twice as its long side.
        needed = sides[-1] if "twice" in row.text else sides[0]
        off = row.sizes_mm[0] - needed
        if row.trimmed_mm is None:
            assert abs(off) < EXACT + 1e-6
        else:
            assert -1e-6 < off < INCH / 8
        return
    assert row.trimmed_mm is None
    if "strip" in row.text:
        _, low = cut_outline(outline, s)
        strip = low if len(outline) != 4 else float(edges.min()) / math.sqrt(2) + 2 * s
        assert row.sizes_mm[0] == pytest.approx(strip, abs=EXACT + 1e-6)
        return
    longer, shorter = cut_outline(outline, s)
    assert row.sizes_mm[0] == pytest.approx(longer, abs=EXACT + 1e-6)
    assert row.sizes_mm[-1] == pytest.approx(shorter, abs=EXACT + 1e-6)


def sewn_size(cell: Cell, block: Block, rows: dict[str, RotaryRow], s: float) -> tuple[float, float] | None:
    """Width and height a cell is sewn to from the sizes told for its patches; None where a template is needed."""
    inside = shapely.box(*cell.corner, *np.add(cell.corner, cell.size)).buffer(0.01)
    templates = {piece.template for piece in block.pieces if inside.contains(shapely.Polygon(piece.outline))}
    row = rows[templates.pop()]
    if not row.sizes_mm or templates:
        return None
    if cell.parts > 1 and row.trimmed_mm is None:
        twice = "twice" in row.text
        finished = row.sizes_mm[0] - s * (2 + math.sqrt(2) * (2 if twice else 1))  # its long side, else its legs
        long_side = finished if twice else finished * math.sqrt(2)
        side = long_side / math.sqrt(2) if cell.parts == 2 else long_side
        return side, side
    sizes = [size - 2 * s for size in row.trimmed_mm or row.sizes_mm]
    wide, high = (min(sizes, key=lambda size: abs(size - drawn)) for drawn in cell.size)
    return wide, high


@pytest.mark.parametrize("units", ["inch", "mm"])
@pytest.mark.parametrize("first", range(0, 300, 50))
def test_three_hundred_random_blocks_are_sewn_to_their_drawn_size(first: int, units: str) -> None:
    """Sizes are exact to 1/64 in and on a ruler's lines; the rows sewn from them are as drawn to 1/32 in."""
    s = S if units == "inch" else 7.0
    told = 0
    for seed in range(first, first + 50):
        block, cells = random_grid(seed)
        rows = {row.template: row for row in check_sizes(block, units, s)}
        sewn = [[sewn_size(cell, block, rows, s) for cell in row] for row in cells]
        widths = [[size[0] if size else None for size in row] for row in sewn]
        heights = [[row[k][1] if row[k] else None for row in sewn] for k in range(len(cells[0]))]  # type: ignore[index]
        for runs, extent in ((widths, block.width), (heights, block.height)):
            for run in runs:
                lengths = [length for length in run if length is not None]
                if len(lengths) == len(run):
                    told += 1
                    assert sum(lengths) == pytest.approx(extent, abs=WHOLE + 1e-6), seed
    assert told > 50


@pytest.mark.parametrize("name", sorted(designs()))
def test_sizes_of_the_sample_families_are_exact(name: str) -> None:
    """Every size told for the sample blocks is the exact cut shape's, in inches and in millimetres."""
    block = of_family(family(name))
    check_sizes(block, "inch")
    check_sizes(block, "mm", 7.0)


@pytest.mark.parametrize("first", range(0, 60, 20))
def test_blocks_cut_up_at_random_are_mostly_cut_by_template(first: int) -> None:
    """What is no shape of the trade has no size, and what has one has the right one."""
    for seed in range(first, first + 20):
        check_sizes(cut_up(seed, 12), "inch")


def test_a_nine_patch_of_two_and_a_sixteenth_is_cut_at_two_and_nine_sixteenths() -> None:
    """Finished squares of 2 1/16 in are cut at 2 9/16 in; at 2 5/8 in the block would be 3/16 in too large."""
    (row,) = rows_of(grid(3, 3, 2.0625 * INCH))
    assert row.text == "square 2 9/16 in"


def test_squares_no_ruler_has_are_cut_by_template() -> None:
    """Seven squares across 16 in (2.286 in each) have no line on a ruler; what each is off, seven times over."""
    (row,) = rows_of(grid(7, 7, 16 / 7 * INCH))
    assert row.text == "cut by template A"
    assert row.sizes_mm == ()


def test_an_error_each_patch_may_have_is_not_let_add_up() -> None:
    """Squares 1/100 in off a line are told where two lie side by side, but not where eight do."""
    size = (2.0 + 0.01) * INCH
    (two,), (eight,) = rows_of(grid(2, 2, size)), rows_of(grid(8, 8, size))
    assert two.text == "square 2 1/2 in"
    assert eight.text == "cut by template A"


def test_geese_and_their_wings_are_cut_by_the_rule_and_trimmed() -> None:
    """A goose of 4 × 2 in takes 5 1/4 in and 2 7/8 in squares (K. Combs, 2002), trimmed to 4 1/2 × 2 1/2 in."""
    scaled = flying_goose()
    factor = 4 * INCH / scaled.width
    block = _scaled(scaled, factor)
    texts = {row.text for row in rows_of(block)}
    assert texts == {
        "square 5 1/4 in, cut twice corner to corner: 4 triangles; trim the sewn unit of 3 to 4 1/2 × 2 1/2 in",
        "square 2 7/8 in, cut once corner to corner: 2 triangles; trim the sewn unit of 3 to 4 1/2 × 2 1/2 in",
    }


def test_corners_of_a_square_in_a_square_are_cut_from_squares_by_template() -> None:
    """A 12 in one: centre 9 in (Combs 2002), corners by template, two from a square 6 7/8 in, not 6 1/2 in."""
    block = _scaled(square_in_a_square(), 12 * INCH / 100)
    assert [row.text for row in rows_of(block)] == [
        "square 9 in",
        "cut by template B: 2 from a square 6 7/8 in",
    ]


def test_the_eight_pointed_star_has_its_strip_where_a_ruler_has_it() -> None:
    """A star of 14.5 in has diamonds d = B / 3.414 (Combs 2002), and their strip d / √2 + 1/2 in is 3.503 in."""
    d = 14.5 / (2 + math.sqrt(2))
    assert d / math.sqrt(2) + 0.5 == pytest.approx(3.503, abs=5e-4)
    texts = [row.text for row in rows_of(eight_pointed_star(14.5 * INCH))]
    assert "strip 3 1/2 in wide, cut at 45° every 3 1/2 in" in texts


def _scaled(block: Block, factor: float) -> Block:
    import attrs

    return attrs.evolve(
        block,
        outline=block.outline * factor,
        pieces=tuple(attrs.evolve(piece, outline=piece.outline * factor) for piece in block.pieces),
    )
