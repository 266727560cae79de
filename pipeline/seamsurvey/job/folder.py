"""The job folder on disk: every file replaced atomically, every stage's files remembered by content hash."""

import contextlib
import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from seamsurvey.errors import CannotWriteError, InputError

# What each stage made, and from what; begins with a dot because no person needs to read it.
RECORD = ".made.json"
RECORD_FORMAT = "seamsurvey.made/1"


def content_hash(content: bytes) -> str:
    """SHA-256 of the bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def stage_key(*inputs: Any) -> str:
    """One hash for all that a stage depends on: JSON values, in order."""
    return content_hash(json.dumps(inputs, sort_keys=True, ensure_ascii=False).encode())


def write_atomically(files: Mapping[Path, bytes]) -> None:
    """Write every file beside its place first, then put all in place: none is ever half-written.

    CannotWriteError ``cannot-write`` when the disk refuses; then no file has changed, unless the very renaming
    was refused half-way.
    """
    waiting: dict[Path, Path] = {}
    try:
        for path, content in files.items():
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
            waiting[path] = Path(name)
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            waiting[path].chmod(0o666 & ~_umask())
        for path in files:
            waiting[path].replace(path)
            del waiting[path]
    except OSError as error:
        raise cannot_write(path, error) from error
    finally:
        for left in waiting.values():
            with contextlib.suppress(OSError):
                left.unlink()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def cannot_write(path: Path, error: OSError) -> CannotWriteError:
    """The refusal of the disk, as a person is told it."""
    return CannotWriteError(
        "cannot-write",
        f"{path} can't be written: {error.strerror or error}.",
        where=str(path),
        likely="The folder may be read-only or belong to somebody else, a file may stand in its place, or the disk "
        "may be full.",
        todo="Choose another folder with --into, or make room there.",
    )


class JobFolder:
    """A job's folder; the only way in which the line touches the disk."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def create(self) -> None:
        """Make the folder and try it out; CannotWriteError before any work is done, not after."""
        try:
            self.path.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=self.path):
                pass
        except OSError as error:
            raise cannot_write(self.path, error) from error

    def read(self, name: str) -> bytes | None:
        """Return the content of a file of the job, or None when there is none."""
        try:
            return (self.path / name).read_bytes()
        except (FileNotFoundError, NotADirectoryError):
            return None
        except OSError as error:
            raise InputError(
                "cannot-read",
                f"{self.path / name} can't be read: {error.strerror or error}.",
                where=str(self.path / name),
                todo="Give yourself leave to read it, or name another job.",
            ) from error

    def is_fresh(self, stage: str, key: str) -> bool:
        """Whether the stage was made from just these inputs and all its files are still as they were written."""
        made = self._record().get(stage, {})
        return made.get("key") == key and all(
            self._hash(name) == expected for name, expected in made.get("files", {}).items()
        )

    def keep(self, stage: str, key: str, files: Mapping[str, bytes], *, force: bool = False) -> None:
        """Write what a stage made, and remember it.

        Files that the stage made before and does not make now are removed. A file that was changed by hand, or
        that was never ours, is not overwritten (InputError ``changed-by-hand``) unless ``force``.
        """
        record = self._record()
        ours = {name: digest for made in record.values() for name, digest in made["files"].items()}
        if not force:
            self._refuse_to_lose(files, ours)
        before = record.get(stage, {}).get("files", {})
        record[stage] = {"key": key, "files": {name: content_hash(content) for name, content in files.items()}}
        new_record = json.dumps({"format": RECORD_FORMAT, "stages": record}, indent=1).encode()
        # The record comes last: if the disk fails half-way, the stage counts as not made.
        write_atomically({self.path / name: content for name, content in files.items()})
        for name in before.keys() - files.keys():
            if self._hash(name) == before[name]:
                (self.path / name).unlink()
        write_atomically({self.path / RECORD: new_record})

    def _refuse_to_lose(self, files: Mapping[str, bytes], ours: Mapping[str, str]) -> None:
        for name, content in files.items():
            found = self._hash(name)
            if found not in (None, ours.get(name), content_hash(content)):
                raise InputError(
                    "changed-by-hand",
                    f"{self.path / name} is not as this program wrote it, so it is left alone.",
                    where=str(self.path / name),
                    likely="It was changed by hand, or the folder was used for something else.",
                    todo="Use --force to overwrite it, move it away, or choose another folder with --into.",
                )

    def _hash(self, name: str) -> str | None:
        content = self.read(name)
        return None if content is None else content_hash(content)

    def _record(self) -> dict[str, Any]:
        try:
            data = json.loads(self.read(RECORD) or b"{}")
        except ValueError:
            return {}
        return dict(data.get("stages", {})) if data.get("format") == RECORD_FORMAT else {}
