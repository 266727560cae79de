"""The phrases that stand on templates, and what they mean; what is not quite a phrase means nothing."""

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from seamsurvey.model import Count
from seamsurvey.templates.labels import ALLOWANCE, COUNT, INCLUDED, NAME, Label, label_of, plainly
from seamsurvey.units import INCH

COUNTS = {
    "cut 4": Count(4),
    "Cut4": Count(4),
    "CUT 12": Count(12),
    "make 8": Count(8),
    "cut 6 pcs.": Count(6),
    "cut l": Count(1),
    "4 + 4R": Count(4, 4),
    "cut 1 + 1 R": Count(1, 1),
    "cut 4 & 2 rev.": Count(4, 2),
    "cut 4, cut 4 reversed": Count(4, 4),
    "cut 4 cut 2 reversed": Count(4, 2),
    "4 and 4 reversed": Count(4, 4),
    "cut 2 rev.": Count(0, 2),
    "cut 8 R": Count(0, 8),
    "cut 2 mirrored": Count(0, 2),
}
DOUBTFUL_COUNTS = {
    "cut 7": Count(7),  # or a 1 with a long flag
    "cut 17": Count(17),
    "cut 48": Count(48),  # a whole quilt's
    "4R": Count(0, 4),  # or the name of template 4, reversed
    "4 + 4": None,
    "cut 2 of each colour": None,
    "cut 4 dark": None,
    "cut 0": None,
    "cut ll": None,
    "cut 4 per quilt": None,
    "cut": None,
}
ALLOWANCES = {
    "1/4 in seam included": INCH / 4,
    "\u00bc in. seam allowance included": INCH / 4,
    '1/4" seam included': INCH / 4,
    "1/4\u2033 s.a. incl.": INCH / 4,
    "includes 1/4 inch seam": INCH / 4,
    "with 3/16 in seam allowance": INCH * 3 / 16,
    "seam allowance of 1/8 in included": INCH / 8,
    "6 mm seam included": 6.0,
    "0,75 cm seam incl.": 7.5,
    "seam allowance included": INCLUDED,
    "with seam": INCLUDED,
    "add seam": 0.0,
    'add 1/4" seam': 0.0,
    "add 6 mm": 0.0,
    "finished size": 0.0,
    "no seam allowance": 0.0,
    "seams not included": 0.0,
}
DOUBTFUL_ALLOWANCES = (
    "1/4 in seam",
    "1/14 in seam included",
    "14 in seam included",
    "1 1/4 in seam included",
    "/4 in seam included",
    "3/4 in seam included",
    "seam nol included",
    "finished size 3 in",
)
NAMES = {"A": "A", "c": "C", "\u201cC\u201d": "C", "B2": "B2", "AA": "AA", "AR": "AR", "2B": "2B", "D.": "D",
         "AI": "A1", "BZ": "B2", "No. 3": "3", "#12": "12", "Template K": "K", "piece 4": "4"}  # fmt: skip


@pytest.mark.parametrize("text", COUNTS)
def test_phrases_of_counts(text: str) -> None:
    """A count is read with what is reversed told apart, and is to be relied on."""
    assert label_of([text]) == Label(count=COUNTS[text], lines={COUNT: (0,)})


@pytest.mark.parametrize("text", DOUBTFUL_COUNTS)
def test_a_count_that_may_mean_something_else_is_unclear(text: str) -> None:
    """What says more than a number, or a number that others write otherwise, is never relied on."""
    label = label_of([text])
    assert label.count == DOUBTFUL_COUNTS[text]
    assert label.unclear == {COUNT}


@pytest.mark.parametrize("text", ALLOWANCES)
def test_phrases_of_allowances(text: str) -> None:
    """What is included is the allowance; what is to be added means finished size."""
    label = label_of([text])
    assert label.value(ALLOWANCE) == pytest.approx(ALLOWANCES[text])
    assert not label.unclear


@pytest.mark.parametrize("text", DOUBTFUL_ALLOWANCES)
def test_an_allowance_that_is_not_quite_said_is_unclear(text: str) -> None:
    """A figure that nobody uses, or words left over, give no allowance."""
    label = label_of([text])
    assert label.value(ALLOWANCE) is None
    assert label.unclear == {ALLOWANCE}


@pytest.mark.parametrize("text", NAMES)
def test_names(text: str) -> None:
    """A name is a letter, doubled or with a figure, or a figure with a letter."""
    assert label_of([text]) == Label(name=NAMES[text], lines={NAME: (0,)})


@pytest.mark.parametrize("text", ["4", "12", "kite", "best weight", "per dry toasted", "TO", "", "---"])
def test_other_lines_mean_nothing(text: str) -> None:
    """A figure alone, a word, print: neither a name nor a count."""
    assert label_of([text]) == Label()


def test_lines_of_one_card_go_together() -> None:
    """Phrases over several lines are one, and each kind knows its lines."""
    label = label_of(["B", "cut 4", "cut 4 reversed", "1/4 in seam", "included", "grain"])
    assert (label.name, label.count, label.allowance_mm) == ("B", Count(4, 4), INCH / 4)
    assert label.lines == {NAME: (0,), COUNT: (1, 2), ALLOWANCE: (3, 4)}
    assert label_of(["seam allowance", "not included"]).allowance_mm == 0
    assert label_of(["cut 2", "rev."]).count == Count(0, 2)
    assert label_of(["cut 4", "+ 4R"]).count == label_of(["cut 4 +", "4R"]).count == Count(4, 4)
    assert label_of(["cut 4", "+ 4"]).unclear == {COUNT}
    assert label_of(["A: cut 4 + 4R"]) == Label(name="A", count=Count(4, 4), lines={NAME: (0,), COUNT: (0,)})
    assert label_of(["A", "B"]).unclear == label_of(["2", "B"]).unclear == {NAME}
    both = label_of(["cut 4, add 1/4 in seam"])
    assert (both.count, both.allowance_mm, both.unclear) == (Count(4), 0, frozenset())
    both = label_of(["Cut 1 + 1R 1/4 in seam included"])
    assert (both.count, both.allowance_mm) == (Count(1, 1), INCH / 4)


@given(st.integers(1, 16), st.integers(1, 16), st.sampled_from(["cut", "make"]), st.sampled_from(["R", "rev."]))
def test_every_number_means_itself(face_up: int, turned: int, verb: str, mark: str) -> None:
    """For all numbers a block may take, the phrase gives just these, with blanks or without."""
    text = f"{verb} {face_up} + {turned} {mark}"
    assert label_of([text]).count == label_of([text.replace(" ", "")]).count == Count(face_up, turned)


@given(st.text(string.ascii_lowercase, min_size=2, max_size=8))
def test_a_word_more_makes_a_count_unclear(word: str) -> None:
    """Whatever word stands behind "cut 4": the count is 4 as it was, or none is relied on."""
    label = label_of([f"cut 4 {word}"])
    assert COUNT in label.unclear or label.count in (Count(4), Count(0, 4))
    assert label.allowance_mm is None


@given(st.text(max_size=40))
def test_no_text_breaks_the_reading(text: str) -> None:
    """Any text at all gives a label; reading it plainly twice changes nothing more."""
    label_of([text, text])
    assert plainly(plainly(text)) == plainly(text)
