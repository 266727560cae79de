"""The manifest of a batch: what a person knows of each set, as CSV or TOML.

A CSV has a column ``set`` and any of ``source``, ``photos``, and the keys of job.toml; ``counts`` and
``colours`` are written T1=4; T2=4+2. A TOML has a table [sets."NAME"] for each, with the same keys as job.toml
writes them.
"""

import csv
import io
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from attrs import field, frozen

from seamsurvey.errors import InputError
from seamsurvey.job.wishes_file import wishes_of

NAMES = ("manifest.csv", "manifest.toml")
_TABLES = ("counts", "colours")
_NUMBERS = ("layout", "blocks", "seed", "time_limit")


@frozen(kw_only=True)
class Row:
    """What the manifest says of one set; ``where`` is the line or table it says it in."""

    where: str
    wishes: Mapping[str, Any] = field(factory=dict)  # fields of `model.Wishes`
    source: str = ""
    photos: tuple[str, ...] = ()  # paths below the folder, when the names don't tell which belong together


def read_manifest(path: Path) -> dict[str, Row]:
    """Return the rows by the set's name; InputError ``manifest`` with every mistake in it."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
        tables = _of_toml(text) if path.suffix.lower() == ".toml" else _of_csv(text)
    except OSError as error:
        raise _unusable(path, [f"it can't be read: {error.strerror or error}"]) from error
    except UnicodeDecodeError as error:
        raise _unusable(path, ["it is not UTF-8 text; save it as CSV UTF-8"]) from error
    except (tomllib.TOMLDecodeError, ValueError) as error:
        raise _unusable(path, [str(error)]) from error
    rows: dict[str, Row] = {}
    mistakes: list[str] = []
    for where, name, table in tables:
        if name in rows:
            mistakes.append(f"{where}: set “{name}” stands there already")
        source, photos = table.pop("source", ""), table.pop("photos", [])
        wishes, wrong = wishes_of(table)
        mistakes += [f"{where}: {mistake}" for mistake in wrong]
        if not isinstance(source, str) or not all(isinstance(photo, str) for photo in photos):
            mistakes.append(f"{where}: source is a text, photos a list of texts")
            continue
        rows[name] = Row(where=where, wishes=wishes, source=source, photos=tuple(photos))
    if mistakes:
        raise _unusable(path, mistakes)
    return rows


def _of_toml(text: str) -> list[tuple[str, str, dict[str, Any]]]:
    data = tomllib.loads(text)
    sets = data.pop("sets", {})
    if data or not isinstance(sets, dict) or not all(isinstance(table, dict) for table in sets.values()):
        raise ValueError(f'expected only tables [sets."NAME"], not {", ".join(data) or "a value"}')
    return [(f'[sets."{name}"]', name, dict(table)) for name, table in sets.items()]


def _of_csv(text: str) -> list[tuple[str, str, dict[str, Any]]]:
    first = text.partition("\n")[0]
    # Spreadsheets write ";" where the comma is the decimal sign.
    reader = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in first and "," not in first else ",")
    if "set" not in (reader.fieldnames or []):
        raise ValueError(f"the first line needs a column “set”; it has {', '.join(reader.fieldnames or ['none'])}")
    rows = []
    for line in reader:
        number = f"line {reader.line_num}"
        if None in line:
            raise ValueError(f"{number} has more cells than the first line has columns")
        cells = {key: value.strip() for key, value in line.items() if value and value.strip()}
        name = cells.pop("set", "")
        if not name and cells:
            raise ValueError(f"{number} has no set")
        if name:
            rows.append((number, name, {key: _value(key, value) for key, value in cells.items()}))
    return rows


def _value(key: str, cell: str) -> Any:
    parts = [part.strip() for part in cell.split(";") if part.strip()]
    if key == "photos":
        return parts
    if key in _TABLES:
        return {name.strip(): value.strip() for name, _, value in (part.partition("=") for part in parts)}
    return int(cell) if key in _NUMBERS and cell.isdecimal() else cell


def _unusable(path: Path, mistakes: list[str]) -> InputError:
    lines = "\n".join(f"  {mistake}" for mistake in mistakes)
    return InputError(
        "manifest",
        f"The manifest {path} can't be used:\n{lines}",
        where=str(path),
        todo="Mend these lines; docs/reference/archive.md describes the manifest.",
    )
