"""Every wish and every correction that job.toml can hold, as one edit each, and the stages it must do again."""

import contextlib
import io
import json
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from attrs import field, frozen

from seamsurvey.job.toml_text import with_value, without_value
from tests.cli.test_commands import run
from tests.quick_sight import photo
from tests.several import HALF, SIDE, SQUARE

NOTHING: tuple[str, ...] = ()
SHEETS = ("sheets",)
SECTIONS = ("foundation", "sheets")
BLOCK = ("layout", "foundation", "sheets")
ALL = ("measured", "layout", "foundation", "sheets")
COUNTS = ("--count", f"{HALF}=4", "--count", f"{SQUARE}=2")


@frozen
class Edit:
    """A value written into job.toml, what else must be written with it, and the stages it makes out of date."""

    path: tuple[str, ...]
    value: Any
    again: tuple[str, ...]
    besides: Mapping[tuple[str, ...], Any] = field(factory=dict)  # None takes a line out

    @property
    def name(self) -> str:
        """As it stands in job.toml."""
        return f"{'.'.join(self.path)} = {json.dumps(self.value, ensure_ascii=False)}"

    def make(self, job: Path) -> None:
        """Write it, as a person does."""
        text = (job / "job.toml").read_text()
        for path, value in {self.path: self.value, **self.besides}.items():
            text = without_value(text, path) if value is None else with_value(text, path, value)
        (job / "job.toml").write_text(text)


EDITS = (
    Edit(("title",), "Barn", SHEETS),
    Edit(("came_from",), "an attic", SHEETS),
    Edit(("paper",), "a3", SHEETS),
    Edit(("print_scale",), "0.99x0.99", SHEETS),
    Edit(("seam_allowance",), "6 mm", SHEETS),
    Edit(("oversize",), "3/4 in", SHEETS),
    Edit(("blocks",), 12, SHEETS),
    Edit(("fabric_width",), "44 in", SHEETS),
    Edit(("fabric_reserve",), "20 %", SHEETS),
    Edit(("only",), "foundations", SHEETS),
    Edit(("fabrics", HALF), "blue check", SHEETS),
    Edit(("quilt", "across"), 5, SHEETS),
    Edit(("quilt", "sashing"), "1 in", SHEETS),
    Edit(("colours", HALF), "#aa4444", SECTIONS),
    Edit(("prefer",), "fewest-papers", SECTIONS),
    Edit(("pieced_start",), "when-it-helps", SECTIONS),
    Edit(("way",), "partial", SECTIONS),
    Edit(("never_cut",), [HALF], SECTIONS),
    Edit(("layout",), 2, BLOCK),
    Edit(("counts", HALF), 2, BLOCK, {("counts", SQUARE): 3}),
    Edit(("finish",), "12 in", BLOCK),
    Edit(("snap",), "off", BLOCK),
    Edit(("symmetry",), "half-turn", BLOCK),
    Edit(("outline",), "square", BLOCK),
    Edit(("meets",), [[f"{HALF}.2", f"{SQUARE}.1"]], BLOCK),
    Edit(("turn",), [f"{HALF}-1"], BLOCK),
    Edit(("exchange",), [[f"{HALF}-1", f"{HALF}-4"]], BLOCK),
    Edit(("seed",), 3, BLOCK),
    Edit(("time_limit",), 30, BLOCK),
    Edit(("ignore",), ["scan.jpg 3 4"], NOTHING),  # nothing was left out
    Edit(("units",), "mm", ALL),
    Edit(("allowance",), "1/4 in", ALL),
    Edit(("thickness",), "0.5 mm", ALL),
    Edit(("reference",), "ruler", ALL),
    Edit(("ruler",), "inch", ALL),
    Edit(("ruler_length",), "12 in", ALL),
    Edit(("ruler_thickness",), "3 mm", ALL),
    Edit(("target_bars",), "99.8 mm x 100.2 mm", ALL),
    Edit(("taken_with",), "scanner", ALL),
    Edit(("templates_are",), "cards", ALL),
    Edit(("cards",), "ignore", ALL),
    Edit(("scale_bar",), "1 in", ALL),
    Edit(("page_grid",), "1/4 in", ALL),
    Edit(("photos",), ["../again.jpg"], ALL),
    Edit(("confirm",), ["scan.jpg 3 4"], ALL),
    Edit(("drawn",), [{"photo": "scan.jpg", "corners": [[310, 20], [400, 20], [400, 90]]}], ALL),
    Edit(("merge",), [[HALF, SQUARE]], ALL),
    Edit(("split",), [HALF], ALL),
    Edit(("templates", HALF, "name"), "sail", ALL, {("counts", "sail"): 4, ("counts", HALF): None}),
    Edit(("templates", HALF, "exclude"), True, ALL, {("counts", HALF): None}),
    Edit(("templates", HALF, "corners", "2"), [120.0, 260.0], ALL),
    Edit(("templates", HALF, "edges", "1"), "1 3/4 in", ALL, {("templates", SQUARE, "edges", "1"): "1 3/4 in"}),
    Edit(("templates", HALF, "allowance"), "1/4 in", ALL),
)


def first_job(folder: Path) -> Path:
    """A job made of a photo in this folder, with a title of its own, so that a copy of it is called alike."""
    folder.mkdir(exist_ok=True)
    photo(folder / "again.jpg", SIDE + 12.7)
    scan, job = photo(folder / "scan.jpg"), folder / "job"
    words = ("--allowance", "none", "--title", "Same", *COUNTS, "--quiet")
    assert quietly("convert", str(scan), "--into", str(job), *words) == 0
    return job


def copy(job: Path, folder: Path) -> Path:
    """The job and its photos in another folder."""
    shutil.copytree(job.parent, folder)
    return folder / job.name


def foretold(job: Path) -> tuple[str, ...]:
    """The stages that status says would be done again."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        assert run("status", str(job), "--json") == 0
    return tuple(one["name"] for one in json.loads(said.getvalue())["stages"] if one["state"] == "stale")


def quietly(*words: str) -> int:
    """The exit code of a call whose words nobody wants to see."""
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        return run(*words)
