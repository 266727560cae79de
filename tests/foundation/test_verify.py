"""The verifier finds plans that can't be sewn."""

from collections.abc import Callable

import attrs
import pytest

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block, FoundationPlan, Place, Section
from tests.foundation.blocks import eight_pointed_star_halved, log_cabin, whirl_of_five
from tests.foundation.verify import verify


def with_first(plan: FoundationPlan, change: Callable[[Section], Section]) -> FoundationPlan:
    """The plan with its first section changed."""
    return attrs.evolve(plan, sections=(change(plan.sections[0]), *plan.sections[1:]))


def last_two_swapped(section: Section) -> Section:
    """Sewn in another order under the same labels."""
    *rest, a, b = section.pieces
    return attrs.evolve(section, pieces=(*rest, attrs.evolve(b, label=a.label), attrs.evolve(a, label=b.label)))


def last_left_out(section: Section) -> Section:
    """A piece short."""
    return attrs.evolve(section, pieces=section.pieces[:-1])


def last_place_off(section: Section) -> Section:
    """One copy a tenth of a millimetre off."""
    *rest, last = section.places
    x, y = last.shift_mm
    return attrs.evolve(section, places=(*rest, Place(last.name, last.turn_deg, (x + 0.1, y))))


@pytest.mark.parametrize(
    ("block", "change"),
    [
        (log_cabin(), last_two_swapped),
        (log_cabin(), last_left_out),
        (eight_pointed_star_halved(), last_place_off),
    ],
)
def test_a_spoiled_section_is_found(block: Block, change: Callable[[Section], Section]) -> None:
    """A wrong order, a missing piece and a copy off its place each fail."""
    plan = plan_foundation(block)
    verify(block, plan)
    with pytest.raises(AssertionError):
        verify(block, with_first(plan, change))


def test_joins_out_of_order_are_found() -> None:
    """Two joins changed about can't be sewn as they say."""
    block = eight_pointed_star_halved()
    plan = plan_foundation(block)
    first, second, *rest = plan.joins
    swapped = (attrs.evolve(second, step=1, start=first.start), attrs.evolve(first, step=2), *rest)
    with pytest.raises(AssertionError):
        verify(block, attrs.evolve(plan, joins=swapped))


def test_a_set_in_seam_that_is_not_declared_is_found() -> None:
    """A bent join called straight fails, and so does one without advice."""
    block = whirl_of_five()
    plan = plan_foundation(block, cure="set-in")
    (join,) = plan.joins
    with pytest.raises(AssertionError):
        verify(block, attrs.evolve(plan, advice=()))
    with pytest.raises(AssertionError):
        verify(block, attrs.evolve(plan, joins=(attrs.evolve(join, kind="straight", corners=()),), advice=()))
