"""A shelf of rendered sets into one archive: how fast, how much memory, and nothing lost after ten kills."""

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tests.benchmarks.table import Table
from tests.scene.cards import Cutting
from tests.scene.families import random_family
from tests.scene.make import make_scan
from tests.scene.rulers import RULERS
from tests.scene.scan import BEDS, Scanner
from tests.scene.scatter import DoesNotFitError
from tests.scene.scene import Layout

KILLS = 10
COMMAND = [sys.executable, "-c", "from seamsurvey_cli.main import main; main()", "batch"]


def shelf(folder: Path, count: int) -> list[str]:
    """So many rendered scans, each in a folder of its own, with the counts in a manifest; the sets' names."""
    names: list[str] = []
    rows = ["set,allowance,layout,source"]
    seed = 0
    while len(names) < count:
        seed += 1
        name = f"envelope-{len(names) + 1:04d}"
        ruler = RULERS[("steel-6in", "plastic-15cm", "wood-12in-cm")[seed % 3]]
        try:
            make_scan(
                random_family(seed), Cutting(), Layout((ruler,)), Scanner(dpi=200), BEDS["full"], seed=seed,
                into=folder / name,
            )  # fmt: skip
        except DoesNotFitError:
            continue
        (folder / name / "truth.json").unlink()
        names.append(name)
        rows.append(f"{name},none,1,seed {seed}")
    (folder / "manifest.csv").write_text("\n".join(rows))
    return names


def archive(count: int = 24) -> Table:
    """The table for ``count`` sets: one quiet run, and one with ten kills at random moments."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "shelf"
        names = shelf(folder, count)
        rows, seconds = [], 0.0
        for kills in (0, KILLS):
            into = Path(scratch) / f"with-{kills}" / "archive"
            row, seconds = _run(folder, into, names, kills, seconds)
            rows.append(row)
        quiet, killed = (_done(Path(scratch) / f"with-{kills}" / "archive") for kills in (0, KILLS))
    return Table(
        heading="Archives: a batch of rendered sets",
        command=f"python -m tests.benchmarks archive --count {count}",
        about=(
            f"{count} rendered 200 dpi scans of random blocks, one of each template beside a ruler, the likeliest "
            "layout taken, searches limited to 10 s, two processes at once. Core-minutes are the sets' processor "
            "time; memory is the most that one set's process took. Kills are kill -9 at random moments, after "
            "each of which the same command is started again."
        ),
        columns=(
            "kills",
            "sets",
            "done",
            "to decide",
            "failed",
            "lost",
            "doubled",
            "sets a core-minute",
            "peak MB",
        ),
        rows=rows,
        summary=(
            "Sets that were done, with and without kills: "
            f"{'identical, byte for byte' if quiet == killed else 'DIFFERENT'}. (A search that its time limit ends "
            "counts its steps in its message.)"
        ),
    )


def _run(folder: Path, into: Path, names: list[str], kills: int, quiet_seconds: float) -> tuple[list[str], float]:
    command = [*COMMAND, str(folder), "--into", str(into), "--jobs", "2", "--time-limit", "10", "-q", "--json"]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "OMP_NUM_THREADS": "1"}
    rng = np.random.default_rng(kills)
    began = time.monotonic()
    for _ in range(kills):
        process = subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # noqa: S603
        time.sleep(float(rng.uniform(0.5, 1.5)) * quiet_seconds / (kills + 2))
        process.send_signal(signal.SIGKILL)
        process.wait()
    done = subprocess.run(command, env=env, capture_output=True, check=False)  # noqa: S603
    said = json.loads(done.stdout)
    found = [entry["name"] for entry in said["sets"]]
    states = [entry["state"] for entry in said["sets"]]
    minutes = said["cost"]["processor_seconds"] / 60
    row = [
        str(kills), str(len(names)), *(str(states.count(state)) for state in ("done", "to decide", "failed")),
        str(len(set(names) - set(found))), str(len(found) - len(set(found))),
        f"{len(names) / minutes:.1f}" if kills == 0 and minutes else "–", f"{said['cost']['peak_bytes'] / 1e6:.0f}",
    ]  # fmt: skip
    return row, time.monotonic() - began


def _done(into: Path) -> dict[str, bytes]:
    """Every file of the sets that were done."""
    places = [
        path.parent for path in sorted(into.glob("sets/*/set.json")) if b'"state": "done"' in path.read_bytes()
    ]
    return {str(path.relative_to(into)): path.read_bytes() for place in places for path in sorted(place.iterdir())}
