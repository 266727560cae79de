"""Which things that were left out may be templates."""

from collections.abc import Iterator

import attrs
import numpy as np
import pytest

from seamsurvey.errors import InputError
from seamsurvey.model import LeftOut
from seamsurvey.templates import cards, corners, outlined, printed_page, sides
from seamsurvey.templates.unclear import may_be_templates
from tests.sheets.examples import forked_road, templates_for

RING = np.array([[0, 0], [9, 0], [9, 9.0]])
NONE = (
    *cards.TOO_SMALL, cards.AT_BORDER, sides.ROUND, printed_page.FRAME, printed_page.WITHIN,
    "job.toml excludes it (T5)",
)  # fmt: skip


def reasons_of_no_outline() -> Iterator[str]:
    """What the outlining room says of a card that lies there and can't be followed, found by asking it."""
    with pytest.raises(corners.NoOutlineError) as caught:
        corners.straight_outline(np.zeros((3, 2)))
    yield str(caught.value)
    yield sides.TWO_CORNERS
    yield cards.TOUCHING
    yield cards.UNCLEAR
    yield printed_page.UNCLEAR
    yield outlined.in_a_clause(InputError("edge-unclear", "The edges of a template are unclear."))


def test_a_card_that_can_not_be_followed_is_asked_about_and_what_is_none_is_not() -> None:
    """Of one thing for each reason just those are asked about that lay there like a card."""
    asked = list(reasons_of_no_outline())
    left_out = tuple(LeftOut(photo=0, outline_px=RING, why=why) for why in (*NONE, *asked))
    found = attrs.evolve(templates_for(forked_road()[0]), left_out=left_out)
    assert [found.left_out[k].why for k in may_be_templates(found)] == asked
