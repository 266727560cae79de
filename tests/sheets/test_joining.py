"""Joins told as units: equal ones once, lettered pictures, and seams said to nest only where they do."""

from collections import Counter

import attrs
import numpy as np
import pytest
import shapely

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block, FoundationPlan, Join
from seamsurvey.sheets.drawing import Line, Text
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.joining import Unit, units_of
from seamsurvey.sheets.unit_figure import unit_cell, unit_picture, unit_words
from tests.foundation.blocks import (
    cut_up,
    eight_pointed_star,
    eight_pointed_star_halved,
    grid,
    hourglass,
    pinwheel_of_eight,
    whirl_of_five,
)

from .examples import block_of, leaning_sails, plan_of, section_of


def units(block: Block, plan: FoundationPlan, names: dict[str, str] | None = None) -> tuple[Unit, ...]:
    """The units of a plan, every template a fabric of its own unless named."""
    return units_of(plan, block, fabrics_of(block, {}, names or {}))


def planned(block: Block, **wishes: str) -> tuple[Block, FoundationPlan]:
    """A block with its plan."""
    return block, plan_foundation(block, time_limit_s=3, **wishes)  # type: ignore[arg-type]


def told(found: tuple[Unit, ...]) -> list[tuple[str, int, tuple[str, ...]]]:
    """Name, number and parts of each unit."""
    return [(unit.name, unit.make, tuple(sorted(part.name for part in unit.parts))) for unit in found]


def test_the_star_is_told_in_three_units() -> None:
    """Seven joins of the halved star are four, two and one of a kind."""
    assert told(units(*planned(eight_pointed_star_halved()))) == [
        ("unit 1", 4, ("A", "B")),
        ("unit 2", 2, ("unit 1", "unit 1")),
        ("the block", 1, ("unit 2", "unit 2")),
    ]


def test_equal_shapes_of_other_fabrics_are_units_of_their_own() -> None:
    """With one quarter of the sails in red, the two halves of the block are told apart."""
    block, plan = leaning_sails()
    assert told(units(block, plan))[0] == ("unit 1", 2, ("A", "A"))
    parts = [made[2] for made in told(units(block, plan, {"T2-3": "red"}))]
    one, other = "A (colouring 1)", "A (colouring 2)"
    assert parts == [(one, one), (one, other), ("unit 1", "unit 2")]


@pytest.mark.parametrize("seed", range(8))
def test_units_make_every_join_and_use_up_every_part(seed: int) -> None:
    """Units made as often as told are all joins; each part is used as often as made, and one block is left."""
    block, plan = planned(cut_up(seed, 30))
    found = units(block, plan)
    assert sum(unit.make for unit in found) == len(plan.joins)
    have = Counter({section.name: section.copies for section in plan.sections})
    for unit in found:
        for part in unit.parts:
            have[part.name] -= unit.make
            assert have[part.name] >= 0
        have[unit.name] += unit.make
    assert +have == Counter({"the block": 1})


@pytest.mark.parametrize(
    "block",
    [
        eight_pointed_star_halved(),
        eight_pointed_star(),
        whirl_of_five(),
        grid(4, 4),
        hourglass(),
        pinwheel_of_eight(),
    ],
    ids=["halved star", "star", "whirl", "grid", "hourglass", "pinwheel"],
)
def test_every_section_is_lettered_in_every_picture(block: Block) -> None:
    """A unit's picture holds the letter of each of its sections once a copy, and the areas of its two parts."""
    for unit in units(*planned(block)):
        picture = unit_picture(unit, 40.0, 40.0)
        letters = Counter(mark.text for mark in picture.marks if isinstance(mark, Text))
        assert picture.roomy
        assert letters == Counter(section for section, _ in unit.places.values())
        tints = {m.fill for m in picture.marks if isinstance(m, Line) and m.fill and m.layer == "unit"}
        assert len(tints - {"#ffffff"}) == 2
        marks, height, _ = unit_cell(unit, 44.0, 32.0)
        assert all(mark.at[1] >= 0 for mark in marks if isinstance(mark, Text))
        assert height < 60


def four_patch(turned: bool) -> tuple[Block, FoundationPlan]:
    """Two rows of two squares: the second row the first turned by a half, or only shifted up."""
    side = 50.0
    square = np.array([[0, 0], [side, 0], [side, side], [0, side]])
    corners = [(0, 0), (1, 0), (0, 1), (1, 1)]
    names = ["T1-1", "T2-1", *(("T2-2", "T1-2") if turned else ("T1-2", "T2-2"))]
    block = block_of({name: square + np.array(corner) * side for name, corner in zip(names, corners, strict=True)})
    place = (180.0, (2 * side, 2 * side)) if turned else (0.0, (0.0, side))
    section = section_of(block, "A", ["T1-1", "T2-1"], [(0.0, (0.0, 0.0)), place])
    join = Join(1, ("A-1", "A-2"), "block", (0.0, side), (2 * side, side), "straight", press_towards="A-1")
    return block, plan_of([section], [join])


def test_seams_nest_where_they_are_pressed_to_opposite_sides_and_nowhere_else() -> None:
    """Two squares' seam is pressed to the second patch: with a row turned over they nest, with it shifted not."""
    (turned,), (shifted,) = units(*four_patch(turned=True)), units(*four_patch(turned=False))
    assert turned.nests == ((50.0, 50.0),)
    assert "seams nest at the dot" in unit_words(turned)
    assert shifted.nests == ()
    assert not any("nest" in words for words in unit_words(shifted))


@pytest.mark.parametrize("seed", range(6))
def test_nesting_seams_end_on_the_join_from_both_sides(seed: int) -> None:
    """At every point said to nest, patches of both parts have corners (shapely), and the join runs through it."""
    block, plan = planned(cut_up(100 + seed, 24))
    corners = shapely.union_all([shapely.Point(c) for piece in block.pieces for c in piece.outline])
    for unit in units(block, plan):
        for point in unit.nests:
            at = shapely.Point(point)
            assert at.distance(shapely.LineString([unit.join.start, unit.join.end])) < 0.01
            assert at.distance(corners) < 0.01
            assert all(part.shape.distance(at) < 0.01 for part in unit.parts)


def test_a_partial_seam_names_the_unit_after_which_the_rest_is_sewn() -> None:
    """The whirl's first seam is sewn part-way; the rest after a unit that is told, and comes later."""
    found = units(*planned(whirl_of_five(), cure="partial"))
    (partial,) = [unit for unit in found if unit.join.kind == "partial"]
    names = [unit.name for unit in found]
    assert names.index(partial.finish_after) > names.index(partial.name)
    assert any(words.startswith("sew part-way; the rest after ") for words in unit_words(partial))


def test_pressing_that_differs_among_equal_units_is_counted() -> None:
    """Where two equal units are pressed to different parts, the words say how many each way."""
    block, plan = leaning_sails()
    first, second, last = plan.joins
    plan = attrs.evolve(
        plan, joins=(attrs.evolve(first, press_towards="A-1"), attrs.evolve(second, press_towards="open"), last)
    )
    (unit, _) = units(block, plan)
    assert unit.pressed == (("A", 1), ("open", 1))
    assert "press 1 to A, 1 open" in unit_words(unit)
