"""job.toml, the person's own file."""

import re
import tomllib

import attrs
import pytest

from seamsurvey.errors import InputError
from seamsurvey.job.answers import first_file, with_answers
from seamsurvey.job.setting import parse_setting
from seamsurvey.job.wish_keys import KEYS
from seamsurvey.job.wish_texts import toml_values
from seamsurvey.job.wishes_file import forgotten, merged, read_wishes
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
    seed=3,
    time_limit_s=90.0,
    paper="a4",
    blocks=12,
    prefer="fits-page",
    pieced_start="when-it-helps",
    cure="partial",
    never_cut=("T1", "T2-3"),
    colours={"T1": "#4477aa"},
)


def written(wishes: Wishes) -> bytes:
    """A first job.toml with what these wishes say other than usual."""
    usual, said = attrs.asdict(Wishes(), recurse=False), attrs.asdict(wishes, recurse=False)
    said = {name: value for name, value in said.items() if value != usual[name]}
    if "quilt" in said:
        said["quilt"] = attrs.asdict(said["quilt"])
    return with_answers(first_file(), toml_values(said), "said 2026-11-30 by a test")


@pytest.mark.parametrize("wishes", [FULL, Wishes(), Wishes(allowance_mm=0.0)])
def test_what_is_written_is_read_back(wishes: Wishes) -> None:
    """What was said on the command line, written into job.toml, means exactly that."""
    assert merged(read_wishes(written(wishes))) == wishes


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


_EXAMPLE = re.compile(r"# [\w.-]+ = ")
EXAMPLES = [(k, line) for k, line in enumerate(first_file().decode().splitlines()) if _EXAMPLE.match(line)]


def test_the_first_file_says_nothing_and_explains_every_key() -> None:
    """A new job.toml wishes for nothing; every key has an example in it, and no table stands there twice."""
    text = first_file().decode()
    assert merged(read_wishes(text.encode())) == Wishes()
    examples = {line[2:].split(" ")[0].split(".")[0] for _, line in EXAMPLES}
    assert examples | set(tomllib.loads(text)) >= set(KEYS) - {"taken"}
    headers = re.findall(r"^\[(\w+)\]", text, re.MULTILINE)
    assert sorted(headers) == sorted(set(headers)) == ["colours", "counts", "fabrics", "quilt", "templates"]


@pytest.mark.parametrize(("number", "line"), EXAMPLES, ids=[line[2:].split(" =")[0] for _, line in EXAMPLES])
def test_every_example_can_be_used_as_it_stands(number: int, line: str) -> None:
    """With the # of one line taken away the file is read, and wishes for something."""
    lines = first_file().decode().splitlines()
    lines[number] = line[2:]
    assert merged(read_wishes("\n".join(lines).encode())) != Wishes()


def test_all_examples_can_be_used_together() -> None:
    """With every # taken away at once the file is still read."""
    lines = first_file().decode().splitlines()
    for number, line in EXAMPLES:
        lines[number] = line[2:]
    wishes = merged(read_wishes("\n".join(lines).encode()))
    assert wishes.counts == {"T1": Count(4), "T2": Count(4, 2)}
    assert wishes.templates["T3"].name == "kite"


@pytest.mark.parametrize("said", ["-1", '"4+"', '"four"', '"2+-1"'])
def test_a_count_that_is_none_is_refused(said: str) -> None:
    """A negative, half-written or spelled-out count is a mistake of the file, never a count."""
    with pytest.raises(InputError) as caught:
        read_wishes(f"[counts]\nT1 = {said}\n".encode())
    assert "counts" in caught.value.what


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('title = "x"\npapre = "a4"\n', "line 2: “papre” is not a key of this file; did you mean “paper”?"),
        ("[counts]\nT1 = 4\n\nblocks = 3\n", "line 4: “blocks” stands in [counts], and belongs above the tables"),
        ("[quilt]\nacros = 3\n", "line 2: quilt: “acros” is not one of"),
        ("across = 3\n", "line 1: “across” is not a key of this file; it belongs under [quilt]"),
        ("exclude = true\n", "it belongs under [templates], behind a template's name: T3.exclude"),
        ("T1 = 4\n", "a template's name belongs under [counts], [colours], [fabrics] or [templates]"),
        ('[templates]\nT1.name = "a"\nT3.edges.1 = "2"\n', "line 3: templates: T3: edges: 1: “2” is not a length"),
        ('[templates.T3]\nname = "a"\nedgs = { 1 = "2in" }\n', "line 3: templates: T3: “edgs” is not one of"),
        ('merge = [\n  ["T1", "T2"],\n  ["T3"],\n]\n', "line 4: merge: expected lists of two names"),
        ("[counts]\nT1 = 4\n[quilt]\n[counts]\nT2 = 4\n", "line 4: [counts] stands there already"),
        ('title = "x"\npaper = a4\n', "line 2: Invalid value (at column"),
        ("blocks = -3\n", "line 1: blocks: expected a whole number from 1, not -3"),
        ('ignore = ["3", 0]\n', "line 1: ignore: expected the number of a thing in the overlay"),
    ],
)
def test_each_mistake_is_told_with_its_line_and_what_was_meant(text: str, told: str) -> None:
    """Unknown keys with the nearest, misplaced ones with their place, values with what was expected."""
    with pytest.raises(InputError) as caught:
        read_wishes(text.encode(), "job.toml")
    assert told in caught.value.what


def test_all_mistakes_are_told_in_the_order_of_their_lines() -> None:
    """Three mistakes in three tables are three lines, the first first."""
    with pytest.raises(InputError) as caught:
        read_wishes(b'blocks = 0\n[counts]\nT1 = "x"\nT2 = 4\nT3 = "y"\n[quilt]\nsetting = "odd"\n')
    lines = [line.strip() for line in caught.value.what.splitlines()[1:]]
    assert [line.partition(":")[0] for line in lines] == ["line 1", "line 3", "line 5", "line 7"]


def test_a_key_that_was_renamed_is_still_read_but_not_beside_its_new_name() -> None:
    """`cure` means `way`, and never both; a mistake under it is told at its line; taking `way` back takes both."""
    assert read_wishes(b'cure = "partial"\n') == {"cure": "partial"}
    for text in (b'cure = "partial"\nway = "set-in"\n', b'cure = "partial"\n\nway = "set-in"\n'):
        with pytest.raises(InputError, match="line 1: “cure” is called “way” now, which stands there as well"):
            read_wishes(text)
    assert with_answers(b'cure = "partial"\n', {("way",): "set-in"}) == b'way = "set-in"\n'
    with pytest.raises(InputError) as caught:
        read_wishes(b'title = "x"\ncure = "glue"\n')
    assert "line 2: way: " in caught.value.what
    assert list(forgotten(["way"])) == list(forgotten(["cure"])) == [("way",), ("cure",)]
    assert parse_setting("cure=partial", []) == (("way",), "partial")
