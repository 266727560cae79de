"""Sectioning against numbers that others have counted.

Partitions of an m x n grid into rectangles: OEIS A116694. Those that fall apart by full cuts: OEIS A182275 (n x n)
and A222659 (m x n). Guillotine partitions by n cuts are the large Schröder numbers: E. Ackerman, G. Barequet,
R. Y. Pinter and D. Romik, The number of guillotine partitions in d dimensions, Information Processing Letters 98
(2006) 162-167. All partitions of that kind are the Baxter numbers (from memory). The 4 x 4 grid, 68480 of 70878,
takes minutes and is run by `python -m tests.benchmarks partitions`.

Fewest sections of blocks every quilter knows: derived by hand from the definition of a section.
"""

from collections.abc import Iterator

import pytest

from seamsurvey.foundation.arrangement import Arrangement, arrange
from seamsurvey.foundation.cuts import full_cuts
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block
from tests.foundation import blocks
from tests.foundation.partitions import as_block, diagonal_partitions, partitions


def falls_apart(net: Arrangement, region: int | None = None) -> bool:
    """Whether full cuts take a region apart down to single pieces; any cut may be taken first."""
    region = net.everything if region is None else region
    if region.bit_count() == 1:
        return True
    cuts = full_cuts(net, region)
    return bool(cuts) and falls_apart(net, cuts[0].one) and falls_apart(net, cuts[0].other)


@pytest.mark.parametrize(
    ("columns", "rows", "every", "straight"),
    [(1, 3, 4, 4), (2, 2, 8, 8), (2, 3, 34, 34), (3, 3, 322, 320), (3, 4, 3164, 3118)],
)
def test_partitions_of_a_grid_that_fall_apart(columns: int, rows: int, every: int, straight: int) -> None:
    """As many partitions into rectangles, and as many that full cuts take apart, as the OEIS says."""
    verdicts = [falls_apart(arrange(as_block(p))) for p in partitions(columns, rows)]
    assert (len(verdicts), sum(verdicts)) == (every, straight)


@pytest.mark.parametrize(
    ("cuts", "baxter", "schroeder"), [(0, 1, 1), (1, 2, 2), (2, 6, 6), (3, 22, 22), (4, 92, 90), (5, 422, 394)]
)
def test_guillotine_partitions_are_schroeder_numbers(cuts: int, baxter: int, schroeder: int) -> None:
    """Of all partitions by n segments, as many fall apart by full cuts as Ackerman et al. prove."""
    verdicts = [falls_apart(arrange(as_block(p))) for p in diagonal_partitions(cuts + 1)]
    assert (len(verdicts), sum(verdicts)) == (baxter, schroeder)


def test_the_whirl_of_five_has_no_full_cut() -> None:
    """Each of its meeting points has a seam straight through, and yet nothing comes off."""
    net = arrange(blocks.whirl_of_five())
    assert full_cuts(net, net.everything) == []


def _known_blocks() -> Iterator[tuple[str, Block, int]]:
    yield "half-square unit", blocks.half_square_unit(), 1
    yield "flying goose", blocks.flying_goose(), 1
    yield "square in a square", blocks.square_in_a_square(), 1
    yield "log cabin", blocks.log_cabin(), 1
    yield "four-patch", blocks.grid(2, 2), 2
    yield "hourglass", blocks.hourglass(), 2
    yield "pinwheel of eight triangles", blocks.pinwheel_of_eight(), 2
    yield "nine-patch", blocks.grid(3, 3), 3
    yield "eight-pointed star, squares and triangles halved", blocks.eight_pointed_star_halved(), 8


@pytest.mark.parametrize(("block", "fewest"), [pytest.param(b, n, id=name) for name, b, n in _known_blocks()])
def test_fewest_sections_of_known_blocks(block: Block, fewest: int) -> None:
    """The plan has the fewest sections, and says that it proved them."""
    proof = plan_foundation(block).proof
    assert (proof.fewest_sections, proof.lower_bound, proof.searched_all) == (fewest, fewest, True)


def test_the_halved_star_is_eight_sections_of_three() -> None:
    """Each wedge is a diamond, half a square and half a triangle."""
    plan = plan_foundation(blocks.eight_pointed_star_halved())
    assert [(len(s.pieces), s.copies) for s in plan.sections] == [(3, 4), (3, 4)]


def test_the_star_as_drawn_has_eight_y_points() -> None:
    """Each point between two diamonds is set in, and no other."""
    plan = plan_foundation(blocks.eight_pointed_star(), cure="set-in")
    assert len([advice for advice in plan.advice if advice.code == "set-in"]) == 8
