"""Straight grain: on the block's outer edges, on the legs of halves and the long side of quarters."""

import pytest

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.geometry import edge_lengths, edge_vectors
from seamsurvey.model import Block
from tests.foundation.blocks import block_of, carried, half_square_unit, hourglass, square_in_a_square


def grains(block: Block) -> dict[str, float]:
    """The grain of each piece at the first place of its section."""
    return {
        p.piece: p.grain_deg for s in plan_foundation(block).sections for p in s.pieces if p.grain_deg is not None
    }


def test_half_square_triangles_have_it_on_a_leg() -> None:
    """Along the block's side (K. Combs, Formulas for Quilters, 2002, has the two cuts so)."""
    assert set(grains(half_square_unit()).values()) <= {0.0, 90.0}


def test_quarter_square_triangles_have_it_on_the_long_side() -> None:
    """The four triangles of an hourglass: along the side of the block each lies on."""
    block = hourglass()
    for name, grain in grains(block).items():
        outline = block.piece(name).outline
        longest = edge_vectors(outline)[int(edge_lengths(outline).argmax())]
        assert grain == (0.0 if abs(longest[1]) < 1e-9 else 90.0)


def test_inside_the_block_it_follows_the_longest_edge_or_the_blocks_sides() -> None:
    """A square on its corner has no upright edge, so that the grain is along its own."""
    block = square_in_a_square()
    middle = max(block.pieces, key=lambda piece: len(piece.outline))
    assert grains(block)[middle.id] in (45.0, 135.0)


@pytest.mark.parametrize("turn", [17.0, 90.0])
def test_it_turns_with_the_block(turn: float) -> None:
    """Turned by some degrees, every outer patch has its grain along the turned side."""
    block = carried(block_of([[(0, 0), (90, 0), (0, 90)], [(90, 0), (90, 90), (0, 90)]]), turn)
    assert {round(grain % 90, 3) for grain in grains(block).values()} == {turn % 90}
