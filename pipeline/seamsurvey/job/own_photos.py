"""The photos a job knows: where they lie, seen from its folder, and what they were when they were measured."""

import os
from collections.abc import Sequence
from pathlib import Path

from attrs import evolve

from seamsurvey.errors import InputError, command
from seamsurvey.job.inputs import PhotoFile, read_photos
from seamsurvey.job.writing import cannot_write, content_hash, write_atomically

COPIES = "photos"


def path_text(path: Path, folder: Path) -> str:
    """A path as job.toml has it: from the job's folder where it lies in or beside that, else from the root."""
    whole, home = path.resolve(), folder.resolve()
    return Path(os.path.relpath(whole, home)).as_posix() if whole.is_relative_to(home.parent) else whole.as_posix()


def own_photos(folder: Path, paths: Sequence[str], known: Sequence[tuple[str, str]]) -> list[PhotoFile]:
    """The photos at these paths; one that is gone is returned without content, as it was ``known`` (name, SHA-256).

    InputError ``cannot-read``, ``photo-twice``.
    """
    # Seen from where the folder really is, as they were written, and without the way into it and out again.
    places = [Path(os.path.normpath(folder.resolve() / path)) for path in paths]
    there = [place.is_file() for place in places]
    read = iter(read_photos([place for place, is_there in zip(places, there, strict=True) if is_there]))
    if all(there):
        return list(read)
    names = [name for name, _ in known] if len(known) == len(paths) else [Path(path).name for path in paths]
    digests = dict(known)
    found = []
    for place, name, is_there in zip(places, names, there, strict=True):
        found.append(next(read) if is_there else gone(name, digests.get(name, ""), place))
    return found


def copied(photos: Sequence[PhotoFile], folder: Path) -> list[PhotoFile]:
    """The photos with a copy of each in the job's folder, where they are looked for from now on.

    CannotWriteError; a photo of the same name that is another one there is not replaced.
    """
    place = folder / COPIES
    try:
        place.mkdir(exist_ok=True)
        if place.is_symlink():
            raise OSError("it leads elsewhere")
    except OSError as error:
        raise cannot_write(place, error) from error
    for photo in photos:
        path = place / photo.name
        if path.exists() and content_hash(path.read_bytes()) != photo.sha256:
            raise InputError(
                "changed-by-hand",
                f"{path} is another photo than {photo.path}, so it is left alone.",
                where=str(path),
                todo="Move it away, or give the new photo another name.",
            )
        write_atomically({path: photo.content})
    return [evolve(photo, path=place / photo.name) for photo in photos]


def gone(name: str, digest: str, path: Path | None = None) -> PhotoFile:
    """A photo that is known of, but not where it was."""
    return PhotoFile(name, digest, b"", path, gone=True)


def photo_gone(photos: Sequence[PhotoFile], folder: Path) -> InputError:
    """The error where photos would have to be measured again that are not there."""
    listed = ", ".join(str(photo.path or photo.name) for photo in photos)
    return InputError(
        "photo-gone",
        f"{listed} {'is' if len(photos) == 1 else 'are'} not there any more, and would have to be measured again.",
        where=str(folder / "job.toml"),
        likely="The photo was moved or renamed, or the job's folder was moved away from it, and then something was"
        " changed that bears on how it is measured.",
        todo="Take back what was changed, or name it where it is now: "
        f"{command('convert', 'PHOTO', '--into', folder)}",
    )
