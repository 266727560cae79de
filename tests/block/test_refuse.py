"""When a lone layout is asked about."""

import numpy as np
from attrs import evolve

from seamsurvey.block.refuse import counts_guessed, is_guess
from seamsurvey.model import Block, Piece

HALF = np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 40.0], [0.0, 40.0]])
BLOCK = Block(
    outline=np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 40.0], [0.0, 40.0]]),
    symmetry="half-turn",
    pieces=(
        Piece(id="T1-1", template="T1", reversed=False, outline=HALF),
        Piece(id="T1-2", template="T1", reversed=False, outline=HALF + np.array([50.0, 0.0])),
    ),
)


def test_only_a_lone_layout_without_quarter_turns_and_with_copies_is_a_guess() -> None:
    """Rivals, quarter turns, or one of each make it none; quarter turns only where others were looked for."""
    assert is_guess((BLOCK,), cut_short=False)
    assert not is_guess((BLOCK, BLOCK), cut_short=True)
    turned = (evolve(BLOCK, symmetry="quarter-turn and mirror"),)
    assert not is_guess(turned, cut_short=False)
    assert is_guess(turned, cut_short=True)
    assert not is_guess((evolve(BLOCK, symmetry="none", pieces=BLOCK.pieces[:1]),), cut_short=True)


def test_the_question_gives_the_counts_to_confirm() -> None:
    """The question names the size and the option that confirms the guess."""
    asked = counts_guessed(BLOCK)
    assert "100.0 × 40.0 mm" in asked.what
    assert "--count T1=2" in asked.todo
