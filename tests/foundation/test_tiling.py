"""Blocks drawn elsewhere: what overlaps and what is missing is named."""

import attrs
import numpy as np
import pytest

from seamsurvey.errors import InputError
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block
from tests.foundation.blocks import block_of, cut_up, grid, rectangle


def said(block: Block) -> InputError:
    """The error that planning a block gives."""
    with pytest.raises(InputError) as caught:
        plan_foundation(block)
    return caught.value


def test_an_overlap_names_both_pieces_its_size_and_its_place() -> None:
    """A square drawn 3 mm too wide lies on its neighbour, and on no other."""
    full = grid(3, 3)
    wide = attrs.evolve(full.pieces[0], outline=rectangle(0, 0, 53, 50))
    error = said(attrs.evolve(full, pieces=(wide, *full.pieces[1:])))
    assert error.code == "pieces-overlap"
    assert f"{wide.id} and {full.pieces[1].id}" in error.what
    assert "3.00 × 50.00 mm" in error.what
    assert "(51.50, 25.00)" in error.where


def test_a_gap_names_all_pieces_beside_it() -> None:
    """A nine-patch without its middle names the four squares beside the hole."""
    full = grid(3, 3)
    error = said(attrs.evolve(full, pieces=tuple(p for k, p in enumerate(full.pieces) if k != 4)))
    assert error.code == "pieces-gap"
    assert all((piece.id in error.what) == (k in (1, 3, 5, 7)) for k, piece in enumerate(full.pieces))
    assert "50.00 × 50.00 mm" in error.what


def test_a_piece_beyond_the_outline_is_named() -> None:
    """A block whose stated outline is too small for one of its pieces is refused."""
    block = block_of([rectangle(0, 0, 50, 50), rectangle(50, 0, 60, 50)], rectangle(0, 0, 100, 50))
    error = said(block)
    assert error.code == "pieces-gap"
    assert block.pieces[1].id in error.what
    assert block.pieces[0].id not in error.what


@pytest.mark.parametrize("seed", range(3))
def test_coordinates_rounded_to_hundredths_tile(seed: int) -> None:
    """A drawing with two decimals is planned, not refused."""
    block = cut_up(seed, 20)
    rough = attrs.evolve(block, pieces=tuple(attrs.evolve(p, outline=np.round(p.outline, 2)) for p in block.pieces))
    assert plan_foundation(rough).proof.searched_all
