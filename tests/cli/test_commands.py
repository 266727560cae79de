"""The command line on jobs that need no photo: a set measured by hand, taken on to printed sheets."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from seamsurvey.job.writing import content_hash
from seamsurvey_cli.main import main

IN = 25.4
# Our own invention: a square of 4 in in the middle, four triangles round it, corners cut by four small ones.
BY_HAND = {
    "format": "seamsurvey.measured/1",
    "templates": [
        {"name": "middle", "finished_outline_mm": [[0, 0], [4 * IN, 0], [4 * IN, 4 * IN], [0, 4 * IN]], "count": 1},
        {"name": "side", "finished_outline_mm": [[0, 0], [4 * IN, 0], [2 * IN, 2 * IN]], "count": 4},
    ],
}


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job that holds nothing but a measured.json written by hand."""
    folder = tmp_path / "by-hand"
    folder.mkdir()
    (folder / "measured.json").write_text(json.dumps(BY_HAND))
    return folder


def run(*arguments: str) -> int:
    """The exit code of one call of the program."""
    try:
        main(list(arguments))
    except SystemExit as left:
        return int(left.code or 0)
    return 0


def test_measurements_by_hand_become_sheets(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """assemble, section and sheets lead from two outlines by hand to every file the documentation names."""
    assert run("assemble", str(job)) == 0
    block = json.loads((job / "layout.json").read_text())["block"]
    side = 4 * IN * 2**0.5  # four quarter squares turn the middle square into the next one
    assert (block["width_mm"], block["height_mm"]) == pytest.approx((side, side), abs=0.2)
    assert run("section", str(job)) == 0
    assert run("sheets", str(job), "--title", "By hand") == 0
    out = capsys.readouterr()
    assert str(job / "report.html") in out.out
    names = {path.name for path in job.iterdir() if path.name != ".lock"}
    assert names >= {
        "foundation.json",
        "foundations.pdf",
        "block.svg",
        "cutting-list.csv",
        "report.html",
        "job.toml",
    }
    assert (job / "foundations.pdf").read_bytes().startswith(b"%PDF-")


def test_a_job_goes_on_from_what_is_there(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Convert without photos does what is missing; run again it does nothing and says so."""
    assert run("convert", "--into", str(job)) == 0
    before = {path.name: path.stat().st_mtime_ns for path in job.iterdir() if path.name != ".lock"}
    capsys.readouterr()
    assert run("convert", "--into", str(job)) == 0
    assert capsys.readouterr().err.count("nothing changed") == 3
    assert {path.name: path.stat().st_mtime_ns for path in job.iterdir() if path.name != ".lock"} == before


def test_job_toml_is_read_and_the_command_line_comes_before_it(job: Path) -> None:
    """The finished width comes from job.toml, or from --finish, which is then written down in its place."""
    text = 'finish = "8 in"  # hers\n'
    (job / "job.toml").write_text(text)
    assert run("assemble", str(job)) == 0
    assert json.loads((job / "layout.json").read_text())["block"]["width_mm"] == pytest.approx(8 * IN)
    assert run("assemble", str(job), "--finish", "12in") == 0
    assert json.loads((job / "layout.json").read_text())["block"]["width_mm"] == pytest.approx(12 * IN)
    said = (job / "job.toml").read_text()
    assert said.startswith('finish = "12in"  # hers; said 20')
    assert run("assemble", str(job)) == 0
    assert json.loads((job / "layout.json").read_text())["block"]["width_mm"] == pytest.approx(12 * IN)
    assert (job / "job.toml").read_text() == said


def test_a_file_changed_by_hand_is_not_overwritten(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """After an edit of layout.json, another one is refused with exit code 3; sectioning uses the edit.

    What was refused is not remembered; --force does it, and keeps the edit.
    """
    assert run("convert", "--into", str(job)) == 0
    layout = json.loads((job / "layout.json").read_text())
    layout["warnings"] = ["edited"]
    (job / "layout.json").write_text(json.dumps(layout))
    assert run("assemble", str(job), "--finish", "12in") == 3
    assert "[changed-by-hand]" not in capsys.readouterr().out
    assert json.loads((job / "layout.json").read_text())["warnings"] == ["edited"]
    assert run("section", str(job)) == 0
    assert json.loads((job / "layout.json").read_text())["warnings"] == ["edited"]
    assert run("assemble", str(job), "--finish", "12in", "--force") == 0
    assert json.loads((job / "layout.json").read_text())["block"]["width_mm"] == pytest.approx(12 * IN)
    assert json.loads((job / "old" / "layout.yours.json").read_text())["warnings"] == ["edited"]


def test_json_is_one_envelope(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --json stdout is one JSON object with the format, the files and the parts."""
    assert run("convert", "--into", str(job), "--json", "-q") == 0
    out = capsys.readouterr()
    data = json.loads(out.out)
    assert data["format"] == "seamsurvey.result/1"
    assert {"layout", "foundation", "measured", "files", "job"} <= data.keys()
    assert out.err == ""


@pytest.mark.parametrize(
    ("arguments", "code", "error"),
    [
        (["section", "JOB/empty"], 3, "stage-missing"),
        (["assemble", "JOB", "--count", "nobody=4"], 2, "unknown-template"),
        (["assemble", "JOB", "--count", "middle"], 2, "usage"),
        (["assemble", "JOB", "--finish", "sixteen"], 2, "usage"),
        (["assemble", "JOB", "--count", "middle=1", "--count", "side=3"], 3, "count-cannot-fill"),
        (["convert", "missing.jpg", "--into", "JOB"], 3, "cannot-read"),
        (["convert", "--into", "JOB/measured.json"], 5, "cannot-write"),
        (["nonsense"], 2, "usage"),
        (["convert", "--into", ""], 2, "usage"),
        (["sheets", ""], 2, "usage"),
    ],
)
def test_errors_have_their_code_and_exit_code(
    job: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int, error: str
) -> None:
    """Each mistake ends with the exit code of the contract and a JSON error that names it."""
    (job / "empty").mkdir()
    assert run(*[word.replace("JOB", str(job)) for word in arguments], "--json") == code
    data: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert (data["format"], data["exit"], data["code"]) == ("seamsurvey.error/1", code, error)
    assert data["what"]


def test_a_dry_run_writes_nothing(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--dry-run says which stages would be kept and which made, and leaves the disk as it is."""
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(b"anything")
    assert run("convert", str(photo), "--into", str(tmp_path / "new"), "--dry-run") == 0
    said = capsys.readouterr().out
    assert said.count("would make") == 4
    assert "which is new" in said
    assert sorted(path.name for path in tmp_path.iterdir()) == ["by-hand", "photo.jpg"]
    assert run("convert", "--into", str(job)) == 0
    capsys.readouterr()
    before = {path.name: path.stat().st_mtime_ns for path in job.iterdir() if path.name != ".lock"}
    assert run("convert", "--into", str(job), "--title", "Another", "--dry-run") == 0
    said = capsys.readouterr().out
    assert (said.count("would keep"), said.count("would make")) == (3, 1)
    assert {path.name: path.stat().st_mtime_ns for path in job.iterdir() if path.name != ".lock"} == before


@pytest.mark.parametrize("command", [[], ["convert"], ["sheets"], ["demo"]])
def test_help_does_not_load_the_slow_libraries(command: list[str]) -> None:
    """--help imports neither OpenCV nor scipy, fpdf, shapely or scikit-image."""
    code = (
        "import sys\nfrom seamsurvey_cli.main import main\n"
        f"try:\n    main({[*command, '--help']!r})\nexcept SystemExit:\n    pass\n"
        "slow = {'cv2', 'scipy', 'fpdf', 'skimage', 'shapely', 'ezdxf'} & set(sys.modules)\n"
        "assert not slow, slow\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)  # noqa: S603


def test_an_interrupted_run_says_so(
    job: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl-C in the middle of a stage ends with 130, and the stages before it stay."""
    from seamsurvey import convert

    def interrupted(*_: Any, **__: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(convert, "plan_foundation", interrupted)
    assert run("convert", "--into", str(job)) == 130
    assert (job / "layout.json").exists()
    assert not (job / "foundation.json").exists()
    assert "goes on" in capsys.readouterr().err


def drawn_elsewhere(folder: Path, *boxes: tuple[float, float, float, float]) -> Path:
    """A job that holds nothing but a layout of rectangles, with their names and outlines only."""
    pieces = [
        {"id": f"p{k}", "outline_mm": [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]}
        for k, (x, y, w, h) in enumerate(boxes)
    ]
    folder.mkdir()
    (folder / "layout.json").write_text(json.dumps({"format": "seamsurvey.layout/1", "pieces": pieces}))
    return folder


WHIRL = ((0, 0, 80, 30), (80, 0, 30, 80), (30, 80, 80, 30), (0, 30, 30, 80), (30, 30, 50, 50))


def test_a_block_drawn_elsewhere_is_sectioned_and_its_cures_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A layout with nothing but names and outlines: an added seam is taken, the others can be asked for."""
    job = drawn_elsewhere(tmp_path / "whirl", *WHIRL)
    assert run("section", str(job)) == 0
    out = capsys.readouterr().out
    assert "all straight" in out
    assert "--way partial" in out
    plan = json.loads((job / "foundation.json").read_text())
    assert [(cure["kind"], cure["chosen"]) for cure in plan["cures"]] == [
        ("added-seam", True),
        ("partial", False),
        ("set-in", False),
    ]
    (seam,) = plan["added_seams"]
    assert run("section", str(job), "--never-cut", seam["piece"], "--way", "added-seam") == 0
    (other,) = json.loads((job / "foundation.json").read_text())["added_seams"]
    assert other["piece"] != seam["piece"]
    assert run("section", str(job), "--cure", "partial") == 0
    assert "1 sewn part-way" in capsys.readouterr().out


def test_a_gap_in_a_block_drawn_elsewhere_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without its middle the whirl has a gap, and with a piece too wide two pieces lie on one another."""
    job = drawn_elsewhere(tmp_path / "gap", *WHIRL[:4])
    assert run("section", str(job), "--json") == 3
    data = json.loads(capsys.readouterr().out)
    assert data["code"] == "pieces-do-not-tile"
    assert all(name in data["what"] for name in ("p0", "p1", "p2", "p3"))
    job = drawn_elsewhere(tmp_path / "overlap", *WHIRL[:4], (30, 30, 53, 50))
    assert run("section", str(job), "--json") == 3
    data = json.loads(capsys.readouterr().out)
    assert data["code"] == "pieces-overlap"
    assert "p1 and p4" in data["what"]


def test_a_person_s_own_partial_svg_is_not_overwritten(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Where no layout is found and partial.svg is somebody's own, it stays, and the reason is told all the same."""
    (job / "partial.svg").write_text("mine")
    assert run("convert", "--into", str(job), "--count", "middle=2", "--count", "side=3", "--json") == 3
    assert json.loads(capsys.readouterr().out)["code"] in ("count-cannot-fill", "no-layout")
    assert (job / "partial.svg").read_text() == "mine"


def test_a_folder_from_somebody_else_deletes_nothing_outside(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A record that names ../victim.txt ends every command, and the victim stays."""
    victim = job.parent / "victim.txt"
    victim.write_text("precious")
    assert run("convert", "--into", str(job), "-q") == 0
    record = json.loads((job / ".made.json").read_text())
    record["stages"]["sheets"]["files"]["../victim.txt"] = content_hash(b"precious")
    (job / ".made.json").write_text(json.dumps(record))
    for command in (["convert", "--into", str(job), "--title", "x"], ["sheets", str(job)], ["status", str(job)]):
        capsys.readouterr()
        assert run(*command, "--json") == 3
        assert json.loads(capsys.readouterr().out)["code"] == "name-outside"
    assert victim.read_text() == "precious"
