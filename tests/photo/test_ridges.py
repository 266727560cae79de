"""Thin lines are found where they are, to a hundredth of a pixel, and step edges are not."""

import numpy as np
import pytest
from skimage import data

from seamsurvey.photo.ridges import find_ridges


def test_lines_between_the_checkerboards_squares_have_the_published_places() -> None:
    """The squares of skimage.data.checkerboard() meet at 24.5 + 25 k, pixel centres being integers.

    Column c of the difference of neighbouring columns stands for c + 0.5 and is one pixel wide.
    """
    board = data.checkerboard().astype(np.float32) / 255
    light = 0.8 - 0.7 * np.abs(np.diff(board, axis=1))
    ridges = find_ridges(light)
    upright = np.abs(ridges.along_deg - 90) < 3
    x = ridges.points[upright & ridges.dark, 0] + 0.5
    nearest = 24.5 + 25 * np.rint((x - 24.5) / 25)
    assert set(nearest) == {24.5 + 25 * k for k in range(7)}
    assert np.abs(x - nearest).max() < 1e-3


@pytest.mark.parametrize("dark", [True, False])
@pytest.mark.parametrize("width", [1.3, 2.4, 4.0])
def test_a_slanting_lines_centre_is_found_to_a_hundredth(dark: bool, width: float) -> None:
    """Points of an area-sampled line, dark or light, lie on its true centre line and run its way."""
    fine = 8
    angle = np.radians(71.0)
    normal = np.array([np.sin(angle), -np.cos(angle)])
    place = (np.arange(80 * fine) + 0.5) / fine - 0.5
    x, y = np.meshgrid(place, place)
    inside = np.abs(x * normal[0] + y * normal[1] - 21.37) < width / 2
    cover = inside.reshape(80, fine, 80, fine).mean(axis=(1, 3)).astype(np.float32)
    ridges = find_ridges(0.7 - 0.6 * cover if dark else 0.1 + 0.6 * cover)
    inner = (ridges.dark == dark) & np.all(np.abs(ridges.points - 39.5) < 32, axis=1)
    assert inner.sum() >= 60
    off = ridges.points[inner] @ normal - 21.37
    assert abs(np.mean(off)) < 0.01
    assert np.abs(off).max() < 0.05
    assert np.abs(ridges.along_deg[inner] - 71.0).max() < 3


def test_the_edge_of_a_card_is_hardly_a_line() -> None:
    """A step from dark to light leaves a third at most of what a thin line of that contrast does."""
    y, x = np.mgrid[0:120, 0:120].astype(np.float32)
    for angle in (0.0, 17.0, 45.0):
        across = (x - 60) * np.cos(np.radians(angle)) + (y - 60) * np.sin(np.radians(angle))
        step = (0.2 + 0.6 * np.clip(across + 0.5, 0, 1)).astype(np.float32)
        line = (0.8 - 0.6 * np.clip(1.5 - np.abs(across), 0, 1)).astype(np.float32)
        trail = find_ridges(step)
        inner = np.all(np.abs(trail.points - 60) < 45, axis=1)
        assert np.max(trail.strength[inner], initial=0.0) < 0.33 * np.max(find_ridges(line).strength)
