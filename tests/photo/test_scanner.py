"""The adjusted scanner and its covariance, against sums that can be done by hand and against trials."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.photo.combs import Comb
from seamsurvey.photo.scanner import AXES_SIGMA, RULER_SIGMA, SHEAR_SIGMA, ScaledComb, adjust_scanner


def _comb(to_px: NDArray[np.float64], turn_deg: float, step_mm: float = 1.0) -> Comb:
    """A hundred marks, exactly, as seen by a scanner: ``to_px`` (2, 2) turns mm (y up) into px (y down)."""
    turn = math.radians(turn_deg)
    step = to_px @ (step_mm * np.array([math.cos(turn), math.sin(turn)]))
    marks = to_px @ np.array([math.sin(turn), -math.cos(turn)])
    index = np.arange(100)
    points = index[:, None] * step
    length = float(np.hypot(*step))
    return Comb(
        points=points,
        index=index,
        residuals=np.zeros(100),
        step=length,
        step_sigma=1e-6 * length,
        edge=step / length,
        edge_sigma=1e-5,
        marks=marks / np.hypot(*marks),
        marks_sigma=1e-5,
        stretch=0.0,
        stretch_sigma=1e-5,
        fan_deg=0.0,
        fan_sigma_deg=0.01,
    )


def test_one_level_ruler_fixes_its_axis_and_leaves_the_other_to_the_prior() -> None:
    """Along a level ruler the ruler's own sigma stands; across it the axes' prior is added in squares."""
    to_px = np.array([[11.8, 0.0], [0.0, -11.8]])
    scanner = adjust_scanner([ScaledComb(_comb(to_px, 0.0), 1.0)])
    assert scanner.matrix == pytest.approx(np.linalg.inv(to_px), abs=1e-9)
    sigma = np.sqrt(np.diag(scanner.covariance))
    assert sigma[0] == pytest.approx(RULER_SIGMA, rel=1e-3)
    assert sigma[1] == pytest.approx(math.hypot(RULER_SIGMA, AXES_SIGMA), rel=1e-3)
    assert sigma[2] == pytest.approx(SHEAR_SIGMA, rel=0.01)


def test_two_rulers_at_right_angles_fix_both_axes() -> None:
    """With 0.6 % between the axes, two rulers give both scales back within their own tolerance."""
    to_px = np.array([[11.84, 0.0], [0.0, -11.77]])
    scanner = adjust_scanner(
        [ScaledComb(_comb(to_px, 10.0), 1.0), ScaledComb(_comb(to_px, 100.0, 25.4 / 16), 25.4 / 16)]
    )
    assert np.diag(scanner.matrix) == pytest.approx([1 / 11.84, -1 / 11.77], rel=RULER_SIGMA)
    assert np.sqrt(np.diag(scanner.covariance))[:2].max() < 1.3 * RULER_SIGMA


def test_the_covariance_covers_what_happens() -> None:
    """Over 300 scanners and rulers drawn from the priors, 95 % of the errors lie within two sigmas."""
    rng = np.random.default_rng(5)
    inside = []
    for _ in range(300):
        skew = rng.normal(0, SHEAR_SIGMA)
        scales = 11.8 * np.exp(rng.normal(0, AXES_SIGMA) * np.array([0.5, -0.5]))
        to_mm = np.array([[1 / scales[0], skew / scales[0]], [0.0, -1 / scales[1]]])
        step = math.exp(rng.normal(0, RULER_SIGMA))
        comb = _comb(np.linalg.inv(to_mm), float(rng.uniform(0, 360)), step)
        matrix, covariance = adjust_scanner([ScaledComb(comb, 1.0)]).plane(3500)
        truth = np.column_stack([to_mm, -to_mm @ np.array([-0.5, 3499.5])])
        for entry in (0, 4, 5):
            error = (matrix - truth).ravel()[entry]
            inside.append(abs(error) <= 2 * math.sqrt(covariance[entry, entry]))
    assert 0.92 <= np.mean(inside) <= 0.99


def test_the_planes_origin_is_the_pictures_lower_left_corner() -> None:
    """The outer corner of the last row's first pixel maps to (0, 0), and its covariance there is nought."""
    scanner = adjust_scanner([ScaledComb(_comb(np.array([[11.8, 0.1], [0.0, -11.7]]), 30.0), 1.0)])
    matrix, covariance = scanner.plane(2000)
    corner = np.array([-0.5, 1999.5, 1.0])
    assert matrix @ corner == pytest.approx([0, 0], abs=1e-9)
    spread = np.kron(np.eye(2), corner) @ covariance @ np.kron(np.eye(2), corner).T
    assert np.abs(spread).max() < 1e-9
    assert matrix[1, 1] < 0 < matrix[0, 0]


def test_rulers_that_disagree_widen_the_uncertainty() -> None:
    """Two parallel edges half a percent apart are both far off their mean, and the covariance says so."""
    to_px = np.array([[11.8, 0.0], [0.0, -11.8]])
    scanner = adjust_scanner([ScaledComb(_comb(to_px, 0.0), 1.0), ScaledComb(_comb(to_px, 0.0, 1.005), 1.0)])
    assert np.abs(scanner.misfits).min() > 3
    assert math.sqrt(scanner.covariance[0, 0]) > 3 * RULER_SIGMA
