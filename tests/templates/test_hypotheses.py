"""The allowance nobody told: decided by edges and the block, open where any fits, never wrong."""

import math
import re
from fractions import Fraction

import pytest

from seamsurvey.model import Closure, TemplateSet
from seamsurvey.templates.hypotheses import (
    USUAL_MM,
    Closes,
    Closing,
    agreeing_edges,
    allowance_text,
    decide,
    option_text,
)
from tests.scene.families import family
from tests.scene.trade_blocks import trade_block
from tests.templates.cut_sets import closes, sets

NOISE_MM = 0.07


@pytest.mark.parametrize(
    ("name", "allowance_mm"), [("kite-crown", 0.0), ("box-in-box", 6.35), ("ferry-panel", 6.0)]
)
def test_the_allowance_is_found(name: str, allowance_mm: float) -> None:
    """What the cards were cut with comes out, 6 mm told from 1/4 in, and the next best is named."""
    decision = decide(sets(family(name), allowance_mm, NOISE_MM), closes)
    assert decision.allowance_mm == allowance_mm
    assert decision.tried[0].closure is not None
    assert f"--allowance {option_text(allowance_mm)}" in decision.text


def test_squares_of_one_size_leave_it_open() -> None:
    """A nine-patch closes with any allowance: all are named, the usual two with their sizes, none is chosen."""
    decision = decide(sets(family("pantry-tiles"), 6.35, NOISE_MM), closes)
    assert decision.allowance_mm is None
    assert all(allowance_text(mm) in decision.text for mm in USUAL_MM)
    inches = [family("pantry-tiles").size[0] / 25.4 + 3 * more for more in (0.0, 0.5)]  # three patches wide
    for allowance, side in zip(("1/4 in (6.35 mm)", "none"), inches, strict=True):
        said = re.search(rf"with {re.escape(allowance)}: a block, ([0-9 /]+) × \1 in ", decision.text)
        assert said is not None
        assert sum(map(Fraction, said[1].split())) == pytest.approx(side, abs=1 / 32)


def test_many_agreeing_edges_decide_without_a_block() -> None:
    """Where no block is found, edges decide if they agree in numbers; where few do, it stays open."""
    decision = decide(sets(family("millrace-star"), 0.0, NOISE_MM), lambda *_: None)
    assert decision.allowance_mm == 0.0
    assert decide(sets(family("snail-path"), 6.35, NOISE_MM), lambda *_: None).allowance_mm is None


def test_a_block_that_edges_speak_against_is_not_believed() -> None:
    """A block that closes by chance with the wrong allowance does not outweigh edges that agree with another."""

    def by_chance(templates: TemplateSet, seconds: float) -> Closing | None:
        fits = agreeing_edges(templates)[0] < 12 and seconds
        return Closing(Closure(0.0, 0.1, 1.0, conditions=3)) if fits else None

    decision = decide(sets(family("ferry-panel"), 6.35, NOISE_MM), by_chance)
    assert decision.allowance_mm is None


def test_of_two_blocks_the_clearly_better_one_decides() -> None:
    """Nine of chi-square apart decides, less does not."""
    drawn = sets(family("pantry-tiles"), 0.0, NOISE_MM)[:2]
    chi = {0.0: 10.0, USUAL_MM[1]: 20.0}

    def apart(templates: TemplateSet, _: float) -> Closing:
        mm = next(mm for mm, one in drawn if one is templates)
        return Closing(Closure(0.0, 0.1, math.sqrt(chi[mm] / 10), conditions=10))

    assert decide(drawn, apart).allowance_mm == 0.0
    chi[USUAL_MM[1]] = 18.0
    assert decide(drawn, apart).allowance_mm is None


def test_allowances_that_come_to_one_size_are_not_asked_about() -> None:
    """1/4 in and 6 mm that close alike, 0.7 mm apart: the usual is taken, the other named; if U is larger."""
    able = [pair for pair in sets(family("pantry-tiles"), 6.35, NOISE_MM) if pair[0] in {6.0, 6.35, 7.0}]
    by_allowance = dict(able)

    def within(u_mm: float) -> Closes:
        def close(templates: TemplateSet, _: float) -> Closing:
            side = 150.0 - 2 * next(mm for mm, one in by_allowance.items() if one is templates)
            closure = Closure(0.0, 0.1, 1.0, conditions=10, p_value=0.5)
            return Closing(closure, size_mm=(side, side), size_u_mm=u_mm)

        return close

    two = [pair for pair in able if pair[0] != 7.0]
    decision = decide(two, within(0.8))
    assert decision.allowance_mm == 6.35
    assert "Next best is 6 mm" in decision.text
    assert decide(two, within(0.6)).allowance_mm is None
    assert decide(able, within(0.8)).allowance_mm is None  # 7 mm gives another size
    assert (
        decide([pair for pair in able if pair[0] != 6.35], within(3.0)).allowance_mm is None
    )  # no usual one closes


def test_how_allowances_are_written() -> None:
    """In words for people, and as the option takes them."""
    assert [allowance_text(mm) for mm in (0.0, 4.7625, 7.0)] == ["none", "3/16 in (4.76 mm)", "7 mm"]
    assert [option_text(mm) for mm in (0.0, 6.35, 6.8)] == ["none", "1/4in", "6.8mm"]


def test_a_known_block_in_its_own_proportions_decides() -> None:
    """An Ohio star's cards fit one another at every allowance, but are the star's at one, and it measures 12 in."""
    decision = decide(sets(trade_block("ohio star"), 0.0, NOISE_MM), closes)
    assert decision.allowance_mm == 0.0
    assert "the trade's Ohio star" in decision.text


def test_a_known_block_of_an_odd_size_does_not_decide() -> None:
    """Four squares of any size are a four patch, with any allowance: that it is known says nothing."""
    assert decide(sets(trade_block("four patch"), 6.35, NOISE_MM), closes).allowance_mm is None
