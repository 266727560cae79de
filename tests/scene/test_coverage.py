"""Pixel coverage, against shapely's areas."""

import numpy as np
import pytest
import shapely

from tests.scene.coverage import cover
from tests.scene.geometry import Points, centroid, polygon

SIZE = (30, 24)


def _share(outline: Points, x: int, y: int) -> float:
    pixel = shapely.box(x - 0.5, y - 0.5, x + 0.5, y + 0.5)
    return float(shapely.Polygon(outline).intersection(pixel).area)


@pytest.mark.parametrize("seed", range(6))
def test_every_pixel_is_covered_by_its_share_of_area(seed: int) -> None:
    """Each pixel's coverage is the area of the polygon in the unit square about the pixel's integer centre."""
    rng = np.random.default_rng(seed)
    angles = np.sort(rng.uniform(0, 2 * np.pi, 7))
    radii = rng.uniform(3.0, 14.0, 7)  # star-shaped, convex or not; it may reach out of the picture
    outline = np.column_stack([14 + radii * np.cos(angles), 11 + radii * np.sin(angles)])
    full = np.zeros((SIZE[1], SIZE[0]))
    patch = cover([outline], SIZE)
    full[patch.window] = patch.alpha
    expected = np.array([[_share(outline, x, y) for x in range(SIZE[0])] for y in range(SIZE[1])])
    assert np.abs(full - expected).max() < 1e-6


def test_centroid_of_a_filled_outline_is_the_outlines_own() -> None:
    """Pixel centres lie on the integers: the covered pixels' centre of mass is the polygon's."""
    outline = polygon([(3.2, 4.1), (25.7, 6.3), (11.4, 19.9)])
    patch = cover([outline], SIZE)
    rows, columns = np.mgrid[patch.window]
    weight = patch.alpha.astype(np.float64)
    found = [(weight * columns).sum() / weight.sum(), (weight * rows).sum() / weight.sum()]
    # A pixel's mass counts at its centre, so only the border pixels' own shapes are lost.
    assert found == pytest.approx(centroid(outline).tolist(), abs=0.01)


def test_outlines_of_either_direction_add() -> None:
    """Two neighbouring outlines drawn in opposite directions cover their common border pixel wholly."""
    left = polygon([(2, 2), (7.3, 2), (7.3, 9), (2, 9)])
    right = polygon([(7.3, 2), (7.3, 9), (15, 9), (15, 2)])
    patch = cover([left, right], SIZE)
    assert patch.alpha[4, 3:10] == pytest.approx(np.ones(7), abs=1e-6)


def test_outside_the_picture_there_is_nothing_to_cover() -> None:
    """An outline wholly outside gives an empty patch."""
    assert cover([polygon([(-9, -9), (-2, -9), (-2, -2)])], SIZE).alpha.size == 0
