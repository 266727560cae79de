"""The camera over a table, against OpenCV's own projection and undistortion."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from seamsurvey import camera

SIZE = (4000, 3000)
TILTS = st.tuples(st.floats(-0.45, 0.45), st.floats(-0.45, 0.45))


def table_points(seed: int) -> camera.Array:
    """Forty places on a table of 300 by 300 mm."""
    return np.random.default_rng(seed).uniform(-150, 150, (40, 2))


@settings(max_examples=40)
@given(TILTS, st.floats(2500, 5000), st.floats(300, 800), st.floats(0, 5))
def test_it_sees_what_opencv_projects(tilt: tuple[float, float], focal: float, height: float, above: float) -> None:
    """Without distortion every point of a raised plane lies where cv2.projectPoints puts it, to 1e-6 px."""
    theta = camera.parameters(focal, height, tilt, (12.0, -30.0))
    axes = camera.table_axes(theta)
    points = table_points(1)
    to_camera = np.column_stack([axes[0], axes[1], -axes[2]])  # the table's x, y, and up
    inside = np.array([[focal, 0, 1999.5 + 12], [0, focal, 1499.5 - 30], [0, 0, 1]])
    raised = np.column_stack([points, np.full(len(points), above)])
    # The plane's origin is where the ray through the picture's middle meets the table.
    ray = np.linalg.solve(inside, np.array([1999.5, 1499.5, 1.0]))
    origin = ray * height / (ray @ axes[2])
    # Turned here: near half a turn, cv2.Rodrigues makes a vector good to 1e-5 only.
    seen, _ = cv2.projectPoints(raised @ to_camera.T, np.zeros(3), origin, inside, None)
    assert np.linalg.det(to_camera) == pytest.approx(1)
    assert camera.to_image(theta, points, SIZE, above) == pytest.approx(seen[:, 0], abs=1e-6)


@given(TILTS, st.floats(-0.15, 0.15), st.floats(-0.05, 0.05))
def test_the_way_to_the_table_undoes_the_way_to_the_image(tilt: tuple[float, float], k1: float, k2: float) -> None:
    """With distortion, tilt and height, table to image to table is the identity."""
    theta = camera.parameters(3000, 500, tilt, (5.0, 8.0), k1=k1, k2=k2)
    points = table_points(2)
    back = camera.to_table(theta, camera.to_image(theta, points, SIZE, 1.5), SIZE, 1.5)
    assert back == pytest.approx(points, abs=1e-7)


def test_one_division_parameter_straightens_what_opencv_bends() -> None:
    """Points bent by OpenCV's first radial term come back within 0.05 px with the division model's first term."""
    inside = np.array([[3000.0, 0, 1999.5], [0, 3000, 1499.5], [0, 0, 1]])
    bent = np.random.default_rng(3).uniform([200, 200], [3800, 2800], (200, 2))
    straight = cv2.undistortPoints(bent[:, None], inside, np.array([0.02, 0, 0, 0, 0]), P=inside)[:, 0]
    ratio = (camera.half_diagonal(SIZE) / 3000) ** 2
    theta = camera.parameters(3000, 500, k1=0.02 * ratio, k2=-2 * (0.02 * ratio) ** 2)
    assert camera.straightened(theta, bent, SIZE) == pytest.approx(straight, abs=0.05)


def test_a_raised_face_is_enlarged_by_its_height() -> None:
    """A face h above the table, camera at D, looks larger by 1 / (1 − h / D) (similar triangles)."""
    theta = camera.parameters(3000, 500, (0.1, -0.2))
    points = camera.to_image(theta, table_points(4), SIZE, 3.0)
    as_if_flat = camera.to_table(theta, points, SIZE)
    apart, true = as_if_flat - as_if_flat[0], table_points(4) - table_points(4)[0]
    assert apart == pytest.approx(true / (1 - 3 / 500), rel=1e-9)


def test_the_frame_has_x_right_and_y_up() -> None:
    """Seen straight down, the image's right is the plane's x and the image's up its y."""
    theta = camera.parameters(3000, 600)
    middle = camera.middle(SIZE)
    seen = camera.to_table(theta, middle + np.array([[0, 0], [50, 0], [0, -50]]), SIZE)
    assert seen == pytest.approx(np.array([[0, 0], [10, 0], [0, 10.0]]), abs=1e-12)


def test_the_sensitivity_is_the_derivative() -> None:
    """A small change of all parameters at once moves the points as the sensitivity says."""
    theta = camera.parameters(3000, 500, (0.1, -0.2), (5.0, 8.0), k1=-0.05, k2=0.02)
    points = camera.to_image(theta, table_points(5), SIZE)
    change = np.array([1e-5, 0.02, -0.03, 1e-5, -2e-5, 2e-5, 1e-5, -1e-5])
    moved = camera.to_table(theta + change, points, SIZE) - camera.to_table(theta, points, SIZE)
    assert camera.sensitivity(theta, points, SIZE) @ change == pytest.approx(moved, rel=1e-2, abs=2e-6)


def test_nothing_is_seen_above_the_horizon() -> None:
    """Image points at or above the horizon are no places on the table."""
    theta = camera.parameters(1000, 500, (1.2, 0.0))
    seen = camera.to_table(theta, np.array([[2000.0, 0.0], [2000.0, 2999.0]]), SIZE)
    assert np.isnan(seen).all(axis=1).sum() == 1
