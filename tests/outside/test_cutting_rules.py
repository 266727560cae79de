"""Cutting sizes against the rules quilters publish; sources beside each table."""

import math

import numpy as np
import pytest

from seamsurvey.sheets.trade import (
    corner_setting,
    diamond_strip,
    equilateral_strip,
    half_square,
    hexagon_strip,
    quarter_square,
    roomy,
    rule_of,
    side_setting,
)
from seamsurvey.sheets.words import cut_up

INCH = 25.4  # NBS Circular 572, addendum 1960
S = INCH / 4


def up(length_mm: float) -> float:
    """Inches, rounded up to an eighth."""
    return round(cut_up(length_mm, "inch") / INCH, 9)


# K. Combs, Formulas for Quilters (2002); North Hampshire Quilters (guild): half-square F + 7/8 in, quarter-square
# F + 1 1/4 in.
@pytest.mark.parametrize(("finished", "cut"), [(2, 2.875), (3, 3.875), (6, 6.875)])
def test_half_square_triangles(finished: float, cut: float) -> None:
    """A finished leg F is cut from a square of F + 7/8 in."""
    assert up(half_square(finished * INCH, S)) == cut


@pytest.mark.parametrize(("finished", "cut"), [(3, 4.25), (4, 5.25), (6, 7.25)])
def test_quarter_square_triangles(finished: float, cut: float) -> None:
    """A finished long side F is cut from a square of F + 1 1/4 in; a goose 2 × 4 from 5 1/4 in."""
    assert up(quarter_square(finished * INCH, S)) == cut


# Moonlight Quilters (guild): side and corner triangles for blocks set on point.
@pytest.mark.parametrize(
    ("block", "side", "corner"),
    [(4, 7, 3.75), (6, 9.75, 5.125), (8, 12.625, 6.625), (12, 18.25, 9.375), (16, 23.875, 12.25)],
)
def test_setting_triangles(block: float, side: float, corner: float) -> None:
    """The exact law rounded up is the guild's table, or an eighth under where the guild rounded twice."""
    # The guild rounds the allowance first (B × 1.414 + 1 1/4 in), then the sum: at 4 in 6.906 becomes 7, while the
    # exact 6.864 becomes 6 7/8. All other entries are the same.
    assert up((block * 1.414 + 1.25) * INCH) == side
    assert up(side_setting(block * INCH, S)) == (6.875 if block == 4 else side)
    assert up(corner_setting(block * INCH, S)) == corner


def test_square_in_a_square() -> None:
    """A 12 in square in a square takes a 9 in centre and 6 7/8 in corners (Combs 2002), not corners + 1/2 in."""
    assert up(12 / math.sqrt(2) * INCH + 2 * S) == 9
    assert up(half_square(6 * INCH, S)) == 6.875
    # The published rule "+ 1/2 in" is 0.354 in short.
    assert half_square(6 * INCH, S) / INCH - 6.5 == pytest.approx(0.3536, abs=1e-4)


# L. Clements, The Quilter's Bible: hexagon flat to flat + 1/2 in, equilateral triangle height + 3/4 in.
def test_hexagons_and_equilateral_triangles() -> None:
    """A hexagon of side 1 in takes a strip of 2.2321 in; a triangle 3 in high one of 3 3/4 in."""
    assert hexagon_strip(INCH, S) / INCH == pytest.approx(2.2321, abs=5e-5)
    assert equilateral_strip(3 * INCH, S) / INCH == pytest.approx(3.75, abs=1e-12)


# K. Combs (2002): the diamonds of an eight-pointed star measure B / 3.414.
@pytest.mark.parametrize(("block", "side"), [(6, 1.7574), (15, 4.3934), (18, 5.2721)])
def test_the_eight_pointed_star(block: float, side: float) -> None:
    """Diamonds d = B / (2 + √2) fill the star: 8 d² sin 45° + 4 d² + 2 d² = B²; strips are 1/2 in wider."""
    d = block / (2 + math.sqrt(2))
    assert d == pytest.approx(side, abs=5e-5)
    assert 8 * d * d * math.sin(math.pi / 4) + 4 * d * d + 2 * d * d == pytest.approx(block * block, rel=1e-12)
    assert diamond_strip(d * INCH, S) / INCH == pytest.approx(d * math.sin(math.pi / 4) + 0.5, abs=1e-12)


@pytest.mark.parametrize(
    ("corners", "border", "text"),
    [
        ([(0, 0), (3, 0), (3, 3), (0, 3)], False, "square 3 1/2 in"),
        ([(0, 0), (5, 0), (5, 2), (0, 2)], False, "rectangle 5 1/2 × 2 1/2 in"),
        ([(0, 0), (3, 0), (0, 3)], False, "square 3 7/8 in, cut once corner to corner: 2 triangles"),
        ([(0, 0), (4, 0), (2, 2)], True, "square 5 1/4 in, cut twice corner to corner: 4 triangles"),
        ([(0, 0), (2, 0), (3, math.sqrt(3)), (1, math.sqrt(3))], False, ""),  # a 60° diamond: no rule stated
        ([(0, 0), (4, 0), (2, 2 * math.sqrt(3))], False, "strip 4 1/4 in wide, cut at 60°"),
        ([(0, 0), (5, 0), (1, 2)], True, ""),
    ],
)
def test_shapes_are_known_by_their_angles(corners: list[tuple[float, float]], border: bool, text: str) -> None:
    """The rule named is the one for the shape, whatever its turn and first corner; rounded up as published."""
    outline = np.array(corners, dtype=float) * INCH
    for turn in (0.0, 0.3, 2.0):
        matrix = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
        for first in range(len(outline)):
            turned = np.roll(outline, first, axis=0) @ matrix
            rule = rule_of(turned, S, long_side_on_border=border)
            assert (roomy(rule, "inch").text if rule else "") == text
