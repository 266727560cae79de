"""What a person answered, written into their job.toml: nothing else in it is touched, comments and order stay."""

from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.items import InlineTable, Item

from seamsurvey.model import Taken


def with_answers(text: bytes, answers: Mapping[str, Any]) -> bytes:
    """Return a job.toml with these keys set, each where it stands or before the first table; None takes one out."""
    document = tomlkit.parse(text.decode())
    for key, value in answers.items():
        if value is None:
            document.pop(key, None)
        elif document.get(key) != value:
            document[key] = value
    return tomlkit.dumps(document).encode()


def taken_table(taken: Taken) -> Item:
    """The layout that was taken as a table of job.toml."""
    table = tomlkit.table()
    table.comment("kept by the program: where the pieces of your layout lie, in thousandths of its longer side")
    table.add("layout", taken.layout)
    places: InlineTable = tomlkit.inline_table()
    for name, at in taken.places.items():
        places.append(name, [list(place) for place in at])
    table.add("places", places)
    return table
