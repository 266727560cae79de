"""What a person corrects, read from job.toml."""

import pytest

from seamsurvey.errors import InputError
from seamsurvey.job.answers import first_file
from seamsurvey.job.wishes_file import merged, read_wishes
from seamsurvey.model import Correction, Corrections, SetCorner, SetLength

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
