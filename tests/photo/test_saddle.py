"""A saddle's place, against a checker corner whose light is known in closed form."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import erf

from seamsurvey.photo.saddle import LEAST_SIGMA_PX, is_saddle, symmetric_centre


def checker(
    centre: tuple[float, float], *, turn_deg: float, skew_deg: float = 90.0, blur: float = 0.9, slope: float = 0.0
) -> NDArray[np.float32]:
    """Linear light of a blurred checker corner: the product of two blurred steps, under a slope of light."""
    y, x = np.mgrid[0:41, 0:41].astype(float)
    x, y = x - centre[0], y - centre[1]
    a, b = np.radians(turn_deg), np.radians(turn_deg + skew_deg)
    steps = [erf((x * np.sin(t) - y * np.cos(t)) / (blur * np.sqrt(2))) for t in (a, b)]
    return np.asarray((0.42 + 0.4 * steps[0] * steps[1]) * (1 + slope * x), dtype=np.float32)


@pytest.mark.parametrize(("slope", "reached_px"), [(0.0, 0.01), (0.015, 0.02)])
@pytest.mark.parametrize(("turn_deg", "skew_deg"), [(0.0, 90.0), (31.0, 90.0), (14.0, 65.0)])
def test_the_place_is_right_whatever_the_turn_and_the_light(
    turn_deg: float, skew_deg: float, slope: float, reached_px: float
) -> None:
    """To a hundredth of a pixel, square and skew; to two where the light falls by half across the squares."""
    for centre in np.random.default_rng(3).uniform(19.5, 20.5, (12, 2)):
        patch = checker((centre[0], centre[1]), turn_deg=turn_deg, skew_deg=skew_deg, slope=slope)
        found = symmetric_centre(patch, centre + np.array([0.3, -0.3]), 10.0)
        assert found is not None
        assert np.abs(found[0] - centre).max() < reached_px


def test_the_stated_uncertainty_covers_what_noise_does() -> None:
    """Of 200 noisy corners the errors are as large as their standard deviations say, to a fifth."""
    rng = np.random.default_rng(5)
    errors = []
    for centre in rng.uniform(19.5, 20.5, (200, 2)):
        noisy = checker((centre[0], centre[1]), turn_deg=20.0) + 0.06 * rng.standard_normal((41, 41), np.float32)
        found = symmetric_centre(noisy, centre, 8.0)
        assert found is not None
        # The least sigma is for what noise does not do.
        errors.append((found[0] - centre) / np.sqrt(found[1] ** 2 - LEAST_SIGMA_PX**2))
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(1.0, abs=0.2)


def test_half_a_checker_is_no_saddle() -> None:
    """A corner with a card over a quarter of it is refused, and so is a plain edge."""
    covered = checker((20.2, 19.8), turn_deg=0.0)
    covered[21:, 21:] = 0.4
    assert symmetric_centre(covered, np.array([20.2, 19.8]), 10.0) is None
    y, x = np.mgrid[0:41, 0:41]
    edge = np.where(x + 0.2 * y > 24, 0.8, 0.05).astype(np.float32)
    assert not is_saddle(edge, np.array([20.0, 20.0]), 10.0)
    assert is_saddle(checker((20.2, 19.8), turn_deg=40.0), np.array([20.0, 20.0]), 10.0)
