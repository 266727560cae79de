"""What speaks for a layout is what the documents say, and is what a person sees."""

import math
from pathlib import Path

import pytest

from seamsurvey.block.assemble import assemble
from seamsurvey.block.meaning import RULES
from seamsurvey.model import Block
from seamsurvey.units import usual_size
from tests.block.sets import measured
from tests.scene.trade_block import is_right_block
from tests.scene.trade_blocks import trade_block

PAGE = Path(__file__).parents[2] / "docs" / "reference" / "layouts.md"


def test_the_page_on_layouts_has_every_rule_with_its_weight() -> None:
    """A rule added or weighed anew must stand in docs/reference/layouts.md, and none more."""
    rows = [line.split("|")[1:3] for line in PAGE.read_text().splitlines() if line.startswith("| ")]
    said = {name.strip(): weight.strip() for name, weight in rows}
    for rule in RULES:
        assert said.get(rule.name) == f"{rule.weight:+.1f}", rule.name


@pytest.mark.parametrize(("inches", "worth"), [(12, 1.0), (8.5, 0.6), (6.25, 0.2), (6.1, 0.0)])
def test_whole_inches_are_more_usual_than_halves_and_quarters(inches: float, worth: float) -> None:
    """A length is as usual as the coarsest fraction of an inch that it is on."""
    assert usual_size(25.4 * inches) == worth


def test_thirty_centimetres_are_a_usual_size() -> None:
    """Metric blocks have whole centimetres."""
    assert usual_size(300.0) == 0.5


@pytest.fixture(scope="module")
def star() -> tuple[Block, ...]:
    """The eight-pointed star from one card of each and its counts."""
    return assemble(measured(trade_block("eight-pointed star"), 0.1, 3))


def test_the_eight_pointed_star_comes_first_of_all_that_its_cards_allow(star: tuple[Block, ...]) -> None:
    """Eight diamonds, four squares and four triangles make the star, and many others, which are told."""
    assert is_right_block(trade_block("eight-pointed star"), star[0])
    assert star[0].proof.searched_all
    assert star[0].proof.layouts_found > len(star)


def test_layouts_stand_in_the_order_of_their_points(star: tuple[Block, ...]) -> None:
    """The sum of a layout's reasons is its place."""
    totals = [math.fsum(reason.points for reason in block.reasons) for block in star]
    assert totals == sorted(totals, reverse=True)


def test_a_size_asked_for_goes_before_symmetry() -> None:
    """Four geese make a column of 4 by 8 units or a square: asked for the column's size, it comes first."""
    geese = trade_block("flying geese")
    width, height = sorted(geese.size)
    blocks = assemble(measured(geese, 0.1, 3), finish_mm=width, finish_height_mm=height)
    assert (blocks[0].width, blocks[0].height) == pytest.approx((width, height), rel=0.01)
    assert "size asked for" in {reason.name for reason in blocks[0].reasons}
