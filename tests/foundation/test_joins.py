"""The joins: shortest first within what the cuts demand, each result with a name of its own."""

import math
from itertools import pairwise

import pytest

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import FoundationPlan, Join
from tests.foundation.blocks import cut_up, eight_pointed_star, eight_pointed_star_halved, grid, whirl_of_five


def length(join: Join) -> float:
    """Of the whole run, mm."""
    run = join.corners or (join.start, join.end)
    return sum(math.dist(a, b) for a, b in pairwise(run))


def could_have_come_sooner(plan: FoundationPlan) -> list[Join]:
    """Joins that were ready, and shorter, when a longer one was sewn."""
    late = []
    for k, join in enumerate(plan.joins):
        made = {earlier.result for earlier in plan.joins[:k]} | {p.name for s in plan.sections for p in s.places}
        late += [j for j in plan.joins[k + 1 :] if set(j.parts) <= made and length(j) < length(join) - 0.1]
    return late


@pytest.mark.parametrize("seed", range(6))
def test_no_join_waits_for_a_longer_one(seed: int) -> None:
    """At every step no shorter join was ready."""
    plan = plan_foundation(cut_up(seed, 40))
    assert len(plan.joins) > 2
    assert could_have_come_sooner(plan) == []


def test_names_are_readable_and_unique() -> None:
    """Up to four sections are named one by one, more by their step, and the last result is the block."""
    plan = plan_foundation(eight_pointed_star_halved())
    results = [join.result for join in plan.joins]
    assert len(set(results)) == len(results)
    assert results[0] == "A-1+B-2"
    assert results[-1] == "block"
    long = plan_foundation(grid(9, 9))
    named_by_step = [join for join in long.joins if join.result.startswith("unit ")]
    assert named_by_step
    assert all(join.result == f"unit {join.step}" for join in named_by_step)
    assert all(join.result == f"{join.parts[0]}+{join.parts[1]}" for join in long.joins[:4])


def test_one_section_has_no_join() -> None:
    """A row of squares is one section, and nothing is joined."""
    assert plan_foundation(grid(5, 1)).joins == ()


def test_a_set_in_join_tells_its_whole_run() -> None:
    """The star's joins all bend, at its eight points; the whirl's runs along a rectangle's end and long side."""
    plan = plan_foundation(eight_pointed_star(), cure="set-in")
    assert {join.kind for join in plan.joins} == {"set-in"}
    assert sum(len(join.corners) - 2 for join in plan.joins) == 8
    whirl = plan_foundation(whirl_of_five(), cure="set-in")
    (join,) = whirl.joins
    assert join.kind == "set-in"
    assert length(join) == pytest.approx(80 + 30)
