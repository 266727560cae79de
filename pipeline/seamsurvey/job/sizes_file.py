"""A table of sizes a person wrote down: sizes.csv with the columns ``template`` and ``length``, a line a side.

Lines of one template stand in order round it; lengths are written with their unit, or in the unit of a column named
``length_mm`` or ``length_in``.
"""

import csv
import io
from pathlib import Path

from seamsurvey.errors import InputError, SeamsurveyError
from seamsurvey.units import parse_length

_COLUMNS = {"length": None, "length_mm": "mm", "length_in": "in"}


def read_sizes(path: Path) -> dict[str, list[float]]:
    """Return each template's sides in mm; InputError ``sizes-file`` with every mistake in the file."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise _unusable(path, [str(error)]) from error
    first = text.partition("\n")[0]
    reader = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in first and "," not in first else ",")
    names = reader.fieldnames or []
    column = next((name for name in names if name in _COLUMNS), None)
    if "template" not in names or column is None:
        raise _unusable(path, [f"the first line needs the columns template and length; it has {', '.join(names)}"])
    sides: dict[str, list[float]] = {}
    mistakes = []
    for line in reader:
        name, cell = (line.get("template") or "").strip(), (line.get(column) or "").strip()
        if not name and not cell:
            continue
        try:
            sides.setdefault(name, []).append(parse_length(cell, _COLUMNS[column]))
        except SeamsurveyError as error:
            mistakes.append(f"line {reader.line_num}: {error.what}")
        if not name:
            mistakes.append(f"line {reader.line_num}: there is no template")
    mistakes += [
        f"{name} has {len(lengths)} sides: a line for each side is needed, three or more"
        for name, lengths in sides.items()
        if len(lengths) < 3 and name
    ]
    if mistakes or not sides:
        raise _unusable(path, mistakes or ["it holds no sizes"])
    return sides


def _unusable(path: Path, mistakes: list[str]) -> InputError:
    lines = "\n".join(f"  {mistake}" for mistake in mistakes)
    return InputError(
        "sizes-file",
        f"{path} can't be used as a table of sizes:\n{lines}",
        where=str(path),
        todo="Write a line for each side of each template: “square,2 1/2 in”, under “template,length”.",
    )
