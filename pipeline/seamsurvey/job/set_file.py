"""set.json: what the archive's index says of one set, and what it was made from (format seamsurvey.set/1)."""

from attrs import field, frozen

from seamsurvey.archive_model import SetRecord
from seamsurvey.job.conversion import from_json, to_json
from seamsurvey.job.made import check_name

FILE = "set.json"
FORMAT = "seamsurvey.set/1"


@frozen
class SetFile:
    """The whole file. ``key`` is the hash of all that the set was made from; "" when it must be made again."""

    format: str
    key: str
    record: SetRecord
    made: dict[str, str] = field(factory=dict)  # SHA-256 of each file that later stages read, by name


def write_set(record: SetRecord, key: str, made: dict[str, str]) -> bytes:
    """Return set.json as bytes."""
    return to_json(SetFile(FORMAT, key, record, made))


def read_set(text: bytes, file: str) -> SetFile:
    """Return the content of a set.json; InputError ``file-unreadable`` says what is wrong with it."""
    read = from_json(text, SetFile, file, FORMAT)
    for name in (*read.made, *read.record.overlays):
        check_name(name, file)
    return read
