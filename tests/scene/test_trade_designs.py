"""The designs of our own: that each is a whole block that someone could cut, and that no two are the same."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.scene.geometry import Points, edge_lengths, mirrored, signed_area
from tests.scene.trade_block import TradeBlock
from tests.scene.trade_blocks import TRADE_BLOCKS
from tests.scene.trade_designs import FITTED, SHORTEST_EDGE_MM, STRUCTURES, TESTED, design, shape_of
from tests.scene.trade_symmetry import place_of

SEEDS = (*range(FITTED), *range(TESTED, TESTED + 100))
SAMPLE = SEEDS[::4]


@pytest.mark.parametrize("seed", SAMPLE)
def test_pieces_tile_the_outline(seed: int) -> None:
    """The pieces' areas add up to the outline's and their union is the outline: no gap and no overlap."""
    block = design(seed)
    whole, pieces = shapely.Polygon(block.outline), [shapely.Polygon(piece) for piece in block.pieces]
    assert all(piece.is_valid for piece in pieces)
    assert all(signed_area(piece) > 0 for piece in (*block.pieces, block.outline))
    assert sum(piece.area for piece in pieces) == pytest.approx(whole.area, rel=1e-12)
    assert shapely.union_all(pieces).symmetric_difference(whole).area < 1e-9 * whole.area
    assert 4 <= len(pieces) <= 64
    assert 2 <= len(block.templates) <= 12
    assert min(float(edge_lengths(piece).min()) for piece in block.pieces) >= SHORTEST_EDGE_MM


def test_all_designs_differ_in_every_structure() -> None:
    """Two hundred and fifty drawings, none another's image at any size, none a block of the trade's; a mix."""
    shapes = [shape_of(design(seed)) for seed in SEEDS]
    assert len({*shapes, *(shape_of(block) for block in TRADE_BLOCKS)}) == len(SEEDS) + len(TRADE_BLOCKS)
    for part in (SEEDS[:FITTED], SEEDS[FITTED:]):
        kinds = Counter(design(seed).name.rsplit(" ", 1)[0] for seed in part)
        assert set(kinds) == {name for name, _, _ in STRUCTURES}
        assert max(kinds.values()) < len(part) / 2
    assert {design(seed).kind for seed in SEEDS} == {"square", "rectangle", "triangle", "hexagon", "octagon"}


def test_most_designs_are_symmetric_and_some_are_not() -> None:
    """As in books of blocks: two in three or more can be laid on themselves, one in ten or more cannot."""
    symmetric = sum(_lies_on_itself(design(seed)) for seed in SEEDS)
    assert len(SEEDS) * 2 / 3 < symmetric < len(SEEDS) * 0.9


def _lies_on_itself(block: TradeBlock) -> bool:
    """Whether a half turn, a mirror across or from corner to corner of the box round it lays a block on itself.

    Turns by a sixth or an eighth alone are not looked for, which only counts fewer.
    """
    centre = np.array(block.size) / 2
    places = {place_of(piece - centre) for piece in block.pieces}
    for by in ([[-1, 0], [0, -1]], [[-1, 0], [0, 1]], [[1, 0], [0, -1]], [[0, 1], [1, 0]], [[0, -1], [-1, 0]]):
        if {place_of((piece - centre) @ np.array(by)) for piece in block.pieces} == places:
            return True
    return False


@pytest.mark.parametrize("seed", SAMPLE[::6])
def test_the_shape_of_a_drawing_is_that_of_its_images(seed: int) -> None:
    """A design drawn larger, turned and turned over keeps its shape; without one piece it does not."""
    block = design(seed)
    turn = np.array([[0.6, 0.8], [-0.8, 0.6]])

    def moved(outline: Points) -> Points:
        return np.asarray(mirrored(outline) @ turn * 1.7 + 11.0)

    other = replace(block, outline=moved(block.outline), pieces=tuple(moved(p) for p in block.pieces[::-1]))
    assert shape_of(other) == shape_of(block)
    assert shape_of(replace(block, pieces=block.pieces[1:])) != shape_of(block)


def test_a_seed_means_one_design() -> None:
    """The same seed gives the same design again."""
    again = design.__wrapped__(7)
    assert [piece.tolist() for piece in again.pieces] == [piece.tolist() for piece in design(7).pieces]
