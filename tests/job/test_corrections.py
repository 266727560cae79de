"""What a person corrects, read from job.toml."""

import pytest

from seamsurvey.errors import InputError
from seamsurvey.job.answers import first_file
from seamsurvey.job.corrections import drawn_value, parse_drawn, plain_corrections, read_drawn
from seamsurvey.job.wishes_file import merged, read_wishes
from seamsurvey.model import Correction, Corrections, SetCorner, SetLength
from seamsurvey.wishes import DrawnCard

INCH = 25.4

WHOLE = b"""
merge = [["T1", "T4"], ["T2", "T6", "T7"]]
split = ["T2b"]

[templates.T3]
name = "kite"
corners = { 2 = [1234.5, 567], 3 = [10, 20, 5.0] }
edges = { 1 = "2 1/4 in", 2 = "40 mm \xc2\xb1 0.3 mm" }
allowance = { 3 = "none", 4 = "1/4in" }

[templates.T5]
exclude = true

[templates.T8]
allowance = "6 mm"
"""


def test_every_kind_of_correction_is_read() -> None:
    """Names, places, lengths with their doubt, margins: each lands where the templates room looks for it."""
    said = merged(read_wishes(WHOLE)).corrections
    assert said == Corrections(
        templates={
            "T3": Correction(
                name="kite",
                corners={2: SetCorner(1234.5, 567.0, 2.0), 3: SetCorner(10.0, 20.0, 5.0)},
                edges={1: SetLength(2.25 * INCH, 0.1), 2: SetLength(40.0, 0.3)},
                allowances_mm={3: 0.0, 4: INCH / 4},
            ),
            "T5": Correction(exclude=True),
            "T8": Correction(allowance_mm=6.0),
        },
        merge=(("T1", "T4"), ("T2", "T6", "T7")),
        split=("T2b",),
    )


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('merge = ["T1", "T2"]', "merge: expected lists of two names"),
        ('[templates.T1]\ncolour = "red"', "templates: T1: “colour” is not one of name, exclude"),
        ("[templates.T1]\nedges = { 0 = '2in' }", "T1: edges: “0” is not the number"),
        ("[templates.T1]\nedges = { 2 = 'long' }", "T1: edges: 2:"),
        ("[templates.T1]\nedges = { 2 = 40 }", "expected a length in quotes"),
        ("[templates.T1]\nedges = { 2 = '-2in' }", "T1: edges: 2:"),
        ("[templates.T1]\ncorners = { 1 = [3] }", "expected a place in pixels"),
        ("[templates.T1]\ncorners = { 1 = [3, 4, 0] }", "more than nothing"),
        ("[templates.T1]\nexclude = 'yes'", "expected true or false"),
        ("[templates.T1]\nname = ' '", "expected a name in quotes"),
        ("[templates.T1]\nallowance = 6", "templates: T1: allowance: expected a table"),
        ("templates = 3", "templates: expected a table"),
    ],
)
def test_a_mistake_is_told_with_its_place(line: str, told: str) -> None:
    """Whatever can't be understood names the template, the key, and what was expected."""
    with pytest.raises(InputError) as caught:
        read_wishes(line.encode())
    assert caught.value.code == "job-toml"
    assert told in caught.value.what


def test_a_first_job_toml_tells_how_to_correct() -> None:
    """The file that the first run writes names the tables in a comment, and still reads as no correction."""
    text = first_file()
    assert b"# T3.edges.1 = " in text
    assert not merged(read_wishes(text)).corrections


def test_a_drawn_card_is_read_from_the_file_and_from_the_command_line_alike() -> None:
    """Corners with their ± or without, a name with spaces; what is written down is read back as it was."""
    typed = parse_drawn("my scan.jpg 310,420.5 800,420 800,900 -3,2")
    assert typed.photo == "my scan.jpg"
    assert typed.corners[0] == SetCorner(310.0, 420.5)
    assert typed.corners[3] == SetCorner(-3.0, 2.0)
    said = (typed, DrawnCard("b.png", (SetCorner(1, 2), SetCorner(9, 2, 6.0), SetCorner(5, 8))))
    assert read_drawn(drawn_value(said)) == said


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ([{"photo": "a.jpg", "corners": [[1, 2], [3, 4]]}], "1: corners: expected three or more"),
        ([{"photo": "a.jpg", "corners": [[1, 2], [3, 4], [5]]}], "1: corners: expected a place"),
        ([{"corners": [[1, 2], [3, 4], [5, 6]]}], "1: photo: expected"),
        ([{"photo": "a.jpg", "corner": []}], "did you mean “corners”"),
        ("a.jpg", "expected tables"),
    ],
)
def test_a_drawn_card_that_is_none_is_told_where_it_is_wrong(value: object, words: str) -> None:
    """Each mistake is told with its place."""
    with pytest.raises(ValueError, match=words):
        read_drawn(value)


def test_things_confirmed_and_drawn_bear_on_the_measurement_and_others_leave_its_key() -> None:
    """The key of a job that says nothing of them is as it was before there were such words."""
    assert len(plain_corrections(Corrections())) == 3
    drawn = [Corrections(drawn=(parse_drawn(f"a.jpg 1,2 3,4 5,{y}"),)) for y in (6, 7)]
    said = [Corrections(), Corrections(confirmed=("a.jpg 1 2",)), *drawn]
    keys = [repr(plain_corrections(each)) for each in said]
    assert len(set(keys)) == 4
