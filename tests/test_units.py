"""Lengths as people read and write them."""

import math
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamsurvey import units
from seamsurvey.errors import UsageError
from seamsurvey.units import Worded, doubt_text, fitting_unit, length_words, parse_length


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("16in", 406.4),
        ("5 1/2 in", 139.7),
        ('2.125"', 53.975),
        ("2½ in", 63.5),
        ("1/4in", 6.35),
        ("¼″", 6.35),
        ("6 mm", 6.0),
        ("1.5cm", 15.0),
        (".5 in", 12.7),
        ("3-3/8 inches", 85.725),
    ],
)
def test_lengths_are_read_as_people_write_them(text: str, expected: float) -> None:
    """Every notation the documentation promises is read as the millimetres it means."""
    assert units.parse_length(text) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("text", ["", "six", "4", "1/0 in", "-3 mm", "2 ells", "1e3mm", "nan mm", "5 1/2"])
def test_what_is_no_length_is_refused(text: str) -> None:
    """A text without a unit, with an unknown one, or with no positive number is refused, never guessed."""
    with pytest.raises(UsageError) as caught:
        units.parse_length(text)
    assert caught.value.code == "length-unreadable"


@given(st.integers(min_value=1, max_value=64 * 40))
def test_a_fraction_that_is_written_is_read_back(sixty_fourths: int) -> None:
    """Writing a length as a fraction and reading it again gives the same length."""
    length = sixty_fourths * units.INCH / 64
    assert units.parse_length(units.fraction_text(length, 64)) == pytest.approx(length, rel=1e-12)


def test_the_inch_is_exact() -> None:
    """One inch is 25.4 mm (NBS Circular 572, addendum 1960); 1/64 in is 0.397 mm (facts of the trade)."""
    assert units.INCH == 25.4
    assert round(units.INCH / 64, 3) == 0.397


def test_paper_sizes_follow_the_standards() -> None:
    """A4 is 210 × 297 mm (ISO 216), Letter 215.9 × 279.4 mm (ANSI/ASME Y14.1)."""
    assert units.PAPERS["a4"] == (210, 297)
    assert units.PAPERS["letter"] == pytest.approx((215.9, 279.4), abs=1e-12)
    assert math.isclose(units.PAPERS["a4"][1] / units.PAPERS["a4"][0], math.sqrt(2), rel_tol=1e-3)


def test_the_pdf_unit_is_a_72nd_of_an_inch() -> None:
    """The default PDF unit is 1/72 in (ISO 32000-1, 8.3.2.3)."""
    assert math.isclose(72 * units.POINT, units.INCH, rel_tol=1e-15)


def test_quarter_inch_divisions_of_a_sixteen_inch_block() -> None:
    """Common practice, no source: sides 2 1/2 + 5 1/2 in make 8 in, twice that is 64 quarter inches."""
    quarter = units.parse_length("2 1/2 in") + units.parse_length("5 1/2 in")
    assert units.fraction_text(quarter) == "8 in"
    assert units.fraction_text(2 * quarter) == "16 in"
    assert 2 * quarter / units.parse_length("1/4 in") == 64


@pytest.mark.parametrize(
    ("length", "system", "tolerance", "text", "off"),
    [
        (63.52, "inch", 0.1, "2 1/2 in", -0.02),
        (25.4 * 2.1875, "inch", 0.1, "2 3/16 in", 0.0),
        (25.4 * 2.2, "inch", 0.1, "2 3/16 in", -0.3175),
        (63.52, "mm", 0.1, "63.5 mm", -0.02),
        (63.04, "mm", 0.1, "63 mm", -0.04),
    ],
)
def test_the_nearest_name_comes_with_its_distance(
    length: float, system: str, tolerance: float, text: str, off: float
) -> None:
    """The simplest name within the tolerance is chosen, and an odd length (2 1/5 in) shows how far off it is."""
    found, distance = units.nearest(length, system, tolerance)
    assert found == text
    assert distance == pytest.approx(off, abs=1e-9)


def test_rounding_up_never_rounds_down_nor_a_step_too_far() -> None:
    """A length already on the step stays, anything over it goes to the next."""
    assert units.round_up(25.4, 25.4 / 8) == pytest.approx(25.4)
    assert units.round_up(25.41, 25.4 / 8) == pytest.approx(25.4 * 9 / 8)


@given(
    steps=st.lists(st.integers(8, 200), min_size=3, max_size=12),
    offs=st.lists(st.floats(-0.15, 0.15), min_size=12, max_size=12),
    unit=st.sampled_from(["inch", "mm"]),
    usual=st.sampled_from(["inch", "mm"]),
)
def test_lengths_are_known_by_the_grid_they_were_cut_on(
    steps: list[int], offs: list[float], unit: str, usual: str
) -> None:
    """Edges cut to sixteenths or millimetres and measured to 0.15 mm never speak against their own grid.

    Where they lie on both grids as well, or too few tell, the usual unit is taken; the other grid is not.
    """
    step = 25.4 / 16 if unit == "inch" else 1.0
    lengths = [count * step + 0.5 * off for count, off in zip(steps, offs, strict=False)]
    assert fitting_unit(lengths, [0.3] * len(lengths), unit) == unit
    assert fitting_unit(lengths, [0.3] * len(lengths), usual) in (unit, usual)


@pytest.mark.parametrize(
    ("lengths", "usual", "unit"),
    [
        ([2.5 * 25.4, 3.75 * 25.4, 1.125 * 25.4, 4.625 * 25.4, 71.8], "mm", "inch"),
        ([50.0, 35.0, 85.0, 120.0, 63.0, 71.8], "inch", "mm"),
        ([], "mm", "mm"),
        ([127.0, 254.0], "inch", "inch"),
        ([127.0, 254.0], "mm", "mm"),
        ([71.84, 43.21], "inch", "inch"),
    ],
)
def test_the_unit_follows_the_lengths_and_never_the_paper(lengths: list[float], usual: str, unit: str) -> None:
    """Inch templates by a centimetre ruler, metric ones by an inch ruler, none, and such as tell nothing."""
    assert fitting_unit(lengths, [0.1] * len(lengths), usual) == unit


@pytest.mark.parametrize("text", ["1/4in", " 5 1/2 in", "6 mm", "1.5cm"])
def test_a_length_remembers_its_words(text: str) -> None:
    """Said lengths are the lengths they say, are written as they were said, and survive another process."""
    said = Worded(text)
    assert said == parse_length(text)
    assert length_words(said) == text.strip()
    assert pickle.loads(pickle.dumps(said)).words == text.strip()  # noqa: S301 (our own)


@given(st.floats(0.01, 2000.0))
def test_no_length_loses_anything_in_words(length: float) -> None:
    """Whatever the length, reading its words back gives it again."""
    assert parse_length(length_words(length)) == pytest.approx(length, rel=1e-12)


@given(st.floats(1e-6, 50.0))
def test_a_doubt_is_never_told_smaller_than_it_is(u: float) -> None:
    """What stands behind a ± is at least the doubt, and hardly more."""
    assert u <= parse_length(doubt_text(u)) + 1e-9 < u + 0.1 + 1e-6
    assert u <= parse_length(doubt_text(u, "inch")) + 1e-9 < u + 25.4 / 64 + 1e-6
