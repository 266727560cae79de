"""Points that were worn or trimmed off are prolonged, and short edges of a patch are left."""

import numpy as np
import pytest

from seamsurvey.geometry import edge_lengths
from seamsurvey.templates.fitted import FittedEdge, corners_of
from seamsurvey.templates.tips import finished_lengths, without_tips

ALLOWANCE = 6.35


def edges_of(left_mm: float) -> list[FittedEdge]:
    """A right triangle of 100 mm, one of its sharp points cut square so that so much is left of the cut's seam."""
    lost = 2 * ALLOWANCE / np.tan(np.radians(112.5) / 2)
    half = (left_mm + lost) / 2 / np.sin(np.radians(22.5))
    corners = np.array([[0, 0], [100 - half, 0], [100 - half * np.sqrt(0.5), half * np.sqrt(0.5)], [0, 100.0]])
    ways = (np.roll(corners, -1, axis=0) - corners) / edge_lengths(corners)[:, None]
    middles = (corners + np.roll(corners, -1, axis=0)) / 2
    few = np.zeros(2)
    edges = [
        FittedEdge(middle=middle, along=way, places=few, off=few, weights=few + 1, u=few)
        for middle, way in zip(middles, ways, strict=True)
    ]
    assert finished_lengths(corners_of(edges), ALLOWANCE)[1] == pytest.approx(left_mm)
    return edges


def test_an_edge_that_no_patch_has_so_short_is_a_trimmed_point() -> None:
    """Of 3.2 mm and less nothing is left, and the point is whole again; 4.5 mm is an edge of the patch."""
    for left in (-2.0, 1.0, 3.2):
        whole = without_tips(edges_of(left), ALLOWANCE)
        assert np.abs(corners_of(whole) - [[0, 0], [100, 0], [0, 100]]).max() < 1e-9
    assert len(without_tips(edges_of(4.5), ALLOWANCE)) == 4
    assert len(without_tips(edges_of(3.2), 0.0)) == 4
