"""What is said of a block whose size is hardly known."""

import pytest

from seamsurvey.block.doubts import size_doubt


def test_a_size_known_to_less_than_an_eighth_of_an_inch_is_told_with_what_it_may_be() -> None:
    """300 mm to ± 7.5 mm may be 12 in; to ± 4 mm it is no whole inch; to ± 3.1 mm nothing need be said."""
    (wide,) = size_doubt(300.0, 7.5)
    assert "12 in (304.8 mm)" in wide
    assert "(12in, say)" in wide
    (near,) = size_doubt(300.0, 4.0)
    assert "300.0 mm, is known to ± 4.0 mm only. Say its finished size, --finish, if you know it;" in near
    assert size_doubt(300.0, 3.1) == ()


@pytest.mark.parametrize(
    ("width_mm", "other"), [(304.8, None), (317.0, "12 in"), (299.0, "12 in"), (285.0, "11 in")]
)
def test_the_whole_inches_nearest_to_it_are_named_but_not_its_own(width_mm: float, other: str | None) -> None:
    """To ± 15 mm 12 in may be itself alone, and between two the nearer is named."""
    (said,) = size_doubt(width_mm, 15.0)
    assert (f" {other} (" in said) if other else ("fits what was measured" not in said)
