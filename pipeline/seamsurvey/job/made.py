""".made.json: what each stage of a job made, from what, and by which version (format seamsurvey.made/1).

While a stage's files are being put in place, those that are coming stand there as well: whenever the power fails,
what the program wrote is known for its own.
"""

import json
from collections.abc import Mapping
from pathlib import PureWindowsPath
from typing import Any

from attrs import evolve, field, frozen

from seamsurvey.errors import InputError

# Begins with a dot because no person needs to read it.
RECORD = ".made.json"
FORMAT = "seamsurvey.made/1"


@frozen
class Made:
    """What one stage made. ``key`` is the hash of its wishes and inputs, the files of earlier stages left out.

    ``files`` and ``sources`` are SHA-256 by name: what it made, and the earlier files it was made from. ``coming``
    are files that were being written; ``photos`` the name and SHA-256 of each photo.
    """

    key: str
    version: str = ""
    files: Mapping[str, str] = field(factory=dict)
    sources: Mapping[str, str] = field(factory=dict)
    coming: Mapping[str, str] = field(factory=dict)
    photos: tuple[tuple[str, str], ...] = ()


Record = dict[str, Made]


def read_record(text: bytes | None, file: str) -> Record:
    """Return the record by stage; nothing where there is none, or a damaged one.

    InputError ``name-outside`` where it names what can't be a file of the job.
    """
    try:
        data = json.loads(text or b"{}")
        stages = data["stages"] if data.get("format") == FORMAT else {}
        return {stage: _made(each, file) for stage, each in stages.items()}
    except (ValueError, LookupError, TypeError, AttributeError):
        return {}


def write_record(record: Record) -> bytes:
    """Return .made.json as bytes."""
    stages = {
        stage: {
            "key": made.key,
            "version": made.version,
            "files": dict(made.files),
            "sources": dict(made.sources),
            **({"coming": dict(made.coming)} if made.coming else {}),
            **({"photos": [list(photo) for photo in made.photos]} if made.photos else {}),
        }
        for stage, made in record.items()
    }
    return json.dumps({"format": FORMAT, "stages": stages}, indent=1, ensure_ascii=False).encode()


def settled(record: Record, stage: str) -> Record:
    """The record once the files that were coming are in place."""
    made = record[stage]
    return {**record, stage: evolve(made, files=made.coming, coming={})}


def check_name(name: Any, file: str) -> str:
    """A name that can be a file's of the job; InputError ``name-outside`` for any other."""
    if (
        not isinstance(name, str)
        or not name
        or name in (".", "..")
        or set(name) & set("/\\\0")
        or PureWindowsPath(name).drive
    ):
        raise InputError(
            "name-outside",
            f"{file} names {name!r}, which is no plain file name of this folder.",
            where=file,
            likely="The folder comes from somebody else, or the file was damaged.",
            todo="Start a new job from the photos; if the folder is your own, mend that file or delete it.",
        )
    return name


def _made(entry: Any, file: str) -> Made:
    return Made(
        key=str(entry["key"]),
        version=str(entry.get("version", "")),
        files=_hashes(entry.get("files", {}), file),
        sources=_hashes(entry.get("sources", {}), file),
        coming=_hashes(entry.get("coming", {}), file),
        photos=tuple((check_name(name, file), str(digest)) for name, digest in entry.get("photos", [])),
    )


def _hashes(entry: Any, file: str) -> dict[str, str]:
    return {check_name(name, file): str(digest) for name, digest in entry.items()}
