"""The invented blocks: that they are what they say, by shapely and by a search of their own."""

import math

import numpy as np
import pytest
import shapely
from shapely.ops import unary_union

from tests.scene.families import Family, designs, family, faults, random_family
from tests.scene.geometry import Points, move

NAMED = [family(name) for name in designs()]
UNSEEN = [random_family(seed) for seed in range(24)]
# Coordinates are exact to about 1e-13 mm; this is a thousand times more and a thousandth of a seam's width.
ON_LINE_MM = 1e-7


def named(block: Family) -> str:
    """The family's name, for the test's."""
    return block.name


@pytest.mark.parametrize("block", NAMED + UNSEEN, ids=named)
def test_pieces_tile_the_block(block: Family) -> None:
    """The pieces' areas add up to the block's and their union is the block: no gap and no overlap."""
    pieces = [shapely.Polygon(piece) for piece in block.pieces]
    whole = shapely.box(0.0, 0.0, *block.size)
    assert all(piece.is_valid for piece in pieces)
    assert sum(piece.area for piece in pieces) == pytest.approx(whole.area, rel=1e-12)
    assert unary_union(pieces).symmetric_difference(whole).area < 1e-9 * whole.area
    assert max(a.intersection(b).area for i, a in enumerate(pieces) for b in pieces[:i]) < 1e-9 * whole.area


@pytest.mark.parametrize("block", NAMED + UNSEEN, ids=named)
def test_templates_laid_by_their_maps_are_the_pieces(block: Family) -> None:
    """Each template under each of its maps is the piece the map names; every piece is named once."""
    named_pieces = []
    for template in block.templates:
        for copy in template.copies:
            laid = shapely.Polygon(move(copy.template_to_block, template.finished))
            assert laid.symmetric_difference(shapely.Polygon(block.pieces[copy.piece])).area < 1e-9
            assert (np.linalg.det(copy.template_to_block[:, :2]) < 0.0) == copy.reversed
            named_pieces.append(copy.piece)
    assert sorted(named_pieces) == list(range(len(block.pieces)))


@pytest.mark.parametrize("block", NAMED + UNSEEN, ids=named)
def test_families_are_sound_test_objects(block: Family) -> None:
    """No sliver, no look-alike templates, four to forty pieces."""
    assert faults(block) == []
    assert 4 <= len(block.pieces) <= 40


def test_there_are_enough_families_of_every_sort() -> None:
    """At least fourteen named families; some with set-in seams, some grids, some reversed twins, all units."""
    assert len(NAMED) >= 14
    assert sum(block.set_in for block in NAMED) >= 3
    assert any(block.grid for block in NAMED)
    assert any(template.reversed_count for block in NAMED for template in block.templates)
    assert {block.unit for block in NAMED} == {"in", "mm"}
    assert any(not math.isclose(*block.size) for block in NAMED)


def falls_apart(pieces: list[Points]) -> bool:
    """Whether full cuts, each a straight run of seams from border to border, take all pieces apart."""
    if len(pieces) == 1:
        return True
    for piece in pieces:
        for start, end in zip(piece, np.roll(piece, -1, axis=0), strict=True):
            along = (end - start) / np.hypot(*(end - start))
            normal = np.array([along[1], -along[0]])
            sides = [(p - start) @ normal for p in pieces]
            if any(s.min() < -ON_LINE_MM and s.max() > ON_LINE_MM for s in sides):
                continue
            left = [p for p, s in zip(pieces, sides, strict=True) if s.max() <= ON_LINE_MM]
            right = [p for p, s in zip(pieces, sides, strict=True) if s.max() > ON_LINE_MM]
            if left and right and _connected(left) and _connected(right):
                return falls_apart(left) and falls_apart(right)
    return False


def _connected(pieces: list[Points]) -> bool:
    # Grown by far less than a seam and more than rounding, pieces that share an edge run together.
    grown = unary_union([shapely.Polygon(piece).buffer(1e-6) for piece in pieces])
    return bool(grown.geom_type == "Polygon")


@pytest.mark.parametrize("block", NAMED, ids=named)
def test_set_in_seams_are_where_no_straight_cuts_take_the_block_apart(block: Family) -> None:
    """A family says set-in exactly when taking it apart by full cuts gets stuck.

    Any full cut may be taken greedily to decide this: a cut that exists stays one in each part.
    """
    assert block.set_in == (not falls_apart(list(block.pieces)))


def test_the_eight_pointed_star_keeps_its_area_identity() -> None:
    """Its diamonds have the side B / (2 + sqrt 2), and 8 d^2 sin 45 + 4 d^2 + 2 d^2 is the block's area.

    The side: K. Combs, Formulas for Quilters (2002).
    """
    star = family("eight-lights")
    side = star.size[0]
    assert side == pytest.approx(8 * 25.4, rel=1e-14)
    diamond, square, triangle = star.templates
    d = math.dist(*diamond.finished[:2])
    assert d == pytest.approx(side / (2 + math.sqrt(2)), rel=1e-14)
    areas = [shapely.Polygon(t.finished).area * len(t.copies) for t in (diamond, square, triangle)]
    assert areas == pytest.approx([8 * d * d * math.sin(math.pi / 4), 4 * d * d, 2 * d * d], rel=1e-13)
    assert sum(areas) == pytest.approx(side**2, rel=1e-13)


def test_a_seed_means_one_block() -> None:
    """The same seed gives the same block again, other seeds other blocks."""
    again = random_family(5)
    assert [p.tolist() for p in again.pieces] == [p.tolist() for p in UNSEEN[5].pieces]
    shapes = {tuple(np.round(np.concatenate(block.pieces).ravel(), 6)) for block in UNSEEN}
    assert len(shapes) == len(UNSEEN)
