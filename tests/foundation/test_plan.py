"""Whole plans, replayed by a verifier that shares nothing with the planner."""

import attrs
import pytest

from seamsurvey.errors import UsageError
from seamsurvey.foundation.plan import plan_foundation, section_name
from seamsurvey.model import Block, FoundationPlan
from tests.foundation.blocks import (
    carried,
    cut_up,
    eight_pointed_star,
    eight_pointed_star_halved,
    grid,
    log_cabin,
    of_family,
    pinwheel_of_eight,
    square_in_a_square,
    whirl_of_five,
)
from tests.foundation.verify import verify
from tests.scene.families import designs, family

REFERENCE_BLOCKS = {
    "grid 4 x 3": grid(4, 3),
    "log cabin": log_cabin(),
    "pinwheel": pinwheel_of_eight(),
    "square in a square": square_in_a_square(),
    "star": eight_pointed_star(),
    "star halved": eight_pointed_star_halved(),
    "whirl": whirl_of_five(),
}


@pytest.mark.parametrize("block", REFERENCE_BLOCKS.values(), ids=REFERENCE_BLOCKS)
def test_plans_of_known_blocks_can_be_sewn(block: Block) -> None:
    """Straight at each step, every piece once, joins as declared, copies on their places."""
    verify(block, plan_foundation(block))


@pytest.mark.parametrize("name", [*designs(), *(f"random-{k}" for k in range(12))])
def test_plans_of_the_families_can_be_sewn(name: str) -> None:
    """The invented families, and sizes of them nobody has seen."""
    block = of_family(family(name))
    plan = plan_foundation(block)
    verify(block, plan)
    assert plan.proof.searched_all
    assert all(join.kind == "straight" for join in plan.joins)


@pytest.mark.parametrize("pieces", [10, 25, 60])
@pytest.mark.parametrize("seed", range(4))
def test_plans_of_blocks_cut_up_at_random_can_be_sewn(seed: int, pieces: int) -> None:
    """Any square cut up by straight lines, with its proof, and with both preferences."""
    block = cut_up(seed + 50, pieces)
    for prefer in ("fewest-sections", "fewest-papers"):
        plan = plan_foundation(block, prefer=prefer)
        verify(block, plan)
        assert plan.proof.searched_all
        assert plan.proof.fewest_sections == sum(section.copies for section in plan.sections)


@pytest.mark.parametrize("budget_s", [0.002, 0.02])
def test_a_plan_made_in_haste_can_be_sewn(budget_s: float) -> None:
    """A search that stops at once still gives a whole plan, with set-in seams too."""
    for block in (cut_up(3, 60), eight_pointed_star()):
        verify(block, plan_foundation(block, time_limit_s=budget_s))


@pytest.mark.parametrize("name", [*REFERENCE_BLOCKS, "millrace-star", "harbour-fan"])
@pytest.mark.parametrize(("turn", "mirrored"), [(90, False), (0, True), (33.3, True)])
def test_a_turned_or_mirrored_block_needs_as_many_sections(name: str, turn: float, mirrored: bool) -> None:
    """Turning or mirroring the block, and noise of 1e-9 mm, change neither the sections nor the prints."""
    block = REFERENCE_BLOCKS.get(name) or of_family(family(name))
    moved = carried(block, turn, mirrored=mirrored, noise_mm=1e-9)
    plan, other = plan_foundation(block), plan_foundation(moved)
    assert other.proof == plan.proof
    assert sorted(s.copies for s in other.sections) == sorted(s.copies for s in plan.sections)
    verify(moved, other)


def test_a_thousandth_of_a_millimetre_does_not_matter() -> None:
    """A block written with three decimals is planned as the exact one."""
    for name in ("millrace-star", "kite-crown", "harbour-fan", "trellis-sixty"):
        block = of_family(family(name))
        rough = attrs.evolve(block, pieces=tuple(attrs.evolve(p, outline=p.outline.round(3)) for p in block.pieces))
        assert shape_of(plan_foundation(rough)) == shape_of(plan_foundation(block))


def shape_of(plan: FoundationPlan) -> list[tuple[str, list[str], list[str]]]:
    """What a plan is, figures aside."""
    return [(s.name, [p.label + p.piece for p in s.pieces], [p.name for p in s.places]) for s in plan.sections]


@pytest.mark.parametrize("name", ["millrace-star", "eight-lights", "lakeside-fir"])
def test_the_same_block_gets_the_same_plan(name: str) -> None:
    """Twice the same to the last digit; and listed backwards, the same sections and joins."""
    block = of_family(family(name))
    plan = plan_foundation(block)
    assert repr(attrs.asdict(plan)) == repr(attrs.asdict(plan_foundation(block)))
    backwards = attrs.evolve(block, pieces=block.pieces[::-1])
    assert shape_of(plan_foundation(backwards)) == shape_of(plan)
    assert plan_foundation(backwards).joins == plan.joins


def test_four_equal_cells_are_printed_once() -> None:
    """A quarter-turn block is one section with four places, a quarter turn apart about the block's middle."""
    block = of_family(family("weathervane-turn"))
    plan = plan_foundation(block)
    (section,) = plan.sections
    assert [place.name for place in section.places] == ["A-1", "A-2", "A-3", "A-4"]
    assert {place.turn_deg for place in section.places} == {0, 90, -90, 180}
    assert [piece.label for piece in section.pieces] == ["A1", "A2", "A3", "A4"]


def test_outlines_are_those_of_the_block() -> None:
    """A section's pieces have the block's own corners, to the last digit."""
    block = of_family(family("lakeside-fir"))
    for section in plan_foundation(block).sections:
        for piece in section.pieces:
            assert piece.outline.tolist() == block.piece(piece.piece).outline.tolist()


def test_sections_go_on_after_z() -> None:
    """A to Z, then AA, AB, as columns of a table are named."""
    assert [section_name(k) for k in (0, 25, 26, 27, 51, 52, 701, 702)] == [
        "A",
        "Z",
        "AA",
        "AB",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]


@pytest.mark.parametrize(
    ("wish", "known"), [({"prefer": "most-fun"}, "fewest-papers"), ({"units": "ell"}, "inch, mm")]
)
def test_an_unknown_wish_is_refused_with_those_there_are(wish: dict[str, str], known: str) -> None:
    """The error lists what may be asked for."""
    with pytest.raises(UsageError, match=known):
        plan_foundation(grid(2, 2), **wish)  # type: ignore[arg-type]
