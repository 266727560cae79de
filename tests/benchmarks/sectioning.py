"""How few sections, how sure and how fast, on blocks of 4 to 100 pieces; and the partitions of the 4 x 4 grid."""

import time
from collections.abc import Iterator

import numpy as np

from seamsurvey.foundation.arrangement import arrange
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block
from tests.benchmarks.table import Table
from tests.foundation import blocks
from tests.foundation.oracle import fewest_sections
from tests.foundation.partitions import as_block, partitions
from tests.foundation.verify import verify
from tests.outside.test_sectioning_references import falls_apart
from tests.scene.families import designs, family

# Beyond this the oracle takes longer than it is worth.
ORACLE_PIECES = 16


def sectioning() -> Table:
    """Every plan is replayed by the verifier; a number of sections is compared with brute force where that ends."""
    rows, seconds = [], []
    for name, block in _blocks():
        begun = time.process_time()
        plan = plan_foundation(block)
        seconds.append(time.process_time() - begun)
        verify(block, plan)
        straight = all(join.kind == "straight" for join in plan.joins)
        fewest = fewest_sections(block) if straight and len(block.pieces) <= ORACLE_PIECES else None
        rows.append(
            [
                name,
                str(len(block.pieces)),
                str(sum(section.copies for section in plan.sections)),
                str(len(plan.sections)),
                "proved" if plan.proof.searched_all else f"at least {plan.proof.lower_bound}",
                "" if fewest is None else str(fewest),
                str(sum(advice.code == "set-in" for advice in plan.advice)),
                f"{seconds[-1]:.2f}",
            ]
        )
    return Table(
        heading="Sections",
        command="python -m tests.benchmarks sectioning --write",
        about="Fewest sections, all plans replayed by the verifier of the tests; time is that of the processor.",
        columns=["block", "pieces", "sections", "prints", "fewest", "by brute force", "set-in points", "s"],
        rows=rows,
        summary=f"{len(rows)} blocks: median {np.median(seconds):.2f} s, "
        f"95 % under {np.quantile(seconds, 0.95):.2f} s of one core.",
    )


def four_by_four() -> Table:
    """All partitions of the 4 x 4 grid into rectangles, by the planner's own full cuts."""
    verdicts = [falls_apart(arrange(as_block(partition))) for partition in partitions(4, 4)]
    return Table(
        heading="Partitions of the 4 x 4 grid",
        command="python -m tests.benchmarks partitions --write",
        about="Partitions into rectangles, and those that full cuts take apart (OEIS A116694, A182275).",
        columns=["", "found", "published"],
        rows=[["all", str(len(verdicts)), "70878"], ["taken apart by full cuts", str(sum(verdicts)), "68480"]],
    )


def _blocks() -> Iterator[tuple[str, Block]]:
    for name in designs():
        yield name, blocks.of_family(family(name))
    yield "eight-pointed star", blocks.eight_pointed_star()
    yield "eight-pointed star, halved", blocks.eight_pointed_star_halved()
    yield "log cabin of 81", blocks.log_cabin(20)
    yield "whirl of five", blocks.whirl_of_five()
    for columns, rows in ((2, 2), (4, 4), (8, 8), (10, 10)):
        yield f"grid {columns} x {rows}", blocks.grid(columns, rows)
    for pieces in (8, 12, 16, 30, 60, 100):
        for seed in range(3):
            yield f"cut up at random, {seed}", blocks.cut_up(seed + 100, pieces)
