"""The camera and its adjustment against OpenCV's own calibration, and against projective geometry."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey import camera
from seamsurvey.photo.adjust import Fit, Prior, adjust, first_camera
from seamsurvey.photo.observed import KNOWN, Observed

Array = NDArray[np.float64]

SIZE = (4000, 3000)
INSIDE = np.array([[3000.0, 0, 1999.5 + 15], [0, 3000.0, 1499.5 - 20], [0, 0, 1]])
BENT = np.array([0.03, -0.015, 0, 0, 0])  # OpenCV's k1, k2, p1, p2, k3
# A page of checker corners, 240 by 160 mm, y up; the plane's z points up at the camera.
CORNERS = np.array([(x, y) for y in range(-80, 81, 20) for x in range(-120, 121, 20)], dtype=float)
HELD_OUT = np.array([(x, y) for y in range(-70, 71, 28) for x in range(-110, 111, 44)], dtype=float)
NOISE = 0.05
FACING = np.diag([1.0, -1.0, -1.0])  # the table's axes as a camera straight above it sees them


def pose(tilt_deg: float, direction_deg: float, away_mm: float = 480.0) -> tuple[Array, Array]:
    """OpenCV's rotation vector and translation of a table tilted about an axis in its own plane."""
    angle = np.radians(direction_deg)
    turn = cv2.Rodrigues(np.radians(tilt_deg) * np.array([np.cos(angle), np.sin(angle), 0]))[0] @ FACING
    return np.asarray(cv2.Rodrigues(turn)[0]), np.array([3.0, -4.0, away_mm])


def projected(points: Array, rotation: Array, shift: Array) -> Array:
    """(n, 2) px by OpenCV, through its lens."""
    raised = np.column_stack([points, np.zeros(len(points))])
    seen, _ = cv2.projectPoints(raised, rotation, shift, INSIDE, BENT)
    return np.asarray(seen, dtype=np.float64).reshape(-1, 2)


def adjusted(seen: Array, *, focal: float = 3100.0) -> Fit:
    """Our fit to the page's corners, the camera known as a phone's is: focal length to 5 %, its centre to 50 px."""
    observed = Observed(
        kind="target",
        points_px=np.repeat(seen, 2, axis=0),
        axis=np.tile([0, 1], len(seen)),
        nominal_mm=CORNERS.reshape(-1),
        edge=np.full(2 * len(seen), KNOWN),
        mark=np.repeat(np.arange(len(seen)), 2),
        sigma_px=np.full(2 * len(seen), NOISE),
        mark_sigma_mm=0.0,
        scale_sigma=1e-6,
        height_mm=0.0,
        height_sigma_mm=0.0,
        rough=np.asarray(cv2.findHomography(seen, CORNERS)[0]),
    )
    sigma = np.array([0.05, 50, 50, 0.1, 0.05, 1, 1, np.inf])
    return adjust(
        SIZE, [observed], Prior(camera.parameters(focal, 500), sigma), first_camera(SIZE, observed, focal)
    )


def down(rotation: Array) -> Array:
    """(3,) the direction from the camera down to the table, camera frame."""
    return -np.asarray(cv2.Rodrigues(rotation)[0], dtype=np.float64)[:, 2]


def apart(table: Array) -> Array:
    """(n (n - 1) / 2,) mm: all distances."""
    i, j = np.triu_indices(len(table), 1)
    return np.asarray(np.hypot(*(table[i] - table[j]).T))


def by_opencv(seen: Array, rotation: Array, shift: Array) -> Array:
    """(n, 2) mm: the places on OpenCV's table that image points are seen at."""
    exact = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 100, 1e-12)
    rays = cv2.undistortPoints(seen[:, None], INSIDE, BENT, criteria=exact).reshape(-1, 2)
    to_table = np.linalg.inv(np.column_stack([cv2.Rodrigues(rotation)[0][:, :2], shift]))
    flat = np.column_stack([rays, np.ones(len(rays))]) @ to_table.T
    return np.asarray(flat[:, :2] / flat[:, 2:])


@pytest.mark.parametrize(("tilt", "direction"), [(0, 0), (3, 50), (15, 200), (25, 310), (35, 120)])
def test_without_noise_it_stands_where_solve_pnp_does(tilt: int, direction: int) -> None:
    """Exact points give solvePnP's table and its lengths of points that no fit has seen, with the lens unknown."""
    rotation, shift = pose(tilt, direction)
    fit = adjusted(projected(CORNERS, rotation, shift))
    ok, turn, move = cv2.solvePnP(
        np.column_stack([CORNERS, np.zeros(len(CORNERS))]), projected(CORNERS, rotation, shift), INSIDE, BENT
    )
    assert ok
    held = projected(HELD_OUT, rotation, shift)
    theirs = by_opencv(held, np.asarray(turn, dtype=float), np.asarray(move, dtype=float).reshape(3))
    ours = camera.to_table(fit.theta, held, SIZE)
    # The two lenses' formulas can't agree: of x (1 + a r^2) and x / (1 - a r^2) a term a^2 r^4 is left, and with
    # two terms each the third power, below 0.01 px at this page's corners; a pixel is 0.17 mm.
    assert np.abs(apart(ours) - apart(theirs)).max() < 1.7e-3
    assert fit.sigma0 < 0.2  # of 0.05 px


def test_with_noise_it_keeps_to_its_own_covariance() -> None:
    """Tilt, height and focal length differ from OpenCV's by no more than our standard deviations say."""
    rng = np.random.default_rng(4)
    table = np.column_stack([CORNERS, np.zeros(len(CORNERS))]).astype(np.float32)
    poses = [
        pose(tilt, direction) for tilt, direction in zip((12, 18, 25, 30, 22, 28), range(0, 360, 60), strict=True)
    ]
    seen = [projected(CORNERS, *each) + rng.normal(0, NOISE, CORNERS.shape) for each in poses]
    # All six views at once know the camera about six times as well as one view does.
    _, inside, _, turns, moves = cv2.calibrateCamera(
        [table] * len(seen), [each.astype(np.float32) for each in seen], SIZE, INSIDE.copy(), np.zeros(5),
        flags=cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3
        | cv2.CALIB_USE_INTRINSIC_GUESS,
    )  # fmt: skip
    off = []
    for points, turn, move in zip(seen, turns, moves, strict=True):
        fit = adjusted(points)
        theirs = down(np.asarray(turn, dtype=float))
        angle = np.arccos(theirs[2])
        tilt = np.array([-theirs[1], theirs[0]]) * angle / np.sin(angle)
        height = float(move.reshape(3) @ theirs)
        expected = np.array([np.log(inside[0, 0]), *tilt, np.log(height)])
        of = [camera.LOG_FOCAL, camera.TILT_X, camera.TILT_Y, camera.LOG_HEIGHT]
        off.append((fit.theta[of] - expected) / np.sqrt(np.diag(fit.camera_covariance)[of]))
    # Normal errors of 24 figures: beyond 4 with a chance of 0.0015; their spread is 1, a little less with priors.
    assert np.abs(off).max() < 4
    assert 0.4 < np.sqrt(np.mean(np.square(off))) < 1.6


@pytest.mark.parametrize("tilt", [(0.0, 0.0), (0.3, -0.2), (-0.6, 0.4)])
def test_four_equal_steps_keep_their_cross_ratio(tilt: tuple[float, float]) -> None:
    """Marks at 0, 1, 2, 3 steps have the cross ratio 4/3 in the picture, from anywhere, once the lens is undone."""
    # (AC / BC) / (AD / BD) of 0, 1, 2, 3 = (2 / 1) / (3 / 2) = 4/3: Pappus; Hartley and Zisserman, 2nd ed., 2.5.
    theta = camera.parameters(3000, 500, tilt, (14.0, -9.0), k1=-0.08, k2=0.02)
    start, step = np.array([-80.0, 75.0]), np.array([52.0, 6.0])
    seen = camera.to_image(theta, start + np.arange(4)[:, None] * step, SIZE, 1.5)
    first, second = np.diff(seen[[0, 1, 3]], axis=0)
    assert abs(first[0] * second[1] - first[1] * second[0]) > 0.3 * np.hypot(
        *second
    )  # px off the line: the lens bends it
    a, b, c, d = camera.straightened(theta, seen, SIZE)
    along = (d - a) / np.linalg.norm(d - a)
    a, b, c, d = (float(point @ along) for point in (a, b, c, d))
    assert ((c - a) / (c - b)) / ((d - a) / (d - b)) == pytest.approx(4 / 3, rel=1e-10)
