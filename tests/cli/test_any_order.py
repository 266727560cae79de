"""Whatever was edited, said and run, in whatever order: the files are those of a fresh job with the last wishes."""

import json
import shutil
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from seamsurvey.job.toml_text import with_value, without_value
from tests.quick_sight import photo, quick_sight, without_notes
from tests.several import HALF, SIDE, SQUARE

from .test_commands import run

# Two values of each, so that an edit may come back to where it was.
EDITS: dict[tuple[str, ...], tuple[Any, Any]] = {
    ("paper",): ("a4", "legal"),
    ("allowance",): ("none", "1/4 in"),
    ("finish",): ("12 in", "10 in"),
    ("prefer",): ("fewest-papers", "fits-page"),
    ("colours", HALF): ("#aa4444", "#4444aa"),
    ("fabrics", SQUARE): ("sky", "sea"),
    ("quilt", "across"): (4, 5),
    ("templates", HALF, "edges"): ({"1": "2 in"}, {"1": "1 3/4 in"}),
    ("templates", SQUARE, "edges"): ({"1": "2 in"}, {"1": "1 3/4 in"}),
}
OPTIONS = (
    ["--paper", "a4"],
    ["--finish", "12in"],
    ["--allowance", "1/4in"],
    ["--allowance", "none"],
    ["--blocks", "4"],
    ["--layout", "1"],
    ["--layout", "2"],
    ["--layout", "99"],
    ["--count", "nobody=3"],
    ["--colour", f"{HALF}=#aa4444"],
)
COMMANDS = ("convert", "measure", "assemble", "section", "sheets")


class AnyOrder(RuleBasedStateMachine):
    """One job, and everything a person may do to it."""

    def __init__(self) -> None:
        super().__init__()
        self.patch = pytest.MonkeyPatch()
        quick_sight(self.patch, drawn=False)
        self.folder = Path(tempfile.mkdtemp())
        self.job = self.folder / "job"

    @initialize()
    def begin(self) -> None:
        """A job with a title of its own, so that a copy of it elsewhere is called alike."""
        photo(self.folder / "scan.jpg")
        words = ["--allowance", "none", "--title", "T", "--count", f"{HALF}=4", "--count", f"{SQUARE}=2"]
        assert run("measure", str(self.folder / "scan.jpg"), "--into", str(self.job), "--allowance", "none") == 0
        assert run("convert", "--into", str(self.job), *words, "-q") == 0

    def edit(self, text: str) -> None:
        """Write job.toml."""
        (self.job / "job.toml").write_text(text)

    @property
    def wishes(self) -> str:
        """What job.toml says."""
        return (self.job / "job.toml").read_text()

    @rule(path=st.sampled_from(sorted(EDITS)), which=st.integers(0, 1))
    def write(self, path: tuple[str, ...], which: int) -> None:
        """A person edits job.toml."""
        self.edit(with_value(self.wishes, path, EDITS[path][which]))

    @rule(path=st.sampled_from([*sorted(EDITS), ("layout",)]))
    def strike_out(self, path: tuple[str, ...]) -> None:
        """A person takes a line out of job.toml."""
        if path != ("allowance",):
            self.edit(without_value(self.wishes, path))

    @rule(command=st.sampled_from(COMMANDS))
    def run_some(self, command: str) -> None:
        """Any command, as the job is."""
        self.run(command)

    @rule(options=st.sampled_from(OPTIONS))
    def say(self, options: list[str]) -> None:
        """Something is said on the command line, which may be refused."""
        self.run("convert", *options)

    @rule(key=st.sampled_from(["layout", "finish", "paper", f"colours.{HALF}"]))
    def forget(self, key: str) -> None:
        """An answer is taken back."""
        self.run("convert", "--forget", key)

    @rule(side=st.sampled_from([SIDE, 2 * SIDE]))
    def photograph_again(self, side: float) -> None:
        """Another picture lies where the photo was."""
        photo(self.folder / "scan.jpg", side)

    @rule(data=st.data())
    @precondition(lambda self: self.job.exists())
    def lose_a_file(self, data: st.DataObject) -> None:
        """A file that the program made is deleted."""
        made = sorted(without_notes(self.job))
        if made:
            (self.job / data.draw(st.sampled_from(made))).unlink()

    def run(self, command: str, *words: str) -> int:
        """The exit code; no bug of ours, and no question that nobody asked."""
        where = ["--into", str(self.job)] if command in ("convert", "measure") else [str(self.job)]
        code = run(command, *where, *words, "-q")
        assert code in (0, 2, 3, 4)
        return code

    def teardown(self) -> None:
        """The job, gone on with, and one made anew from its wishes come to the same end and the same files."""
        try:
            if (self.job / "job.toml").exists():
                self.compare()
        finally:
            self.patch.undo()
            shutil.rmtree(self.folder)

    def compare(self) -> None:
        """Both runs, and their files."""
        fresh = self.folder / "fresh"
        fresh.mkdir()
        (fresh / "job.toml").write_text(self.wishes)
        ended = self.run("convert")
        assert run("convert", "--into", str(fresh), "-q") == ended
        if ended == 0:
            assert without_notes(self.job) == without_notes(fresh)
            made = json.loads((self.job / ".made.json").read_text())["stages"]
            assert {name for stage in made.values() for name in stage["files"]} == set(without_notes(self.job))


AnyOrder.TestCase.settings = settings(
    max_examples=8, stateful_step_count=8, deadline=None, suppress_health_check=list(HealthCheck)
)
TestAnyOrder = AnyOrder.TestCase
