"""Where the right layout stands among those offered: the trade's best-known blocks, and designs of our own.

Each block is put together in a process of its own, which is ended when it takes too long. Times are those of one
core of the processor.
"""

import math
import os
import resource
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.context import ForkProcess

import numpy as np

from seamsurvey.block import recognised
from seamsurvey.block.assemble import assemble
from seamsurvey.block.tradition import Known, tradition
from seamsurvey.errors import SeamsurveyError
from tests.benchmarks.table import Table
from tests.block.sets import measured
from tests.scene.congruence import Template, rigid_map
from tests.scene.geometry import mirrored, signed_area
from tests.scene.trade_blocks import TRADE_BLOCKS, TradeBlock, is_right_block
from tests.scene.trade_designs import TESTED, design

NOISE_MM = 0.1
SEED = 1
SHOWN = 8  # layouts that a person looks through
LIMIT_S = 90  # of the processor, for one block; then it is counted as a timeout
WORKERS = int(os.environ.get("SEAMSURVEY_WORKERS", "1"))
DESIGNS = 100
_HANGS_S = 10 * LIMIT_S  # of the clock: a worker that does not even work
TIMEOUT = "timeout"


@dataclass(frozen=True)
class Outcome:
    """What came of one block.

    ``rank`` is the right layout's place among the ``offered``, from 1, None where it isn't among them; ``refused``
    the code of the error raised instead, or "timeout".
    """

    rank: int | None
    offered: int
    searched_all: bool
    layouts_found: int
    seconds: float
    refused: str = ""

    @property
    def place(self) -> str:
        """The rank as the table has it."""
        if self.refused:
            return self.refused
        if self.rank is None:
            return "missing"
        return str(self.rank) if self.rank <= SHOWN else f">{SHOWN}"


def outcome(block: TradeBlock, *, counted: bool, catalogue: Sequence[Known] | None = None) -> Outcome:
    """Assemble once, here; with another ``catalogue`` of known blocks than the tool's, in a process of its own."""
    if catalogue is not None:
        setattr(recognised, "tradition", lambda: tuple(catalogue))  # noqa: B010
    templates = measured(block, NOISE_MM, SEED, counted)
    begun = time.process_time()
    try:
        found = assemble(templates)
    except SeamsurveyError as error:
        return Outcome(None, 0, False, 0, time.process_time() - begun, error.code)
    took = time.process_time() - begun
    rank = next((k for k, one in enumerate(found, start=1) if is_right_block(block, one)), None)
    proof = found[0].proof
    return Outcome(rank, len(found), proof.searched_all, proof.layouts_found, took)


def outcomes(
    blocks: Sequence[TradeBlock], *, counted: bool, catalogue: Callable[[TradeBlock], Sequence[Known]] | None = None
) -> list[Outcome]:
    """Assemble each in a process of its own, WORKERS at a time; ``catalogue``: the blocks known to each."""
    done: dict[int, Outcome] = {}
    waiting = list(reversed(range(len(blocks))))
    running: dict[Connection, _Worker] = {}
    while waiting or running:
        while waiting and len(running) < WORKERS:
            k = waiting.pop()
            worker = _Worker.started(k, blocks[k], counted, catalogue(blocks[k]) if catalogue else None)
            running[worker.answer] = worker
        ready = wait(list(running), timeout=1.0)
        for answer, worker in list(running.items()):
            if answer in ready or worker.hangs():
                done[worker.number] = worker.ended()
                del running[answer]
    return [done[k] for k in range(len(blocks))]


@dataclass(frozen=True)
class _Worker:
    """A process at work on one block."""

    number: int
    process: ForkProcess
    answer: Connection
    begun: float

    @classmethod
    def started(cls, number: int, block: TradeBlock, counted: bool, catalogue: Sequence[Known] | None) -> "_Worker":
        context = get_context("fork")
        here, there = context.Pipe(duplex=False)
        process = context.Process(target=_work, args=(there, block, counted, catalogue), daemon=True)
        process.start()
        there.close()
        return cls(number, process, here, time.monotonic())

    def hangs(self) -> bool:
        return time.monotonic() - self.begun > _HANGS_S

    def ended(self) -> Outcome:
        """Its answer; a timeout where the system ended it, or ``hangs``. Raises RuntimeError for other failures."""
        try:
            found = self.answer.recv() if self.answer.poll() else None
        except EOFError:
            found = None
        if self.process.is_alive() and found is None:
            self.process.kill()
        self.process.join()
        if isinstance(found, Outcome):
            return found
        if found is None and (self.process.exitcode or 0) < 0:
            return Outcome(None, 0, False, 0, float(LIMIT_S), TIMEOUT)
        raise RuntimeError(f"the worker failed: {found or self.process.exitcode}")


def _work(answer: Connection, block: TradeBlock, counted: bool, catalogue: Sequence[Known] | None) -> None:
    resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_S, LIMIT_S))
    try:
        answer.send(outcome(block, counted=counted, catalogue=catalogue))
    except Exception as error:
        answer.send(f"{block.name}: {error!r}")


_COLUMNS = ("block", "pieces", "templates", "right layout", "offered", "all searched", "layouts found", "s")
ABOUT = (
    f"One of each template, each corner off by {NOISE_MM} mm along x and y (standard deviation). The place of the "
    f"right layout among those offered; more than {LIMIT_S} s of the processor is a timeout."
)


def trade(count: int = len(TRADE_BLOCKS)) -> Table:
    """The trade's blocks, counts known."""
    return _each(TRADE_BLOCKS[:count], "Blocks of the trade, counts known", "trade", counted=True)


def trade_uncounted(count: int = len(TRADE_BLOCKS)) -> Table:
    """The trade's blocks, counts not known."""
    return _each(TRADE_BLOCKS[:count], "Blocks of the trade, counts unknown", "trade-uncounted", counted=False)


def _all_but(block: TradeBlock) -> tuple[Known, ...]:
    return tuple(one for one in tradition() if one.name.lower() != block.name)


def trade_unknown(count: int = len(TRADE_BLOCKS)) -> Table:
    """The trade's blocks as if the catalogue of known blocks had each of them not, counts known and not."""
    blocks = TRADE_BLOCKS[:count]
    told, guessed = (outcomes(blocks, counted=counted, catalogue=_all_but) for counted in (True, False))
    return Table(
        heading="Blocks of the trade, as if each were unknown",
        command="python -m tests.benchmarks trade-unknown --write",
        about=f"{ABOUT} The catalogue of known blocks lacks the block itself, and has all others.",
        columns=("block", "pieces", "templates", "counts known", "s", "counts unknown", "s"),
        rows=[
            [
                block.name, str(len(block.pieces)), str(len(block.templates)), one.place, f"{one.seconds:.1f}",
                other.place, f"{other.seconds:.1f}",
            ]
            for block, one, other in zip(blocks, told, guessed, strict=True)
        ],
        summary=f"Counts known: {share(told)} Counts unknown: {share(guessed)}",
    )  # fmt: skip


def _each(blocks: Sequence[TradeBlock], heading: str, name: str, *, counted: bool) -> Table:
    found = outcomes(blocks, counted=counted)
    return Table(
        heading=heading,
        command=f"python -m tests.benchmarks {name} --write",
        about=ABOUT,
        columns=_COLUMNS,
        rows=[_row(block, one) for block, one in zip(blocks, found, strict=True)],
        summary=f"{share(found)} {_shared(blocks)}",
    )


def _shared(blocks: Sequence[TradeBlock]) -> str:
    pairs = [f"{one} and {other}" for one, other in sharing_cards(blocks)]
    return f"Cut from the same cards: {'; '.join(pairs)}." if pairs else ""


def _row(block: TradeBlock, one: Outcome) -> list[str]:
    found = [str(one.offered), "yes" if one.searched_all else "no", str(one.layouts_found)]
    return [
        block.name, str(len(block.pieces)), str(len(block.templates)), one.place,
        *(["", "", ""] if one.refused else found), f"{one.seconds:.1f}",
    ]  # fmt: skip


def share(found: Sequence[Outcome]) -> str:
    """How many are right, and how long they took, in words."""
    first, shown = (sum(one.rank is not None and one.rank <= most for one in found) for most in (1, SHOWN))
    took = [one.seconds for one in found]
    late = sum(one.refused == TIMEOUT for one in found)
    return (
        f"The right layout is first in {first} of {len(found)} ({100 * first / len(found):.0f} %), among the first "
        f"{SHOWN} in {shown} ({100 * shown / len(found):.0f} %); {np.median(took):.1f} s in the middle, "
        f"{np.quantile(took, 0.95):.1f} s for 95 % of them; {late} timeout{'' if late == 1 else 's'}."
    )


def trade_designs(count: int = DESIGNS) -> Table:
    """Designs of our own that nothing was fitted to, counts known and not, by their structure."""
    blocks = [design(TESTED + k) for k in range(count)]
    kinds = [block.name.rsplit(" ", 1)[0] for block in blocks]
    rows, summaries = [], []
    for counted in (True, False):
        found = outcomes(blocks, counted=counted)
        rows += [_kind_row(kind, found, kinds, counted=counted) for kind in sorted(set(kinds))]
        summaries.append(f"Counts {'known' if counted else 'unknown'}: {share(found)}")
    return Table(
        heading="Designs of our own in the trade's structures",
        command="python -m tests.benchmarks trade-designs --write",
        about=ABOUT,
        columns=("structure", "counts", "designs", "right one first", f"among the first {SHOWN}", "median s"),
        rows=rows,
        summary=" ".join(summaries),
    )


def _kind_row(kind: str, found: Sequence[Outcome], kinds: Sequence[str], *, counted: bool) -> list[str]:
    some = [one for one, its in zip(found, kinds, strict=True) if its == kind]
    ranks = [one.rank for one in some if one.rank is not None]
    return [
        kind, "known" if counted else "unknown", str(len(some)), str(ranks.count(1)),
        str(sum(rank <= SHOWN for rank in ranks)), f"{np.median([one.seconds for one in some]):.1f}",
    ]  # fmt: skip


def sharing_cards(blocks: Sequence[TradeBlock]) -> Iterator[tuple[str, str]]:
    """Pairs of blocks that are cut from the same cards, as many of each, when their outlines are made as large."""
    for one, other in combinations(blocks, 2):
        scale = math.sqrt(signed_area(other.outline) / signed_area(one.outline))
        if one.kind == other.kind and len(one.templates) == len(other.templates):
            pairs = [(t, u) for t in one.templates for u in other.templates if _same_cards(t, u, scale)]
            if len(pairs) == len(one.templates):
                yield one.name, other.name


def _same_cards(one: Template, other: Template, scale: float) -> bool:
    counts = one.count, one.reversed_count
    shape = one.finished * scale
    if counts == (other.count, other.reversed_count) and rigid_map(shape, other.finished) is not None:
        return True
    turned = other.reversed_count, other.count
    return counts == turned and rigid_map(mirrored(shape), other.finished) is not None
