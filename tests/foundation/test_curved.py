"""Curved seams in plans: joins of their own between sections, never folds, and told in words."""

import math
from collections.abc import Callable

import attrs
import numpy as np
import pytest

from seamsurvey.errors import InputError
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block, FoundationPlan
from tests.foundation.curved_blocks import QUARTER, harbour_path, lantern_fan, ripple, round_window
from tests.foundation.verify import verify


def kinds(plan: FoundationPlan) -> list[str]:
    """The kinds of all joins, in order."""
    return [join.kind for join in plan.joins]


def mirrored(block: Block) -> Block:
    """The block turned over: every outline walked the other way round, its bulges with it."""
    pieces = tuple(
        attrs.evolve(
            piece,
            reversed=True,
            outline=np.roll((piece.outline * [-1, 1] + [block.width, 0])[::-1], 1, axis=0),
            bulges=piece.bulges[::-1],
        )
        for piece in block.pieces
    )
    return attrs.evolve(block, pieces=pieces)


def turned(block: Block) -> Block:
    """The block a quarter turn on."""
    turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
    pieces = tuple(attrs.evolve(p, outline=p.outline @ turn + [block.height, 0]) for p in block.pieces)
    return attrs.evolve(block, outline=block.outline @ turn + [block.height, 0], pieces=pieces)


def test_quarter_circles_are_joined_before_their_squares() -> None:
    """Four quarter-circle units: two prints, four times each, every curved join made while the unit is small."""
    plan = plan_foundation(harbour_path())
    verify(harbour_path(), plan)
    assert [(section.copies, len(section.pieces)) for section in plan.sections] == [(4, 1), (4, 1)]
    assert kinds(plan).count("curved") == 4
    assert kinds(plan).count("straight") == 3
    places = {place.name for section in plan.sections for place in section.places}
    assert all(set(join.parts) <= places for join in plan.joins if join.kind == "curved")


@pytest.mark.parametrize("blades", [2, 4, 7])
def test_one_long_arc_meets_the_arcs_of_a_fan(blades: int) -> None:
    """The blades are one section, and what bows smoothly from blade to blade is one curved join on either side."""
    block = lantern_fan(blades)
    plan = plan_foundation(block)
    verify(block, plan)
    assert sorted(len(section.pieces) for section in plan.sections) == [1, 1, blades]
    assert kinds(plan) == ["curved", "curved"]
    assert all(len(join.bulges) == blades for join in plan.joins)


def test_a_ripple_is_joined_arc_by_arc() -> None:
    """Where straight cuts part a long bowed seam they come first: every curved join has one arc."""
    plan = plan_foundation(ripple())
    verify(ripple(), plan)
    assert kinds(plan).count("curved") == 3
    assert all(len(join.bulges) == 1 for join in plan.joins if join.kind == "curved")


def test_a_circle_no_cut_leads_to_is_set_in_along_its_arcs() -> None:
    """Round a whole circle the plan is complete, its set-in points are told, and the join carries its arcs."""
    plan = plan_foundation(round_window())
    verify(round_window(), plan)
    (bent,) = [join for join in plan.joins if join.kind == "set-in"]
    assert max(bent.bulges, key=abs) == pytest.approx(QUARTER) or min(bent.bulges) == pytest.approx(-QUARTER)


def test_no_curved_seam_is_folded() -> None:
    """No two pieces of one section meet along an arc: all arcs of all pieces lie on their sections' outlines."""
    for block in (harbour_path(), lantern_fan(), ripple(), round_window()):
        for section in plan_foundation(block).sections:
            inside = sum(abs(math.atan(b)) for piece in section.pieces for b in piece.bulges)
            assert sum(abs(math.atan(b)) for b in section.bulges) == pytest.approx(inside)


def test_advice_says_where_a_curve_is_and_how_it_is_joined() -> None:
    """Each curved join is told once, at its arc's middle, with its radius, its concave side and the templates."""
    plan = plan_foundation(harbour_path(), units="mm")
    curved = [advice for advice in plan.advice if advice.code == "curved-seam"]
    assert len(curved) == 4
    for advice in curved:
        assert advice.at is not None
        nearest = min(math.dist(advice.at, corner) for corner in ((0, 0), (180, 0), (0, 180), (180, 180)))
        assert nearest == pytest.approx(60) or nearest > 60
        assert "radius 60.0 mm, 90°" in advice.text
        assert "clip the concave allowance of B," in advice.text
        for word in ("mark the middles", "pin", "ease", "by hand", "template pages"):
            assert word in advice.text


@pytest.mark.parametrize("make", [harbour_path, lantern_fan, ripple])
def test_turned_and_mirrored_blocks_are_planned_alike(make: Callable[[], Block]) -> None:
    """Turned over or a quarter turn on, a block falls into as many sections, prints and joins of each kind."""
    block = make()
    found = [plan_foundation(other) for other in (block, turned(block), mirrored(block))]
    for plan, other in zip(found, (block, turned(block), mirrored(block)), strict=True):
        verify(other, plan)
    assert len({(len(plan.sections), tuple(sorted(kinds(plan)))) for plan in found}) == 1


def test_arcs_that_do_not_meet_are_a_gap_or_an_overlap() -> None:
    """One quarter circle drawn flatter than its hollow leaves a gap, one rounder lies on its neighbour."""
    block = harbour_path()
    for factor, code in ((0.97, "pieces-gap"), (1.03, "pieces-overlap")):
        first = attrs.evolve(block.pieces[0], bulges=(0.0, QUARTER * factor, 0.0))
        with pytest.raises(InputError) as caught:
            plan_foundation(attrs.evolve(block, pieces=(first, *block.pieces[1:])))
        assert caught.value.code == code


def test_the_verifier_finds_a_curved_join_called_straight() -> None:
    """A curved join without its arcs, or one that no advice tells of, fails."""
    block = harbour_path()
    plan = plan_foundation(block)
    first, *others = plan.joins
    straight = attrs.evolve(first, kind="straight", corners=(), bulges=())
    with pytest.raises(AssertionError):
        verify(block, attrs.evolve(plan, joins=(straight, *others)))
    with pytest.raises(AssertionError):
        verify(block, attrs.evolve(plan, advice=()))
