"""The sewing order within a section."""

import numpy as np

from seamsurvey.foundation.arrangement import arrange
from seamsurvey.foundation.order import Peeling, sewing_order
from seamsurvey.geometry import signed_area
from tests.foundation.blocks import (
    block_of,
    flying_goose,
    grid,
    hourglass,
    log_cabin,
    rectangle,
    square_in_a_square,
)


def test_a_log_cabin_is_sewn_from_its_middle_in_the_order_it_was_laid() -> None:
    """Centre first, then each log in the only order in which every seam runs the whole side."""
    block = log_cabin(rounds=2)
    net = arrange(block)
    order = sewing_order(Peeling(net), net.everything, ["x"] * len(net.ids), {})
    assert [net.ids[k] for k in order] == [piece.id for piece in block.pieces]


def test_the_goose_comes_before_its_sides() -> None:
    """The wide triangle is piece 1."""
    net = arrange(flying_goose())
    order = sewing_order(Peeling(net), net.everything, ["x"] * 3, {})
    assert signed_area(net.outlines[order[0]]) == 2500


def test_the_square_comes_before_its_corners() -> None:
    """The square standing on its corner is piece 1."""
    net = arrange(square_in_a_square())
    assert signed_area(net.outlines[sewing_order(Peeling(net), net.everything, ["x"] * 5, {})[0]]) == 5000


def test_a_long_row_is_sewn_from_its_smaller_end() -> None:
    """Five strips that grow wider to the left are sewn from the right, one after another."""
    widths = [60, 50, 40, 30, 20]
    starts = np.cumsum([0, *widths[:-1]])
    net = arrange(block_of([rectangle(x, 0, w, 80) for x, w in zip(starts, widths, strict=True)]))
    assert sewing_order(Peeling(net), net.everything, ["x"] * 5, {}) == (4, 3, 2, 1, 0)


def test_the_darker_end_of_a_row_comes_last() -> None:
    """Of two like ends the light one is sewn first, so that the dark allowance lies under itself."""
    net = arrange(grid(4, 1))
    colours = {"sky": "#cfe8ff", "ink": "#101030", "grey": "#888888"}
    for templates, first in ((["sky", "grey", "grey", "ink"], 0), (["ink", "grey", "grey", "sky"], 3)):
        assert sewing_order(Peeling(net), net.everything, templates, colours)[0] == first


def test_four_triangles_round_a_point_are_no_section() -> None:
    """Where two seams cross straight through each other, a section border must pass."""
    net = arrange(hourglass())
    peeling = Peeling(net)
    assert not peeling.is_section(net.everything)
    assert all(peeling.is_section(side) for chain in net.chains for side in (chain.left, chain.right))
