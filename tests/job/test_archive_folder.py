"""The archive on disk: a set is there as it was or as it is now, never in between."""

import contextlib
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from seamsurvey.archive_model import DONE, SetRecord
from seamsurvey.errors import CannotWriteError
from seamsurvey.job.archive_folder import ArchiveFolder


def record(title: str) -> SetRecord:
    """A record that says no more than its title."""
    return SetRecord(name="star", title=title, state=DONE)


def state(path: Path) -> dict[str, bytes]:
    """Every file below a folder with its content."""
    return {str(p.relative_to(path)): p.read_bytes() for p in sorted(path.rglob("*")) if p.is_file()}


def test_a_set_is_fresh_until_its_key_or_a_file_changes(tmp_path: Path) -> None:
    """Fresh means: the very key, every file there, and those that are read again unchanged."""
    with ArchiveFolder(tmp_path / "a").held() as archive:
        files = {"layout.json": b"{}", "foundations.pdf": b"pdf", "job.toml": b""}
        archive.keep("star", "k", record("one"), files)
        assert archive.is_fresh("star", "k")
        assert not archive.is_fresh("star", "other")
        place = tmp_path / "a" / "sets" / "star"
        for spoil in (
            lambda: (place / "layout.json").write_bytes(b"[]"),
            lambda: (place / "job.toml").write_bytes(b"layout = 2"),
            (place / "foundations.pdf").unlink,
            lambda: (place / "set.json").write_bytes(b"{"),
        ):
            archive.keep("star", "k", record("one"), files)
            spoil()
            assert not archive.is_fresh("star", "k")
        archive.keep("star", "", record("one"), files)
        assert not archive.is_fresh("star", "")


def test_what_a_person_put_into_a_set_stays(tmp_path: Path) -> None:
    """A folder and a file put into a set's folder are still there when the set was made anew."""
    with ArchiveFolder(tmp_path / "a").held() as archive:
        archive.keep("star", "1", record("one"), {"layout.json": b"1"})
        place = tmp_path / "a" / "sets" / "star"
        (place / "photos").mkdir()
        (place / "photos" / "old.jpg").write_bytes(b"old")
        (place / "notes.txt").write_bytes(b"mine")
        archive.keep("star", "2", record("two"), {**archive.files("star"), "layout.json": b"2"})
        assert (place / "photos" / "old.jpg").read_bytes() == b"old"
        assert (place / "notes.txt").read_bytes() == b"mine"
        assert (place / "layout.json").read_bytes() == b"2"


class Killed(BaseException):
    """Stands for a kill -9: no handler of the program sees it coming."""


@pytest.mark.parametrize("step", range(8))
def test_a_kill_at_any_step_leaves_the_old_set_or_the_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    """Whichever call to the disk is the last, the next run finds just the old files or just the new ones."""
    path = tmp_path / "a"
    with ArchiveFolder(path).held() as archive:
        archive.keep("star", "1", record("one"), {"a.json": b"1", "b.json": b"1"})
        old = state(path / "sets")
        archive.keep("star", "2", record("two"), {"a.json": b"2", "c.json": b"2"})
        new = state(path / "sets")
        archive.keep("star", "1", record("one"), {"a.json": b"1", "b.json": b"1"})
        left = step

        def counted(real: Callable[..., Any]) -> Callable[..., Any]:
            def call(*arguments: Any, **words: Any) -> Any:
                nonlocal left
                left -= 1
                if left < 0:
                    raise Killed
                return real(*arguments, **words)

            return call

        # After a kill nothing tidies up: from the last step on every call is refused, removing too.
        for owner, name in ((Path, "mkdir"), (Path, "rename"), (Path, "replace"), (os, "fsync"), (Path, "unlink")):
            monkeypatch.setattr(owner, name, counted(getattr(owner, name)))
        monkeypatch.setattr(shutil, "rmtree", counted(shutil.rmtree))
        with contextlib.suppress(Killed):
            archive.keep("star", "2", record("two"), {"a.json": b"2", "c.json": b"2"})
        monkeypatch.undo()
    with ArchiveFolder(path).held():
        assert state(path / "sets") in (old, new)
        assert [p.name for p in (path / "sets").iterdir()] == ["star"]


def test_a_full_disk_keeps_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk is full the set is as it was, nothing half-written is left, and the error says so."""
    with ArchiveFolder(tmp_path / "a").held() as archive:
        archive.keep("star", "1", record("one"), {"a.json": b"1"})
        before = state(tmp_path)

        def full(_: int) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(CannotWriteError) as caught:
            archive.keep("star", "2", record("two"), {"a.json": b"2"})
        assert caught.value.exit == 5
        assert state(tmp_path) == before


def test_one_archive_has_one_writer(tmp_path: Path) -> None:
    """A second program is refused while the first one writes, and let in afterwards."""
    with (
        ArchiveFolder(tmp_path / "a").held(),
        pytest.raises(CannotWriteError) as caught,
        ArchiveFolder(tmp_path / "a").held(),
    ):
        pass
    assert caught.value.code == "archive-in-use"
    with ArchiveFolder(tmp_path / "a").held() as archive:
        assert archive.records() == []
