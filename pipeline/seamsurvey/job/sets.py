"""Which sets a folder holds: every subfolder with pictures is one, and pictures side by side go by name."""

import re
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from attrs import field, frozen

from seamsurvey.errors import InputError
from seamsurvey.job.manifest import Row

PICTURES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif")
MEASURED = "measured.json"
# "star-1.jpg" and "star-2.jpg" are two pictures of one set; a camera's "IMG_0412.jpg" has four digits and stays
# alone.
_NUMBERED = re.compile(r"^(?P<set>.+?)(?:[-_ ]+(?:\d{1,2}|[a-z])| ?\(\d{1,2}\))$", re.IGNORECASE)


@frozen(kw_only=True)
class FoundSet:
    """One set: its pictures, or the measured.json it was measured in before, and what the manifest says of it.

    ``folder`` is its folder's name in the archive; ``wishes`` are fields of `model.Wishes`.
    """

    name: str
    photos: tuple[Path, ...] = ()
    measured: Path | None = None
    wishes: Mapping[str, Any] = field(factory=dict)
    source: str = ""

    @property
    def folder(self) -> str:
        """The name without "/", which no folder's name may hold."""
        return self.name.replace("/", "~")


def find_sets(folder: Path, rows: Mapping[str, Row], *, leave_out: Path) -> list[FoundSet]:
    """All sets below ``folder`` but not below ``leave_out`` (the archive itself), in the order of their names.

    A name is the path from ``folder``, or for pictures lying side by side their common name. InputError
    ``no-sets``, ``manifest`` (it names a set or a photo that is not there), ``sets-one-name``.
    """
    found: dict[str, FoundSet] = {}
    _look_into(folder, folder, leave_out.resolve(), found)
    for name, row in rows.items():
        if row.photos:
            found[name] = FoundSet(name=name, photos=tuple(folder / photo for photo in row.photos))
    _without_claimed(found, {folder / photo for row in rows.values() for photo in row.photos}, set(rows))
    _refuse_unknown(folder, rows, found)
    if not found:
        raise InputError(
            "no-sets",
            f"{folder} holds no set of templates.",
            where=str(folder),
            likely="It holds neither pictures nor folders with pictures in them.",
            todo=f"Put each set into a folder of its own; pictures end in {', '.join(PICTURES)}.",
        )
    _refuse_one_name(found)
    return [_with_row(found[name], rows.get(name)) for name in sorted(found)]


def _look_into(folder: Path, root: Path, leave_out: Path, found: dict[str, FoundSet]) -> None:
    try:
        entries = sorted(path for path in folder.iterdir() if not path.name.startswith("."))
    except OSError as error:
        raise InputError(
            "cannot-read",
            f"{folder} can't be read: {error.strerror or error}.",
            where=str(folder),
            todo="Name a folder that holds the sets, and give yourself leave to read it.",
        ) from error
    pictures = [path for path in entries if path.suffix.lower() in PICTURES and path.is_file()]
    measured = next((path for path in entries if path.name == MEASURED and path.is_file()), None)
    if folder == root:
        for name, photos in _grouped(pictures).items():
            found[name] = FoundSet(name=name, photos=tuple(photos))
    elif pictures or measured:
        name = folder.relative_to(root).as_posix()
        found[name] = FoundSet(name=name, photos=tuple(pictures), measured=None if pictures else measured)
    for path in entries:
        if path.is_dir() and path.resolve() != leave_out:
            _look_into(path, root, leave_out, found)


def _grouped(pictures: list[Path]) -> dict[str, list[Path]]:
    groups: dict[str, list[Path]] = defaultdict(list)
    for path in pictures:
        numbered = _NUMBERED.match(path.stem)
        groups[numbered["set"] if numbered else path.stem].append(path)
    return groups


def _without_claimed(found: dict[str, FoundSet], claimed: set[Path], named: set[str]) -> None:
    """Take the pictures that the manifest gives to one set out of the others."""
    for name, each in list(found.items()):
        if name in named or not claimed.intersection(each.photos):
            continue
        rest = tuple(photo for photo in each.photos if photo not in claimed)
        if rest:
            found[name] = FoundSet(name=name, photos=rest)
        else:
            del found[name]


def _refuse_unknown(folder: Path, rows: Mapping[str, Row], found: Mapping[str, FoundSet]) -> None:
    lost = [f"set “{name}” ({row.where})" for name, row in rows.items() if name not in found]
    lost += [
        f"photo “{p}” ({row.where})" for row in rows.values() for p in row.photos if not (folder / p).is_file()
    ]
    if lost:
        raise InputError(
            "manifest",
            f"The manifest names what is not in {folder}: {'; '.join(lost)}.",
            where=str(folder),
            likely="A name is mistyped, or a folder was renamed. A set's name is its path below the folder.",
            todo=f"Mend the manifest. The sets found are: {', '.join(sorted(found)[:12])}"
            f"{', ...' if len(found) > 12 else ''}.",
        )


def _refuse_one_name(found: Mapping[str, FoundSet]) -> None:
    taken: dict[str, str] = {}
    for name, each in found.items():
        other = taken.setdefault(each.folder.casefold(), name)  # some disks don't tell "Star" from "star"
        if other != name:
            raise InputError(
                "sets-one-name",
                f"The sets “{other}” and “{name}” would have one folder in the archive.",
                where=name,
                likely="A folder and a group of pictures have one name, or two names differ by capitals only.",
                todo="Rename one of them.",
            )


def _with_row(found: FoundSet, row: Row | None) -> FoundSet:
    if row is None:
        return found
    return FoundSet(
        name=found.name, photos=found.photos, measured=found.measured, wishes=row.wishes, source=row.source
    )
