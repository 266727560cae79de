"""Templates and blocks that were not made here: what is wished for and can't count is told, or refused."""

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

from seamsurvey.job.layout_file import write_layout
from tests.several import DRAWN, HALF, MEASURED, layouts

from .test_commands import run


def answer(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, Any, str]:
    """The exit code, the JSON, and what was told besides."""
    capsys.readouterr()
    code = run(*words, "--json")
    said = capsys.readouterr()
    return code, json.loads(said.out), " ".join(said.err.split())


@pytest.fixture
def drawn(tmp_path: Path) -> Path:
    """A job with nothing but a block drawn elsewhere, 4 in wide."""
    (tmp_path / "layout.json").write_bytes(write_layout(layouts(*DRAWN)[0], "inch"))
    return tmp_path


@pytest.fixture
def measured(tmp_path: Path) -> Path:
    """A job with nothing but two templates by hand."""
    (tmp_path / "measured.json").write_text(json.dumps(MEASURED))
    return tmp_path


def test_a_drawn_block_is_printed_as_it_is_or_not_at_all(drawn: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Another finished size is refused, and status says so; its own is none; a count is told to have no effect."""
    assert run("convert", "--into", str(drawn), "--finish", "4in", "--count", f"{HALF}=9") == 0
    assert "layout.json is yours, and used as it is: counts in job.toml has no effect" in " ".join(
        capsys.readouterr().err.split()
    )
    before = {path.name: path.read_bytes() for path in drawn.iterdir() if path.name not in ("job.toml", ".lock")}
    for words in (["sheets", str(drawn)], ["section", str(drawn)], ["convert", "--into", str(drawn)]):
        assert run("set", str(drawn), "finish=12in") == 0
        code, said, _ = answer(capsys, *words)
        assert (code, said["code"]) == (2, "block-drawn")
        assert "4 in × 4 in" in said["what"]
    _, said, _ = answer(capsys, "status", str(drawn))
    assert [one["code"] for one in said["waiting"]] == ["block-drawn"]
    after = {path.name: path.read_bytes() for path in drawn.iterdir() if path.name not in ("job.toml", ".lock")}
    assert after == before
    assert run("set", str(drawn), "finish=") == 0
    assert run("sheets", str(drawn)) == 0


def test_no_allowance_is_taken_off_what_was_measured_by_hand(
    measured: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An allowance that could have no effect is refused and not kept; that there is none is true, and taken."""
    code, said, _ = answer(capsys, "convert", "--into", str(measured), "--allowance", "1/4in")
    assert (code, said["code"]) == (2, "nothing-to-correct")
    assert "allowance" not in tomllib.loads((measured / "job.toml").read_text())
    assert run("set", str(measured), "allowance=none") == 0
    code, _, told = answer(capsys, "assemble", str(measured))
    assert code == 0
    assert "no effect" not in told
    (measured / "job.toml").write_text('allowance = "1/4in"\nruler = "inch"\n[counts]\nnobody = 3\n')
    _, said, _ = answer(capsys, "status", str(measured))
    assert {one["code"] for one in said["waiting"]} == {"nothing-to-correct", "unknown-template", "others-fit"}


def test_what_is_said_of_photos_is_told_to_have_no_effect_without_one(
    measured: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Both wishes are named in one sentence, and the block is made."""
    (measured / "job.toml").write_text('ruler = "inch"\nthickness = "1 mm"\n')
    code, _, told = answer(capsys, "assemble", str(measured))
    assert code == 0
    assert "measured from a photo that this job knows: ruler, thickness in job.toml have no effect" in told
