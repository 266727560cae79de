"""Two commands on one job, and disks that refuse."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from seamsurvey import convert
from seamsurvey.job.hold import LOCK, held
from tests.quick_sight import without_notes
from tests.several import DRAWN, MEASURED, layouts

from .test_commands import run


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job with two templates by hand."""
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "measured.json").write_text(json.dumps(MEASURED))
    return folder


def start(*words: str) -> subprocess.Popen[str]:
    """The program in a process of its own."""
    code = "from seamsurvey_cli.main import main; main()"
    return subprocess.Popen([sys.executable, "-c", code, *words], stderr=subprocess.PIPE, text=True)  # noqa: S603


def test_the_second_command_waits_and_says_for_whom(job: Path) -> None:
    """While a job is held another command names the holder on stderr, does nothing, and goes on when it is free."""

    def nobody(text: str) -> None:
        raise AssertionError(text)

    with held(job, "seamsurvey test", nobody):
        second = start("set", str(job), "blocks=3")
        assert second.stderr is not None
        said = second.stderr.readline()
        assert f"seamsurvey test, process {os.getpid()}, since" in said
        assert not (job / "job.toml").exists()
    assert second.wait() == 0
    assert "blocks = 3" in (job / "job.toml").read_text()
    second.stderr.close()


def test_two_commands_at_once_leave_what_one_after_the_other_leaves(job: Path) -> None:
    """Two wishes said at once both come into job.toml, whoever is first."""
    both = [start("set", str(job), "blocks=3"), start("set", str(job), "paper=a4")]
    for process in both:
        process.communicate()
    assert [process.returncode for process in both] == [0, 0]
    text = (job / "job.toml").read_text()
    assert "blocks = 3" in text
    assert 'paper = "a4"' in text


def test_a_lock_that_was_put_away_with_its_folder_holds_nothing(job: Path) -> None:
    """A folder that took the place of the held one is held anew: the old lock's file lets nobody in."""
    told: list[str] = []
    with held(job, "first", told.append):
        (job / LOCK).rename(job / "moved")
        with held(job, "second", told.append):
            assert json.loads((job / LOCK).read_text())["command"] == "second"
    assert told == []


def test_a_lock_that_leads_elsewhere_is_refused(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder from somebody else whose lock is a link to another file does not have that file overwritten."""
    victim = job.parent / "victim.txt"
    victim.write_text("precious")
    (job / LOCK).symlink_to(victim)
    assert run("set", str(job), "blocks=3", "--json") == 5
    assert json.loads(capsys.readouterr().out)["code"] == "cannot-write"
    assert victim.read_text() == "precious"


@pytest.mark.parametrize("full_at", [1, 2, 4, 6, 9, 14, 20])
def test_a_disk_that_fills_up_keeps_the_last_good_state(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], full_at: int
) -> None:
    """Whichever file finds no room, no file is half-written or taken for a person's, and the next run ends it."""
    monkeypatch.setattr(convert, "assemble", lambda *_, **__: layouts(*DRAWN))
    assert run("convert", "--into", str(job), "-q", "--title", "Same") == 0
    before = without_notes(job)
    sync = os.fsync
    calls: list[int] = []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == full_at:
            raise OSError(28, "No space left on device")
        sync(handle)

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        capsys.readouterr()
        code = run("convert", "--into", str(job), "--layout", "2", "--paper", "a4", "--json", "-q")
        assert (code == 5) == (len(calls) >= full_at)
        if code:
            assert json.loads(capsys.readouterr().out)["code"] == "cannot-write"
    assert not list(job.glob("*.part")) + list(job.glob(".*.part"))
    other: dict[str, Any] = without_notes(job)
    assert all(json.loads(other[name]) for name in other if name.endswith(".json"))
    assert run("convert", "--into", str(job), "--layout", "2", "--paper", "a4", "-q") == 0
    after = without_notes(job)
    fresh = job.with_name("fresh")
    fresh.mkdir()
    (fresh / "measured.json").write_bytes((job / "measured.json").read_bytes())
    (fresh / "job.toml").write_bytes((job / "job.toml").read_bytes())
    assert run("convert", "--into", str(fresh), "-q") == 0
    assert without_notes(fresh) == after != before


def test_a_folder_that_can_not_be_written_keeps_what_it_has(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where no file can be made the command ends with exit code 5 before any work, and status still tells."""
    monkeypatch.setattr(convert, "assemble", lambda *_, **__: layouts(*DRAWN))
    assert run("convert", "--into", str(job), "-q") == 0
    before = without_notes(job)

    def refused(*_: Any, **__: Any) -> Any:
        raise OSError(30, "Read-only file system")

    with monkeypatch.context() as patch:
        patch.setattr("tempfile.TemporaryFile", refused)
        capsys.readouterr()
        assert run("convert", "--into", str(job), "--paper", "a4", "--json") == 5
        assert "Read-only" in json.loads(capsys.readouterr().out)["what"]
        assert run("status", str(job), "--json") == 0
    assert without_notes(job) == before
