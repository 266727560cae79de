"""Sets that are alike are found, others are not."""

import numpy as np
import pytest
from shapely import Polygon

from seamsurvey.archive.duplicates import MIRRORED_BLOCK, SAME_BLOCK, SAME_TEMPLATES, find_alike
from seamsurvey.archive.shape import fit_of, worst_corner
from tests.archive.drawn import chiral, record
from tests.scene.families import family


def test_the_worst_corner_is_what_a_search_over_all_turns_finds() -> None:
    """The closed form agrees with a slow search over angles for two different pentagons about their means."""
    rng = np.random.default_rng(4)
    one = np.array([[0, 0], [40, 0], [52, 25], [20, 44], [-8, 20]], dtype=float)
    two = one + rng.normal(0, 0.4, one.shape)
    a, b = one - one.mean(axis=0), two - two.mean(axis=0)
    angles = np.linspace(-0.05, 0.05, 20001)
    turns = np.array([[np.cos(angles), -np.sin(angles)], [np.sin(angles), np.cos(angles)]])
    moved = np.einsum("ijk,nj->kni", turns, b)
    squares = ((moved - a) ** 2).sum(axis=(1, 2))
    slow = float(np.hypot(*(moved[squares.argmin()] - a).T).max())
    shifted = np.roll(two @ np.array([[0.0, 1.0], [-1.0, 0.0]]), 2, axis=0)
    assert worst_corner(one, shifted) == pytest.approx(slow, abs=1e-4)


@pytest.mark.parametrize("size", [1.0, 0.75, 1.5])
def test_the_same_block_is_found_at_any_size_and_turn(size: float) -> None:
    """A set measured with errors of 0.15 mm, at another size and turned, is the same block, at just that size."""
    block = family("millrace-star")
    first, second = (
        record(block, "a", sigma_mm=0.15),
        record(block, "b", size=size, turned=1, sigma_mm=0.15, seed=1),
    )
    (pair,) = find_alike([second, first])
    assert (pair.first, pair.second, pair.kind) == ("a", "b", SAME_BLOCK)
    assert pair.size == pytest.approx(size, rel=0.01)
    assert pair.worst_mm < 1.0


def test_a_mirrored_block_is_told_from_the_same() -> None:
    """A block that no turn leads into its mirror image is called mirrored, whatever its size."""
    block = family("weathervane-turn")
    assert chiral(block)
    (pair,) = find_alike([record(block, "a"), record(block, "b", size=1.25, mirrored=True, turned=3, seed=2)])
    assert pair.kind == MIRRORED_BLOCK


def test_templates_without_a_block_are_compared_by_themselves() -> None:
    """A set whose layout nobody decided is alike by its templates only."""
    import attrs

    block = family("millrace-star")
    loose = attrs.evolve(record(block, "b", size=2.0, seed=3), pieces=(), size_mm=None)
    (pair,) = find_alike([record(block, "a"), loose])
    assert (pair.kind, round(pair.size, 6)) == (SAME_TEMPLATES, 2.0)


def test_sets_that_differ_in_one_edge_are_not_alike() -> None:
    """One template stretched by 3 mm makes another set: no pair is found."""
    import attrs

    block = family("millrace-star")
    first = record(block, "a")
    wrong = first.templates[0].outline_mm.copy()
    wrong[0] += 3.0 * (wrong[0] - wrong[1]) / np.hypot(*(wrong[0] - wrong[1]))
    changed = attrs.evolve(first.templates[0], outline_mm=wrong)
    assert Polygon(wrong).is_valid
    second = attrs.evolve(first, name="b", templates=(changed, *first.templates[1:]))
    assert fit_of(first, second) is None
    assert find_alike([first, second]) == ()
