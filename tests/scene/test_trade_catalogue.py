"""The drawings of the whole catalogue: each is exact, is what it says, and no two are the same."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
import shapely
from scipy.spatial import cKDTree

from tests.scene.congruence import difference, rigid_map
from tests.scene.geometry import Points, edge_lengths, mirrored, signed_area
from tests.scene.test_families import falls_apart
from tests.scene.test_trade_blocks import CORNERS, named
from tests.scene.trade_block import TradeBlock
from tests.scene.trade_blocks import TRADE_BLOCKS
from tests.scene.trade_cells import MIRRORED, TURNED, in_cells, in_symmetry
from tests.scene.trade_further import FAMILIES, HELD_BACK
from tests.write_tradition import drawings
from tests.write_tradition import named as named_in_the_catalogue

FURTHER = tuple(block for blocks in FAMILIES.values() for block in blocks())
EVERY = (*drawings(), *(block for block in FURTHER if block.name in HELD_BACK))


@pytest.mark.parametrize("block", EVERY[len(TRADE_BLOCKS) :], ids=named)
def test_pieces_tile_the_outline(block: TradeBlock) -> None:
    """The pieces' areas add up to the outline's and their union is the outline, so that none overlaps another."""
    whole, pieces = shapely.Polygon(block.outline), [shapely.Polygon(piece) for piece in block.pieces]
    assert len(block.outline) == CORNERS[block.kind]
    assert all(piece.is_valid for piece in pieces)
    assert all(signed_area(piece) > 0 for piece in block.pieces)
    assert sum(piece.area for piece in pieces) == pytest.approx(whole.area, rel=1e-9)
    assert shapely.union_all(pieces).symmetric_difference(whole).area < 1e-9 * whole.area


def test_set_in_seams_are_where_no_straight_cuts_take_a_block_apart() -> None:
    """A further block says set-in exactly when taking it apart by full cuts gets stuck: the smaller half."""
    small = [block for block in FURTHER if len(block.pieces) <= 21]
    assert len(small) > 90
    assert [b.name for b in small if b.set_in] == [b.name for b in small if not falls_apart(list(b.pieces))]


def test_templates_are_told_apart() -> None:
    """No person with a ruler takes one template of a further block for another."""
    for block in FURTHER:
        for one, other in combinations([template.finished for template in block.templates], 2):
            # Where no edge is 2 mm longer, neither is the way round by more than that for each.
            if abs(edge_lengths(one).sum() - edge_lengths(other).sum()) <= 2.0 * len(one):
                assert max(difference(one, other)) > 2.0, block.name


def test_no_two_drawings_are_the_same() -> None:
    """Up to size, turns and mirror images no drawing of the catalogue is there twice, by where its pieces lie."""
    marks = [_marks(block) for block in EVERY]
    for (one, mine), (other, theirs) in combinations(zip(EVERY, marks, strict=True), 2):
        if one.kind == other.kind and len(mine) == len(theirs):
            assert not _same(mine, theirs, len(one.outline)), (one.name, other.name)


def test_a_drawing_is_the_same_turned_and_over() -> None:
    """What tells drawings apart does not tell a block from itself of another size, turned by a side, or over."""
    for block in (EVERY[1], FURTHER[0], next(b for b in FURTHER if b.kind == "hexagon")):
        turn = np.exp(-2j * math.pi / len(block.outline))
        over = [mirrored(p) for p in block.pieces]
        pieces = tuple(_of_complex((p @ np.array([3.0, 3j])) * turn) for p in over)
        outline = _of_complex((mirrored(block.outline) @ np.array([3.0, 3j])) * turn)
        moved = TradeBlock(block.name, block.kind, outline, pieces)
        assert _same(_marks(block), _marks(moved), len(block.outline))


def _of_complex(z: np.ndarray) -> Points:
    return np.column_stack([z.real, z.imag])


def _marks(block: TradeBlock) -> np.ndarray:
    """(n, 4): where the pieces' middles are from the block's, and two moments of each, in the block's own size."""
    outline = shapely.Polygon(block.outline)
    size, middle = math.sqrt(outline.area), shapely.get_coordinates(outline.centroid)[0]
    return np.array([_mark((piece - middle) / size) for piece in block.pieces])


def _mark(piece: Points) -> tuple[float, float, float, float]:
    x, y = shapely.get_coordinates(shapely.Polygon(piece).centroid)[0]
    corners = np.hypot(*(piece - (x, y)).T)
    return x, y, signed_area(piece), float(np.sum(corners**2))


def _same(mine: np.ndarray, theirs: np.ndarray, sides: int) -> bool:
    """Whether the one lies on the other after some turn by sides, over or not; oblongs lie on their sides too."""
    if np.abs(np.sort(mine[:, 2]) - np.sort(theirs[:, 2])).max() > 1e-4:
        return False
    tree = cKDTree(theirs)
    steps = 8 if sides == 3 else sides  # half a square stands on any of its sides
    for over in (1.0, -1.0):
        for k in range(steps):
            angle = 2 * math.pi * k / steps
            turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
            there = np.column_stack([(mine[:, :2] * (over, 1.0)) @ turn.T, mine[:, 2:]])
            if np.max(tree.query(there)[0]) < 1e-4:
                return True
    return False


def test_blocks_of_one_name_are_cut_from_different_shapes() -> None:
    """Of known blocks that the same cards may be each has a name of its own: one of a name is offered once."""
    for one, other in combinations(FURTHER, 2):
        if named_in_the_catalogue(one) == named_in_the_catalogue(other):
            assert not _same_shapes(one, other), (one.name, other.name)


def _same_shapes(one: TradeBlock, other: TradeBlock) -> bool:
    mine, theirs = ([_of_its_size(block, t.finished) for t in block.templates] for block in (one, other))
    return len(mine) == len(theirs) and all(
        any(rigid_map(a, b) is not None or rigid_map(mirrored(a), b) is not None for b in theirs) for a in mine
    )


def _of_its_size(block: TradeBlock, shape: Points) -> Points:
    areas = [signed_area(template.finished) for template in block.templates]
    return shape / math.sqrt(math.exp(sum(map(math.log, areas)) / len(areas)))


def test_the_families_have_what_is_asked_for() -> None:
    """A hundred and twenty blocks and more, each name once, in seven families."""
    assert len(FURTHER) - len(HELD_BACK) >= 120
    assert {block.name for block in FURTHER} >= HELD_BACK
    assert len({block.name for block in EVERY}) == len(EVERY)
    assert all(any(True for _ in blocks()) for blocks in FAMILIES.values())


def test_a_block_drawn_from_its_part_is_the_block_drawn_whole() -> None:
    """A quarter turned, or mirrored, gives the cells that one would write for the whole."""
    for part, whole in (
        (in_symmetry(TURNED, 2, "\\ "), in_cells("\\/", "/\\")),
        (in_symmetry(MIRRORED, 3, "/=", " ."), in_cells("/=\\", "|.|", "\\=/")),
        (in_symmetry(MIRRORED, 4, ".s  ", "eB  "), in_cells(".s .", "eB w", "    ", ".n .")),
    ):
        assert {_place(piece) for piece in part} == {_place(piece) for piece in whole}
        assert len(part) == len(whole)


def _place(piece: Points) -> frozenset[tuple[float, float]]:
    return frozenset((round(float(x), 6) + 0.0, round(float(y), 6) + 0.0) for x, y in piece)
