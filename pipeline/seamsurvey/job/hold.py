"""One command at a time on one folder: the second waits, and is told who is working."""

import contextlib
import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

from seamsurvey.job.writing import cannot_write

LOCK = ".lock"
_PAUSE_S = 0.2  # between two looks at a lock where the system can't wait for it


@contextlib.contextmanager
def held(folder: Path, what: str, told: Callable[[str], None]) -> Iterator[None]:
    """Hold a folder while this lasts; ``what`` is the command, which others are told. CannotWriteError.

    Where somebody else holds it, ``told`` is given a sentence on who, once, and this waits until they are done. A
    program that is killed gives it back; a folder that was put in the place of the held one is waited for anew.
    """
    path = folder / LOCK
    waited = False
    while True:
        try:
            if path.is_symlink():  # it would be signed, and what it leads to overwritten
                raise OSError("it leads elsewhere")
            handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
        except OSError as error:
            raise cannot_write(path, error) from error
        try:
            if not _taken(handle):
                if not waited:
                    told(_who(path))
                    waited = True
                _wait_for(handle)
            if _is_still(handle, path):
                _sign(handle, what)
                yield
                return
        finally:
            os.close(handle)  # which also gives the lock back


def _sign(handle: int, what: str) -> None:
    said = {"pid": os.getpid(), "command": what, "since": datetime.now().isoformat(timespec="seconds")}
    with contextlib.suppress(OSError):  # a full disk: the lock holds all the same, unsigned
        os.ftruncate(handle, 0)
        os.pwrite(handle, json.dumps(said).encode(), 0)


def _who(path: Path) -> str:
    try:
        said = json.loads(path.read_text(encoding="utf-8"))
        by = f"{said['command']}, process {said['pid']}, since {said['since'].partition('T')[2]}"
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        by = "another command"
    return f"This job is being worked on ({by}); waiting until that is done ..."


def _is_still(handle: int, path: Path) -> bool:
    """Whether the file that is held is the one that stands there."""
    try:
        return os.path.samestat(os.fstat(handle), path.stat())
    except OSError:
        return False


if sys.platform == "win32":
    import msvcrt

    def _taken(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _wait_for(handle: int) -> None:
        while not _taken(handle):
            time.sleep(_PAUSE_S)

else:
    import fcntl

    def _taken(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True

    def _wait_for(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX)
