"""Counts that nobody told: all that fill an outline are guessed, the likeliest first."""

import dataclasses
import itertools
import math

import numpy as np

from seamsurvey.block.classes import regular
from seamsurvey.block.guesses import Guesses
from seamsurvey.block.hypotheses import Known
from seamsurvey.block.outlines import OUTLINES, SQUARE
from seamsurvey.block.shapes import Shapes, shapes_of
from seamsurvey.block.sizes import sized_outlines
from tests.block.sets import measured
from tests.scene.trade_block import TradeBlock, drafted
from tests.scene.trade_blocks import trade_block
from tests.scene.trade_units import box, boxed, goose, halves

SURE_MM = 0.02
OFF = 0.004  # share by which an area may miss an outline's
NOTHING: Known = ((None, None),)


def _shapes(block: TradeBlock, sigma_mm: float = SURE_MM) -> Shapes:
    templates = measured(block, sigma_mm, seed=1, counted=False)
    return regular(templates, shapes_of(templates)).shapes


def _coins(many: int) -> TradeBlock:
    """Strips on one another and a bar beside them."""
    strips = [box(0, k, 3, 1) for k in range(many)]
    return drafted("coins", "rectangle", boxed([*strips, box(3, 0, 1, many)], 4, many), 8)


def test_all_counts_that_fill_a_square_are_guessed() -> None:
    """Of squares and halves of 2 in: each pair of counts whose area makes a square with sides of whole edges."""
    cell = [*halves(0, 0, 2, rising=True), box(2, 0, 2), box(0, 2, 2), box(2, 2, 2)]
    shapes = _shapes(drafted("cell", "square", boxed(cell, 4), 4))
    half, plain = sorted(shapes.areas)
    wide = math.sqrt(plain)
    diagonal = wide * math.sqrt(2)
    sides = [a * wide + b * diagonal for a in range(9) for b in range(9) if a + b]
    order = [shapes.areas.index(half), shapes.areas.index(plain)]
    meant = set()
    for counts in itertools.product(range(1, 13), repeat=2):
        side = math.sqrt(counts[0] * half + counts[1] * plain)
        if min(abs(side - s) for s in sides) < 1e-3 * side:
            meant.add(tuple(counts[order.index(t)] for t in range(2)))
    guessed = Guesses.of(shapes, NOTHING * 2, (SQUARE,)).in_order()
    assert len(meant) > 5
    assert meant <= {guess.counts for guess in guessed}


def test_guesses_fill_their_outlines_and_come_in_order() -> None:
    """Each guess fills a square whose side is a sum of edges, by its area; none is likelier than the last."""
    shapes = _shapes(trade_block("house"))
    guesses = list(itertools.islice(Guesses.of(shapes, NOTHING * len(shapes.names), (SQUARE,)).in_order(), 200))
    assert [g.cost for g in guesses] == sorted(g.cost for g in guesses)
    lengths = sorted({round(x, 3) for face in shapes.faces for x in face.lengths})
    for guess in guesses[:40]:
        side = math.sqrt(float(np.dot(guess.counts, shapes.areas)))
        assert _is_sum(side, lengths, OFF * side), guess


def _is_sum(length: float, of: list[float], near: float, parts: int = 4) -> bool:
    """Whether up to so many different lengths, each up to twelve times, add up to a length."""
    reach = {0.0}
    for _ in range(parts):
        reach |= {
            round(r + n * x, 2) for r in reach for x in of for n in range(1, 13) if r + n * x <= length + near
        }
    return any(abs(r - length) <= near for r in reach)


def test_what_is_known_is_kept() -> None:
    """Where a person has said that there are six of a card, no guess has another number of it."""
    shapes = _shapes(_coins(6))
    six = shapes.areas.index(min(shapes.areas, key=lambda a: abs(a - 3 * 2 * 2 * 25.4**2)))
    known = tuple((6, 0) if t == six else (None, None) for t in range(2))
    guesses = list(Guesses.of(shapes, known, tuple(OUTLINES.values())).in_order())
    assert guesses
    assert all(guess.counts[six] == 6 for guess in guesses)


def test_what_a_card_may_say_is_tried_before_other_counts() -> None:
    """Where a card may say 7 or 1, fifty guesses have another number of it seldom; without that, mostly."""
    plain = _shapes(trade_block("house"))
    nothing = NOTHING * len(plain.names)
    read = dataclasses.replace(plain, read=(frozenset({1, 7}), *[frozenset[int]()] * (len(plain.names) - 1)))
    seldom, mostly = (
        sum(guess.counts[0] not in {1, 7} for guess in itertools.islice(guesses, 50))
        for guesses in (Guesses.of(shapes, nothing, (SQUARE,)).in_order() for shapes in (read, plain))
    )
    assert seldom <= 5
    assert mostly >= 25


def test_coins_and_a_house_are_not_far_down() -> None:
    """What has no quarter turn is guessed too: coins beside a bar, a goose with its wings."""
    geese = [piece for k in range(4) for piece in goose(1, k, 2, 1, "N")]
    framed = drafted("framed geese", "square", boxed([*geese, box(0, 0, 1, 4), box(3, 0, 1, 4)], 4), 8)
    for block in (_coins(6), framed):
        shapes = _shapes(block)
        counts = tuple(len(template.copies) for template in block.templates)
        guesses = Guesses.of(shapes, NOTHING * len(counts), tuple(OUTLINES.values())).in_order()
        place = next(k for k, guess in enumerate(guesses) if guess.counts == counts and guess.outline == block.kind)
        assert place < 60


def test_a_rectangle_is_looked_for_where_edges_add_up_to_anything() -> None:
    """Sides may be so many sums that not all are looked at: the block's own size, a usual one, is among those."""
    widths = (1.0, 1.0, 1.0, 1.0, 1.5, 1.5)
    strips = [box(float(sum(widths[:k])), 0, w, 4) for k, w in enumerate(widths)]
    column = [half for y in range(4) for half in halves(7, y, 1, rising=True)]
    block = drafted("bands", "rectangle", boxed([*strips, *column], 8, 4), 8)
    shapes = _shapes(block, 0.1)
    found, whole = sized_outlines(shapes, [len(t.copies) for t in block.templates], tuple(OUTLINES.values()), 0.8)
    assert not whole
    size = sorted(block.size)
    assert any(
        np.allclose(sorted((one.width, one.height)), size, atol=1.0)
        for one in found
        if one.outline.name == "rectangle"
    )
