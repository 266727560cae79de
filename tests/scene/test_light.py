"""Linear light and back, against the standard's numbers and scikit-image."""

import numpy as np
import pytest
import skimage.color

from tests.scene.canvas import Canvas
from tests.scene.geometry import polygon
from tests.scene.light import blurred, cloud, colour, encoded, linear


def test_the_standards_break_point() -> None:
    """IEC 61966-2-1:1999: 0.04045 encoded is 0.0031308 linear, white is 1, half encoded is 0.2140."""
    assert float(linear(0.04045 * 255)) == pytest.approx(0.0031308, abs=5e-8)
    assert float(linear(255)) == 1.0
    assert float(linear(127.5)) == pytest.approx(0.21404114, abs=1e-8)


def test_all_codes_agree_with_scikit_image() -> None:
    """For all 256 greys the linear value is the luminance that scikit-image's rgb2xyz gives."""
    codes = np.arange(256, dtype=np.uint8)
    theirs = skimage.color.rgb2xyz(np.repeat(codes[None, :, None], 3, axis=2))[0, :, 1]
    assert linear(codes) == pytest.approx(theirs, abs=2e-7)


def test_encoding_undoes_decoding() -> None:
    """Every 8-bit code comes back from its linear value, and values outside are clipped."""
    codes = np.arange(256, dtype=np.uint8)
    assert encoded(linear(codes).astype(np.float32)).tolist() == codes.tolist()
    assert encoded(np.array([-0.5, 1.5], np.float32)).tolist() == [0, 255]


def test_a_half_covered_pixel_is_half_the_light() -> None:
    """Black over half a white pixel gives code 188, half the light, not the 128 of mixed codes."""
    canvas = Canvas(np.ones((8, 8, 3), np.float32))
    canvas.paint([polygon([(-0.5, -0.5), (4.0, -0.5), (4.0, 7.5), (-0.5, 7.5)])], (0.0, 0.0, 0.0))
    row = encoded(canvas.light)[3, :, 0]
    assert row.tolist() == [0, 0, 0, 0, 188, 255, 255, 255]


def test_colours_are_written_in_srgb() -> None:
    """A colour's hexadecimal digits come out of the encoder again."""
    tones = np.array([[colour("#e3d9c2")]], np.float32)
    assert encoded(tones)[0, 0].tolist() == [0xE3, 0xD9, 0xC2]


def test_blur_spreads_a_point_by_its_sigma_and_keeps_the_light() -> None:
    """The blur of a point has the variance asked for along each axis and the same sum."""
    image = np.zeros((41, 41), np.float32)
    image[20, 20] = 1.0
    out = blurred(image, 0.8, 1.7).astype(np.float64)
    at = np.arange(41) - 20
    assert out.sum() == pytest.approx(1.0, abs=1e-6)
    assert np.sqrt((out.sum(axis=0) * at**2).sum()) == pytest.approx(0.8, rel=0.01)
    assert np.sqrt((out.sum(axis=1) * at**2).sum()) == pytest.approx(1.7, rel=0.01)


def test_clouds_repeat_without_a_seam() -> None:
    """Across the border of a repeated cloud the step is no larger than inside it."""
    tile = cloud((120, 90), 15.0, np.random.default_rng(3))
    inside = np.abs(np.diff(tile, axis=1)).max()
    assert np.abs(tile[:, 0] - tile[:, -1]).max() <= 1.5 * inside
    assert tile.std() == pytest.approx(1.0, abs=0.25)
