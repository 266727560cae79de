"""Advice in plain words, only where it is true."""

import re
from collections import Counter

import numpy as np
import pytest

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.geometry import moved
from seamsurvey.model import Block
from tests.foundation.blocks import (
    block_of,
    cut_up,
    eight_pointed_star,
    eight_pointed_star_halved,
    flying_goose,
    grid,
    half_square_unit,
    log_cabin,
    of_family,
    pinwheel_of_eight,
    rectangle,
    square_in_a_square,
    whirl_of_five,
)
from tests.scene.families import designs, family


def codes(block: Block) -> list[str]:
    """The codes of all advice on a block."""
    return [advice.code for advice in plan_foundation(block).advice]


def sawtooth_star() -> Block:
    """A square in the middle, four geese round it, four corner squares: on an even grid of four."""
    pieces = [rectangle(50, 50, 100, 100)]
    pieces += [rectangle(x, y, 50, 50) for x in (0, 150) for y in (0, 150)]
    goose = [(50, 0), (150, 0), (100, 50)], [(50, 0), (100, 50), (50, 50)], [(150, 0), (150, 50), (100, 50)]
    pieces += [moved(np.array(t) - 100.0, turn, (100, 100)) for turn in (0, 90, 180, 270) for t in goose]
    return block_of(pieces)


@pytest.mark.parametrize(
    "block",
    [grid(3, 3), grid(2, 5), sawtooth_star(), pinwheel_of_eight(), half_square_unit(), flying_goose()],
    ids=["nine-patch", "2 x 5", "sawtooth star", "pinwheel", "half-square unit", "goose"],
)
def test_a_grid_or_pieced_star_is_quicker_with_the_rotary_cutter(block: Block) -> None:
    """Rectangles in rows, and squares with their halves and quarters on an even grid, get the advice, once."""
    assert codes(block) == ["rotary-cutting"]


@pytest.mark.parametrize(
    "block",
    [log_cabin(), square_in_a_square(), eight_pointed_star_halved(), cut_up(0, 9), cut_up(1, 20)],
    ids=["log cabin", "square in a square", "halved star", "cut up 9", "cut up 20"],
)
def test_other_blocks_keep_their_foundations(block: Block) -> None:
    """Blocks that are no even grid get no advice against foundations."""
    assert codes(block) == []


def quarter_ring(corners: int) -> Block:
    """A quarter of a disc in the corner of a square, drawn with so many corners along the curve."""
    turn = np.linspace(0, np.pi / 2, corners + 2)
    arc = 70 * np.column_stack([np.cos(turn), np.sin(turn)])
    ground = np.vstack([arc[::-1], [(100, 0), (100, 100), (0, 100)]])
    return block_of([np.vstack([(0, 0), arc]), ground], rectangle(0, 0, 100, 100))


@pytest.mark.parametrize("corners", [4, 11, 40])
def test_a_curve_keeps_its_templates(corners: int) -> None:
    """However finely a curve is drawn, it is told once, with both pieces and its middle, and nothing is cut."""
    block = quarter_ring(corners)
    plan = plan_foundation(block, units="mm")
    (advice,) = plan.advice
    assert advice.code == "curved-seam"
    labels = {piece.label for section in plan.sections for piece in section.pieces}
    assert len(labels) == len(block.pieces)
    assert all(label in advice.text for label in labels)
    assert advice.at is not None
    assert np.hypot(*advice.at) == pytest.approx(70)
    assert abs(advice.at[0] - advice.at[1]) < 25
    assert (plan.cures, plan.added_seams) == ((), ())


def test_a_bend_on_purpose_is_no_curve() -> None:
    """A seam that goes round one corner is cured by an added seam."""
    block = block_of(
        [rectangle(0, 0, 50, 50), [(50, 0), (100, 0), (100, 100), (0, 100), (0, 50), (50, 50)]],
        rectangle(0, 0, 100, 100),
    )
    assert codes(block) == ["added-seam"]


@pytest.mark.parametrize("name", list(designs()))
def test_the_families_get_the_advice_their_makers_mean(name: str) -> None:
    """A family drawn as a plain grid is told so, one with set-in seams is told of their cure, and no other."""
    design = designs()[name]
    found = set(codes(of_family(family(name))))
    assert found == ({"added-seam"} if design.set_in else {"rotary-cutting"} if design.grid else set())


def test_a_set_in_point_is_named_with_its_place_in_inches_or_millimetres() -> None:
    """The whirl's point is where its plan says, in both units, and a partial seam is mentioned."""
    block = whirl_of_five()
    (inch,) = plan_foundation(block, cure="set-in").advice
    (mm,) = plan_foundation(block, cure="set-in", units="mm").advice
    (join,) = plan_foundation(block, cure="set-in").joins
    assert inch.at == mm.at == join.corners[1]
    assert inch.at is not None
    assert f"{inch.at[0]:.1f} mm from the left and {inch.at[1]:.1f} mm from the bottom" in mm.text
    assert "1 3/16 in from the left" in inch.text
    assert "partial seam" in inch.text


def test_a_star_names_its_eight_points() -> None:
    """Each of the eight Y points of the star as drawn is told once, with the three pieces that meet there."""
    block = eight_pointed_star()
    plan = plan_foundation(block, cure="set-in")
    advice = plan.advice
    assert [a.code for a in advice] == ["set-in"] * 8
    assert len({a.at for a in advice}) == 8
    template = {piece.label: block.piece(piece.piece).template for s in plan.sections for piece in s.pieces}
    for one in advice:
        assert "partial" not in one.text
        named = one.text.partition(" meet in")[0]
        met = Counter[str]()
        for number, label in re.findall(r"(?:(\d) of )?([A-Z]+\d)", named):
            met[template[label]] += int(number or 1)
        assert met.total() == 3
        assert met["A"] == 2, "two diamonds meet at each"


def test_a_search_that_stopped_says_so() -> None:
    """With hardly any time the plan says that the search stopped, and with which bound."""
    plan = plan_foundation(cut_up(3, 60), time_limit_s=0.01)
    (stopped,) = [advice for advice in plan.advice if advice.code == "search-stopped"]
    assert str(plan.proof.lower_bound) in stopped.text
    assert not plan.proof.searched_all
