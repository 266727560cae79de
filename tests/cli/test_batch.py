"""Many sets into one archive: nothing stops the others, nothing is lost or doubled, wherever it was made."""

import csv
import json
import math
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import distributed
import pytest

from .test_commands import run

IN = 25.4
SIDES = (2, 3, 5)


def by_hand(side_in: float) -> str:
    """A square on its tip and four corner triangles, measured by hand: quick to assemble."""
    s = side_in * IN
    templates = [
        {"name": "middle", "finished_outline_mm": [[0, 0], [s, 0], [s, s], [0, s]], "count": 1},
        {"name": "side", "finished_outline_mm": [[0, 0], [s, 0], [s / 2, s / 2]], "count": 4},
    ]
    return json.dumps({"format": "seamsurvey.measured/1", "templates": templates})


def pie_by_hand(radius: float) -> str:
    """A square of one and a half times the radius: a quarter disc in its corner, and what is left."""
    side = 1.5 * radius
    pie = [[0, 0], [radius, 0], [0, radius]]
    rest = [[radius, 0], [side, 0], [side, side], [0, side], [0, radius]]
    curves = ([0, 90, 0], [0, 0, 0, 0, -90])
    templates = [
        {
            "name": name, "finished_outline_mm": outline, "count": 1,
            "edges": [{"curve": {"kind": "arc", "sweep_deg": turn}} if turn else {} for turn in sweeps],
        }
        for name, outline, sweeps in zip(("pie", "rest"), (pie, rest), curves, strict=True)
    ]  # fmt: skip
    return json.dumps({"format": "seamsurvey.measured/1", "templates": templates})


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """Three sets by hand, one file that is no picture, and a manifest."""
    folder = tmp_path / "shelf"
    for side in SIDES:
        (folder / f"set-{side}").mkdir(parents=True)
        (folder / f"set-{side}" / "measured.json").write_text(by_hand(side))
    (folder / "broken.jpg").write_bytes(b"Dear quilter, ...")
    (folder / "manifest.csv").write_text("set,title,source\nset-3,Three by three,blue envelope\n")
    return folder


def content(archive: Path) -> dict[str, bytes]:
    """Every file of an archive, the lock left out."""
    return {
        str(p.relative_to(archive)): p.read_bytes()
        for p in sorted(archive.rglob("*"))
        if p.is_file() and p.name != ".lock"
    }


def test_a_shelf_becomes_an_archive_and_a_failing_set_stops_nothing(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """All sets but the broken one are done; run again nothing is done, and of what changed only that."""
    archive = tmp_path / "archive"
    assert run("batch", str(shelf), "--into", str(archive), "--jobs", "2") == 3
    said = capsys.readouterr()
    assert "3 done, 1 not done" in said.out
    with (archive / "index.csv").open(newline="") as stream:
        rows = {row["set"]: row for row in csv.DictReader(stream)}
    assert {name: row["state"] for name, row in rows.items()} == {
        "broken": "failed", **{f"set-{side}": "done" for side in SIDES}
    }  # fmt: skip
    assert (rows["set-3"]["title"], rows["set-3"]["source"]) == ("Three by three", "blue envelope")
    assert float(rows["set-3"]["width_mm"]) == pytest.approx(3 * IN * 2**0.5, abs=0.2)
    assert rows["set-2"]["alike"].count("same block") == 2
    assert (archive / "sets" / "set-2" / "foundations.pdf").read_bytes().startswith(b"%PDF-")

    before = {p: p.stat().st_mtime_ns for p in archive.rglob("*") if p.is_file()}
    assert run("batch", str(shelf), "--into", str(archive), "--jobs", "2") == 3
    assert capsys.readouterr().err.count("nothing changed") == 4
    assert {p: p.stat().st_mtime_ns for p in archive.rglob("*") if p.is_file()} == before

    (shelf / "set-5" / "measured.json").write_text(by_hand(6))
    (archive / "sets" / "set-2" / "job.toml").write_text('title = "By me"\npaper = "a4"\n')
    assert run("batch", str(shelf), "--into", str(archive), "--jobs", "2", "--json", "-q") == 3
    data = json.loads(capsys.readouterr().out)
    assert data["format"] == "seamsurvey.batch/1"
    changed = {p.parent.name for p, at in before.items() if p.name == "set.json" and p.stat().st_mtime_ns != at}
    assert changed == {"set-2", "set-5"}
    assert json.loads((archive / "sets" / "set-5" / "layout.json").read_text())["block"][
        "width_mm"
    ] == pytest.approx(6 * IN * 2**0.5, abs=0.2)


def test_curved_sets_are_drawn_and_compared_as_the_arcs_they_are(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A quarter disc in a square, and the same at twice the size: alike, areas as on paper, arcs drawn."""
    shelf, archive = tmp_path / "shelf", tmp_path / "archive"
    for size in (60.0, 120.0):
        (shelf / f"pie-{size:.0f}").mkdir(parents=True)
        (shelf / f"pie-{size:.0f}" / "measured.json").write_text(pie_by_hand(size))
    assert run("batch", str(shelf), "--into", str(archive), "--jobs", "1") == 0
    capsys.readouterr()
    with closing(sqlite3.connect(archive / "index.sqlite")) as db:
        areas = dict(db.execute("SELECT name, area_mm2 FROM templates WHERE set_name = 'pie-60'"))
        arcs = sorted(db.execute("SELECT sweep_deg, radius_mm FROM edges WHERE radius_mm IS NOT NULL"))
        alike = db.execute("SELECT kind, size FROM alike").fetchall()
    assert areas["pie"] == pytest.approx(math.pi * 60**2 / 4, rel=1e-4)
    assert areas["rest"] == pytest.approx(90**2 - math.pi * 60**2 / 4, rel=1e-4)
    assert arcs == [pytest.approx(arc, abs=0.01) for arc in ((-90, 60), (-90, 120), (90, 60), (90, 120))]
    assert alike == [("same block", pytest.approx(0.5, rel=1e-3))]  # pie-120 comes first
    page = (archive / "index.html").read_text()
    data = json.loads(page.partition('type="application/json" id="data">')[2].partition("</script>")[0])
    for card in data["sets"]:
        assert min(len(shape) // 2 for shape in card["drawing"]["shapes"]) > 12  # corners alone would be 3 and 5


def test_kills_at_any_moment_lose_and_double_nothing(shelf: Path, tmp_path: Path) -> None:
    """Killed three times (kill -9), then run to its end, the archive is that of one quiet run."""
    quiet, killed = tmp_path / "quiet" / "archive", tmp_path / "killed" / "archive"
    assert run("batch", str(shelf), "--into", str(quiet), "--jobs", "2", "-q") == 3
    command = [sys.executable, "-c", "from seamsurvey_cli.main import main; main()"]
    command += ["batch", str(shelf), "--into", str(killed), "--jobs", "2", "-q"]
    for wait_for in range(3):
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # noqa: S603
        while process.poll() is None and len(list(killed.glob("sets/*/set.json"))) < wait_for:
            time.sleep(0.01)
        process.send_signal(signal.SIGKILL)
        process.wait()
    assert run("batch", str(shelf), "--into", str(killed), "--jobs", "2", "-q") == 3
    assert content(killed) == content(quiet)


@pytest.fixture
def scheduler() -> Iterator[distributed.LocalCluster]:
    """A scheduler with two worker processes on this machine only."""
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as local:
        yield local


@pytest.mark.filterwarnings("ignore")  # Dask's own, on closing
def test_a_cluster_that_loses_a_worker_makes_the_same_archive(
    shelf: Path, tmp_path: Path, scheduler: distributed.LocalCluster
) -> None:
    """With one of two workers killed while it works, the archive is byte for byte that of one machine."""
    here, there = tmp_path / "here" / "archive", tmp_path / "there" / "archive"
    assert run("batch", str(shelf), "--into", str(here), "--jobs", "2", "-q") == 3
    pids = [nanny.pid for nanny in scheduler.workers.values()]
    command = [sys.executable, "-c", "from seamsurvey_cli.main import main; main()", "batch", str(shelf), "--into"]
    command += [str(there), "--cluster", scheduler.scheduler_address, "-q"]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # noqa: S603
    while process.poll() is None and not list(there.glob("sets/*/set.json")):
        time.sleep(0.01)
    os.kill(pids[0], signal.SIGKILL)
    assert process.wait() == 3
    assert content(there) == content(here)


def test_a_dry_run_lists_the_sets_and_writes_nothing(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """--dry-run names every set with what belongs to it, and the archive does not come to be."""
    assert run("batch", str(shelf), "--into", str(tmp_path / "archive"), "--dry-run") == 0
    out = capsys.readouterr().out
    assert "broken: broken.jpg" in out
    assert "set-2: measured.json" in out
    assert not (tmp_path / "archive").exists()


@pytest.mark.parametrize(
    ("arguments", "ending"),
    [
        (["--manifest", "MANIFEST"], (3, "manifest")),
        (["--jobs", "0"], (2, "usage")),
        (["--cluster", "nowhere"], (3, "no-cluster")),
    ],
)
def test_what_makes_no_sense_is_refused(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], ending: tuple[int, str]
) -> None:
    """A manifest of a set that is not there, no jobs, and an address that is none end in their own errors."""
    (tmp_path / "list.csv").write_text("set,title\nset-9,Nine\n")
    words = [word.replace("MANIFEST", str(tmp_path / "list.csv")) for word in arguments]
    code = run("batch", str(shelf), "--into", str(tmp_path / "archive"), *words, "--json")
    assert (code, json.loads(capsys.readouterr().out)["code"]) == ending
