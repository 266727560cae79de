"""What is said of a layout, for every outcome of a search."""

import pytest

from seamsurvey.claims import layout_claim
from seamsurvey.model import LayoutProof


@pytest.mark.parametrize("searched_all", [True, False])
@pytest.mark.parametrize("found", [1, 2, 7])
@pytest.mark.parametrize("number", [1, 2])
def test_only_is_said_only_where_it_is_proved(searched_all: bool, found: int, number: int) -> None:
    """The only one: a whole search found one. No others: a whole search. Else the number is a lower bound."""
    said = layout_claim(LayoutProof(searched_all, found, 12.0), min(number, found))
    assert ("only" in said) == (searched_all and found == 1)
    assert ("no others" in said) == (searched_all and found > 1)
    assert ("in 12 s" in said) == (not searched_all)
    assert ("at least" in said or "others may fit" in said) == (not searched_all)
    if found > 1:
        assert str(found) in said
        assert ("likeliest of" in said) == (number == 1)


def test_nothing_is_claimed_of_a_block_nobody_searched_for() -> None:
    """A block drawn elsewhere has no claim."""
    assert layout_claim(LayoutProof(searched_all=False, layouts_found=0)) == ""
