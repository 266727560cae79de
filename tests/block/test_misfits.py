"""What single corners and edges tell of a set that fits no block."""

import math

import numpy as np

from seamsurvey.block.lengths import matches
from seamsurvey.block.misfits import misfits
from tests.block.sets import measured, template, template_set
from tests.scene.families import family

SQUARE = 50 * np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
PENTAGON = 40 * np.array([[math.cos(2 * math.pi * k / 5), math.sin(2 * math.pi * k / 5)] for k in range(5)])


def test_a_corner_that_closes_with_nothing_is_named_with_what_it_misses() -> None:
    """108 degrees and right angles sum to no 90, 180 or 360: 198 is the nearest, 18 degrees off 180."""
    odd = template_set(template("T1", PENTAGON, 0.1, None, None), template("T2", SQUARE, 0.1, None, None))
    said = misfits(odd, matches(odd), (90.0,))
    assert "Corner 1 of T1 (108.0°)" in " ".join(said)
    assert "misses 90° by 18.0°" in " ".join(said)
    assert not any("Corner" in one and "of T2" in one for one in said)


def test_an_edge_that_meets_nothing_is_named_with_its_nearest() -> None:
    """A square of 50 mm and one of 53.1 mm: the nearest edge to each is 3.1 mm off."""
    alone = np.array([[0.0, 0.0], [61.0, 0.0], [0.0, 47.0]])
    odd = template_set(template("T1", SQUARE, 0.1, 4, 0), template("T2", alone, 0.1, 1, 0))
    said = [one for one in misfits(odd, matches(odd), (90.0,)) if "of T2" in one and one.startswith("Edge")]
    assert any("61.0 mm" in one and "edge 1 of T1, is 11.0 mm shorter" in one for one in said)


def test_sound_sets_have_nothing_said_of_their_corners() -> None:
    """No corner of a set that fills its block is blamed, at any noise."""
    for name in ("kite-crown", "harbour-fan", "ferry-panel", "eight-lights"):
        for noise in (0.0, 0.3):
            templates = measured(family(name), noise, 2)
            assert not [one for one in misfits(templates, matches(templates), (90.0,)) if one.startswith("Corner")]
