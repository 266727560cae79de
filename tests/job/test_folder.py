"""The job folder: nothing lost, nothing half-written."""

import json
import os
from pathlib import Path

import pytest

from seamsurvey.errors import CannotWriteError, InputError
from seamsurvey.job.folder import JobFolder, State, stage_key
from seamsurvey.job.inputs import read_photos
from seamsurvey.job.made import RECORD
from seamsurvey.job.writing import content_hash


@pytest.fixture
def job(tmp_path: Path) -> JobFolder:
    """A new job folder, two levels deep."""
    made = JobFolder(tmp_path / "sets" / "star")
    made.create()
    return made


def names(job: JobFolder) -> set[str]:
    """All files of a job, hidden ones included."""
    return {path.name for path in job.path.iterdir()}


def test_a_stage_stands_as_its_key_its_sources_and_its_files_do(job: JobFolder) -> None:
    """Each of the five states, from the very key, version, sources and bytes."""
    (job.path / "measured.json").write_bytes(b"source")

    def state(key: str = "key", version: str = "1") -> State:
        return job.state("layout", key, "layout.json", version=version)

    assert state() is State.STALE
    (job.path / "layout.json").write_bytes(b"drawn elsewhere")
    assert state() is State.FOREIGN
    (job.path / "layout.json").unlink()
    job.keep("layout", "key", {"layout.json": b"one"}, version="1", sources=["measured.json"])
    assert state() is State.FRESH
    assert state(key="other") is state(version="2") is State.STALE
    (job.path / "layout.json").write_bytes(b"two")
    assert state() is state(version="2") is State.EDITED
    assert state(key="other") is State.CONFLICT
    (job.path / "measured.json").write_bytes(b"another source")
    assert state() is State.CONFLICT
    (job.path / "layout.json").write_bytes(b"one")
    assert state() is State.STALE
    (job.path / "measured.json").write_bytes(b"source")
    assert state() is State.FRESH
    (job.path / "layout.json").unlink()
    assert state() is State.STALE


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
    (job.path / "layout.json").write_bytes(b"theirs again")
    job.keep("layout", "new", {"layout.json": b"newer"}, force=True)
    kept = {path.name: path.read_bytes() for path in (job.path / "old").iterdir()}
    assert kept == {"layout.yours.json": b"theirs", "layout.yours-2.json": b"theirs again"}


def test_files_a_stage_no_longer_makes_are_removed_but_never_a_persons(job: JobFolder) -> None:
    """Rivals of an earlier run disappear with it; a rival somebody edited stays."""
    job.keep("layout", "1", {"layout.json": b"1", "layout-2.json": b"2", "layout-3.json": b"3"})
    (job.path / "layout-3.json").write_bytes(b"edited")
    job.keep("layout", "2", {"layout.json": b"1"})
    assert names(job) == {"layout.json", "layout-3.json", RECORD}


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
    assert names(job) == {"a.json", "b.json", RECORD}
    monkeypatch.undo()
    assert job.state("layout", "1") is State.FRESH


@pytest.mark.parametrize("cut", range(1, 8))
def test_a_power_cut_at_any_moment_leaves_files_that_are_known_for_ours(
    job: JobFolder, monkeypatch: pytest.MonkeyPatch, cut: int
) -> None:
    """Cut short at any renaming, every file is whole, none is taken for a person's, and the next run ends it."""
    job.keep("layout", "1", {"a.json": b"old a", "b.json": b"old b", "c.json": b"old c"})
    replace = Path.replace
    calls: list[Path] = []

    def failing(path: Path, target: Path) -> Path:
        calls.append(path)
        if len(calls) == cut:
            raise KeyboardInterrupt
        return replace(path, target)

    files = {"a.json": b"new a", "b.json": b"new b", "d.json": b"new d"}
    monkeypatch.setattr(Path, "replace", failing)
    cut_short = False
    try:
        job.keep("layout", "2", files)
    except KeyboardInterrupt:
        cut_short = True
    monkeypatch.undo()
    assert cut_short == (cut <= 5)  # the record, three files, the record
    for name in "abcd":
        assert job.read(f"{name}.json") in (None, f"old {name}".encode(), f"new {name}".encode())
    assert job.edited("layout") == []
    assert job.state("layout", "2") is (State.STALE if cut_short else State.FRESH)
    job.keep("layout", "2", files)
    assert {name: job.read(name) for name in (*files, "c.json")} == {**files, "c.json": None}
    assert job.state("layout", "2") is State.FRESH


def test_what_is_made_of_other_files_than_there_are_is_put_away(job: JobFolder) -> None:
    """With a new layout the plan and the sheets drawn from it go into old, but for what a person changed."""
    job.keep("layout", "1", {"layout.json": b"1"})
    job.keep("foundation", "1", {"foundation.json": b"f"}, sources=["layout.json"])
    job.keep("sheets", "1", {"report.html": b"r", "block.svg": b"s"}, sources=["layout.json", "foundation.json"])
    assert job.retire(["layout", "foundation", "sheets"]) == []
    (job.path / "block.svg").write_bytes(b"by hand")
    job.keep("layout", "2", {"layout.json": b"2"})
    assert job.retire(["layout", "foundation", "sheets"]) == ["foundation.json", "report.html"]
    assert names(job) == {"layout.json", "block.svg", "old", RECORD}
    assert {path.name for path in (job.path / "old").iterdir()} == {"foundation.json", "report.html"}
    assert job.state("sheets", "1") is State.CONFLICT
    assert job.retire(["layout", "foundation", "sheets"]) == []


@pytest.mark.parametrize(
    "name", ["../victim.txt", "/etc/victim.txt", "a/b.json", "..", "a\\b.json", "C:victim.txt", ""]
)
def test_a_record_from_somebody_else_deletes_nothing_outside(tmp_path: Path, name: str) -> None:
    """A record that names a file elsewhere is refused, whatever is done with the folder, and the file stays."""
    victim = tmp_path / "victim.txt"
    victim.write_bytes(b"precious")
    job = JobFolder(tmp_path / "job")
    job.create()
    stage = {"key": "k", "files": {name: content_hash(b"precious")}, "sources": {"layout.json": "x"}}
    (job.path / RECORD).write_text(json.dumps({"format": "seamsurvey.made/1", "stages": {"sheets": stage}}))
    for work in (
        lambda: job.keep("sheets", "new", {"report.html": b"r"}),
        lambda: job.retire(["sheets"]),
        lambda: job.state("sheets", "k"),
    ):
        with pytest.raises(InputError) as caught:
            work()
        assert caught.value.code == "name-outside"
    assert victim.read_bytes() == b"precious"


def test_what_is_no_file_is_not_read(job: JobFolder) -> None:
    """A pipe in a file's place ends in an error instead of waiting for ever, and a folder does too."""
    os.mkfifo(job.path / "measured.json")
    (job.path / "layout.json").mkdir()
    for name in ("measured.json", "layout.json"):
        with pytest.raises(InputError, match="it is no file"):
            job.read(name)


def test_a_photo_that_is_no_file_is_not_read(tmp_path: Path) -> None:
    """A pipe or a device, that a job from somebody else may name, ends in an error instead of never."""
    os.mkfifo(tmp_path / "scan.jpg")
    for path in (tmp_path / "scan.jpg", Path("/dev/zero"), tmp_path):
        with pytest.raises(InputError, match="it is no file") as caught:
            read_photos([path])
        assert caught.value.code == "cannot-read"


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
    record = job.path / RECORD
    record.write_bytes(record.read_bytes()[:40])
    assert job.state("layout", "1", "layout.json") is State.FOREIGN
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
    assert json.loads((job.path / RECORD).read_bytes())["format"] == "seamsurvey.made/1"
