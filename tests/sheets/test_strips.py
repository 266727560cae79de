"""Strips and what to buy of a fabric, against worked examples, lower bounds and a count by hand."""

import math
from collections import Counter

import numpy as np
import pytest

from seamsurvey.sheets.needs import Widths, fat_quarters, sold_text, to_buy
from seamsurvey.sheets.strips import Cut, on_strips

INCH = 25.4
USABLE = 40 * INCH


def square(count: int, side_in: float) -> Cut:
    """So many squares."""
    return Cut(count, (side_in * INCH, side_in * INCH))


# Worked examples of a guild (a stored copy). 80 squares of 2 1/2 in on 40 in: 16 a strip, 5 strips, 12 1/2 in;
# with 6 % for shrinkage 13 1/4 in, 3/8 yd. 56 squares of 6 1/2 in on 42 in: 65 in, 1 7/8 yd.
def test_strips_and_yardage_of_worked_examples() -> None:
    """Strips, their length and the fabric to buy are as published."""
    small, large = on_strips([square(80, 2.5)], USABLE), on_strips([square(56, 6.5)], 42 * INCH)
    assert small.number == 5
    assert small.length_mm == pytest.approx(12.5 * INCH)
    assert sold_text(to_buy(small.length_mm, 0.06, "inch"), "inch") == "3/8 yd"
    assert large.number == 10
    assert large.length_mm == pytest.approx(65 * INCH)
    assert sold_text(to_buy(large.length_mm, 0.0, "inch"), "inch") == "1 7/8 yd"


def test_the_bare_need_is_never_bought() -> None:
    """18.0 in of strips is not half a yard, with or without a wished reserve."""
    assert sold_text(to_buy(18 * INCH, 0.10, "inch"), "inch") == "5/8 yd"
    assert sold_text(to_buy(18 * INCH, 0.0, "inch"), "inch") == "5/8 yd"
    assert sold_text(to_buy(500.0, 0.0, "mm"), "mm") == "60 cm"


@pytest.mark.parametrize("seed", range(60))
def test_strips_hold_every_cut_and_come_near_the_lower_bound(seed: int) -> None:
    """No strip is overfull, every cut is on some; never less than area over width, nor more than cut by cut."""
    rng = np.random.default_rng([7, seed])
    cuts = [
        Cut(int(rng.integers(1, 60)), (float(rng.choice([40, 65, 90, 115])), float(rng.uniform(30, 200))))
        for _ in range(int(rng.integers(1, 9)))
    ]
    plan = on_strips(cuts, USABLE)
    held: Counter[int] = Counter()
    for strip in plan.strips:
        along = sum(number * (sum(cuts[k].sides) - strip.high_mm) for k, number in strip.holds)
        assert along <= USABLE + 1e-3
        for k, number in strip.holds:
            assert strip.high_mm == pytest.approx(
                min(cuts[k].sides, key=lambda s: abs(s - strip.high_mm)), abs=1e-3
            )
            held[k] += number * strip.number
    assert held == {k: cut.count for k, cut in enumerate(cuts)}
    area = sum(cut.count * math.prod(cut.sides) for cut in cuts)
    bound = area / USABLE
    assert bound <= plan.length_mm + 1e-6
    one_way = [_alone(cut, min(cut.sides)) for cut in cuts]
    assert plan.length_mm <= sum(one_way) + 1e-3


def _alone(cut: Cut, high: float) -> float:
    """The length a cut takes on strips of its own."""
    along = sum(cut.sides) - high
    return math.ceil(cut.count / math.floor(USABLE / along + 1e-9)) * high


def test_patches_of_one_height_share_strips() -> None:
    """Three patches 3 in high that fill a third of a strip each take one strip, not three."""
    plan = on_strips(
        [Cut(1, (12 * INCH, 3 * INCH)), Cut(1, (11 * INCH, 3 * INCH)), Cut(4, (3 * INCH, 3 * INCH))], USABLE
    )
    assert plan.number == 1
    assert plan.length_mm == pytest.approx(3 * INCH)


def test_a_patch_wider_than_the_fabric_runs_down_its_length() -> None:
    """A patch longer than the usable width lies along the fabric instead."""
    assert on_strips([Cut(3, (1500.0, 200.0))], 1020.0).length_mm == pytest.approx(1500.0)
    assert on_strips([Cut(6, (1500.0, 200.0))], 1020.0).length_mm == pytest.approx(3000.0)


def test_fat_quarters_counted_by_hand() -> None:
    """On 20 × 18 in, 16.36 in with the reserve, are 5 strips of 3 in with 6 squares each; 31 squares need two."""
    widths = Widths.usual("inch")
    assert fat_quarters([square(30, 3)], widths) == 1
    assert fat_quarters([square(31, 3)], widths) == 2
    assert fat_quarters([square(1, 17)], widths) is None
    assert fat_quarters([Cut(1, (21 * INCH, 3 * INCH))], widths) is None
