"""Whether the search misses a layout: against a tiler that shares no code with it, on partitions made at random."""

import signal
from types import FrameType

from tests.benchmarks.table import Table
from tests.block.partitions import partition
from tests.block.test_every import found_and_wanted, is_same
from tests.block.tiler import ring_of

PARTITIONS = 200
LIMIT_S = 20  # of the processor for one partition: the tiler is plain


class _TooLongError(Exception):
    """The tiler, or the search, did not end."""


def complete(count: int = PARTITIONS) -> Table:
    """Squares and rectangles parted into three to nine pieces, counts known: the same layouts, one for one."""
    signal.signal(signal.SIGPROF, _stop)
    pieces: dict[int, list[str]] = {}
    for seed in range(count):
        parted = partition(seed)
        pieces.setdefault(len(parted.pieces), []).append(_one(seed))
    rows = [
        [str(many), str(len(ends)), *(str(ends.count(end)) for end in ("the same", "more or fewer", "not ended"))]
        for many, ends in sorted(pieces.items())
    ]
    ended = [end for ends in pieces.values() for end in ends]
    return Table(
        heading="Layouts found, and layouts there are",
        command="python -m tests.benchmarks complete --write",
        about="Seeds 0 and on of tests/block/partitions.py (straight cuts across, whirls, merged pieces with "
        "set-in corners); a plain exhaustive tiler says what fits. Layouts are compared one for one, up to turns "
        f"and mirror images of the whole. More than {LIMIT_S} s of the processor for both together is not ended.",
        columns=("pieces", "partitions", "the same layouts", "more or fewer", "not ended"),
        rows=rows,
        summary=f"The same in {ended.count('the same')} of {len(ended) - ended.count('not ended')} that ended.",
    )


def _one(seed: int) -> str:
    parted = partition(seed)
    outline = ring_of(parted.outline)
    size = max(z.real for z in outline), max(z.imag for z in outline)
    signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
    try:
        found, wanted, whole = found_and_wanted(parted)
    except _TooLongError:
        return "not ended"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
    same = len(found) == len(wanted) and all(any(is_same(one, other, size) for other in wanted) for one in found)
    return "the same" if same and whole else "more or fewer"


def _stop(_signal: int, _frame: FrameType | None) -> None:
    raise _TooLongError
