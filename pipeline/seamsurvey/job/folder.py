"""The job folder on disk: every file replaced whole, every stage's files remembered by content hash."""

import json
import stat
import tempfile
from collections.abc import Mapping, Sequence
from enum import Enum
from itertools import count
from pathlib import Path
from typing import Any

from attrs import evolve

from seamsurvey.errors import InputError
from seamsurvey.job.made import RECORD, Made, Record, check_name, read_record, settled, write_record
from seamsurvey.job.writing import cannot_write, content_hash, write_atomically

OLD = "old"


def stage_key(*inputs: Any) -> str:
    """One hash for all that a stage depends on: JSON values, in order."""
    return content_hash(json.dumps(inputs, sort_keys=True, ensure_ascii=False).encode())


class State(Enum):
    """How a stage's files stand to what they should be made from now."""

    FRESH = "fresh"  # made from just this
    EDITED = "edited"  # made from just this, then changed by hand: used as it is
    FOREIGN = "by hand"  # not made here at all: used as it is
    STALE = "stale"  # to be made, or made anew
    CONFLICT = "conflict"  # changed by hand, and to be made anew


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
        path = self.path / check_name(name, str(self.path))
        try:
            if not stat.S_ISREG(path.stat().st_mode):
                raise OSError("it is no file")
            return path.read_bytes()
        except (FileNotFoundError, NotADirectoryError):
            return None
        except OSError as error:
            raise InputError(
                "cannot-read",
                f"{path} can't be read: {error.strerror or error}.",
                where=str(path),
                todo="Give yourself leave to read it, or name another job.",
            ) from error

    def write(self, name: str, content: bytes) -> None:
        """Replace a file that is the person's own, such as job.toml, with their words in it."""
        if self.read(name) != content:
            write_atomically({self.path / check_name(name, str(self.path)): content})

    def made(self, stage: str) -> Made | None:
        """What a stage made when it was last done."""
        return self._record().get(stage)

    def state(self, stage: str, key: str, main: str | None = None, *, version: str = "") -> State:
        """How the files of a stage stand; ``main`` is the one that a person may have written in its place."""
        made = self.made(stage)
        if made is None:
            return State.STALE if main is None or self.read(main) is None else State.FOREIGN
        edited, lost = self._edited(made), [name for name in made.files if self.read(name) is None]
        same = made.key == key and self._made_from_these(made)
        if edited:
            return State.EDITED if same and not lost else State.CONFLICT
        return State.FRESH if same and not lost and not made.coming and made.version == version else State.STALE

    def hash_of(self, key: str, names: Sequence[str]) -> str:
        """One hash of a key and the content of these files."""
        return stage_key(key, [self._hash(name) for name in names])

    def edited(self, stage: str) -> list[str]:
        """The files of a stage that a person changed since it was done."""
        made = self.made(stage)
        return self._edited(made) if made else []

    def keep(
        self, stage: str, key: str, files: Mapping[str, bytes], *, force: bool = False, version: str = "",
        sources: Sequence[str] = (), photos: Sequence[tuple[str, str]] = (),
    ) -> None:  # fmt: skip
        """Write what a stage made, and remember it with the hashes of its ``sources``, the files it was made from.

        Files that the stage made before and does not make now are removed. A file that was changed by hand, or
        that was never ours, is not overwritten (InputError ``changed-by-hand``) unless ``force``; then a copy of it
        is kept in ``old``.
        """
        record = self._record()
        theirs = [
            name for name, content in files.items()
            if (found := self._hash(check_name(name, str(self.path)))) is not None
            and found != content_hash(content) and not _is_ours(record, name, found)
        ]  # fmt: skip
        if theirs and not force:
            raise self.changed_by_hand(theirs)
        self._copy_away(theirs)
        before = record.get(stage, Made(""))
        coming = {name: content_hash(content) for name, content in files.items()}
        record[stage] = Made(
            key, version, before.files, {name: self._hash(name) or "" for name in sources}, coming, tuple(photos)
        )
        # First what is coming, last that it has come: a file is never taken for somebody else's in between.
        whole = {RECORD: write_record(record), **files}
        write_atomically({self.path / name: content for name, content in whole.items()})
        gone = [name for name in before.files if name not in files and not _is_made(record, name, stage)]
        for name in gone:
            if self._hash(name) == before.files[name]:
                (self.path / name).unlink()
        write_atomically({self.path / RECORD: write_record(settled(record, stage))})

    def put_away(self, names: Sequence[str]) -> None:
        """Move files that can be made again into ``old``; what lay there under the same names is replaced."""
        for name in names:
            try:
                (self.path / name).replace(self._old() / name)
            except OSError as error:
                raise cannot_write(self.path / OLD / name, error) from error

    def _copy_away(self, names: Sequence[str]) -> None:
        """Keep a person's files in ``old``, each under a name of its own: nothing of theirs is ever replaced."""
        for name in names:
            path = self._old() / name
            places = (
                path.with_name(f"{path.stem}.yours{'' if k == 1 else f'-{k}'}{path.suffix}") for k in count(1)
            )
            write_atomically({next(place for place in places if not place.exists()): self.read(name) or b""})

    def _old(self) -> Path:
        old = self.path / OLD
        try:
            old.mkdir(exist_ok=True)
        except OSError as error:
            raise cannot_write(old, error) from error
        if old.is_symlink():
            raise cannot_write(old, OSError("it leads elsewhere"))
        return old

    def retire(self, stages: Sequence[str]) -> list[str]:
        """Put away the files of each stage whose sources are other ones now; return what was put away.

        A file that a person changed stays where it is. The stages must come in the order of the work.
        """
        record, away = self._record(), []
        for stage in stages:
            made = record.get(stage)
            if made is None or self._made_from_these(made):
                continue
            ours = [name for name, digest in made.files.items() if self._hash(name) == digest]
            self.put_away(ours)
            away += ours
            record[stage] = evolve(made, key="", files={n: d for n, d in made.files.items() if n not in ours})
            if not record[stage].files:
                del record[stage]
        if away:
            write_atomically({self.path / RECORD: write_record(record)})
        return away

    def changed_by_hand(self, names: Sequence[str], why: str = "") -> InputError:
        """The error for files that would have to be overwritten."""
        listed = ", ".join(str(self.path / name) for name in names)
        one = "is not as this program wrote it, so it is left alone"
        several = "are not as this program wrote them, so they are left alone"
        return InputError(
            "changed-by-hand",
            f"{listed} {one if len(names) == 1 else several}{f'; but {why}' if why else ''}.",
            where=listed,
            likely="Changed by hand, or the folder was used for something else.",
            todo="Use --force to have it made anew; what you changed is then kept in "
            f"{self.path / OLD}. Or move it away, or choose another folder with --into.",
        )

    def _edited(self, made: Made) -> list[str]:
        """Files that are neither as they were made nor as they were just being made."""
        found = {name: self._hash(name) for name in {**made.files, **made.coming}}
        return [
            name
            for name, digest in found.items()
            if digest is not None and digest not in (made.files.get(name), made.coming.get(name))
        ]

    def _made_from_these(self, made: Made) -> bool:
        return all((self._hash(name) or "") == digest for name, digest in made.sources.items())

    def _hash(self, name: str) -> str | None:
        content = self.read(name)
        return None if content is None else content_hash(content)

    def _record(self) -> Record:
        return read_record(self.read(RECORD), str(self.path / RECORD))


def _is_ours(record: Record, name: str, digest: str) -> bool:
    return any(digest in (made.files.get(name), made.coming.get(name)) for made in record.values())


def _is_made(record: Record, name: str, but: str) -> bool:
    return any(name in made.files for stage, made in record.items() if stage != but)
