"""The transfer between encoded values and light."""

import numpy as np
import pytest

from seamsurvey import light


def test_the_transfer_agrees_with_the_standard() -> None:
    """The linear part has slope 12.92, the parts meet at 0.04045, and 0.5 decodes to 0.2140 (IEC 61966-2-1)."""
    assert light.decode(np.array([0, 0.04045, 1.0])) == pytest.approx([0, 0.04045 / 12.92, 1], abs=1e-9)
    assert light.decode(np.array([0.040451]))[0] == pytest.approx(0.040451 / 12.92, abs=1e-6)
    assert float(light.decode(np.array([0.5]))[0]) == pytest.approx(0.21404114, abs=1e-8)


def test_encoding_undoes_decoding() -> None:
    """Every 8-bit level survives the way into linear light and back."""
    levels = np.arange(256, dtype=np.uint8)
    back = np.rint(255 * light.encode(light.linear_channels(levels))).astype(int)
    assert np.array_equal(back, levels)


def test_8_and_16_bit_pictures_give_the_same_light() -> None:
    """A 16-bit level of 257 n is the 8-bit level n."""
    eight = np.arange(256, dtype=np.uint8)
    assert light.linear_channels(eight.astype(np.uint16) * 257) == pytest.approx(
        light.linear_channels(eight), abs=1e-6
    )


def test_luminance_weighs_the_primaries_and_sums_to_one() -> None:
    """White has luminance 1, pure green 0.7152 (ITU-R BT.709-6)."""
    pixels = np.array([[[255, 255, 255], [0, 255, 0], [0, 0, 0]]], dtype=np.uint8)
    assert light.linear_luminance(pixels)[0] == pytest.approx([1, 0.7152, 0], abs=1e-6)


def test_other_kinds_of_pixels_are_refused() -> None:
    """Floats would be taken for something they are not."""
    with pytest.raises(TypeError):
        light.linear_luminance(np.zeros((1, 1, 3)))
