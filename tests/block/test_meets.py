"""Edges that a person has seen sewn to one another bring the layouts with them to the front."""

import numpy as np
import pytest

from seamsurvey.block.assemble import assemble
from seamsurvey.errors import InputError
from seamsurvey.model import Block
from tests.block.sets import measured
from tests.scene.trade_block import drafted
from tests.scene.trade_units import box, boxed

STRIPS = drafted("strips", "rectangle", boxed([box(0, 0, 6, 1), box(0, 1, 6, 1.5), box(0, 2.5, 6, 0.5)], 6, 3), 6)


def _order(block: Block) -> str:
    """The templates' names as the strips lie, from either end."""
    middles = sorted((float(piece.outline.mean(axis=0)[k]), piece.template) for piece in block.pieces for k in (1,))
    if np.ptp([y for y, _ in middles]) < 1:
        middles = sorted((float(piece.outline.mean(axis=0)[0]), piece.template) for piece in block.pieces)
    names = "".join(name for _, name in middles)
    return min(names, names[::-1])


@pytest.mark.parametrize(("pair", "orders"), [(("A", "C"), "ACB BAC"), (("B", "C"), "ACB ABC")])
def test_strips_that_were_seen_side_by_side_come_so(pair: tuple[str, str], orders: str) -> None:
    """Three strips lie in any order; with two said to meet, the first layouts are those in which they do."""
    templates = measured(STRIPS, 0.05, 1)
    long = {t.name: 1 + int(np.argmax([edge.length_mm for edge in t.edges])) for t in templates.templates}
    one, other = (f"{name}.{long[name]}" for name in pair)
    blocks = assemble(templates, meets=[(one, other)])
    kinds = [_order(block) for block in blocks]
    assert len(set(kinds)) == 3
    meeting = [kind in orders.split() or kind[::-1] in orders.split() for kind in kinds]
    assert meeting == sorted(meeting, reverse=True)
    assert blocks[0].reasons[0].text == f"{one} and {other} meet, as you said"


def test_an_edge_that_no_card_has_is_refused() -> None:
    """With what the card does have."""
    with pytest.raises(InputError, match=r"no edge A\.7") as refused:
        assemble(measured(STRIPS, 0.05, 1), meets=[("A.7", "B.1")])
    assert refused.value.likely == "A has edges 1 to 4; edges are numbered in the overlay picture."
