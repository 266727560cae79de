"""What a person reads: progress and notes on stderr, errors with what, where, why and what to do."""

import os
import shlex
import shutil
import signal
import sys
import textwrap
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from seamsurvey.errors import SeamsurveyError, plain

if TYPE_CHECKING:
    from rich.console import Console
    from rich.status import Status

    from seamsurvey.stages import Progress

STAGES = ("photo", "templates", "block", "foundation", "sheets")
_WIDTH = 88


def error_lines(error: SeamsurveyError) -> list[str]:
    """Return an error as lines: one sentence, then where, the likely cause, what to do, the code."""
    parts = (("where", error.where), ("likely", error.likely), ("to do", error.todo), ("code", error.code))
    lines = [plain(f"seamsurvey: {error.what}")]
    for word, text in parts:
        if text:
            lines += wrapped(text, f"  {word:<8}", " " * 10)
    return lines


def wrapped(text: str, first: str, rest: str = "") -> list[str]:
    """Lines of a text; a command in it stays whole, and calls the program as it can be called from here."""
    wide = textwrap.wrap(
        text, _WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )
    return [plain(line, program()) for line in wide]


def program() -> str:
    """How the program can be called from where the person stands: by its name, if that finds this very one."""
    called = Path(sys.argv[0])
    if called.name not in ("seamsurvey", "seamsurvey.exe"):
        return "seamsurvey"
    found = shutil.which("seamsurvey")
    by_name = found is not None and Path(found).resolve() == called.resolve()
    return "seamsurvey" if by_name else shlex.quote(sys.argv[0])


def stderr_console(no_color: bool) -> "Console":
    """The console for progress and notes; colours off for NO_COLOR or a pipe."""
    from rich.console import Console

    return Console(stderr=True, no_color=no_color or "NO_COLOR" in os.environ or None, highlight=False)


class Reporter:
    """Shows progress: a line for each finished stage; in a terminal also what is being done right now."""

    def __init__(self, *, quiet: bool, verbose: bool, no_color: bool) -> None:
        self.quiet = quiet
        self.verbose = verbose
        self.console = stderr_console(no_color)
        self._status: Status | None = None
        self._begun: dict[str, float] = {}

    def __call__(self, progress: "Progress") -> None:
        """Show one step of the line."""
        number = STAGES.index(progress.stage) + 1
        head = f"{number} of {len(STAGES)}  {progress.stage:<11}"
        if progress.state == "begin":
            self._begun.setdefault(progress.stage, time.monotonic())
            if self._status is not None:
                self._status.update(f"{head} {progress.text or 'working'} ...")
            return
        if progress.state == "note":
            self._note(progress.text)
        elif not self.quiet:
            took = time.monotonic() - self._begun.get(progress.stage, time.monotonic())
            seconds = f"  ({took:.1f} s)" if self.verbose and progress.state == "done" else ""
            self.console.print(f"{head} {progress.text}{seconds}", markup=False, soft_wrap=True)

    def wait(self, text: str) -> None:
        """Say that and why nothing goes on, also where no progress is wanted: a person would take it for hung."""
        self.console.print(text, markup=False, soft_wrap=True)

    @contextmanager
    def stopping(self) -> Iterator[Callable[[], bool]]:
        """While this lasts, Ctrl-C asks for the best so far; a second one interrupts as ever."""
        asked: list[int] = []

        def once(signum: int, _frame: object) -> None:
            if asked:
                raise KeyboardInterrupt
            asked.append(signum)
            self._note("Taking the best layout found so far. Ctrl-C once more stops altogether.")

        try:
            before = signal.signal(signal.SIGINT, once)
        except ValueError:  # not in the main thread: nobody can press it here
            yield lambda: False
            return
        try:
            yield lambda: bool(asked)
        finally:
            signal.signal(signal.SIGINT, before)

    def _note(self, text: str) -> None:
        for line in wrapped(text, "        note  ", " " * 14):
            self.console.print(line, style="yellow", markup=False, soft_wrap=True)

    @contextmanager
    def running(self) -> Iterator["Reporter"]:
        """While this lasts, a terminal shows what is being done."""
        if self.quiet or not self.console.is_terminal:
            yield self
            return
        with self.console.status("reading ...") as status:
            self._status = status
            try:
                yield self
            finally:
                self._status = None


def result(lines: list[str]) -> None:
    """Print the result, and nothing else, to stdout."""
    for line in lines:
        print(line)
    sys.stdout.flush()
