"""What is said of a photo's faults, on pictures whose blur, exposure, waves and distances are known."""

import math

import attrs
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey import camera
from seamsurvey.model import PhotoPlane, Picture, Reference
from seamsurvey.photo.quality import (
    bow_mm,
    clipped_shares,
    edge_spread_px,
    reference_warnings,
    template_warnings,
)

SIZE = (900, 700)
CARD = np.array([[200.0, 500.0], [600.0, 560.0], [660.0, 180.0], [230.0, 140.0]])
RISE = 2.5631  # standard deviations of a Gaussian from a tenth to nine tenths: tables of the normal distribution


def photo(sigma_px: float, exposure: float = 1.0, noise: float = 0.004) -> Picture:
    """A light card on a dark ground, drawn four times finer, blurred and exposed in linear light."""
    fine = np.full((SIZE[1] * 4, SIZE[0] * 4), 0.08, np.float32)
    cv2.fillPoly(fine, [np.round((CARD + 0.5) * 4 * 16 - 8).astype(np.int32)], (0.55,), cv2.LINE_8, 4)
    light = cv2.resize(fine, SIZE, interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(light, (0, 0), sigma_px)
    light = light + np.random.default_rng(4).normal(0, noise, light.shape)
    light = np.clip(light * exposure, 0, 1)
    # IEC 61966-2-1, the sRGB curve.
    encoded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    pixels = np.repeat(np.round(255 * encoded).astype(np.uint8)[..., None], 3, axis=2)
    return Picture("table.jpg", "0" * 64, pixels)


def plane(tilt_sigma: float = 0.0, mm_per_px: float = 0.2) -> PhotoPlane:
    """A camera straight above, its tilt about the image's y known to so many radians."""
    covariance = np.zeros((9, 9))
    covariance[camera.TILT_Y, camera.TILT_Y] = tilt_sigma**2
    covariance[camera.LOG_HEIGHT, camera.LOG_HEIGHT] = 1e-6
    return PhotoPlane(
        theta=camera.parameters(500 / mm_per_px, 500.0), size_px=SIZE, covariance=covariance,
        of_heights=np.zeros((9, 9)), axis=np.array([1.0, 0.0]),
    )  # fmt: skip


@pytest.mark.parametrize("sigma", [1.2, 2.0, 4.0])
def test_the_spread_of_an_edge_is_that_of_its_blur(sigma: float) -> None:
    """From a tenth to nine tenths a Gaussian blur spreads an edge by 2.563 of its standard deviations."""
    pixel = 1 / math.sqrt(12)  # a pixel's own width, as a standard deviation
    assert edge_spread_px(photo(sigma), CARD) == pytest.approx(RISE * math.hypot(sigma, pixel), rel=0.06)


def test_blur_is_told_when_it_matters() -> None:
    """A sharp photo is not complained of; one blurred by 3 px of 0.2 mm is, with its spread of 1.5 mm."""
    assert template_warnings(photo(0.8), plane(), [CARD]) == []
    said = template_warnings(photo(3.0), plane(), [CARD])
    assert len(said) == 1
    told = float(said[0].split("1 of 1 templates is blurred: its edges are spread over ")[1].split(" mm")[0])
    assert told == pytest.approx(RISE * 3.0 * 0.2, abs=0.1)


def test_the_clipped_share_is_the_pixels_at_the_end() -> None:
    """Half of a square painted white is a half, and the shares of light and dark are told apart."""
    pixels = np.full((100, 100, 3), 128, np.uint8)
    pixels[20:80, 20:50] = 255
    pixels[20:80, 50:56] = 0
    square = np.array([[20.0, 20.0], [79.0, 20.0], [79.0, 79.0], [20.0, 79.0]])
    assert clipped_shares(Picture("a", "0", pixels), square) == pytest.approx((0.5, 0.1), abs=0.01)
    assert clipped_shares(Picture("a", "0", pixels.astype(np.uint16) * 257), square)[0] == pytest.approx(
        0.5, abs=0.01
    )


def test_overexposure_is_told_with_its_remedy() -> None:
    """A card at 0.55 of the light exposed twice as long is clipped, and the sentence says to take it darker."""
    assert template_warnings(photo(1.0, 1.5), plane(), [CARD]) == []
    said = template_warnings(photo(1.0, 2.0), plane(), [CARD])
    assert len(said) == 1
    assert "overexposed" in said[0]
    assert "darker" in said[0]


def test_a_template_far_from_the_reference_is_named() -> None:
    """With a poorly known tilt a card far from the camera's axis is beyond reach, one in the middle is not."""
    middle = np.array([[430.0, 330.0], [470.0, 330.0], [470.0, 370.0], [430.0, 370.0]])
    far = middle + np.array([380.0, 0.0])
    wide = plane(tilt_sigma=0.02)
    assert template_warnings(photo(1.0), wide, [middle]) == []
    said = template_warnings(photo(1.0), wide, [middle, far])
    assert len(said) == 1
    assert said[0].startswith("1 of 2 templates is beyond the reach")
    assert "x = 830, y = 350 px" in said[0]


def sheet(kind: str, wave_mm: float, noise_mm: float) -> Reference:
    """A sheet seen at 4 px a mm: its places miss by a smooth wave of that height, and by chance."""
    side = np.linspace(100.0, 800.0, 15)
    spots = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
    rng = np.random.default_rng(8)
    wave = wave_mm * np.sin((spots[:, 0] - 100) / 700 * np.pi) * math.sqrt(2)
    upright = np.arange(len(spots)) % 2 == 0  # every other place lies on an upright line
    both = kind == "target"
    right = np.where(upright | both, wave + rng.normal(0, noise_mm, len(spots)), 0.0)
    down = np.where(~upright | both, wave + rng.normal(0, noise_mm, len(spots)), 0.0)
    vectors: NDArray[np.float64] = np.column_stack([right, down]) * 4.0
    return Reference(
        kind=kind, graduation="mat, squares of 1 cm", unit="cm", step_mm=10.0, marks_px=spots[:1],
        marks_mm=np.zeros(1), mark_ends_px=spots[1:2], residuals_px=np.zeros(1), px_per_mm=4.0,
        outline_px=np.array([[100.0, 800.0], [800.0, 800.0], [800.0, 100.0], [100.0, 100.0]]),
        spots_px=spots, misses_px=vectors,
    )  # fmt: skip


@pytest.mark.parametrize("kind", ["mat", "target"])
def test_waves_of_a_sheet_are_told_from_misprints(kind: str) -> None:
    """A wave of 0.4 mm is found to a fifth; misprints as large without any smoothness are no wave."""
    whole = 0.4 * math.sqrt(2) * math.sqrt(0.5)  # rms of a half sine of that height
    assert bow_mm(sheet(kind, 0.4, 0.05)) == pytest.approx(whole, rel=0.2)
    assert bow_mm(sheet(kind, 0.0, 0.4)) == 0.0
    assert "not flat" in reference_warnings(photo(1.0), [sheet(kind, 0.4, 0.05)])[0]
    assert reference_warnings(photo(1.0), [sheet(kind, 0.0, 0.4)]) == []


def test_a_ruler_in_a_lamps_reflection_is_told() -> None:
    """A ruler on the clipped card is complained of, one beside it is not."""
    ruler = attrs.evolve(sheet("mat", 0, 0), kind="ruler", graduation="cm, 1 mm", spots_px=np.zeros((0, 2)))
    ruler = attrs.evolve(ruler, misses_px=np.zeros((0, 2)), outline_px=CARD)
    assert "overexposed" in reference_warnings(photo(1.0, 2.0), [ruler])[0]
    assert reference_warnings(photo(1.0), [ruler]) == []
