"""How often the right layout comes first, and how fast: ten families, three noises, counts known or not.

`wrong for sure` is a layout that is not the drawn one and is called the only one: it must never be. `offered`
counts where the right one is among those shown after the first, `other` where it isn't; `none` are refusals, with
a partial layout.
"""

import os
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from attrs import evolve

from seamsurvey.block.assemble import assemble
from seamsurvey.errors import SeamsurveyError
from seamsurvey.model import Block, TemplateSet
from tests.benchmarks.growth import growth_svg
from tests.benchmarks.layout_blocks import KINDS, block
from tests.benchmarks.table import Table
from tests.block.sets import is_right, measured
from tests.scene.families import Family

NOISES_MM = (0.1, 0.3, 0.5)
SEEDS = (1,)
MOST_PIECES = int(os.environ.get("SEAMSURVEY_MOST_PIECES", "100"))
TIME_LIMIT_S = 20.0
SIZE_GOAL_MM = 0.3
BLUNDER_MM = 2.0
MOST_UNCOUNTED, FEW = 9, 36
_ABOUT = (
    "One of each template, every edge measured with the noise given (standard deviation of its length, mm); at "
    f"most {TIME_LIMIT_S:.0f} s of counted work each."
)
_COLUMNS = (
    "counts", "noise", "blocks", "right one first", "offered", "other", "none found", "wrong for sure",
    "size error, median mm", "size within 0.3 mm", "size within U", "median s", "95 % s",
)  # fmt: skip
_SUMMARY = "Time is that of one core of the processor; the size is that of the side which is farther off."


@dataclass(frozen=True)
class Outcome:
    """What came of one block: how it ended, the size's error where the right layout came first, and the time.

    ``size_u_mm``: what the tool states for that size (k = 2).
    """

    name: str
    pieces: int
    end: str
    size_off_mm: float | None
    size_u_mm: float
    seconds: float


def outcome(family: Family, templates: TemplateSet) -> Outcome:
    """Assemble once. Time is that of the processor."""
    begun = time.process_time()
    off: float | None = None
    u = 0.0
    try:
        blocks = assemble(templates, time_limit_s=TIME_LIMIT_S)
    except SeamsurveyError as error:
        end = f"none: {error.code}"
    else:
        right = [is_right(family, one) for one in blocks]
        proof = blocks[0].proof
        end = _end(right, sure=proof.searched_all and proof.layouts_found == 1)
        if right[0]:
            off, u = _size_off(family, blocks[0]), blocks[0].size_u_mm
    return Outcome(family.name, len(family.pieces), end, off, u, time.process_time() - begun)


def _end(right: list[bool], *, sure: bool) -> str:
    if right[0]:
        return "right"
    if sure:
        return "wrong"
    return "offered" if any(right) else "other"


def _size_off(family: Family, found: Block) -> float:
    pairs = zip(sorted((found.width, found.height)), sorted(family.size), strict=True)
    return max(abs(a - b) for a, b in pairs)


def drawn() -> Iterator[tuple[str, Family]]:
    """All blocks of the benchmark: at least sixty with every size of every kind."""
    for kind in KINDS:
        for pieces in kind.sizes:
            if pieces > MOST_PIECES:
                continue
            for seed in SEEDS:
                yield kind.name, block(kind, pieces, seed)


def layouts() -> Table:
    """All blocks, counts known."""
    rows, outcomes = [], []
    for noise in NOISES_MM:
        row, some = _row(noise, counted=True, most=MOST_PIECES)
        rows.append(row)
        outcomes += some
    return Table(
        heading="Layouts",
        command="python -m tests.benchmarks layouts --write",
        about=f"Ten families of blocks of 4 to 100 pieces, each drawn at random. {_ABOUT}",
        columns=_COLUMNS,
        rows=rows,
        summary=_SUMMARY,
        figure=growth_svg(
            {
                "right layout first": [(one.pieces, one.seconds) for one in outcomes if one.end == "right"],
                "another first, or none": [(one.pieces, one.seconds) for one in outcomes if one.end != "right"],
            },
            across=(3, 5, 10, 20, 50, 100), up=(0.01, 0.1, 1, 10, 60),
            words="Time to assemble a block by its pieces, counts known",
        ),
        figure_name="layout-growth.svg",
    )  # fmt: skip


def layouts_of_few() -> Table:
    """The smaller blocks, as most are; counts known, and not."""
    rows = [_row(noise, counted=True, most=FEW)[0] for noise in NOISES_MM]
    rows += [_row(noise, counted=False, most=MOST_UNCOUNTED)[0] for noise in NOISES_MM]
    return Table(
        heading=f"Layouts of up to {FEW} pieces",
        command="python -m tests.benchmarks layouts-of-few --write",
        about=f"The smaller of these blocks. {_ABOUT}",
        columns=_COLUMNS,
        rows=rows,
        summary=_SUMMARY,
    )


def _row(noise: float, *, counted: bool, most: int) -> tuple[list[str], list[Outcome]]:
    outcomes = [
        outcome(family, measured(family, noise / np.sqrt(2), seed, counted))
        for seed, (_, family) in enumerate(drawn())
        if len(family.pieces) <= most
    ]
    ends = Counter(one.end for one in outcomes)
    sized = [(one.size_off_mm, one.size_u_mm) for one in outcomes if one.size_off_mm is not None]
    took = [one.seconds for one in outcomes]
    wrong = [f"{one.name} {one.pieces}" for one in outcomes if one.end == "wrong"]
    row = [
        "known" if counted else f"unknown, up to {most} pieces",
        f"{noise}",
        str(len(outcomes)),
        f"{ends['right']} ({100 * ends['right'] / len(outcomes):.0f} %)",
        str(ends["offered"]),
        str(ends["other"]),
        str(sum(number for end, number in ends.items() if end.startswith("none"))),
        ", ".join([str(len(wrong)), *wrong]),
        f"{np.median([off for off, _ in sized]):.2f}",
        f"{100 * np.mean([off <= SIZE_GOAL_MM for off, _ in sized]):.0f} %",
        f"{100 * np.mean([off <= u for off, u in sized]):.0f} %",
        f"{np.median(took):.2f}",
        f"{np.quantile(took, 0.95):.1f}",
    ]
    return row, outcomes


def blunders() -> Table:
    """One edge made 2 mm longer at one end: whether it, or the other edge at the moved corner, is named."""
    named = total = right = 0
    for number, (_, family) in enumerate(drawn()):
        if len(family.pieces) > 17:
            continue
        rng = np.random.default_rng([77, number])
        exact = measured(family, 0.1 / np.sqrt(2), number)
        t = int(rng.integers(len(exact.templates)))
        one = exact.templates[t]
        outline = one.finished_outline.copy()
        k = int(rng.integers(len(outline)))
        end = (k + 1) % len(outline)
        along = outline[end] - outline[k]
        outline[end] += BLUNDER_MM * along / np.hypot(*along)
        wrong = evolve(one, finished_outline=outline)
        changed = evolve(exact, templates=(*exact.templates[:t], wrong, *exact.templates[t + 1 :]))
        try:
            blocks = assemble(changed, time_limit_s=TIME_LIMIT_S)
        except SeamsurveyError:
            blocks = ()
        total += 1
        if blocks and is_right(family, blocks[0]):
            right += 1
            suspects = blocks[0].closure.suspect_edges
            named += bool(suspects) and suspects[0].template == one.name and suspects[0].edge in (k, end)
    return Table(
        heading="A mis-measured edge",
        command="python -m tests.benchmarks blunders --write",
        about="One end of one edge moved 2 mm along it, noise 0.1 mm, blocks up to 17 pieces, counts known.",
        columns=["blocks", "right layout first", "edge named (of those)"],
        rows=[[str(total), str(right), f"{named} ({100 * named / max(right, 1):.0f} %)"]],
    )
