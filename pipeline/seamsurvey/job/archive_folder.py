"""The archive on disk: a folder for each set, put in place whole, and the index beside them.

A set's new folder is written beside the old one and the two are renamed, so that a set is there as it was or as
it is now, whenever the power fails. Only one program writes an archive at a time.
"""

import contextlib
import os
import shutil
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

from seamsurvey.archive_model import SetRecord
from seamsurvey.errors import CannotWriteError, SeamsurveyError
from seamsurvey.job.folder import JobFolder
from seamsurvey.job.set_file import FILE, SetFile, read_set, write_set
from seamsurvey.job.writing import cannot_write, content_hash, write_atomically

SETS = "sets"
LOCK = ".lock"
_NEW, _OLD = ".new", ".old"
# What stages read again; the rest (pictures, PDFs) is only looked for, as hashing it would take longer than it
# saves.
_READ_AGAIN = (".json", ".toml")


class ArchiveFolder:
    """An archive's folder; the only way in which a batch touches the disk."""

    def __init__(self, path: Path) -> None:
        self.path = path

    @contextlib.contextmanager
    def held(self) -> Iterator["ArchiveFolder"]:
        """Make the folder and keep other programs from writing it. CannotWriteError ``archive-in-use``."""
        JobFolder(self.path / SETS).create()
        try:
            handle = os.open(self.path / LOCK, os.O_RDWR | os.O_CREAT)
        except OSError as error:
            raise cannot_write(self.path / LOCK, error) from error
        try:
            _lock(handle, self.path)
            self._recover()
            yield self
        finally:
            os.close(handle)  # which also gives the lock back; a killed program's is given back by the system

    def _recover(self) -> None:
        """Finish or undo a renaming that was cut short."""
        for path in sorted((self.path / SETS).glob(".*")):
            if path.suffix == _OLD and not (whole := self._place(path.name[1 : -len(_OLD)])).exists():
                path.rename(whole)
            elif path.suffix in (_NEW, _OLD):
                shutil.rmtree(path)

    def is_fresh(self, folder: str, key: str) -> bool:
        """Whether the set was made from just this, and all that was made is still there and as it was."""
        try:
            kept = self._kept(folder)
        except SeamsurveyError:
            return False
        if kept is None or not key or kept.key != key:
            return False
        place = self._place(folder)
        return all((place / name).is_file() and (not digest or self._hash(place / name) == digest)
                   for name, digest in kept.made.items())  # fmt: skip

    def files(self, folder: str) -> dict[str, bytes]:
        """Every file of a set but its set.json: what was made before, and what a person put there."""
        place = self._place(folder)
        if not place.is_dir():
            return {}
        return {
            path.name: path.read_bytes()
            for path in sorted(place.iterdir())
            if path.is_file() and path.name not in (FILE, LOCK)
        }

    def keep(self, folder: str, key: str, record: SetRecord, files: Mapping[str, bytes]) -> None:
        """Put a set in place, all its files at once; folders that a person made in it go along."""
        made = {
            name: content_hash(content) if name.endswith(_READ_AGAIN) else "" for name, content in files.items()
        }
        place, new, old = self._place(folder), self._beside(folder, _NEW), self._beside(folder, _OLD)
        try:
            new.mkdir()
            write_atomically(
                {new / name: content for name, content in files.items()}
                | {new / FILE: write_set(record, key, made)}
            )
            if place.is_dir():
                for path in place.iterdir():
                    if path.is_dir():
                        shutil.copytree(path, new / path.name)
                place.rename(old)
            new.rename(place)
            if old.is_dir():
                shutil.rmtree(old)
        except OSError as error:
            raise cannot_write(place, error) from error
        finally:
            shutil.rmtree(new, ignore_errors=True)

    def records(self) -> list[SetRecord]:
        """Every set of the archive by name; a folder without a readable set.json is left out."""
        found = []
        for place in sorted((self.path / SETS).iterdir()):
            with contextlib.suppress(SeamsurveyError):
                kept = self._kept(place.name)
                if kept is not None and not place.name.startswith("."):
                    found.append(kept.record)
        return sorted(found, key=lambda record: record.name)

    def write_index(self, files: Mapping[str, bytes]) -> None:
        """Put the files of the index in place; a file that is the same already is left alone."""
        changed = {
            self.path / name: content
            for name, content in files.items()
            if self._hash(self.path / name) != content_hash(content)
        }
        write_atomically(changed)

    def _kept(self, folder: str) -> SetFile | None:
        text = JobFolder(self._place(folder)).read(FILE)
        return None if text is None else read_set(text, str(self._place(folder) / FILE))

    def _place(self, folder: str) -> Path:
        return self.path / SETS / folder

    def _beside(self, folder: str, ending: str) -> Path:
        return self.path / SETS / f".{folder}{ending}"

    @staticmethod
    def _hash(path: Path) -> str | None:
        try:
            return content_hash(path.read_bytes())
        except OSError:
            return None


def _lock(handle: int, path: Path) -> None:
    if sys.platform == "win32":  # there two writers stop one another at the first renaming
        return
    import fcntl  # noqa: PLC0415 (not on Windows)

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        raise CannotWriteError(
            "archive-in-use",
            f"Another batch is writing {path}.",
            where=str(path),
            likely="The same command runs in another window.",
            todo="Wait until it is done, or stop it; then run this again.",
        ) from error
