"""From encoded pixel values to linear light, and back.

Edges are located in linear light: the half-way level of *encoded* values shifts an edge by a tenth to a half
of a pixel, twice for a length.
"""

from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

# Relative luminance of linear sRGB: ITU-R BT.709-6, item 3.2 (the primaries of IEC 61966-2-1).
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
_STEP = 1 / 255


def decode(encoded: NDArray[Any]) -> NDArray[np.float64]:
    """Linear light in 0..1 from sRGB-encoded values in 0..1, any shape (IEC 61966-2-1, section 5.2)."""
    values = np.asarray(encoded, dtype=float)
    return np.where(values <= 0.04045, values / 12.92, ((np.maximum(values, 0.04045) + 0.055) / 1.055) ** 2.4)


def encode(linear: NDArray[Any]) -> NDArray[np.float64]:
    """sRGB-encoded values in 0..1 from linear light in 0..1, any shape (IEC 61966-2-1, section 5.2)."""
    values = np.asarray(linear, dtype=float)
    return np.where(values <= 0.0031308, values * 12.92, 1.055 * np.maximum(values, 0.0031308) ** (1 / 2.4) - 0.055)


def step_at(linear: NDArray[Any]) -> NDArray[np.float64]:
    """The linear light between two neighbouring values of 8 bits, at linear light 0..1, any shape."""
    encoded = encode(linear)
    return decode(np.minimum(encoded + _STEP, 1.0)) - decode(np.minimum(encoded + _STEP, 1.0) - _STEP)


@cache
def _table(levels: int) -> NDArray[np.float32]:
    return decode(np.arange(levels) / (levels - 1)).astype(np.float32)


def linear_channels(pixels: NDArray[Any]) -> NDArray[np.float32]:
    """Linear light 0..1 of each channel, same shape as ``pixels`` ((...,) uint8 or uint16, sRGB-encoded)."""
    if pixels.dtype not in (np.uint8, np.uint16):
        raise TypeError(f"pixels must be uint8 or uint16, not {pixels.dtype}")
    return np.asarray(_table(256 if pixels.dtype == np.uint8 else 65536)[pixels])


def linear_luminance(pixels: NDArray[Any]) -> NDArray[np.float32]:
    """Relative luminance 0..1, shape (h, w), of sRGB-encoded ``pixels`` ((h, w, 3) uint8 or uint16)."""
    weighted: NDArray[np.float32] = linear_channels(pixels) @ LUMINANCE.astype(np.float32)
    return weighted


# Luma of encoded R'G'B': ITU-R BT.601-7, item 2.5.1, which JPEG files use (JFIF 1.02). They keep it for every
# pixel, and colour for every second one only.
LUMA = np.array([0.299, 0.587, 0.114])


def light_of_luma(linear: NDArray[Any]) -> NDArray[np.float64]:
    """(...) the light of a grey of the same luma, from (..., 3) linear light.

    Where colour is stored coarsely it bleeds across an edge, and takes luminance along; luma stays where it is.
    """
    return decode(encode(linear) @ LUMA)
