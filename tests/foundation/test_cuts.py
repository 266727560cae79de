"""Full cuts and bent cuts."""

from seamsurvey.foundation.arrangement import arrange
from seamsurvey.foundation.cuts import bent_cuts, connected, corner_points, full_cuts, run_between, two_parts
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


def test_two_parts_are_neither_one_nor_three() -> None:
    """A row of three squares falls in two at either seam, in three at both, and in one without a seam."""
    net = arrange(grid(3, 1))
    assert two_parts(net, net.everything, (0,)) is not None
    assert two_parts(net, net.everything, (0, 1)) is None
    assert two_parts(net, net.everything, ()) is None


def test_a_cut_runs_from_boundary_to_boundary() -> None:
    """In an L of three squares each seam is a full cut; in four squares half a line is none."""
    net = arrange(grid(2, 2))
    corner = net.everything & ~1
    assert len(full_cuts(net, net.everything)) == 2
    assert len(full_cuts(net, corner)) == 2
    assert connected(net, corner)
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


def test_a_bend_between_two_meetings_close_by_is_still_a_bend() -> None:
    """A seam that bends by 0.15 mm is no full cut, although on the 3 mm to either side it looks straight."""
    bend = [(0, 50), (47, 50.141), (50, 50.15), (53, 50.141), (100, 50)]
    block = block_of(
        [
            [(0, 0), (100, 0), (100, 50), (50, 50.15), (0, 50)],
            [bend[0], bend[1], (47, 90), (0, 90)],
            [bend[1], bend[2], bend[3], (53, 90), (47, 90)],
            [bend[3], bend[4], (100, 90), (53, 90)],
        ],
        [(0, 0), (100, 0), (100, 90), (0, 90)],
    )
    net = arrange(block)
    assert max(len(chain.edges) for chain in net.chains) == 4, "each corner of the run is straight by itself"
    assert full_cuts(net, net.everything) == []
