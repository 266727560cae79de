"""What status says of a job is what the next run does."""

import json
from pathlib import Path
from typing import Any

import attrs
import numpy as np
import pytest

from seamsurvey.job.measured_file import write_measured
from seamsurvey.model import LeftOut
from seamsurvey.templates.cards import TOUCHING
from tests.quick_sight import photo, quick_sight
from tests.several import HALF, SQUARE
from tests.sheets.examples import forked_road, templates_for

from .test_commands import run


def status(job: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """The JSON that status prints."""
    capsys.readouterr()
    assert run("status", str(job), "--json") == 0
    return json.loads(capsys.readouterr().out)


def states(data: Any) -> dict[str, str]:
    """The state of each stage."""
    return {stage["name"]: stage["state"] for stage in data["stages"]}


def test_every_state_is_told_and_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Fresh, edited, by hand, to be done, and edited though it would have to be done; the disk stays as it is."""
    quick_sight(monkeypatch)
    job, scan = tmp_path / "job", photo(tmp_path / "scan.jpg")
    counts = ["--count", f"{HALF}=4", "--count", f"{SQUARE}=2"]
    assert run("convert", str(scan), "--into", str(job), "--allowance", "none", *counts) == 0
    data = status(job, capsys)
    assert states(data) == dict.fromkeys(("measured", "layout", "foundation", "sheets"), "fresh")
    assert [one["code"] for one in data["waiting"]] == ["others-fit"]
    assert "--layout 2" in data["waiting"][0]["todo"]

    before = {path.name: path.stat().st_mtime_ns for path in job.iterdir() if path.name != ".lock"}
    assert run("status", str(job)) == 0
    said = capsys.readouterr().out
    assert said.count("as they should be") == 4
    assert scan.name in said
    assert {path.name: path.stat().st_mtime_ns for path in job.iterdir() if path.name != ".lock"} == before

    (job / "foundation.json").write_bytes((job / "foundation.json").read_bytes() + b" ")
    assert states(status(job, capsys)) == {
        "measured": "fresh", "layout": "fresh", "foundation": "edited", "sheets": "stale"
    }  # fmt: skip
    with (job / "job.toml").open("a") as file:
        file.write('[templates.half]\nedges.1 = "3 in"\n')
    scan.unlink()
    data = status(job, capsys)
    assert states(data) == {"measured": "stale", "layout": "stale", "foundation": "conflict", "sheets": "stale"}
    assert data["photos"] == [{"file": "scan.jpg", "gone": True}]


def test_what_waits_for_an_answer_is_told_with_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An allowance nobody told and a card nobody measured are both asked for at once."""
    left = LeftOut(photo=0, outline_px=np.array([[10, 10], [90, 10], [90, 80.0]]), why=TOUCHING)
    templates = attrs.evolve(templates_for(forked_road()[0]), left_out=(left,))
    (tmp_path / "measured.json").write_bytes(write_measured(templates, "inch"))
    data = status(tmp_path, capsys)
    assert states(data)["measured"] == "by hand"
    assert {one["code"] for one in data["waiting"]} == {"allowance-unclear", "card-unclear"}
    assert all(str(tmp_path) in one["todo"] for one in data["waiting"])


def test_an_empty_folder_has_nothing_but_stages_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is measured, nothing asked."""
    data = status(tmp_path, capsys)
    assert set(states(data).values()) == {"stale"}
    assert data["waiting"] == []
