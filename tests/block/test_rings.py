"""Rings of directed edges: what stays open of a block, and what lies in it."""

import pytest

from seamsurvey.block.rings import holds, rings_of

SQUARE = (0j, 2 + 0j, 2 + 2j, 2j)
# The second square meets the first in one corner, place 2, and no other.
TWO = (*SQUARE, 4 + 2j, 4 + 4j, 2 + 4j)


def _edges(*rings: list[int]) -> set[tuple[int, int]]:
    return {(a, b) for ring in rings for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)}


def test_edges_that_fork_nowhere_are_followed_round() -> None:
    """Two rings apart come back as they are, each from its first place on."""
    assert rings_of((*SQUARE, 5 + 0j, 6 + 0j, 6 + 1j), _edges([2, 3, 0, 1], [5, 6, 4])) == [[0, 1, 2, 3], [4, 5, 6]]


def test_rings_that_meet_in_a_corner_are_two() -> None:
    """Where two squares touch corner to corner, each is a ring of its own, and none runs through both."""
    found = rings_of(TWO, _edges([0, 1, 2, 3], [2, 4, 5, 6]))
    assert found is not None
    assert sorted(sorted(ring) for ring in found) == [[0, 1, 2, 3], [2, 4, 5, 6]]
    assert {edge for ring in found for edge in _edges(ring)} == _edges([0, 1, 2, 3], [2, 4, 5, 6])


@pytest.mark.parametrize("edges", [{(0, 1), (1, 2)}, {(0, 1), (1, 2), (2, 0), (2, 3)}])
def test_edges_that_end_somewhere_bound_nothing(edges: set[tuple[int, int]]) -> None:
    """A chain that is not closed is no ring."""
    assert rings_of(SQUARE, edges) is None


def test_a_ring_holds_what_lies_in_it() -> None:
    """A point in the square, and one beside it at the same height."""
    assert holds(SQUARE, 1 + 1j)
    assert not holds(SQUARE, 3 + 1j)
