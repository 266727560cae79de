"""A job remembers its photos and every answer, and does again just what an edit makes out of date."""

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

from seamsurvey.job.corrections import CORRECTION_KEYS
from seamsurvey.job.toml_text import with_value
from seamsurvey.job.wish_keys import KEYS
from tests import edits
from tests.quick_sight import Worked, photo, quick_sight, without_notes
from tests.several import HALF, SIDE, SQUARE

from .test_commands import run

ALL = {"foundation": 1, "measured": 1, "searched": 1, "sheets": 1}
FROM_BLOCK = dict.fromkeys(("foundation", "searched", "sheets"), 1)
COUNTS = ("--count", f"{HALF}=4", "--count", f"{SQUARE}=2")


@pytest.fixture
def worked(monkeypatch: pytest.MonkeyPatch) -> Worked:
    """Pictures that are measured in no time, and the count of all work done."""
    return quick_sight(monkeypatch)


@pytest.fixture
def job(tmp_path: Path, worked: Worked) -> Path:
    """A job converted from a photo beside it."""
    folder = tmp_path / "job"
    assert (
        run("convert", str(photo(tmp_path / "scan.jpg")), "--into", str(folder), "--allowance", "none", *COUNTS)
        == 0
    )
    assert worked.taken() == ALL
    return folder


def edit(job: Path, *path: str, value: Any) -> None:
    """Write a value into job.toml, as a person does."""
    file = job / "job.toml"
    file.write_text(with_value(file.read_text(), path, value))


def width(job: Path) -> float:
    """The block's width, mm."""
    return float(json.loads((job / "layout.json").read_text())["block"]["width_mm"])


def test_a_correction_counts_without_naming_the_photo_again(job: Path, worked: Worked) -> None:
    """An allowance and an edge written into job.toml are measured by, from the picture on."""
    edit(job, "allowance", value="1/4 in")
    assert run("convert", "--into", str(job)) == 0
    assert worked.taken() == ALL
    assert width(job) == pytest.approx(2 * (SIDE - 12.7), abs=0.01)
    edit(job, "templates", HALF, "edges", "1", value="2 in")
    edit(job, "templates", SQUARE, "edges", "1", value="2 in")
    assert run("sheets", str(job)) == 0
    assert worked.taken() == ALL
    assert width(job) == pytest.approx(2 * 50.8, abs=0.01)


def test_the_layout_that_was_taken_is_not_asked_about_again(job: Path, worked: Worked) -> None:
    """After --layout 2 an edit of job.toml keeps the layout, whichever command is run."""
    assert run("convert", "--into", str(job), "--layout", "2", "--ask") == 0
    mine = json.loads((job / "layout.json").read_text())["pieces"]
    edit(job, "title", value="Another")
    for command in (["convert", "--into", str(job), "--ask"], ["assemble", str(job)], ["sheets", str(job)]):
        assert run(*command) == 0
    assert json.loads((job / "layout.json").read_text())["pieces"] == mine
    assert worked.taken() == {"foundation": 1, "sheets": 2}


def test_a_later_command_prints_the_size_that_an_earlier_one_was_told(job: Path, worked: Worked) -> None:
    """Assemble --finish 16in, then sheets: all say 16 in, and no sheet of another size is left between."""
    assert "8 × 8 in" not in (job / "report.html").read_text()
    assert run("assemble", str(job), "--finish", "16in") == 0
    assert not (job / "foundation.json").exists()
    assert not (job / "foundations.pdf").exists()
    assert (job / "old" / "foundations.pdf").exists()
    assert run("sheets", str(job)) == 0
    assert width(job) == pytest.approx(16 * 25.4)
    assert "16 × 16 in" in (job / "report.html").read_text()
    assert worked.taken() == FROM_BLOCK


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One job for all edits, to be copied."""
    with pytest.MonkeyPatch.context() as patch:
        quick_sight(patch, drawn=False)
        return edits.first_job(tmp_path_factory.mktemp("edits"))


@pytest.mark.parametrize("one", edits.EDITS, ids=lambda one: one.name)
def test_each_edit_does_again_what_depends_on_it(
    first: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, one: edits.Edit
) -> None:
    """Those stages are foretold, no others are done; files are as in a fresh job; a second run does nothing."""
    worked = quick_sight(monkeypatch, drawn=False)
    job = edits.copy(first, tmp_path / "here")
    one.make(job)
    fresh = job.with_name("fresh")
    fresh.mkdir()
    (fresh / "job.toml").write_text((job / "job.toml").read_text())
    assert edits.foretold(job) == one.again
    assert edits.quietly("sheets", str(job)) == 0
    # A stage that comes to the same files as before leaves those after it alone.
    done = {{"searched": "layout"}.get(name, name) for name in worked.taken()}
    assert done <= set(one.again)
    assert bool(done) == bool(one.again)
    assert edits.quietly("convert", "--into", str(fresh)) == 0
    assert without_notes(job) == without_notes(fresh)
    worked.clear()
    assert edits.quietly("convert", "--into", str(job)) == 0
    assert worked.taken() == {}


def test_every_key_of_job_toml_is_among_the_edits() -> None:
    """No wish and no correction is left untried, but a picture of the block, and what the program keeps itself."""
    assert {one.path[0] for one in edits.EDITS} == KEYS.keys() - {"picture", "taken"}
    assert {one.path[2] for one in edits.EDITS if one.path[0] == "templates"} == set(CORRECTION_KEYS)


def test_counts_are_no_reason_to_measure_again(job: Path, worked: Worked) -> None:
    """Where the allowance is known, a count bears on the block alone."""
    assert run("convert", "--into", str(job), "--count", f"{HALF}=2", "--count", f"{SQUARE}=1") == 0
    assert worked.taken() == FROM_BLOCK
    assert len(json.loads((job / "layout.json").read_text())["pieces"]) == 3


def test_a_photo_that_changed_is_measured_again_and_one_that_is_gone_is_told(
    job: Path, worked: Worked, capsys: pytest.CaptureFixture[str]
) -> None:
    """Another picture under the name is measured; none under it does no harm until one would be needed."""
    scan = photo(job.parent / "scan.jpg", 2 * SIDE)
    assert run("sheets", str(job)) == 0
    assert worked.taken() == ALL
    assert width(job) == pytest.approx(4 * SIDE, abs=0.01)
    assert "scan.jpg is another picture now" in capsys.readouterr().err

    scan.rename(scan.with_name("moved.jpg"))
    before = without_notes(job)
    assert run("convert", "--into", str(job)) == 0
    assert worked.taken() == {}
    assert "not there any more" in " ".join(capsys.readouterr().err.split())
    edit(job, "allowance", value="1/4 in")
    assert run("convert", "--into", str(job), "--json") == 3
    assert json.loads(capsys.readouterr().out)["code"] == "photo-gone"
    assert without_notes(job) == before
    assert run("convert", str(scan.with_name("moved.jpg")), "--into", str(job)) == 0
    assert tomllib.loads((job / "job.toml").read_text())["photos"] == ["../moved.jpg"]
    assert width(job) == pytest.approx(2 * (2 * SIDE - 12.7), abs=0.01)


def test_photos_are_kept_with_the_job_where_that_is_wished(tmp_path: Path, worked: Worked) -> None:
    """--copy-photos needs the original no more, and never replaces another picture's copy."""
    scan, job = photo(tmp_path / "scan.jpg"), tmp_path / "job"
    words = ["--into", str(job), "--allowance", "none", *COUNTS]
    assert run("convert", str(scan), *words, "--copy-photos") == 0
    assert tomllib.loads((job / "job.toml").read_text())["photos"] == ["photos/scan.jpg"]
    scan.unlink()
    job.rename(tmp_path / "elsewhere")
    worked.clear()
    assert run("convert", "--into", str(tmp_path / "elsewhere"), "--allowance", "1/4in") == 0
    assert worked.taken() == ALL
    photo(scan, 30.0)
    before = (tmp_path / "elsewhere" / "photos" / "scan.jpg").read_bytes()
    assert run("convert", str(scan), "--into", str(tmp_path / "elsewhere"), "--copy-photos") == 3
    assert (tmp_path / "elsewhere" / "photos" / "scan.jpg").read_bytes() == before


def test_answers_are_written_down_with_their_day_and_taken_back_by_name(job: Path) -> None:
    """Options stand in job.toml with when and from where; --forget takes one out, and the file is as it was."""
    before = (job / "job.toml").read_text()
    options = ["--paper", "a4", "--way", "partial", "--colour", f"{HALF}=#aa4444", "--finish", "12 in x 12 in"]
    assert run("convert", "--into", str(job), *options, "--sashing", "1in", "--layout", "1") == 0
    text = (job / "job.toml").read_text()
    said = tomllib.loads(text)
    assert (said["paper"], said["way"], said["colours"], said["layout"]) == ("a4", "partial", {HALF: "#aa4444"}, 1)
    assert (said["finish"], said["quilt"]) == ("12 in x 12 in", {"sashing": "1in"})
    assert text.count("on the command line") == before.count("on the command line") + 5
    keys = ("paper", "way", f"colours.{HALF}", "finish", "quilt", "layout")
    assert run("convert", "--into", str(job), *(word for key in keys for word in ("--forget", key))) == 0
    assert (job / "job.toml").read_text() == before


def test_what_is_refused_is_not_remembered(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A template nobody knows, a layout there is not, a count that fills nothing, no key: none leaves a trace."""
    before = (job / "job.toml").read_text()
    for words, code in (
        (["--count", "nobody=4"], "unknown-template"),
        (["--layout", "99"], "no-such-layout"),
        (["--count", f"{HALF}=3"], "count-cannot-fill"),
        (["--forget", "layuot"], "no-such-key"),
    ):
        assert run("convert", "--into", str(job), *words, "--json") in (2, 3)
        assert json.loads(capsys.readouterr().out)["code"] == code
        assert (job / "job.toml").read_text() == before


def test_job_toml_comes_before_the_environment(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A paper set up for all jobs counts where a job says none, and is then the job's; an edit comes before it."""
    monkeypatch.setenv("SEAMSURVEY_CONVERT_PAPER", "a4")
    assert run("convert", "--into", str(job)) == 0
    assert 'paper = "a4"' in (job / "job.toml").read_text()
    assert "by the environment" in (job / "job.toml").read_text()
    edit(job, "paper", value="legal")
    assert run("convert", "--into", str(job)) == 0
    assert tomllib.loads((job / "job.toml").read_text())["paper"] == "legal"


def test_measurements_by_hand_can_not_be_corrected_in_job_toml(
    tmp_path: Path, job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A correction that could have no effect is refused instead of ignored."""
    hand = tmp_path / "hand"
    hand.mkdir()
    (hand / "measured.json").write_bytes((job / "measured.json").read_bytes())
    (hand / "job.toml").write_text(f'[templates]\n{HALF}.edges.1 = "3 in"\n')
    assert run("assemble", str(hand), "--json") == 2
    assert json.loads(capsys.readouterr().out)["code"] == "nothing-to-correct"


def test_measurements_edited_by_hand_are_used_and_not_overwritten(
    job: Path, worked: Worked, capsys: pytest.CaptureFixture[str]
) -> None:
    """An edited measured.json goes into the block; an allowance said then is refused, or forced and both kept."""
    data = json.loads((job / "measured.json").read_text())
    for template in data["templates"]:
        template["finished_outline_mm"] = [[2 * x, 2 * y] for x, y in template["finished_outline_mm"]]
        template["edges"] = []
    (job / "measured.json").write_text(json.dumps(data))
    assert run("sheets", str(job)) == 0
    assert worked.taken() == FROM_BLOCK
    assert width(job) == pytest.approx(4 * SIDE, abs=0.01)
    assert "measured.json was changed by hand" in " ".join(capsys.readouterr().err.split())
    assert run("convert", "--into", str(job), "--allowance", "1/4in", "--json") == 3
    assert json.loads(capsys.readouterr().out)["code"] == "changed-by-hand"
    assert worked.taken() == {}
    assert width(job) == pytest.approx(4 * SIDE, abs=0.01)
    assert run("convert", "--into", str(job), "--allowance", "1/4in", "--force") == 0
    assert width(job) == pytest.approx(2 * (SIDE - 12.7), abs=0.01)
    assert json.loads((job / "old" / "measured.yours.json").read_text()) == data
