"""Handwriting on rendered cards: the same whichever way the card lies, and never clear and wrong."""

from functools import cache

import numpy as np
import pytest

from seamsurvey.model import Count
from seamsurvey.templates.labels import ALLOWANCE, COUNT, INCLUDED
from seamsurvey.templates.written_lines import Line, along, is_print
from tests.scene.hands import HANDS
from tests.scene.hands import written as line_of
from tests.scene.written import written_card
from tests.templates.written_cards import UNSEEN, read

SEEDS = range(90_000, 90_012)

written = cache(written_card)


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_a_card_says_the_same_whichever_way_it_lies(turns: int) -> None:
    """Turned by quarters, the same card has the same name, count and allowance, and all of them are right."""
    card = written(90_100, "delius")
    assert set(card.said) == {"name", "count", "allowance"}
    upright, turned = read(card), read(card, turns)
    assert [(each.kind, each.value) for each in turned.sayings] == [(e.kind, e.value) for e in upright.sayings]
    name, count, allowance = (each.value for each in upright.sayings)
    assert (name, count) == (card.name, Count(*(card.count or (0, 0))))
    assert allowance == pytest.approx(card.allowance)


@pytest.mark.parametrize(("in_line", "beside", "most"), [(5, 0, False), (5, 4, False), (5, 5, True), (0, 3, True)])
def test_a_card_of_which_most_is_no_line_is_a_print(in_line: int, beside: int, most: bool) -> None:
    """Strokes beside all lines are counted against those in them, whatever dust lies about."""
    stroke, speck = np.array([[0.0, 0.0], [0.0, 16.0]]), np.array([[0.0, 0.0], [2.0, 2.0]])
    strokes = dict(enumerate([stroke] * (in_line + beside) + [speck] * 50))
    line = Line(np.zeros(2), np.array([1.0, 0.0]), 90.0, 16.0, frozenset(range(in_line)))
    assert is_print([line] if in_line else [], strokes) is most


def test_no_clear_count_or_allowance_is_wrong() -> None:
    """On cards of hands never seen, what is clear is what was meant; and half of what was meant is clear."""
    meant = clear = 0
    for seed in SEEDS:
        card = written(seed, UNSEEN[seed % len(UNSEEN)])
        truth = {
            COUNT: Count(*card.count) if card.count else None,
            ALLOWANCE: card.allowance if card.allowance is not None else INCLUDED,
        }
        meant += (card.count is not None) + (ALLOWANCE in card.said)
        for saying in read(card).sayings:
            if saying.kind in truth and saying.is_clear:
                assert saying.kind in card.said, (seed, saying)
                assert saying.value == (
                    pytest.approx(truth[saying.kind]) if saying.kind == ALLOWANCE else truth[saying.kind]
                ), (seed, saying, card.lines)
                clear += 1
    assert clear >= meant / 2


def test_all_hands_can_write_what_makers_write() -> None:
    """Every hand has every letter, figure and sign that the phrases need: none is left out of a line."""
    for hand in HANDS:
        for character in 'abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789+/,."':
            assert line_of(character, 4.0, hand, np.random.default_rng(1)), (hand, character)


def test_a_stroke_one_pixel_wide_has_a_width() -> None:
    """A thin upright stroke taken for a line that runs level is a pixel long, and can be looked at."""
    strokes = {1: np.column_stack([np.full(30, 12.0), np.arange(30.0)])}
    line = Line(np.array([12.0, 14.5]), np.array([0.0, 1.0]), 29.0, 1.0, frozenset({1}))
    level = along(line, np.array([1.0, 0.0]), strokes)
    assert (level.long, level.high) == (1.0, 29.0)
