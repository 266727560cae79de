"""Turned and shifted copies are one print; mirror images and other templates are not."""

import numpy as np
import pytest

from seamsurvey.foundation.arrangement import arrange, members
from seamsurvey.foundation.motions import SAME_PRINT_MM, Motions
from seamsurvey.geometry import moved
from seamsurvey.model import Block
from tests.foundation.blocks import block_of, eight_pointed_star, of_family, pinwheel_of_eight
from tests.scene.families import family


def motions_of(block: Block) -> Motions:
    """The motions of a block by its own templates."""
    net = arrange(block)
    return Motions(net, [block.piece(name).template for name in net.ids])


def test_the_whole_star_turns_onto_itself_in_four_ways() -> None:
    """An eight-pointed star in a square has exactly the four quarter turns, mirrors not counted."""
    motions = motions_of(eight_pointed_star())
    whole = [m for m in motions.all if m.domain.bit_count() == 16]
    assert sorted(m.turn_deg for m in whole) == [-90, 0, 90, 180]


def test_a_mirror_image_is_another_print() -> None:
    """Two scalene triangles that mirror one another have no motion between them, two turned ones have one."""
    triangle = np.array([[0, 0], [70, 0], [0, 40]])
    mirrored = block_of([triangle, triangle * [-1, 1]], [(-70, 0), (70, 0), (0, 40)])
    assert {m.domain for m in motions_of(mirrored).all} == {0b11}
    turned = block_of([triangle, np.array([70, 40]) - triangle])
    assert [m.turn_deg for m in motions_of(turned).all if m.onto == (1, 0)] == [180]


def test_another_template_is_another_print() -> None:
    """Squares cut from two cloths are not the same print, although the shape is the same."""
    squares = block_of([[(0, 0), (50, 0), (50, 50), (0, 50)], [(50, 0), (100, 0), (100, 50), (50, 50)]])
    net = arrange(squares)
    assert len(Motions(net, ["light", "light"]).all) > 1
    assert all(m.onto in ((0, 1), (0, -1), (-1, 1)) for m in Motions(net, ["light", "dark"]).all)


@pytest.mark.parametrize("name", ["weathervane-turn", "millrace-star", "trellis-sixty"])
def test_a_motion_lays_pieces_exactly_on_pieces(name: str) -> None:
    """Every piece of a motion's domain, turned and shifted, has its corners on those of the piece it lands on."""
    block = of_family(family(name))
    net = arrange(block)
    for motion in motions_of(block).all:
        for piece in members(motion.domain):
            landing = moved(net.outlines[piece], motion.turn_deg, motion.shift)
            target = net.outlines[motion.onto[piece]]
            apart = np.hypot(*(landing[:, None] - target[None]).transpose(2, 0, 1))
            assert apart.min(axis=1).max() <= SAME_PRINT_MM


def test_copies_have_the_same_first_image() -> None:
    """The eight triangles of a pinwheel are one print; its halves are two, upright and across the corner."""
    motions = motions_of(pinwheel_of_eight())
    net = arrange(pinwheel_of_eight())
    assert len({motions.first_image(1 << piece)[0] for piece in range(8)}) == 1
    halves = [half for chain in net.chains for half in (chain.left, chain.right)]
    assert len(halves) == 8
    assert len({motions.first_image(half)[0] for half in halves}) == 2


def test_the_least_turn_is_taken() -> None:
    """A square shifted to its neighbour's place is not turned, although a turned one would fit as well."""
    squares = block_of([[(0, 0), (50, 0), (50, 50), (0, 50)], [(50, 0), (100, 0), (100, 50), (50, 50)]])
    assert motions_of(squares).between(0b01, 0b10) == (0, (50, 0))
