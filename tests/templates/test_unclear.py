"""Which things that were left out may be templates."""

from collections.abc import Iterator

import attrs
import numpy as np
import pytest

from seamsurvey.model import LeftOut, Picture
from seamsurvey.templates import cards, corners, printed_page, sides
from seamsurvey.templates.cards import may_be_templates
from tests.sheets.examples import forked_road, templates_for
from tests.templates.drawing import plane_of

RING = np.array([[0, 0], [9, 0], [9, 9.0]])
NONE = (
    *cards.TOO_SMALL, cards.AT_BORDER, cards.HARDLY, cards.ROUND, cards.FRAME, cards.WITHIN,
    "job.toml excludes it (T5)",
)  # fmt: skip


def reasons_of_no_outline() -> Iterator[str]:
    """What the outlining room says of a card that lies there and can't be followed, found by asking it."""
    with pytest.raises(corners.NoOutlineError) as caught:
        sides.straight_outline(np.zeros((3, 2)))
    yield str(caught.value)
    yield sides.TWO_CORNERS
    yield cards.TOUCHING
    yield cards.UNCLEAR
    yield printed_page.UNCLEAR
    yield str(corners.EdgeUnclearError())


def test_a_card_that_can_not_be_followed_is_asked_about_and_what_is_none_is_not() -> None:
    """Of one thing for each reason just those are asked about that lay there like a card."""
    asked = list(reasons_of_no_outline())
    left_out = tuple(LeftOut(photo=0, outline_px=RING, why=why) for why in (*NONE, *asked))
    found = attrs.evolve(templates_for(forked_road()[0]), left_out=left_out)
    assert [found.left_out[k].why for k in may_be_templates(found)] == asked


def test_what_was_left_out_for_one_reason_is_told_in_one_sentence() -> None:
    """Four things, two alike, one of a kind, one too small: a sentence for each reason, with all marks of it."""
    whys = (cards.UNCLEAR, cards.TOUCHING, cards.TOO_SMALL[0], cards.UNCLEAR)
    left_out = tuple(LeftOut(photo=0, outline_px=RING, why=why) for why in whys)
    picture = Picture("scan.png", "0" * 64, np.zeros((30, 40, 3), np.uint8))
    together, alone = cards.left_out_warnings(left_out, [(picture, plane_of(30))])
    assert (
        together
        == f"Things as large as a template were left out (×1, ×4 in the overlay). Of each: {cards.UNCLEAR}."
    )
    where = "×2 in the overlay; scan.png, top left (round 6, 3)"
    assert alone == f"Something as large as a template was left out ({where}): {cards.TOUCHING}."
