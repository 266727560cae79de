"""Lengths set to a grid, jointly, and only where the measurements allow it."""

import numpy as np
import pytest
from attrs import evolve

from seamsurvey.block.assemble import assemble
from seamsurvey.block.parted import falls_apart
from seamsurvey.model import TemplateSet
from tests.block.sets import measured, tiling_faults
from tests.block.test_parted import layout_of
from tests.scene.families import MM_PER_INCH, family
from tests.scene.trade_blocks import trade_block

GRID = MM_PER_INCH / 16


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_lengths_go_to_the_true_mark_of_the_grid_or_nowhere(seed: int) -> None:
    """Noise of 0.1 mm on a block drawn in eighths of an inch: whatever is set becomes what was drawn, exactly."""
    truth = family("ferry-panel")
    (block,) = assemble(measured(truth, 0.1, seed), grid_mm=GRID)
    drawn = {"width": max(truth.size), "height": min(truth.size)}
    if block.width < block.height:
        drawn = {"width": min(truth.size), "height": max(truth.size)}
    for one in truth.templates:
        lengths = np.hypot(*(np.roll(one.finished, -1, axis=0) - one.finished).T)
        drawn |= {f"{one.name}, edge {k}": length for k, length in enumerate(lengths, 1)}
    assert len(block.snapped) > len(truth.templates)
    for snapped in block.snapped:
        assert snapped.to_mm == pytest.approx(drawn[snapped.what], abs=1e-9)
    assert max(tiling_faults(block)) < 1e-9


def test_what_is_said_to_have_moved_is_what_moved() -> None:
    """The report's new lengths are the block's own, and its old ones those of the block without a grid."""
    truth = family("kite-crown")
    templates = measured(truth, 0.1, 2)
    plain, snapped = assemble(templates)[0], assemble(templates, grid_mm=GRID)[0]
    said = {one.what: one for one in snapped.snapped}
    assert said["width"].from_mm == pytest.approx(plain.width, abs=1e-6)
    assert said["width"].to_mm == pytest.approx(snapped.width, abs=1e-6)
    assert all(one.to_mm / GRID == pytest.approx(round(one.to_mm / GRID), abs=1e-9) for one in said.values())


def test_a_block_off_the_grid_is_left_alone() -> None:
    """A size half-way between two marks of the grid, known to 0.02 mm, is not moved."""
    truth = family("box-in-box")
    scale = (round(truth.size[0] / GRID) + 0.5) * GRID / truth.size[0]
    exact = measured(truth, 0.02, 1)
    larger = evolve(
        exact, templates=tuple(evolve(t, finished_outline=t.finished_outline * scale) for t in exact.templates)
    )
    block = assemble(larger, grid_mm=GRID)[0]
    assert "width" not in {one.what for one in block.snapped}
    assert block.width == pytest.approx(truth.size[0] * scale, abs=0.1)


def test_slanted_edges_follow_from_their_corners() -> None:
    """No edge that lies along no side of the block is set to the grid."""
    truth = family("kite-crown")
    block = assemble(measured(truth, 0.1, 2), grid_mm=GRID)[0]
    sides = np.array([[1.0, 0.0], [0.0, 1.0]])
    for one in block.snapped:
        name, _, edge = one.what.partition(", edge ")
        if not edge:
            continue
        along = []
        for piece in block.pieces:
            if piece.template == name:
                n = len(piece.outline)
                k = n - int(edge) if piece.reversed else int(edge) - 1
                along.append(piece.outline[(k + 1) % n] - piece.outline[k])
        assert any(abs(side @ v) < 1e-3 * np.hypot(*v) for v in along for side in sides)


@pytest.mark.parametrize("seed", [2, 3])
def test_a_block_drafted_on_squared_paper_comes_back_on_it(seed: int) -> None:
    """Measured to 0.1 mm, every corner of a star drawn in quarters of an inch lies on its drawn place again."""
    truth = family("millrace-star")
    block = assemble(measured(truth, 0.1, seed), symmetry="quarter-turn", grid_mm=GRID)[0]
    corners = np.concatenate([piece.outline for piece in block.pieces]) / (MM_PER_INCH / 4)
    assert np.abs(corners - np.round(corners)).max() < 1e-6
    assert max(tiling_faults(block)) < 1e-9


def test_corners_off_the_grid_stay_off_it() -> None:
    """The same star drawn a little smaller has no corner moved to the grid but by chance, and never all of them."""
    truth = family("millrace-star")
    exact = measured(truth, 0.05, 1)
    smaller = evolve(
        exact, templates=tuple(evolve(t, finished_outline=t.finished_outline * 0.93) for t in exact.templates)
    )
    block = assemble(smaller, symmetry="quarter-turn", grid_mm=GRID)[0]
    corners = np.concatenate([piece.outline for piece in block.pieces]) / GRID
    assert np.abs(corners - np.round(corners)).max() > 0.1


def _by_a_doubtful_ruler(exact: TemplateSet, factor: float) -> TemplateSet:
    """The same cards, all measured so many times as large, by a ruler that may be off by 0.6 %."""
    return evolve(
        exact,
        shared_covariance=np.array([[0.003**2]]),
        templates=tuple(
            evolve(t, finished_outline=t.finished_outline * factor, sensitivity=t.finished_outline.reshape(-1, 1))
            for t in exact.templates
        ),
    )


def test_a_size_little_known_goes_to_the_whole_inch() -> None:
    """A star of 12 in by a ruler that may be off by 0.6 % is a 12 in block: 11 15/16 in are nobody's plan."""
    small = _by_a_doubtful_ruler(measured(trade_block("eight-pointed star"), 0.05, 2), 0.9951)
    plain, block = assemble(small)[0], assemble(small, grid_mm=GRID)[0]
    assert round(plain.width / GRID) == 12 * 16 - 1
    assert plain.size_u_mm > 12 * MM_PER_INCH - plain.width
    assert block.width == pytest.approx(12 * MM_PER_INCH, abs=1e-9)
    assert max(tiling_faults(block)) < 1e-9


def test_a_whole_inch_goes_before_an_odd_half_centimetre() -> None:
    """A star of 12 in by a ruler in millimetres that may be off is 304.8 mm, not 305; one of 30 cm is 300 mm."""
    star = measured(trade_block("eight-pointed star"), 0.05, 2)
    for factor, size in ((0.998, 304.8), (0.9985 * 300 / 304.8, 300.0)):
        block = assemble(_by_a_doubtful_ruler(star, factor), grid_mm=1.0)[0]
        assert block.width == pytest.approx(size, abs=1e-9)


def test_a_size_that_is_set_is_the_roundest_in_reach_and_its_doubt_reaches_all_that_was_measured() -> None:
    """Measured nearest 7 11/16 in, to more than 1/16 in: it is 7 3/4 in, and its doubt grows by the way there."""
    truth = family("box-in-box")
    wanted = 7.75 * MM_PER_INCH
    cards = _by_a_doubtful_ruler(measured(truth, 0.02, 1), 0.9955 * wanted / max(truth.size))
    plain, block = assemble(cards)[0], assemble(cards, grid_mm=GRID)[0]
    assert round(plain.width / GRID) * GRID == pytest.approx((7 + 11 / 16) * MM_PER_INCH)
    assert block.width == pytest.approx(wanted, abs=1e-9)
    moved = max(block.width - plain.width, block.height - plain.height)
    assert moved > 0.5
    assert block.size_u_mm == pytest.approx(plain.size_u_mm + moved, abs=1e-6)


def test_a_size_well_known_stays_off_the_whole_inch() -> None:
    """The same, known to hundredths of a millimetre, is not forced there."""
    exact = measured(trade_block("eight-pointed star"), 0.02, 2)
    small = evolve(
        exact, templates=tuple(evolve(t, finished_outline=t.finished_outline * 0.9951) for t in exact.templates)
    )
    assert assemble(small, grid_mm=GRID)[0].width == pytest.approx(12 * MM_PER_INCH * 0.9951, abs=0.2)


def test_equal_sides_are_made_equal() -> None:
    """Diamonds, squares and triangles measured to 0.3 mm come out with sides as equal as they were drawn."""
    block = assemble(measured(trade_block("eight-pointed star"), 0.3, 4), grid_mm=GRID)[0]
    for piece in block.pieces:
        lengths = np.hypot(*(np.roll(piece.outline, -1, axis=0) - piece.outline).T)
        equal = lengths if len(lengths) == 4 else np.sort(lengths)[:2]
        assert np.ptp(equal) < 1e-6


@pytest.mark.parametrize("seed", [1, 2])
def test_seams_that_are_all_but_straight_are_made_straight(seed: int) -> None:
    """A fir tree in three rows, measured to 0.1 mm: with a grid its seams are straight, else they bend."""
    templates = measured(family("lakeside-fir"), 0.1, seed)
    plain, straight = assemble(templates)[0], assemble(templates, grid_mm=GRID)[0]
    parts = [layout_of([piece.outline for piece in block.pieces]) for block in (plain, straight)]
    assert falls_apart(parts[0], 0.5)
    assert not falls_apart(parts[0], 1e-5)
    assert falls_apart(parts[1], 1e-5)
    assert max(tiling_faults(straight)) < 1e-9
