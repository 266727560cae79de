"""The picture of what a fit leaves over: vectors in the image, each where it was seen."""

import numpy as np
import pytest

from seamsurvey.photo.misses import misses
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed

ROUGH = np.array([[0.0, -0.25, 500.0], [-0.25, 0.0, 600.0], [0.0, 0.0, 1.0]])  # own x runs up, own y leftwards


def observed(kind: str, own: np.ndarray, axis: np.ndarray, mark: np.ndarray) -> Observed:
    """Points at own places (n, 2) mm as a camera turned by a quarter sees them, 4 px a mm."""
    back = np.linalg.inv(ROUGH)
    return Observed(
        kind=kind,
        points_px=own @ back[:2, :2].T + back[:2, 2],
        axis=axis,
        nominal_mm=own[np.arange(len(own)), axis],
        edge=np.full(len(own), KNOWN),
        mark=mark,
        sigma_px=np.ones(len(own)),
        mark_sigma_mm=0.1,
        scale_sigma=0.003,
        height_mm=0.0,
        height_sigma_mm=0.1,
        rough=ROUGH,
    )


def test_a_corners_two_residuals_are_one_vector() -> None:
    """A corner 1 px too far along the page and 2 px too far up it misses by (-2, -1) where the page lies turned."""
    own = np.array([[10.0, 20.0], [90.0, 20.0]])
    both = observed("target", np.vstack([own, own]), np.repeat([ALONG, ACROSS], 2), np.arange(4))
    spots, missed = misses(both, np.array([1.0, 0.0, 2.0, 0.0]), np.ones(4))
    order = np.argsort(-spots[:, 1])  # own x runs up the picture
    assert spots[order] == pytest.approx(both.points_px[:2], abs=1e-9)
    assert missed[order] == pytest.approx(np.array([[-2.0, -1.0], [0.0, 0.0]]), abs=1e-6)


def test_a_bent_line_of_a_mat_shows_its_bend_square_by_square() -> None:
    """A line that bows by a parabola misses by that parabola in each square; what the fit left out is not shown."""
    along = np.arange(0.5, 100.0, 1.0)
    lines = [np.column_stack([np.full(100, x), along]) for x in (0.0, 10.0)]
    across = [np.column_stack([along, np.full(100, y)]) for y in (0.0, 10.0)]
    mat = observed(
        "mat", np.vstack([*lines, *across]), np.repeat([ALONG, ACROSS], 200), np.repeat(np.arange(4), 100)
    )
    bow = 4e-4 * (along - 50.0) ** 2
    residuals, weights = np.concatenate([bow, np.zeros(300)]), np.ones(400)
    residuals[42], weights[42] = 50.0, 0.0
    spots, missed = misses(mat, residuals, weights)
    own = spots @ ROUGH[:2, :2].T + ROUGH[:2, 2]
    bent = np.hypot(*missed.T) > 1e-6
    assert len(spots) == 4 * 10
    assert own[bent][:, 0] == pytest.approx(0.0, abs=1e-6)
    assert missed[bent][:, 0] == pytest.approx(0.0, abs=1e-6)
    kept = np.where(np.arange(100) == 42, np.nan, bow).reshape(10, 10)
    assert np.sort(-missed[bent][:, 1]) == pytest.approx(np.sort(np.nanmean(kept, axis=1)), abs=1e-6)
