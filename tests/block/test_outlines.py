"""Outlines other than squares and rectangles, and the symmetries that go with them."""

import math

import numpy as np
import pytest
import shapely

from seamsurvey.block.assemble import assemble
from seamsurvey.block.outlines import OUTLINES, Outline
from seamsurvey.block.symmetry import images, isometries, moves
from seamsurvey.errors import UsageError
from seamsurvey.model import Block
from tests.block.sets import template, template_set

HALF = math.sqrt(3) / 2
RHOMB = 60 * np.array([[0.0, 0.0], [1.0, 0.0], [1.5, HALF], [0.5, HALF]])


def covered(block: Block) -> float:
    """The share of the outline that the pieces cover, by shapely."""
    whole = shapely.union_all([shapely.Polygon(piece.outline) for piece in block.pieces])
    return float(whole.intersection(shapely.Polygon(block.outline)).area / shapely.Polygon(block.outline).area)


@pytest.mark.parametrize("outline", OUTLINES.values(), ids=lambda outline: outline.name)
def test_sides_pass_through_their_corners_and_no_others(outline: Outline) -> None:
    """Side k's line holds corners k and k + 1, and every other corner lies well inside of it."""
    size = (120.0, 120.0 * (outline.aspect or 0.7))
    corners = outline.at(*size)
    for k, (a, b, w, h) in enumerate(outline.sides):
        off = [a * z.real + b * z.imag - w * size[0] - h * size[1] for z in corners]
        assert math.hypot(a, b) == pytest.approx(1)
        assert [abs(value) < 1e-9 for value in off] == [j in (k, (k + 1) % len(corners)) for j in range(len(off))]


@pytest.mark.parametrize("outline", OUTLINES.values(), ids=lambda outline: outline.name)
def test_every_move_of_an_outline_permutes_its_corners(outline: Outline) -> None:
    """Isometries, and the moves of every symmetry an outline can have, carry corners to corners, rigidly."""
    size = (120.0, 120.0 * (outline.aspect or 0.7))
    corners = outline.at(*size)
    named = [move for name in outline.symmetries for move in moves(name)]
    for move in [*isometries(outline, size, 1.0), *named]:
        moved = [move.to(z, size) for z in corners]
        assert all(min(abs(z - c) for c in corners) < 1e-9 for z in moved)
        assert abs(moved[0] - moved[1]) == pytest.approx(abs(corners[0] - corners[1]))
    assert (
        len(isometries(outline, size, 1.0))
        == {"square": 8, "rectangle": 4, "triangle": 2, "hexagon": 12, "octagon": 16}[outline.name]
    )


def test_images_under_both_mirrors_are_the_three_of_a_book_plate() -> None:
    """A piece at the lower left has images at the other three corners, two of them turned over."""
    found = images("both", (100.0, 60.0), [1 + 2j, 5 + 2j, 1 + 9j])
    assert sorted(flipped for flipped, _ in found) == [False, True, True]
    assert {99 + 2j, 99 + 58j, 1 + 58j} <= {z for _, ring in found for z in ring}
    assert all(sum((a.conjugate() * b).imag for a, b in zip(r, r[1:] + r[:1], strict=True)) > 0 for _, r in found)


def test_three_rhombs_make_the_hexagon() -> None:
    """Three 60 degree rhombs fill a regular hexagon of their own side, in third turns, whatever their noise."""
    rng = np.random.default_rng(3)
    (block,) = assemble(template_set(template("T1", RHOMB + rng.normal(0, 0.1, (4, 2)), 0.1, 3, 0)))
    assert block.symmetry.startswith("third-turn")
    assert block.width == pytest.approx(120.0, abs=0.4)
    assert block.height == pytest.approx(block.width * HALF, rel=1e-9)
    assert covered(block) == pytest.approx(1.0, abs=1e-9)


def test_a_right_isosceles_triangle_is_filled() -> None:
    """A square and two triangles make the triangle: its legs are twice the square's side."""
    square = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]])
    corner = np.array([[0.0, 0.0], [60.0, 0.0], [0.0, 60.0]])
    parts = template_set(template("T1", square, 0.05, 1, 0), template("T2", corner, 0.05, 2, 0))
    blocks = assemble(parts, outline="triangle")
    assert all(len(block.outline) == 3 for block in blocks)
    assert blocks[0].width == pytest.approx(120.0, abs=0.01)
    assert covered(blocks[0]) == pytest.approx(1.0, abs=1e-9)


def test_a_quarter_with_both_mirrors_makes_the_block() -> None:
    """One quarter's templates, counted once, both mirrors asked for: two of each face up, two reversed."""
    low = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 22.0], [0.0, 40.0]])
    high = np.array([[0.0, 40.0], [80.0, 22.0], [80.0, 55.0], [0.0, 55.0]])
    parts = template_set(template("T1", low, 0.02, 1, 0), template("T2", high, 0.02, 1, 0))
    blocks = assemble(parts, symmetry="both")
    sizes = [sorted((block.width, block.height)) for block in blocks]
    assert all(size == pytest.approx([110.0, 160.0], abs=0.05) for size in sizes)
    for block in blocks:
        assert sorted((p.template, p.reversed) for p in block.pieces) == sorted(
            (name, over) for name in ("T1", "T2") for over in (False, False, True, True)
        )


def test_a_finished_shape_rules_out_other_rectangles() -> None:
    """Twelve squares make 3 x 4 when 12 x 16 in is asked for, 2 x 6 when 8 x 24 is; both finished to size."""
    squares = template_set(template("T1", 50.0 * np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]]), 0.05, 12, 0))
    for width, height in ((304.8, 406.4), (203.2, 609.6)):
        (block,) = assemble(squares, finish_mm=width, finish_height_mm=height, time_limit_s=20)
        assert (block.width, block.height) == pytest.approx((width, height), abs=1e-6)


def test_an_unknown_outline_is_a_usage_error() -> None:
    """An outline that doesn't exist is refused with the list of those that do."""
    with pytest.raises(UsageError) as caught:
        assemble(template_set(template("T1", RHOMB, 0.1, 3, 0)), outline="heptagon")
    assert caught.value.code == "outline-unknown"
    assert all(name in caught.value.todo for name in OUTLINES)
