"""Files replaced whole: written beside their place, then renamed into it."""

import contextlib
import hashlib
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from seamsurvey.errors import CannotWriteError


def content_hash(content: bytes) -> str:
    """SHA-256 of the bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def write_atomically(files: Mapping[Path, bytes]) -> None:
    """Write every file beside its place first, then put all in place, in this order: none is ever half-written.

    CannotWriteError ``cannot-write`` when the disk refuses; then no file has changed, unless the very renaming
    was refused half-way.
    """
    waiting: dict[Path, Path] = {}
    path = Path()
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
