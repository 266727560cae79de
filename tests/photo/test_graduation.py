"""Graduations are told by the lengths of their marks, and not told when the lengths don't tell."""

import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.photo.graduation import GRADUATIONS, Graduation, is_sure, read_graduation


def _lengths(graduation: Graduation, index: NDArray[np.intp], phase: int) -> NDArray[np.float64]:
    """Falling lengths by level, from the shortest up a quarter longer each; px."""
    count = len(graduation.levels)
    level = np.array([next(k for k, n in enumerate(graduation.levels) if (i - phase) % n == 0) for i in index])
    return np.asarray(20.0 * 1.3 ** (count - 1.0 - level))


@pytest.mark.parametrize("graduation", GRADUATIONS, ids=lambda g: g.text)
@pytest.mark.parametrize("worn", [0.0, 0.12])
def test_each_graduation_is_read_as_itself(graduation: Graduation, worn: float) -> None:
    """From any starting mark, with noise, its levels are found; with an eighth of the marks worn, mostly so.

    Where wear leaves it unsure that is said; it is never surely another one.
    """
    sure = 0
    for seed in range(12):
        rng = np.random.default_rng(seed)
        index = np.arange(max(6 * graduation.per_unit, 80) + 5)
        phase = int(rng.integers(graduation.per_unit))
        lengths = _lengths(graduation, index, phase) + rng.normal(0, 0.6, len(index))
        lengths[rng.random(len(index)) < worn] *= 0.6
        readings = read_graduation(index, lengths, 10.0)
        if is_sure(readings):
            sure += 1
            assert graduation in [reading.graduation for reading in readings]
            assert {reading.phase for reading in readings} == {phase}
    assert sure >= (8 if worn else 12)


def test_equal_or_random_lengths_have_no_reading() -> None:
    """A fence, a barcode and a row of letters are no ruler."""
    index = np.arange(120)
    for seed in range(15):
        rng = np.random.default_rng(seed)
        assert read_graduation(index, 30 + rng.normal(0, 0.7, 120), 10.0) == []
        assert read_graduation(index, rng.uniform(10, 60, 120), 10.0) == []
        assert read_graduation(index, rng.choice([20.0, 40.0], 120), 10.0) == []


def test_less_than_two_units_are_too_few() -> None:
    """Fifteen millimetre marks, however clean, show their hierarchy once and not twice."""
    index = np.arange(16)
    assert read_graduation(index, _lengths(GRADUATIONS[0], index, 3), 10.0) == []


def test_broken_inch_marks_do_not_make_thirtyseconds() -> None:
    """Sixteenths whose inch marks are broken by chance are never surely eighths or thirty-seconds."""
    sixteenths = next(g for g in GRADUATIONS if g.text == "inch, 1/16")
    index = np.arange(186)
    for seed in range(40):
        rng = np.random.default_rng(seed)
        lengths = _lengths(sixteenths, index, 10) + rng.normal(0, 0.6, len(index))
        broken = ((index - 10) % 16 == 0) & (rng.random(len(index)) < 0.5)
        lengths[broken] *= rng.uniform(0.5, 1.0, int(broken.sum()))
        readings = read_graduation(index, lengths, 9.0)
        assert not is_sure(readings) or readings[0].graduation == sixteenths


def test_the_lengths_a_wooden_ruler_showed_do_not_make_thirtyseconds() -> None:
    """Inch marks as found on a scanned wooden ruler, every other one cut short by its figure, stay sixteenths."""
    sixteenths = next(g for g in GRADUATIONS if g.text == "inch, 1/16")
    index = np.arange(186)
    lengths = np.array([10.0, 16.0, 28.0, 28.0, 45.0])[
        [next(4 - k for k, n in enumerate((16, 8, 4, 2, 1)) if (i - 10) % n == 0) for i in index]
    ] + np.random.default_rng(0).normal(0, 0.7, len(index))
    lengths[10::16] = [45, 36, 43, 34, 46, 41, 32, 45, 46, 23, 45]
    readings = read_graduation(index, lengths, 9.36)
    assert not is_sure(readings) or readings[0].graduation == sixteenths
    assert sixteenths in [reading.graduation for reading in readings]


def test_a_tenth_is_an_inchs_or_a_centimetres_by_the_marks_length() -> None:
    """Tenths leave both units open, and shorter marks for their step speak for the inch."""
    index = np.arange(61)
    lengths = _lengths(GRADUATIONS[0], index, 0)  # the shortest 20 px
    for step, likelier in ((7.0, "cm"), (17.0, "inch")):
        readings = read_graduation(index, lengths, step)
        assert {reading.graduation.unit for reading in readings} == {"cm", "inch"}
        best = max(readings, key=lambda reading: reading.credence)
        assert best.graduation.unit == likelier
