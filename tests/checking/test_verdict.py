"""The verdict on one length keeps its word."""

import numpy as np
import pytest

from seamsurvey.check_model import CANT_TELL, OFF, RIGHT
from seamsurvey.checking.verdict import guard_mm, verdict_on, what_to_change
from seamsurvey.plane import ACROSS


def test_the_guard_band_is_the_normal_quantile() -> None:
    """At a risk of 5 % the band is 1.645 standard uncertainties (any table of the normal distribution)."""
    assert guard_mm(2.0, 0.05) == pytest.approx(1.6449, abs=1e-4)
    assert guard_mm(2.0, 0.025) == pytest.approx(1.9600, abs=1e-4)


@pytest.mark.parametrize(
    ("off", "u", "said"),
    [
        (0.0, 0.2, RIGHT),
        (-0.2, 0.2, RIGHT),
        (0.3, 0.2, CANT_TELL),
        (0.5, 0.2, CANT_TELL),
        (-0.7, 0.2, OFF),
        (0.0, 0.6, CANT_TELL),
        (1.5, 0.6, OFF),
    ],
)
def test_what_lies_in_the_guard_band_is_not_told(off: float, u: float, said: str) -> None:
    """With a tolerance of 0.4 mm: inside by the band is right, outside by it is off, between nothing is said."""
    assert verdict_on(off, u, tolerance_mm=0.4, risk=0.05) == said


@pytest.mark.parametrize("u", [0.1, 0.3, 0.45])
def test_no_length_at_the_limit_is_called_right_more_often_than_the_risk(u: float) -> None:
    """Lengths just out of tolerance are called right in at most 5 % of 40 000 measurements."""
    rng = np.random.default_rng(8)
    seen = 0.4 + rng.normal(0, u / 2, 40_000)
    right = np.mean([verdict_on(off, u, tolerance_mm=0.4, risk=0.05) == RIGHT for off in seen])
    assert right <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 40_000)


def test_what_to_change_names_the_largest_term() -> None:
    """A wide uncertainty names its cause and a cure; a narrow one names the limit."""
    assert "second ruler" in what_to_change(ACROSS, 0.6, tolerance_mm=0.4, risk=0.05)
    assert "limit" in what_to_change(ACROSS, 0.1, tolerance_mm=0.4, risk=0.05)
