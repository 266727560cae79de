"""job.toml, the person's own file."""

import tomllib

import pytest

from seamsurvey.errors import InputError
from seamsurvey.job.wishes_file import merged, read_wishes, write_wishes
from seamsurvey.model import Count, Wishes

FULL = Wishes(
    title='A "star" of ours',
    units="inch",
    ruler="cm",
    ruler_length_mm=300.1,
    thickness_mm=0.5,
    allowance_mm=6.35,
    counts={"T1": Count(4), "T2": Count(4, 2)},
    symmetry="quarter-turn",
    finish_mm=406.4,
    layout=2,
    paper="a4",
    blocks=12,
    prefer="fits-page",
    pieced_start="when-it-helps",
    cure="partial",
    never_cut=("T1", "T2-3"),
    colours={"T1": "#4477aa"},
)


@pytest.mark.parametrize("wishes", [FULL, Wishes(), Wishes(allowance_mm=0.0)])
def test_what_is_written_is_read_back(wishes: Wishes) -> None:
    """The first job.toml means exactly what was asked for."""
    assert merged(read_wishes(write_wishes(wishes))) == wishes


def test_lengths_are_read_as_people_write_them() -> None:
    """A person edits in inches and fractions."""
    wishes = read_wishes(b'allowance = "1/4in"\nfinish = "16 in"\n[counts]\nT1 = 8\nT2 = "4+4"\n')
    assert wishes == {"allowance_mm": 6.35, "finish_mm": 406.4, "counts": {"T1": Count(8), "T2": Count(4, 4)}}


def test_every_mistake_is_told_at_once() -> None:
    """Four wrong lines make one error that names all four."""
    with pytest.raises(InputError) as caught:
        read_wishes(b'allowence = "none"\nfinish = "16"\npaper = "a5"\nblocks = 0\n')
    assert caught.value.code == "job-toml"
    for word in ("allowence", "16", "a5", "blocks"):
        assert word in caught.value.what


def test_a_file_that_is_not_toml_is_refused_with_its_line() -> None:
    """The parser's own line number reaches the person."""
    with pytest.raises(InputError) as caught:
        read_wishes(b'title = "ours"\npaper = letter\n')
    assert "line 2" in caught.value.what


def test_the_command_line_comes_before_the_file() -> None:
    """A later layer wins field by field; counts are merged template by template."""
    wishes = merged({"paper": "a4", "counts": {"T1": Count(1), "T2": Count(2)}}, {"counts": {"T2": Count(3)}})
    assert wishes.paper == "a4"
    assert wishes.counts == {"T1": Count(1), "T2": Count(3)}


def test_the_first_file_explains_itself() -> None:
    """A new job.toml is valid TOML with comments that say what may be added."""
    text = write_wishes(Wishes()).decode()
    assert tomllib.loads(text)["paper"] == "letter"
    assert "# " in text


@pytest.mark.parametrize("said", ["-1", '"4+"', '"four"', '"2+-1"'])
def test_a_count_that_is_none_is_refused(said: str) -> None:
    """A negative, half-written or spelled-out count is a mistake of the file, never a count."""
    with pytest.raises(InputError) as caught:
        read_wishes(f"[counts]\nT1 = {said}\n".encode())
    assert "counts" in caught.value.what
