"""The job folder: nothing lost, nothing half-written."""

import json
import os
from pathlib import Path

import pytest

from seamsurvey.errors import CannotWriteError, InputError
from seamsurvey.job import folder
from seamsurvey.job.folder import JobFolder, stage_key


@pytest.fixture
def job(tmp_path: Path) -> JobFolder:
    """A new job folder, two levels deep."""
    made = JobFolder(tmp_path / "sets" / "star")
    made.create()
    return made


def names(job: JobFolder) -> set[str]:
    """All files of a job, hidden ones included."""
    return {path.name for path in job.path.iterdir()}


def test_a_kept_stage_is_fresh_until_an_input_or_a_file_changes(job: JobFolder) -> None:
    """Freshness holds for the very key and the very bytes written, and for nothing else."""
    job.keep("layout", "key", {"layout.json": b"one"})
    assert job.is_fresh("layout", "key")
    assert not job.is_fresh("layout", "other key")
    assert not job.is_fresh("measured", "key")
    (job.path / "layout.json").write_bytes(b"two")
    assert not job.is_fresh("layout", "key")
    (job.path / "layout.json").unlink()
    assert not job.is_fresh("layout", "key")


def test_what_a_person_changed_is_not_overwritten(job: JobFolder) -> None:
    """A file changed by hand, and one that was never ours, are refused and left as they are, unless forced."""
    job.keep("layout", "key", {"layout.json": b"ours"})
    (job.path / "layout.json").write_bytes(b"theirs")
    (job.path / "report.html").write_bytes(b"somebody's report")
    for stage, name in (("layout", "layout.json"), ("sheets", "report.html")):
        before = (job.path / name).read_bytes()
        with pytest.raises(InputError) as caught:
            job.keep(stage, "new", {"another.json": b"x", name: b"new"})
        assert caught.value.code == "changed-by-hand"
        assert (job.path / name).read_bytes() == before
        assert "another.json" not in names(job)
    job.keep("layout", "new", {"layout.json": b"new"}, force=True)
    assert job.read("layout.json") == b"new"


def test_files_a_stage_no_longer_makes_are_removed_but_never_a_persons(job: JobFolder) -> None:
    """Rivals of an earlier run disappear with it; a rival somebody edited stays."""
    job.keep("layout", "1", {"layout.json": b"1", "layout-2.json": b"2", "layout-3.json": b"3"})
    (job.path / "layout-3.json").write_bytes(b"edited")
    job.keep("layout", "2", {"layout.json": b"1"})
    assert names(job) == {"layout.json", "layout-3.json", folder.RECORD}


def test_a_failing_disk_leaves_the_old_files_and_no_fragments(
    job: JobFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the disk fills up at the second file, the first has not been replaced and no temporary file is left."""
    job.keep("layout", "1", {"a.json": b"old a", "b.json": b"old b"})
    calls = []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotWriteError) as caught:
        job.keep("layout", "2", {"a.json": b"new a", "b.json": b"new b"})
    assert "No space left" in caught.value.what
    assert (job.read("a.json"), job.read("b.json")) == (b"old a", b"old b")
    assert names(job) == {"a.json", "b.json", folder.RECORD}
    monkeypatch.undo()
    assert job.is_fresh("layout", "1")


def test_a_folder_that_cannot_be_made_is_said_before_any_work(tmp_path: Path) -> None:
    """A file in the way of the folder is a refusal with exit code 5."""
    (tmp_path / "star").write_text("a file")
    for path in (tmp_path / "star", tmp_path / "star" / "inside"):
        with pytest.raises(CannotWriteError) as caught:
            JobFolder(path).create()
        assert caught.value.exit == 5


def test_a_damaged_record_only_means_that_nothing_is_known(job: JobFolder) -> None:
    """With the record cut short, no stage is fresh and files count as foreign: they are not overwritten."""
    job.keep("layout", "1", {"layout.json": b"1"})
    record = job.path / folder.RECORD
    record.write_bytes(record.read_bytes()[:40])
    assert not job.is_fresh("layout", "1")
    with pytest.raises(InputError):
        job.keep("layout", "2", {"layout.json": b"2"})


def test_keys_tell_all_inputs_apart() -> None:
    """The key of a stage depends on every input and on their order."""
    keys = {
        stage_key("a", "b"),
        stage_key("b", "a"),
        stage_key("ab"),
        stage_key("a", {"x": 1}),
        stage_key("a", {"x": 2}),
    }
    assert len(keys) == 5
    assert stage_key({"x": 1, "y": 2}) == stage_key({"y": 2, "x": 1})


def test_the_record_says_its_format(job: JobFolder) -> None:
    """Every JSON file of a job bears its format, the hidden one too."""
    job.keep("layout", "1", {"layout.json": b"1"})
    assert json.loads((job.path / folder.RECORD).read_bytes())["format"] == "seamsurvey.made/1"
