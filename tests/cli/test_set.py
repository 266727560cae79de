"""Wishes written into job.toml by name, and completed by the shell."""

import json
import os
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

from seamsurvey.job.wishes_file import merged, read_wishes
from seamsurvey.model import Count, SetCorner, SetLength
from tests.several import MEASURED

from .test_commands import run


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job with two templates, half and square, measured by hand."""
    (tmp_path / "measured.json").write_text(json.dumps(MEASURED))
    return tmp_path


def wishes(job: Path) -> Any:
    """What job.toml wishes for."""
    return merged(read_wishes((job / "job.toml").read_bytes()))


def test_every_kind_of_wish_is_written_and_read_back(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Lengths, numbers, lists, names with dots and corners come back as they are meant, each with its day."""
    words = [
        "allowance=1/4in", "half.count=4", "square.count=2+1", "half.colour=#AA4444", "half-2.colour=#4444aa",
        "square.fabric=blue check", "half.edges.1=2 1/4 in", "half.corners.2=1234.5, 567.8", "square.exclude=true",
        "blocks=12", "title=12", "never_cut=half,square", "merge=[['half', 'square']]", "quilt.across=5",
        "quilt.sashing=1in", "time_limit=90.5", "ignore=3", "layout=2",
    ]  # fmt: skip
    assert run("set", str(job), *words) == 0
    assert "The next run does again: block, sections, sheets." in capsys.readouterr().out
    said = wishes(job)
    assert (said.allowance_mm, said.blocks, said.title, said.time_limit_s, said.layout) == (6.35, 12, "12", 90.5, 2)
    assert said.counts == {"half": Count(4), "square": Count(2, 1)}
    assert said.colours == {"half": "#aa4444", "half-2": "#4444aa"}
    assert said.fabrics == {"square": "blue check"}
    assert said.templates["half"].edges == {1: SetLength(57.15)}
    assert said.templates["half"].corners == {2: SetCorner(1234.5, 567.8)}
    assert said.templates["square"].exclude
    assert (said.never_cut, said.merge, said.ignore) == (("half", "square"), (("half", "square"),), ("3",))
    assert (said.quilt.across, said.quilt.sashing_mm) == (5, 25.4)
    assert (job / "job.toml").read_text().count("with set") == len(words)


def test_nothing_behind_the_sign_takes_back_and_leaves_no_trace(job: Path) -> None:
    """What was set and then taken back leaves the file as it was."""
    assert run("set", str(job), "blocks=3") == 0
    before = (job / "job.toml").read_text()
    assert run("set", str(job), "paper=a4", "half.count=4", "half.edges.1=2in", "layout=3") == 0
    assert run("set", str(job), "paper=", "half.count=", "half.edges.1=", "layout=") == 0
    assert (job / "job.toml").read_text() == before


@pytest.mark.parametrize(
    ("setting", "code", "told"),
    [
        ("papr=a4", "no-such-key", "did you mean “paper”?"),
        ("paper=a5", "setting-unclear", "expected one of letter"),
        ("paper", "setting-unclear", "says nothing"),
        ("blocks=-3", "setting-unclear", "expected a whole number from 1, not '-3'"),
        ("halv.count=4", "unknown-template", "did you mean “half”?"),
        ("half.cuont=4", "no-such-key", "did you mean “count”?"),
        ("half.count=four", "setting-unclear", "expected 4, or 4+2"),
        ("half.edges.0=2in", "setting-unclear", "count from 1"),
        ("quilt.acros=4", "no-such-key", "quilt.acros"),
        ("taken=1", "no-such-key", "taken"),
        ("half=4", "no-such-key", "[counts]"),
    ],
)
def test_what_makes_no_sense_is_refused_with_the_nearest_that_does(
    job: Path, capsys: pytest.CaptureFixture[str], setting: str, code: str, told: str
) -> None:
    """Nothing is written, and the error names what was meant."""
    assert run("set", str(job), "title=ok", setting, "--json") == 2
    error = json.loads(capsys.readouterr().out)
    assert error["code"] == code
    assert told in error["what"]
    assert not (job / "job.toml").exists()


def test_a_file_with_mistakes_is_not_written_to(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The person's own mistakes come first, with their lines."""
    (job / "job.toml").write_text("papre = 1\n")
    assert run("set", str(job), "blocks=3", "--json") == 3
    assert (
        "line 1: “papre” is not a key of this file; did you mean “paper”?"
        in json.loads(capsys.readouterr().out)["what"]
    )
    assert (job / "job.toml").read_text() == "papre = 1\n"


@pytest.mark.parametrize(
    ("begun", "offered"),
    [
        ("pap", ["paper="]),
        ("paper=l", ["paper=letter", "paper=legal"]),
        ("half.c", ["half.count=", "half.colour=", "half.corners."]),
        ("allowance=", ["allowance=auto", "allowance=none"]),
        ("quilt.t", ["quilt.turned="]),
    ],
)
def test_the_shell_completes_keys_names_and_values(job: Path, begun: str, offered: list[str]) -> None:
    """As bash asks for it, the program offers the keys there are, this job's templates, and the values of a key."""
    code = "from seamsurvey_cli.main import cli; cli.main(prog_name='seamsurvey')"
    words = {"COMP_WORDS": f"seamsurvey set {job} {begun}", "COMP_CWORD": "3"}
    env = {**os.environ, **words, "_SEAMSURVEY_COMPLETE": "bash_complete"}
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=False)  # noqa: S603
    assert sorted(line.partition(",")[2] for line in done.stdout.splitlines()) == sorted(offered)


def test_a_wish_set_is_a_wish_said(job: Path) -> None:
    """What set wrote counts in the next run."""
    assert run("set", str(job), "finish=10in", "paper=a4") == 0
    assert run("convert", "--into", str(job), "-q") == 0
    assert json.loads((job / "layout.json").read_text())["block"]["width_mm"] == pytest.approx(254.0)
    assert tomllib.loads((job / "job.toml").read_text())["paper"] == "a4"
