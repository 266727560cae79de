"""Units are turned and exchanged by name, and the block still tiles exactly."""

from collections.abc import Sequence

import numpy as np
import pytest

from seamsurvey.block.arranged import arranged
from seamsurvey.errors import InputError
from seamsurvey.model import Block, Piece
from tests.block.sets import tiling_faults
from tests.scene.geometry import Points
from tests.scene.trade_block import TradeBlock, drafted, is_right_block
from tests.scene.trade_blocks import trade_block
from tests.scene.trade_cells import in_cells
from tests.scene.trade_units import boxed


def _in_cells(*rows: str) -> TradeBlock:
    return drafted("cells", "square", boxed(in_cells(*rows), len(rows)), 9)


def _block(drawn: TradeBlock) -> Block:
    pieces = [
        Piece(id=f"{one.name}-{k}", template=one.name, reversed=False, outline=drawn.pieces[copy.piece])
        for one in drawn.templates
        for k, copy in enumerate(one.copies, 1)
    ]
    return Block(outline=drawn.outline, pieces=tuple(pieces))


def _places(outlines: Sequence[Points]) -> set[frozenset[tuple[float, ...]]]:
    """Each piece as its corners, whatever it is called."""
    return {frozenset(tuple(np.round(corner, 6) + 0.0) for corner in outline) for outline in outlines}


def _round(block: Block, x: float, y: float) -> str:
    """The piece whose middle is nearest to a place, in shares of the block."""
    where = np.array([x * block.width, y * block.height])
    return min(block.pieces, key=lambda piece: float(np.hypot(*(piece.outline.mean(axis=0) - where)))).id


def test_a_unit_turned_is_the_block_drawn_so() -> None:
    """One unit of a pinwheel a quarter turn on is the block that is drawn so; four quarter turns are none."""
    pinwheel = _block(_in_cells("\\/", "/\\"))
    name = _round(pinwheel, 0.2, 0.8)
    once = arranged(pinwheel, [name], [])
    assert is_right_block(_in_cells("//", "/\\"), once)
    assert not is_right_block(_in_cells("\\/", "/\\"), once)
    assert max(tiling_faults(once)) < 1e-9
    assert is_right_block(_in_cells("\\/", "/\\"), arranged(pinwheel, [name] * 4, []))


def test_two_pieces_name_the_larger_unit() -> None:
    """Two pieces of neighbouring units mean the part that holds both: the left half is no square, so the whole."""
    block = _block(_in_cells("X.", "+."))
    both = f"{_round(block, 0.25, 0.9)}+{_round(block, 0.1, 0.4)}"
    assert is_right_block(_in_cells("X.", "+."), arranged(block, [both], []))  # the whole turned is the same block
    assert arranged(block, [both], []).pieces[0].outline.tolist() != block.pieces[0].outline.tolist()


def test_units_of_one_size_change_places() -> None:
    """An hourglass and a four patch change places; nothing else moves."""
    block = _block(_in_cells("X..", ".+.", "..."))
    after = arranged(block, [], [(_round(block, 0.05, 0.83), _round(block, 0.42, 0.58))])
    drawn = _in_cells("+..", ".X.", "...")
    assert _places([piece.outline for piece in after.pieces]) == _places(drawn.pieces)
    assert _places([piece.outline for piece in block.pieces]) != _places(drawn.pieces)
    assert max(tiling_faults(after)) < 1e-9
    assert after.symmetry == "as arranged"


def test_what_can_not_be_moved_says_why() -> None:
    """A piece that is not there, a part that straight seams don't part off, units one of which holds the other."""
    spool = _block(trade_block("spool"))
    with pytest.raises(InputError, match="no piece Z-1"):
        arranged(spool, ["Z-1"], [])
    with pytest.raises(InputError, match="not of one size"):
        arranged(spool, [], [(spool.pieces[0].id, spool.pieces[1].id)])
    strips = _block(drafted("strips", "rectangle", boxed(in_cells("==="), 3, 1), 9))
    with pytest.raises(InputError, match="no straight seams part off a square"):
        arranged(strips, [f"{strips.pieces[0].id}+{strips.pieces[-1].id}"], [])
