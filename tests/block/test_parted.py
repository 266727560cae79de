"""Which blocks are sewn in straight seams alone."""

from collections.abc import Sequence

import numpy as np
import pytest

from seamsurvey.block.outlines import SQUARE
from seamsurvey.block.parted import falls_apart
from seamsurvey.block.search import Layout
from tests.scene.geometry import Points
from tests.scene.trade_blocks import TRADE_BLOCKS, TradeBlock


def layout_of(outlines: Sequence[Points]) -> Layout:
    """Pieces as a layout; corners within a millionth are one."""
    at: list[complex] = []
    pieces = []
    for outline in outlines:
        ring = []
        for z in outline @ np.array([1.0, 1j]):
            known = next((k for k, w in enumerate(at) if abs(w - z) < 1e-6), len(at))
            if known == len(at):
                at.append(complex(z))
            ring.append(known)
        pieces.append((0, False, tuple(ring)))
    return Layout(tuple(pieces), tuple(at), (0,) * len(at), (), (1.0, 1.0), "none", 0.0, SQUARE)


@pytest.mark.parametrize("block", TRADE_BLOCKS, ids=lambda block: block.name)
def test_blocks_with_set_in_seams_do_not_fall_apart(block: TradeBlock) -> None:
    """The drawings say which blocks have no straight cut from edge to edge somewhere; the others all fall apart."""
    assert falls_apart(layout_of(block.pieces), 1e-3) == (not block.set_in)


def test_a_sliver_parts_from_its_neighbour() -> None:
    """A piece slimmer than what is near lies on both sides of its own edges' lines, and the cutting still ends."""
    square = np.array([[0.0, 0], [10, 0], [10, 10], [0, 10]])
    sliver = np.array([[10.0, 0], [10.5, 0], [10.5, 10], [10, 10]])
    assert falls_apart(layout_of([square, sliver]), 1.0)
