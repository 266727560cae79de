"""The adjustment of the camera, on observations that OpenCV projects, without any picture."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest
from attrs import evolve
from numpy.typing import NDArray

from seamsurvey import camera
from seamsurvey.photo.adjust import LOG_SCALE, Fit, Prior, adjust, first_camera
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed

Array = NDArray[np.float64]
Projector = Callable[[Array, float], Array]

SIZE = (4000, 3000)
FOCAL = 3000.0
NOISE = 0.05
DISTORTION = np.array([0.02, -0.01, 0, 0])


def eye(tilt_deg: float, rng: np.random.Generator) -> Projector:
    """A camera 500 mm over the table, tilted in a random direction: table mm (x, y up) and height to pixels."""
    direction = rng.uniform(0, 2 * np.pi)
    axis = np.radians(tilt_deg) * np.array([np.cos(direction), np.sin(direction), 0])
    turn = cv2.Rodrigues(axis)[0] @ np.diag([1.0, -1.0, -1.0])
    inside = np.array([[FOCAL, 0, 1999.5 + 12], [0, FOCAL, 1499.5 - 9], [0, 0, 1]])

    def project(points: Array, height: float) -> Array:
        raised = np.column_stack([points, np.full(len(points), height)])
        seen, _ = cv2.projectPoints(raised, cv2.Rodrigues(turn)[0], np.array([0, 0, 500.0]), inside, DISTORTION)
        return np.asarray(seen[:, 0])

    return project


def homography(own: Array, seen: Array) -> Array:
    """A rough one: fitted to four far points only, each a few pixels off."""
    far = [int(np.argmin(own @ d)) for d in ([1, 1], [1, -1], [-1, 1], [-1, -1])]
    bad = seen[far] + np.array([[3, -2], [-4, 1], [2, 4], [-1, -3.0]])
    return np.asarray(cv2.findHomography(bad, own[far])[0])


def ruler(
    project: Projector, rng: np.random.Generator, *, turn_deg: float = 0.0, at: tuple[float, float] = (-150, -90)
) -> Observed:
    """A 12 in ruler in sixteenths, marks 3 to 9 mm long, 28 mm wide, as points on its marks and its two edges."""
    rows = []
    for k in range(193):
        length = 3 + 2 * (k % 2 == 0) + 2 * (k % 4 == 0) + 2 * (k % 16 == 0)
        rows += [(k * 25.4 / 16, -y, ALONG, k * 25.4 / 16, KNOWN, k) for y in (0.5, length / 2, length - 0.5)]
    for edge, y in enumerate((0.0, -28.0)):
        rows += [(x, y, ACROSS, 0.0, edge, 1000 + edge) for x in np.linspace(0, 304.8, 40)]
    own = np.array([row[:2] for row in rows])
    cosine, sine = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    table = own @ np.array([[cosine, sine], [-sine, cosine]]) + at
    seen = project(table, 2.0) + rng.normal(0, NOISE, own.shape)
    return Observed(
        kind="ruler",
        points_px=seen,
        axis=np.array([row[2] for row in rows]),
        nominal_mm=np.array([row[3] for row in rows]),
        edge=np.array([row[4] for row in rows]),
        mark=np.array([row[5] for row in rows]),
        sigma_px=np.full(len(rows), NOISE),
        mark_sigma_mm=0.0,
        scale_sigma=5e-4,
        height_mm=2.0,
        height_sigma_mm=0.3,
        rough=homography(own, seen),
    )


def mat(
    project: Projector, rng: np.random.Generator, *, scale: float = 1.0, scale_sigma: float = 0.003
) -> Observed:
    """A one-inch grid of 12 by 9 lines, four points on each; its own scale is only known to 0.3 %."""
    rows = []
    for k in range(13):
        rows += [(25.4 * k, y, ALONG, 25.4 * k, KNOWN, k) for y in np.linspace(0, 228.6, 8)]
    for k in range(10):
        rows += [(x, 25.4 * k, ACROSS, 25.4 * k, KNOWN, 100 + k) for x in np.linspace(0, 304.8, 8)]
    own = np.array([row[:2] for row in rows])
    seen = project(scale * own + [-150, -110], 0.0) + rng.normal(0, NOISE, own.shape)
    return Observed(
        kind="mat",
        points_px=seen,
        axis=np.array([row[2] for row in rows]),
        nominal_mm=np.array([row[3] for row in rows]),
        edge=np.full(len(rows), KNOWN),
        mark=np.array([row[5] for row in rows]),
        sigma_px=np.full(len(rows), NOISE),
        mark_sigma_mm=0.0,
        scale_sigma=scale_sigma,
        height_mm=0.0,
        height_sigma_mm=0.0,
        rough=homography(own, seen),
    )


def fit(observed: list[Observed], rng: np.random.Generator) -> Fit:
    """Adjusted with a focal length known to 2 %, the rest of the camera to what phones have."""
    focal = FOCAL * float(np.exp(rng.normal(0, 0.02)))
    sigma = np.array([0.02, 50, 50, 0.1, 0.05, 1, 1, np.inf])
    return adjust(
        SIZE, observed, Prior(camera.parameters(focal, 500), sigma), first_camera(SIZE, observed[0], focal)
    )


def length_error(result: Fit, project: Projector, a: Array, b: Array, height: float = 0.5) -> tuple[float, float]:
    """Measured minus true length of a card's edge, and its stated standard deviation, mm."""
    seen = project(np.array([a, b]), height)
    table = camera.to_table(result.theta, seen, SIZE, height)
    length = float(np.hypot(*(table[1] - table[0])))
    moves = camera.sensitivity(result.theta, seen, SIZE, height)
    slope = (table[1] - table[0]) / length @ (moves[1] - moves[0])
    return length - float(np.hypot(*(b - a))), float(np.sqrt(slope @ result.camera_covariance @ slope))


@pytest.mark.parametrize("tilt", [0, 3, 15, 30])
def test_one_ruler_rectifies_the_table_and_says_how_well(tilt: int) -> None:
    """Edges beside the ruler come out to 0.03 mm at any tilt; far from it errors keep to 3 standard deviations."""
    rng = np.random.default_rng([5, tilt])
    for _ in range(6):
        project = eye(tilt, rng)
        result = fit([ruler(project, rng)], rng)
        near, _ = length_error(result, project, np.array([-50, -60.0]), np.array([50, -60.0]))
        far, sigma = length_error(result, project, np.array([-50, 40.0]), np.array([-50, 120.0]))
        assert abs(near) < 0.03
        assert abs(far) < 3 * sigma + 0.01
        assert result.sigma0 == pytest.approx(1, abs=0.15)


def test_two_rulers_at_a_right_angle_leave_nothing_open() -> None:
    """With a second ruler every edge is good to 0.05 mm, even at 25°."""
    rng = np.random.default_rng(6)
    for _ in range(5):
        project = eye(25, rng)
        both = [ruler(project, rng), ruler(project, rng, turn_deg=90, at=(170, -90))]
        result = fit(both, rng)
        far, _ = length_error(result, project, np.array([-50, 0.0]), np.array([-50, 100.0]))
        assert abs(far) < 0.05


def test_the_ruler_gives_the_scale_and_the_mat_its_shape() -> None:
    """A mat that is 0.4 % too large is overruled by the ruler on it, and its own scale comes out."""
    rng = np.random.default_rng(7)
    project = eye(20, rng)
    result = fit([mat(project, rng, scale=1.004), ruler(project, rng)], rng)
    error, _ = length_error(result, project, np.array([-50, 0.0]), np.array([-50, 100.0]))
    assert abs(error) < 0.06
    assert np.exp(-result.own(0)[LOG_SCALE]) == pytest.approx(1.004, abs=4e-4)


def test_marks_that_do_not_belong_lose_their_weight() -> None:
    """A tenth of the points moved by 2 px change no edge by more than 0.02 mm."""
    rng = np.random.default_rng(8)
    project = eye(10, rng)
    sound = ruler(project, rng)
    bad = sound.points_px.copy()
    wrong = rng.choice(len(bad), len(bad) // 10, replace=False)
    bad[wrong] += 2.0
    results = [
        fit([evolve(sound, points_px=points)], np.random.default_rng(9)) for points in (sound.points_px, bad)
    ]
    ends = np.array([-50, -60.0]), np.array([50, -60.0])
    clean, spoiled = (length_error(result, project, *ends)[0] for result in results)
    assert abs(spoiled - clean) < 0.02
    assert np.median(results[1].weights[0][wrong]) < 0.01


def test_the_stated_uncertainty_covers_the_errors() -> None:
    """Over 60 random scenes, edges anywhere on the table lie within two standard deviations in 90 % or more."""
    rng = np.random.default_rng(10)
    inside = []
    for _ in range(60):
        project = eye(float(rng.uniform(0, 25)), rng)
        result = fit([ruler(project, rng)], rng)
        middle, angle = rng.uniform([-80, -60], [80, 80]), rng.uniform(0, np.pi)
        half = 40 * np.array([np.cos(angle), np.sin(angle)])
        error, sigma = length_error(result, project, middle - half, middle + half)
        inside.append(abs(error) <= 2 * sigma)
    assert np.mean(inside) >= 0.90  # 60 scenes can't tell 92 from 95 %; the table of 300 is a benchmark's work
