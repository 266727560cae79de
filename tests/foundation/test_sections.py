"""The fewest sections, against brute force."""

import numpy as np
import pytest
import shapely

from seamsurvey.foundation.arrangement import arrange
from seamsurvey.foundation.motions import Motions
from seamsurvey.foundation.order import Peeling
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.foundation.sections import Breakdown, Sectioning
from seamsurvey.model import Block
from tests.foundation.blocks import (
    cut_up,
    eight_pointed_star_halved,
    grid,
    of_family,
    pinwheel_of_eight,
    whirl_of_five,
)
from tests.foundation.oracle import fewest_sections
from tests.scene.families import designs, family


def best_of(block: Block, prefer: str = "fewest-sections", budget: int = 10_000) -> Breakdown:
    """The best way to take a block apart."""
    net = arrange(block)
    motions = Motions(net, [block.piece(name).template for name in net.ids])
    return Sectioning(net, motions, Peeling(net), prefer, budget).best(net.everything)


@pytest.mark.parametrize("pieces", [6, 9, 12, 16])
@pytest.mark.parametrize("seed", range(8))
def test_as_few_sections_as_brute_force_finds(seed: int, pieces: int) -> None:
    """On blocks cut up at random the number of sections is the oracle's, and is proved."""
    block = cut_up(seed, pieces)
    best = best_of(block)
    assert best.proved
    assert best.sections == best.least == fewest_sections(block)


@pytest.mark.parametrize("name", [name for name, design in designs().items() if not design.set_in])
def test_as_few_sections_as_brute_force_finds_in_the_families(name: str) -> None:
    """On the invented families the number of sections is the oracle's."""
    block = of_family(family(name))
    assert best_of(block).sections == fewest_sections(block)


def test_the_oracle_and_the_search_agree_that_a_whirl_is_not_sewn_straight() -> None:
    """A whirl of five has no full cut: no number of straight sections for the oracle, one set-in for the search."""
    assert fewest_sections(whirl_of_five()) is None
    best = best_of(whirl_of_five())
    assert (best.set_ins, best.bends) == (1, 1)
    assert not best.proved


@pytest.mark.parametrize("budget", [1, 2, 5, 20])
def test_a_search_that_stops_early_says_so_and_its_bound_holds(budget: int) -> None:
    """With a small budget the plan is still whole, the bound is never above the true fewest, nothing is proved."""
    block = cut_up(3, 60)
    true = best_of(block)
    best = best_of(block, budget=budget)
    assert not best.proved
    assert 2 <= best.least <= true.sections <= best.sections


def test_equal_cells_are_one_print() -> None:
    """The halved star needs two prints for its eight sections, the pinwheel one for its two."""
    assert len(best_of(eight_pointed_star_halved()).prints) == 2
    assert len(best_of(pinwheel_of_eight()).prints) == 1


@pytest.mark.parametrize("seed", range(6))
def test_fewest_papers_never_costs_more_papers(seed: int) -> None:
    """Sections and prints together are no more than with the other preference."""
    block = cut_up(seed, 20)
    papers, sections = best_of(block, "fewest-papers"), best_of(block)
    assert papers.sections + len(papers.prints) <= sections.sections + len(sections.prints)
    assert papers.least == sections.sections


def test_sixty_four_squares_are_eight_rows() -> None:
    """An 8 x 8 grid is eight strips of one print, proved."""
    best = best_of(grid(8, 8))
    assert (best.sections, len(best.prints), best.proved) == (8, 1, True)


@pytest.mark.parametrize(("columns", "rows", "crossings"), [(2, 2, 1), (3, 3, 4), (4, 2, 3)])
def test_crossings_of_a_grid(columns: int, rows: int, crossings: int) -> None:
    """Rows or columns joined meet at every inner corner of a grid."""
    assert best_of(grid(columns, rows)).crossings == crossings


@pytest.mark.parametrize("seed", range(6))
def test_crossings_are_those_along_the_joins(seed: int) -> None:
    """As many as the inner points of the joins at which two pieces or more touch from either side, by shapely."""
    block = cut_up(seed, 16)
    shapes = [shapely.Polygon(piece.outline) for piece in block.pieces]
    corners = np.unique(np.round(np.vstack([piece.outline for piece in block.pieces]), 6), axis=0)
    met = 0
    for join in plan_foundation(block).joins:
        line = shapely.LineString([join.start, join.end])
        half_planes = [line.buffer(1, single_sided=True), line.buffer(-1, single_sided=True)]
        for corner in corners:
            point = shapely.Point(corner)
            if line.distance(point) < 1e-4 and 1e-3 < line.project(point) < line.length - 1e-3:
                beside = [shape for shape in shapes if shape.distance(point) < 1e-4]
                met += all(sum(s.intersection(h).area > 1e-3 for s in beside) > 1 for h in half_planes)
    assert best_of(block).crossings == met
