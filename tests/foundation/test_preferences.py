"""What sections are chosen for: fewest, fitting a page, and pieced starts where they help."""

import numpy as np
import pytest
import shapely

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block, FoundationPlan
from tests.foundation.blocks import block_of, cut_up, grid, log_cabin, of_family, rectangle
from tests.foundation.verify import verify
from tests.scene.families import family


def framed_nine_patch() -> Block:
    """Nine squares of 50 mm, two strips of 25 mm along each side, each over the end of the one before."""
    pieces = [rectangle(50 + 50 * i, 50 + 50 * j, 50, 50) for j in range(3) for i in range(3)]
    for inner, out in ((50, 25), (25, 0)):
        size = 250 - 2 * inner
        pieces += [rectangle(250 - inner, inner, 25, size), rectangle(out, inner, 25, size)]
        pieces += [rectangle(out, 250 - inner, size + 50, 25), rectangle(out, out, size + 50, 25)]
    return block_of(pieces)


def sewn(plan: FoundationPlan) -> int:
    """How many sections."""
    return sum(section.copies for section in plan.sections)


def fits(outline: np.ndarray, room: tuple[float, float]) -> bool:
    """Whether an outline fits a room, upright or lying."""
    left, low, right, high = shapely.Polygon(outline).bounds
    size = sorted((right - left, high - low))
    return size[0] <= min(room) + 1e-6 and size[1] <= max(room) + 1e-6


def test_a_frame_is_sewn_round_a_unit_that_was_joined() -> None:
    """Three rows joined, pinned as the first patch, and eight strips round them: four sections for nine."""
    block = framed_nine_patch()
    plain, pieced = plan_foundation(block), plan_foundation(block, pieced_start="when-it-helps")
    verify(block, pieced)
    assert (sewn(plain), sewn(pieced)) == (9, 4)
    assert len(pieced.joins) == 2
    (frame,) = (section for section in pieced.sections if section.pieces[0].unit)
    assert frame.pieces[0].unit == pieced.joins[-1].result
    assert [piece.unit for piece in frame.pieces[1:]] == [None] * 8
    assert shapely.Polygon(frame.pieces[0].outline).area == 150**2


@pytest.mark.parametrize("name", ["kite-crown", "brick-ledge", "ferry-panel"])
def test_a_pieced_start_is_used_only_where_it_saves_two_sections(name: str) -> None:
    """Each pinned unit saves two sections or more; the plan can be sewn."""
    block = of_family(family(name))
    plan = plan_foundation(block, pieced_start="when-it-helps")
    verify(block, plan)
    starts = sum(section.copies for section in plan.sections if section.pieces[0].unit)
    assert sewn(plan) + 2 * starts <= sewn(plan_foundation(block))


@pytest.mark.parametrize("block", [grid(6, 6), cut_up(11, 30), of_family(family("box-in-box"))])
def test_sections_that_can_fit_a_page_do(block: Block) -> None:
    """No section is larger than the room unless one of its pieces is; without the wish some are."""
    room = (110.0, 150.0)
    plan = plan_foundation(block, prefer="fits-page", room_mm=room)
    verify(block, plan)
    for section in plan.sections:
        assert fits(section.outline, room) or not all(fits(p.outline, room) for p in section.pieces)
    assert not all(fits(section.outline, room) for section in plan_foundation(block).sections)


def test_a_section_is_not_split_where_that_does_not_help() -> None:
    """A cabin whose outermost log is longer than the page stays one section."""
    plan = plan_foundation(log_cabin(), prefer="fits-page", room_mm=(100, 100))
    assert sewn(plan) == 1


def test_where_everything_fits_the_fewest_sections_are_taken() -> None:
    """A page larger than the block changes nothing."""
    block = cut_up(3, 24)
    plan = plan_foundation(block, prefer="fits-page", room_mm=(500, 500))
    assert plan.proof == plan_foundation(block).proof
