"""Side by side on this machine: each piece of work in a process of its own.

A process that ends gives back all its memory, and one that is killed takes nothing with it. On Linux and macOS the
processes are forked from a server that has the slow libraries loaded, so that a new one costs little.
"""

import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any, Generic, TypeVar

from attrs import define, frozen

from seamsurvey.runners.outcome import Outcome

T = TypeVar("T")
R = TypeVar("R")

# A scan of 300 dpi with its outlines takes about 0.6 GB at the most; three times that is left for each process.
ROOM_BYTES = 1_800_000_000
# One thread each: the processes share the processors already.
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@frozen(kw_only=True)
class Processes:
    """A runner with so many processes at once; ``limit_s`` ends a piece of work that takes longer."""

    at_once: int
    limit_s: float = 3600.0
    preload: tuple[str, ...] = ()  # modules that the processes find loaded

    def __call__(self, function: Callable[[T], R], works: Iterable[T]) -> Iterator[Outcome[T, R]]:
        """Yield the outcomes as they come; when left early, what is running is ended."""
        context = _context(self.preload)
        waiting = iter(works)
        running: list[_Running[T]] = []
        try:
            while True:
                while len(running) < self.at_once and (work := next(waiting, _END)) is not _END:
                    running.append(_start(context, function, work, self.limit_s))
                if not running:
                    return
                for done in _first_done(running):
                    running.remove(done)
                    yield _outcome(done)
        finally:
            for left in running:
                left.process.kill()
                left.process.join()


def room_for(memory_bytes: int | None, processors: int | None) -> int:
    """How many processes there is room for: no more than processors, and ROOM_BYTES of memory for each."""
    by_memory = memory_bytes // ROOM_BYTES if memory_bytes else 1
    return max(1, min(processors or 1, by_memory))


def free_memory() -> int | None:
    """Bytes of memory that are free on this machine; None where the system does not tell."""
    told = Path("/proc/meminfo")  # Linux
    if told.is_file():
        lines = (line.split() for line in told.read_text(encoding="ascii").splitlines())
        return next((int(words[1]) * 1024 for words in lines if words[0] == "MemAvailable:"), None)
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // 2
    except (ValueError, OSError, AttributeError):
        return None


_END: Any = object()


@define(eq=False)
class _Running(Generic[T]):
    work: T
    process: Any  # each way of starting has a class of its own
    result: Connection
    until: float


def _context(preload: tuple[str, ...]) -> Any:
    for name in _ONE_THREAD:
        os.environ.setdefault(name, "1")
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(preload))
    return context


def _start(context: Any, function: Callable[[T], Any], work: T, limit_s: float) -> _Running[T]:
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_work, args=(theirs, function, work), daemon=True)
    process.start()
    theirs.close()
    return _Running(work, process, ours, time.monotonic() + limit_s)


def _work(answer: Connection, function: Callable[[T], Any], work: T) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the one that waits: it ends the others
    answer.send(function(work))
    answer.close()


def _first_done(running: Sequence[_Running[T]]) -> list[_Running[T]]:
    """Those that have answered, died or taken too long; waits until there is one."""
    while True:
        left = max(0.0, min(each.until for each in running) - time.monotonic())
        ready = set(wait([each.result for each in running], timeout=left))
        now = time.monotonic()
        done = [each for each in running if each.result in ready or each.until <= now]
        if done:
            return done


def _outcome(done: _Running[T]) -> Outcome[T, Any]:
    """The answer; a broken pipe instead of one is a process that died."""
    try:
        if not done.result.poll():
            done.process.kill()
            return Outcome(done.work, died="it took longer than the time allowed")
        return Outcome(done.work, done.result.recv())
    except EOFError:
        done.process.join()
        code = done.process.exitcode
        return Outcome(
            done.work, died=f"its process ended with {f'signal {-code}' if code < 0 else f'code {code}'}"
        )
    finally:
        done.process.join()
        done.result.close()
