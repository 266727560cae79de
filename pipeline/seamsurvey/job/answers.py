"""What a person answered, written into their job.toml: nothing else in it is touched."""

import codecs
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from seamsurvey.job.toml_text import Keys, with_value, without_value
from seamsurvey.job.wish_keys import OLD_KEYS
from seamsurvey.model import Taken

TAKEN_NOTE = "kept by the program: where its pieces lie, in thousandths of the block's longer side"


def first_file() -> bytes:
    """Return a first job.toml, which says nothing and explains every key."""
    return files("seamsurvey.job").joinpath("first_job.toml").read_bytes()


def with_answers(text: bytes, answers: Mapping[Keys, Any], note: str = "") -> bytes:
    """Return a job.toml with a value at each of these paths, ``note`` behind it; None takes one out."""
    mark, rest = (codecs.BOM_UTF8, text[3:]) if text.startswith(codecs.BOM_UTF8) else (b"", text)
    edited = rest.decode()
    for path, value in answers.items():
        for before in (old for old, new in OLD_KEYS.items() if path == (new,)):
            edited = without_value(edited, (before,))  # two answers to one question would be one ignored
        if value is None:
            edited = without_value(edited, path)
        else:
            own = TAKEN_NOTE if path == ("taken",) else note
            edited = with_value(edited, path, value, own, below=("layout",) if path == ("taken",) else ())
    return mark + edited.encode()


def taken_value(taken: Taken) -> dict[str, Any]:
    """The layout that was taken as job.toml has it."""
    places = {name: [list(at) for at in each] for name, each in taken.places.items()}
    return {"layout": taken.layout, "places": places}
