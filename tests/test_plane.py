"""From pixels to millimetres: a plane's ways there and back, and what its covariance does to a length."""

import math

import numpy as np
import pytest

from seamsurvey import camera
from seamsurvey.plane import CAMERA, THICKNESS, PhotoPlane, ScanPlane

SIZE = (4000, 3000)
RNG = np.random.default_rng(3)
_ROOT = RNG.normal(size=(9, 9)) * np.array([3e-3, 5, 5, 3e-3, 2e-3, 1e-3, 1e-3, 1e-3, 0.3])
_HEIGHT_PART = np.outer(*2 * [np.array([1e-4, 0, 0, 0, 0, 0, 0, 2e-3, 0.3])])
PHOTO = PhotoPlane(
    theta=camera.parameters(3000.0, 480.0, (0.3, -0.2), (12.0, -20.0), k1=-0.01, k2=-0.004),
    size_px=SIZE,
    face_mm=1.2,
    covariance=_ROOT.T @ _ROOT / 9 + _HEIGHT_PART,
    of_heights=_HEIGHT_PART,
    axis=np.array([1.0, 0.0]),
)
SCAN = ScanPlane(
    matrix=np.array([[0.0847, 1e-5, 0.0], [0.0, -0.0849, 297.0]]),
    covariance=np.eye(6) * 1e-10,
    axis=np.array([0.6, 0.8]),
)
PIXELS = RNG.uniform((200, 200), (3800, 2800), (40, 2))


@pytest.mark.parametrize("plane", [PHOTO, SCAN], ids=["photo", "scan"])
def test_there_and_back(plane: PhotoPlane | ScanPlane) -> None:
    """Pixels taken to the table and back are where they were, and a small step has the scale stated there."""
    np.testing.assert_allclose(plane.to_px(plane.to_mm(PIXELS)), PIXELS, atol=1e-6)
    step = 0.01
    x, y = (plane.to_mm(PIXELS + way) - plane.to_mm(PIXELS) for way in ([step, 0.0], [0.0, step]))
    area = np.abs(x[:, 0] * y[:, 1] - x[:, 1] * y[:, 0])
    np.testing.assert_allclose(plane.mm_per_px_at(PIXELS) ** 2, area / step**2, rtol=1e-3)


def test_a_card_higher_by_h_seems_larger_by_h_over_the_cameras_height() -> None:
    """Read at the table's height instead of its own, a face is enlarged by 1 / (1 - h / D)."""
    upright = PhotoPlane(
        theta=camera.parameters(3000.0, 500.0),
        size_px=SIZE,
        face_mm=0.0,
        covariance=np.eye(9),
        of_heights=np.eye(9),
        axis=np.array([1.0, 0.0]),
    )
    raised = PhotoPlane(
        theta=upright.theta,
        size_px=SIZE,
        face_mm=1.5,
        covariance=np.eye(9),
        of_heights=np.eye(9),
        axis=upright.axis,
    )
    ends = np.array([[1000.0, 1500.0], [2000.0, 1200.0]])
    low, high = (float(np.hypot(*np.diff(plane.to_mm(ends), axis=0)[0])) for plane in (upright, raised))
    assert low / high == pytest.approx(1 / (1 - 1.5 / 500.0), rel=1e-12)


def test_a_lengths_uncertainty_is_that_of_many_drawn_cameras() -> None:
    """Monte Carlo over the covariance (JCGM 101) spreads a length as length_u says, in its worst direction."""
    middle = PHOTO.to_mm(np.array([[900.0, 2200.0]]))
    rng = np.random.default_rng(8)
    worst = 0.0
    draws = rng.multivariate_normal(np.zeros(9), PHOTO.covariance, 4000)
    for angle in np.radians([0, 45, 90, 135]):
        way = 50 * np.array([np.cos(angle), np.sin(angle)])
        ends = PHOTO.to_px(np.vstack([middle - way, middle + way]))
        seen = [camera.to_table(PHOTO.theta + draw[:8], ends, SIZE, PHOTO.face_mm + draw[8]) for draw in draws]
        worst = max(worst, float(np.std([np.hypot(*(b - a)) for a, b in seen])))
    assert PHOTO.length_u(middle, 100.0)[0] == pytest.approx(2 * worst, rel=0.05)


def test_the_terms_of_a_photo_add_up_to_its_covariance() -> None:
    """Camera and heights are apart from one another, so their squares add up to the plane's whole share."""
    slope = np.random.default_rng(1).normal(size=9)
    terms = PHOTO.length_terms(np.array([1.0, 0.0]), 100.0, slope)
    assert set(terms) == {CAMERA, THICKNESS}
    assert math.hypot(*terms.values()) == pytest.approx(float(np.sqrt(slope @ PHOTO.covariance @ slope)), rel=1e-9)
