"""What a set lacks that fills no block, or another than is meant: the missing card is named, with its place."""

import pytest
from attrs import evolve

from seamsurvey.block.assemble import assemble
from seamsurvey.block.classes import regular
from seamsurvey.block.gap import gap_of
from seamsurvey.block.outlines import OUTLINES
from seamsurvey.block.shapes import shapes_of
from seamsurvey.block.survey import nearness
from seamsurvey.errors import InputError
from seamsurvey.model import Block, TemplateSet
from tests.block.sets import measured
from tests.scene.trade_block import TradeBlock, drafted
from tests.scene.trade_blocks import trade_block
from tests.scene.trade_units import box, boxed


def _without(block: TradeBlock, *names: str) -> TemplateSet:
    templates = measured(block, 0.05, 1)
    return evolve(templates, templates=tuple(t for t in templates.templates if t.name not in names))


def _stepped() -> TradeBlock:
    """A square of strips of five widths, one corner of which is one square of 2."""
    pieces = [box(0, 0, 7, 2), box(0, 2, 3, 5), box(3, 2, 2, 5), box(5, 2, 2, 3), box(5, 5, 2)]
    return drafted("stepped", "square", boxed(pieces, 7), 7)


def test_the_hole_is_named_with_its_size_and_place() -> None:
    """Of five strips the square in the upper right corner is left out: what is open is that square, there."""
    templates = _without(_stepped(), "E")
    shapes = regular(templates, shapes_of(templates)).shapes
    counts = tuple((t.count or 0, t.reversed_count) for t in templates.templates)
    gap = gap_of(shapes, counts, (OUTLINES["square"],), nearness(shapes))
    assert gap is not None
    assert abs(gap.sized.width - 7 * 25.4) < 0.5
    (hole,) = gap.holes
    assert sorted(round(abs(b - a) / 25.4, 2) for a, b in zip(hole, (*hole[1:], hole[0]), strict=True)) == [2.0] * 4
    assert "a square of about 2 × 2 in (51 × 51 mm) at the" in gap.text
    assert "is a template missing?" in gap.text


def test_a_count_too_small_is_seen_as_more_of_that_card() -> None:
    """Where what is open is one of the cards again, that card is named."""
    templates = measured(trade_block("nine patch"), 0.05, 1)
    eight = evolve(templates, templates=(evolve(templates.templates[0], count=8),))
    shapes = regular(eight, shapes_of(eight)).shapes
    gap = gap_of(shapes, ((8, 0),), (OUTLINES["square"],), nearness(shapes))
    assert gap is not None
    assert "are there more of A?" in gap.text


def test_a_block_that_closes_but_for_a_gap_says_so() -> None:
    """The refusal ends in what is missing, and a picture of what was laid is handed on."""
    partial: list[Block] = []
    with pytest.raises(InputError, match=r"all but a square of about 3 × 3 in .* in the middle: is a "):
        assemble(_without(trade_block("spool"), "A"), on_partial=partial.append, time_limit_s=12.0)
    assert len(partial[0].pieces) == 4


def test_a_block_of_other_cards_than_were_meant_is_warned_of() -> None:
    """Squares and triangles of an eight-pointed star fill a rectangle by themselves: the diamonds are asked for."""
    first = assemble(_without(trade_block("eight-pointed star"), "A"))[0]
    assert any("eight-pointed star" in text and "is this template missing?" in text for text in first.warnings)
    whole = assemble(measured(trade_block("eight-pointed star"), 0.05, 1))[0]
    assert not whole.warnings
