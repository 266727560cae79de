"""Progress of a batch on stderr: a line for each set, and how long the rest will take."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from seamsurvey_cli.console import stderr_console

if TYPE_CHECKING:
    from rich.status import Status

    from seamsurvey.archive_line import Step

# An estimate from fewer sets than this says more about those sets than about the rest.
_ENOUGH = 3


class BatchReporter:
    """Shows each set as it is finished; in a terminal also what is left."""

    def __init__(self, *, quiet: bool, verbose: bool, no_color: bool) -> None:
        self.quiet = quiet
        self.verbose = verbose
        self.console = stderr_console(no_color)
        self._status: Status | None = None
        self._began = time.monotonic()
        self._worked = 0
        self._seconds = 0.0
        self._processor_s = 0.0
        self._peak = 0

    def __call__(self, step: "Step") -> None:
        """Show one set."""
        if step.state != "kept":
            self._worked += 1
            self._seconds += step.seconds
            self._processor_s += step.processor_s
            self._peak = max(self._peak, step.peak_bytes)
        if self.quiet:
            return
        number = f"{step.number:>{len(str(step.total))}} of {step.total}"
        word = {"done": "", "kept": "", "to decide": "to decide: ", "failed": "not done: "}[step.state]
        took = f"  ({step.seconds:.1f} s, {step.peak_bytes / 1e6:.0f} MB)" if self.verbose and step.seconds else ""
        style = {"failed": "red", "to decide": "yellow"}.get(step.state, "")
        left = self._left(step)
        tail = f"  [{left}]" if left and self._status is None else ""
        self.console.print(
            f"{number}  {step.name}  {word}{step.text}{took}{tail}", style=style, markup=False, soft_wrap=True
        )
        if self._status is not None:
            self._status.update(left or "working ...")

    def _left(self, step: "Step") -> str:
        """How long the rest will take, should it go on as it went; "" while nobody can tell."""
        rest = step.total - step.number
        if rest == 0 or self._worked < _ENOUGH:
            return ""
        # Sets that were kept took no time, and those that wait may be kept as well: this is an upper bound.
        seconds = (time.monotonic() - self._began) / self._worked * rest
        return f"at most {duration_text(seconds)} left"

    def cost(self) -> dict[str, float]:
        """The sets that were done now, their time by the clock and the processor, and the most memory of one."""
        return {
            "sets": self._worked,
            "seconds": round(self._seconds, 3),
            "processor_seconds": round(self._processor_s, 3),
            "peak_bytes": self._peak,
        }

    def cost_lines(self) -> list[str]:
        """What the batch took, for planning a larger one."""
        if not self._worked:
            return []
        each = self._seconds / self._worked
        memory = f", at most {self._peak / 1e6:.0f} MB of memory for one" if self._peak else ""
        return [f"Took         {duration_text(time.monotonic() - self._began)}; {each:.1f} s a set{memory}"]

    @contextmanager
    def running(self) -> Iterator["BatchReporter"]:
        """While this lasts, a terminal shows that work is going on."""
        if self.quiet or not self.console.is_terminal:
            yield self
            return
        with self.console.status("working ...") as status:
            self._status = status
            try:
                yield self
            finally:
                self._status = None


def duration_text(seconds: float) -> str:
    """``40 s``, ``12 min``, ``3 h 20 min``."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    hours, minutes = divmod(round(seconds / 60), 60)
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"
