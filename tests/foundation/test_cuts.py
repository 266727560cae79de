"""Full cuts and bent cuts."""

import math

import numpy as np

from seamsurvey.foundation.arrangement import arrange
from seamsurvey.foundation.cuts import bent_cuts, connected, corner_points, full_cuts, run_between
from tests.foundation.blocks import block_of, eight_pointed_star, grid, log_cabin, whirl_of_five


def test_a_grid_is_cut_along_each_of_its_lines() -> None:
    """Four columns and three rows have three and two full cuts."""
    net = arrange(grid(4, 3))
    assert len(full_cuts(net, net.everything)) == 5


def test_a_log_cabin_loses_only_its_last_log() -> None:
    """Of all seams of a log cabin only the last one runs from edge to edge."""
    net = arrange(log_cabin())
    cuts = full_cuts(net, net.everything)
    assert [min(cut.one.bit_count(), cut.other.bit_count()) for cut in cuts] == [1]
    assert all(cut.separates for cut in cuts)


def test_a_cut_that_leaves_three_parts_is_none() -> None:
    """In an L of three squares each seam leaves two parts; with the fourth square, half a line is no cut."""
    net = arrange(grid(2, 2))
    corner = net.everything & ~1
    assert len(full_cuts(net, net.everything)) == 2
    assert len(full_cuts(net, corner)) == 2
    assert not connected(net, 0b1001)


def test_a_bent_cut_has_its_corners_counted() -> None:
    """Each rectangle of a whirl comes off along a run with one corner, and no run with one corner does more."""
    net = arrange(whirl_of_five())
    single = [cut for cut in bent_cuts(net, net.everything) if cut.bends == 1]
    assert sorted(min(cut.one, cut.other, key=int.bit_count).bit_count() for cut in single) == [1, 1, 1, 1]
    for cut in single:
        run = run_between(net, cut.one, cut.other)
        assert {run, run[::-1]} & {cut.run}
        assert len(corner_points(net, run)) == 3


def test_the_star_has_bent_cuts_through_its_middle() -> None:
    """A run from tip to tip through the middle parts the star in two like halves of eight pieces."""
    net = arrange(eight_pointed_star())
    assert any(cut.bends == 2 and cut.one.bit_count() == 8 for cut in bent_cuts(net, net.everything))


def test_a_curve_in_short_steps_is_not_straight() -> None:
    """A seam of 60 chords along an arc bends too little at each corner to notice, and is no full cut."""
    arc = [(100 * math.sin(a), 100 * math.cos(a)) for a in np.linspace(-0.6, 0.6, 61)]
    (left, height), (right, _) = arc[0], arc[-1]
    block = block_of(
        [[*arc[::-1], (left, 0), (right, 0)], [*arc, (right, 120), (left, 120)]],
        [(left, 0), (right, 0), (right, 120), (left, 120)],
    )
    net = arrange(block)
    assert height < 90
    assert full_cuts(net, net.everything) == []
