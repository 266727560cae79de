"""How few sections and cuts, how sure and how fast, on blocks of 4 to 100 pieces; partitions of the 4 x 4 grid."""

import time
from collections.abc import Iterator
from itertools import product

import numpy as np
import shapely
from attrs import evolve, frozen
from shapely.affinity import affine_transform

from seamsurvey.foundation.arrangement import arrange
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.geometry import moved
from seamsurvey.model import Block, FoundationPlan, Piece
from tests.benchmarks.growth import growth_svg
from tests.benchmarks.table import Table
from tests.foundation import blocks, set_in_blocks
from tests.foundation.cure_oracle import TooManyError, fewest_fragments
from tests.foundation.oracle import fewest_sections
from tests.foundation.partitions import as_block, partitions
from tests.foundation.verify import verify
from tests.outside.test_sectioning_references import falls_apart
from tests.scene.families import designs, family

# Beyond these the oracles take longer than they are worth.
ORACLE_PIECES = 16
ORACLE_REGIONS = 6000


@frozen
class _Row:
    """One block, planned, verified, and compared with brute force where that ends."""

    name: str
    block: Block
    plan: FoundationPlan
    seconds: float
    fragments_by_force: str
    sections_by_force: str

    @property
    def extra(self) -> int:
        """Extra fragments of the plan."""
        return next((cure.extra_fragments for cure in self.plan.cures if cure.chosen), 0)

    def cells(self) -> list[str]:
        """The row of the table."""
        cured = bool(self.plan.cures)
        kept, symmetries = _symmetries(self.block, self.plan)
        return [
            self.name,
            str(len(self.block.pieces)),
            self.plan.cures[0].kind if cured else "",
            str(self.extra) if cured else "",
            self.fragments_by_force,
            f"{kept} of {symmetries}" if cured else "",
            str(sum(section.copies for section in self.plan.sections)),
            str(len(self.plan.sections)),
            "proved" if self.plan.proof.searched_all else f"at least {self.plan.proof.lower_bound}",
            self.sections_by_force,
            f"{self.seconds:.2f}",
        ]


def sections() -> Table:
    """Every plan is replayed by the verifier; sections and extra fragments are compared with brute force."""
    rows = [_row(name, block) for name, block in _blocks()]
    seconds = [row.seconds for row in rows]
    forced = [row for row in rows if row.sections_by_force]
    cured = [row for row in rows if row.plan.cures]
    cures_forced = [row for row in cured if row.fragments_by_force]
    least = sum(row.fragments_by_force == str(row.extra) for row in cures_forced)
    fewest = sum(row.sections_by_force == str(sum(s.copies for s in row.plan.sections)) for row in forced)
    straight = sum(all(join.kind == "straight" for join in row.plan.joins) for row in cured)
    sizes = {row.name: len(row.block.pieces) for row in rows}
    return Table(
        heading="Sections",
        command="python -m tests.benchmarks sections --write",
        about="All plans are replayed by the verifier of the tests, which finds slivers, too. Brute force tries "
        "every line through two corners; it is left out where it would take longer than some minutes. Time is that "
        "of one core of the processor.",
        columns=["block", "pieces", "cure", "extra fragments", "by brute force", "symmetries kept", "sections",
                 "prints", "fewest", "by brute force", "s"],
        rows=[row.cells() for row in rows],
        summary=f"{len(rows)} blocks of {min(sizes.values())} to {max(sizes.values())} pieces, all verified. "
        f"Sections as brute force: {fewest} of {len(forced)}. Blocks with set-in seams that are sewn straight "
        f"without slivers: {straight} of {len(cured)}, with as few extra fragments as brute force {least} of "
        f"{len(cures_forced)}. "
        f"Median {np.median(seconds):.2f} s, 95 % under {np.quantile(seconds, 0.95):.2f} s.",
        figure=growth_svg(
            {
                "falls apart by straight cuts": [(sizes[r.name], r.seconds) for r in rows if not r.plan.cures],
                "set-in seams, cured": [(sizes[r.name], r.seconds) for r in cured],
            },
            across=(3, 5, 10, 20, 50, 100), up=(0.003, 0.01, 0.1, 1, 10),
            words="Time to plan a block by its pieces",
        ),
        figure_name="section-growth.svg",
    )  # fmt: skip


def _row(name: str, block: Block) -> _Row:
    begun = time.process_time()
    plan = plan_foundation(block)
    seconds = time.process_time() - begun
    verify(block, plan)
    sewn = _as_sewn(block, plan)
    straight = all(join.kind == "straight" for join in plan.joins)
    fewest = fewest_sections(sewn) if straight and len(sewn.pieces) <= ORACLE_PIECES else None
    return _Row(name, block, plan, seconds, _fragments_by_force(block, plan), "" if fewest is None else str(fewest))


def _fragments_by_force(block: Block, plan: FoundationPlan) -> str:
    added = [cure for cure in plan.cures if cure.kind == "added-seam"]
    if not added or len(block.pieces) > ORACLE_PIECES:
        return ""
    try:
        return str(fewest_fragments(block, added[0].extra_fragments, ORACLE_REGIONS))
    except TooManyError:
        return ""


def _as_sewn(block: Block, plan: FoundationPlan) -> Block:
    """The block of all patches where they lie, cut pieces in their parts."""
    patches = [
        moved(piece.outline, place.turn_deg, place.shift_mm)
        for section in plan.sections
        for place in section.places
        for piece in section.pieces
    ]
    return evolve(
        block,
        pieces=tuple(Piece(id=str(k), template="", reversed=False, outline=p) for k, p in enumerate(patches)),
    )


def _symmetries(block: Block, plan: FoundationPlan) -> tuple[int, int]:
    """How many of the block's own turns by quarters and mirrorings the added seams keep, and how many it has."""
    drawn = shapely.union_all([shapely.Polygon(piece.outline).boundary for piece in block.pieces])
    added = shapely.union_all([shapely.LineString([seam.start, seam.end]) for seam in plan.added_seams])
    middle = np.asarray(shapely.envelope(drawn).centroid.coords[0])
    kept = every = 0
    for quarter, flip in product(range(4), (1, -1)):
        c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarter]
        turn = np.array([[c, -s], [s, c]]) @ np.diag([flip, 1])
        way = [*turn.ravel(), *(middle - turn @ middle)]
        if affine_transform(drawn, way).hausdorff_distance(drawn) < 0.01:
            every += 1
            kept += added.is_empty or affine_transform(added, way).hausdorff_distance(added) < 0.01
    return kept, every


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
    for pieces in (8, 16, 30, 60, 100):
        for seed in range(2):
            yield f"cut up at random, {pieces}-{seed}", blocks.cut_up(seed + 100, pieces)
    for points in (5, 6, 8, 10, 12):
        yield f"star of {points} kites", set_in_blocks.kite_star(points)
    for seed, pieces in enumerate((8, 12, 16, 25, 40, 60)):
        yield f"whirls, {pieces}", set_in_blocks.whirls(seed + 1, pieces)
    for columns, rows in ((2, 1), (2, 2), (4, 3)):
        yield f"Y cells {columns} x {rows}", set_in_blocks.y_cells(columns, rows)
    for rings in (2, 3):
        yield f"rhombs, {3 * rings**2}", set_in_blocks.rhombs(rings)
