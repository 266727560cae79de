"""What each edit of job.toml does again: every wish, and every correction."""

import tempfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests import edits
from tests.benchmarks.table import Table
from tests.quick_sight import quick_sight

_SHOWN = {
    "measured": "templates",
    "layout": "block",
    "searched": "block",
    "foundation": "sections",
    "sheets": "sheets",
}


def edited() -> Table:
    """Each edit on a copy of one job, and the next run counted."""
    rows = []
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory() as folder:
        worked = quick_sight(patch)
        first = edits.first_job(Path(folder) / "first")
        for number, one in enumerate(edits.EDITS):
            job = edits.copy(first, Path(folder) / str(number))
            one.make(job)
            foretold = edits.foretold(job)
            worked.clear()
            code = edits.quietly("sheets", str(job))
            done = [name for name in ("measured", "searched", "foundation", "sheets") if worked[name]]
            rows.append([f"`{one.name}`", _listed(foretold), _listed(done) if code == 0 else f"exit code {code}"])
    return Table(
        heading="What an edit of job.toml does again",
        command=".venv/bin/python -m tests.benchmarks edits",
        about="A job of two templates and six pieces; each edit on a copy of it, then `seamsurvey status` and "
        "`seamsurvey sheets`. A stage that comes to the same files as before leaves those after it alone: the "
        "photo is a stand-in, in which most of what is said of photos changes no length. A block that is taken of "
        "those already found is not searched for again.",
        columns=("edit", "`status` foretells", "done again"),
        rows=rows,
    )


def _listed(stages: Sequence[str]) -> str:
    return ", ".join(_SHOWN[stage] for stage in stages) or "nothing"
