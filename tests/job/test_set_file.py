"""set.json: what is written reads back the same, and the schema says all of it."""

import json
from pathlib import Path

import attrs
import jsonschema
import pytest

from seamsurvey.archive_model import FAILED, Problem, SetRecord
from seamsurvey.errors import InputError
from seamsurvey.job.set_file import read_set, write_set
from tests.archive.drawn import record
from tests.scene.families import family

SCHEMA = json.loads(
    (Path(__file__).parents[2] / "docs" / "reference" / "schemas" / "set-1.schema.json").read_text(encoding="utf-8")
)
FAILING = SetRecord(
    name="b",
    title="b",
    state=FAILED,
    problem=Problem(code="no-ruler", what="No ruler.", todo="Lay one."),
    units="mm",
)


@pytest.mark.parametrize("each", [record(family("millrace-star"), "a", sigma_mm=0.1), FAILING])
def test_a_set_reads_back_as_it_was_and_fits_the_schema(each: SetRecord) -> None:
    """Every field survives the file, and the schema allows just what is written."""
    text = write_set(each, "key", {"layout.json": "0" * 64, "foundations.pdf": ""})
    jsonschema.validate(json.loads(text), SCHEMA)
    kept = read_set(text, "set.json")
    assert kept.record == each
    assert (kept.key, kept.made) == ("key", {"layout.json": "0" * 64, "foundations.pdf": ""})


def test_the_schema_names_every_field() -> None:
    """No field of a record or of a problem is missing from the schema."""
    names = set(SCHEMA["properties"]["record"]["properties"])
    assert names == {field.name for field in attrs.fields(SetRecord)}
    assert set(SCHEMA["$defs"]["problem"]["properties"]) == {field.name for field in attrs.fields(Problem)}


def test_a_damaged_set_is_refused_with_its_place() -> None:
    """A state that is no text is told with its path."""
    data = json.loads(write_set(FAILING, "key", {}))
    data["record"]["state"] = 3
    with pytest.raises(InputError) as caught:
        read_set(json.dumps(data).encode(), "sets/b/set.json")
    assert caught.value.code == "file-unreadable"
    assert "record.state" in caught.value.what
