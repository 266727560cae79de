"""A shelf of rendered sets into one archive: how fast, how much memory, and nothing lost after ten kills."""

import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

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
STAGES = (0.25, 0.5, 1.0)  # of the sets: the shelf grows, and the archive with it
_OWN_PEAK = "peak of the command itself, kB:"
_PROGRAM = f"""
import atexit, resource, sys
peak = lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
atexit.register(lambda: print({_OWN_PEAK!r}, peak(), file=sys.stderr))
from seamsurvey_cli.main import main
main()
"""
COMMAND = [sys.executable, "-c", _PROGRAM, "batch"]


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
    """The table for ``count`` sets: on a shelf that grows, undisturbed; and with ten kills at random moments."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "shelf"
        names = shelf(folder, count)
        quiet_into, killed_into = (Path(scratch) / way / "archive" for way in ("quiet", "killed"))
        rows, seconds = [], 0.0
        for share in STAGES:
            some = names[: max(1, round(share * count))]
            row, took, _ = _run(_part(folder, some, Path(scratch) / "part"), quiet_into, some, 0, 0.0)
            rows.append(row)
            seconds += took
        row, _, said = _run(folder, killed_into, names, KILLS, seconds)
        rows.append(row)
        quiet, killed = _done(quiet_into), _done(killed_into)
    files = quiet.keys() | killed.keys()
    differing = sorted({Path(path).parts[1] for path in files if quiet.get(path) != killed.get(path)})
    codes = Counter(entry["code"] for entry in said["sets"] if entry["state"] == "failed")
    return Table(
        heading="Archives: a batch of rendered sets",
        command=f"python -m tests.benchmarks archive --count {count}",
        about=(
            f"{count} rendered 200 dpi scans of random blocks, one of each template beside a ruler, the likeliest "
            "layout taken, searches limited to 10 s, two processes at once; the shelf grows, and the same command "
            "does what is new. Core-minutes are the new sets' processor time; memory is the most that one set's "
            "process took, and the command itself, which makes the index. Kills are kill -9 at random moments, "
            "after each of which the same command is started again."
        ),
        columns=(
            "kills",
            "sets",
            "new",
            "done",
            "to decide",
            "failed",
            "lost",
            "doubled",
            "new sets a core-minute",
            "peak of a set, MB",
            "peak of the command, MB",
        ),
        rows=rows,
        summary=(
            f"Why sets failed: {', '.join(f'{n} {code}' for code, n in codes.most_common()) or 'none did'}. "
            "Sets that were done, with and without kills: "
            f"{'DIFFERENT: ' + ', '.join(differing) if differing else 'identical, byte for byte'}."
        ),
    )


def _part(shelf_: Path, names: list[str], into: Path) -> Path:
    """A shelf of only these sets."""
    into.mkdir(exist_ok=True)
    for name in names:
        if not (into / name).exists():
            shutil.copytree(shelf_ / name, into / name)
    rows = (shelf_ / "manifest.csv").read_text().splitlines()
    (into / "manifest.csv").write_text("\n".join(rows[: len(names) + 1]))
    return into


def _run(
    folder: Path, into: Path, names: list[str], kills: int, quiet_seconds: float
) -> tuple[list[str], float, dict[str, Any]]:
    command = [*COMMAND, str(folder), "--into", str(into), "--jobs", "2", "--time-limit", "10", "-q", "--json"]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), "OMP_NUM_THREADS": "1"}
    rng = np.random.default_rng(kills)
    before = len(list(into.glob("sets/*")))
    began = time.monotonic()
    for _ in range(kills):
        process = subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # noqa: S603
        time.sleep(float(rng.uniform(0.5, 1.5)) * quiet_seconds / (kills + 2))
        process.send_signal(signal.SIGKILL)
        process.wait()
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)  # noqa: S603
    said = json.loads(done.stdout)
    own_kb = int(done.stderr.rpartition(_OWN_PEAK)[2].split()[0])
    found = [entry["name"] for entry in said["sets"]]
    states = [entry["state"] for entry in said["sets"]]
    minutes = said["cost"]["processor_seconds"] / 60
    new = len(found) - before
    row = [
        str(kills), str(len(names)), str(new),
        *(str(states.count(state)) for state in ("done", "to decide", "failed")),
        str(len(set(names) - set(found))), str(len(found) - len(set(found))),
        f"{new / minutes:.1f}" if kills == 0 and minutes else "–",
        f"{said['cost']['peak_bytes'] / 1e6:.0f}", f"{own_kb / 1e3:.0f}",
    ]  # fmt: skip
    return row, time.monotonic() - began, said


def _done(into: Path) -> dict[str, bytes]:
    """Every file of the sets that were done."""
    places = [
        path.parent for path in sorted(into.glob("sets/*/set.json")) if b'"state": "done"' in path.read_bytes()
    ]
    return {str(path.relative_to(into)): path.read_bytes() for place in places for path in sorted(place.iterdir())}
