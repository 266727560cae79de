"""Colours as light: the sRGB transfer function both ways, blur and noise on linear values.

Pixel arithmetic here is NumPy's alone, in one fixed order, so that a picture comes out bit for bit the
same on every machine.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Picture = NDArray[np.float32]  # (height, width, 3), linear light, 0 black, 1 white
Colour = tuple[float, float, float]


def linear(srgb: ArrayLike) -> NDArray[np.float64]:
    """Linear light (0 to 1) from encoded sRGB values (0 to 255). IEC 61966-2-1:1999."""
    v = np.asarray(srgb, dtype=np.float64) / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def colour(hexadecimal: str) -> Colour:
    """Linear light of a colour written like `#e8dcc0`."""
    digits = hexadecimal.removeprefix("#")
    r, g, b = (float(linear(int(digits[k : k + 2], 16))) for k in (0, 2, 4))
    return r, g, b


# Entry k is the linear value above which the nearest 8-bit code is k + 1: halfway between codes, encoded.
_STEPS = linear(np.arange(255) + 0.5)
_TABLE_SIZE = 1 << 16


def _code_table() -> NDArray[np.uint8]:
    levels = (np.arange(_TABLE_SIZE) + 0.5) / _TABLE_SIZE
    return np.asarray(np.searchsorted(_STEPS, levels), dtype=np.uint8)


_CODES = _code_table()


def encoded(picture: Picture) -> NDArray[np.uint8]:
    """The 8-bit sRGB picture; light outside 0 to 1 is clipped.

    By a table of 65536 levels: 0.00002 of full light each, a twentieth of the smallest 8-bit step.
    """
    index = np.clip(picture * np.float32(_TABLE_SIZE), 0.0, _TABLE_SIZE - 1).astype(np.uint16)
    return np.asarray(_CODES[index])


def gaussian_kernel(sigma: float) -> NDArray[np.float32]:
    """An odd-length sampled Gaussian of sum 1, cut at four sigma."""
    reach = max(1, math.ceil(4.0 * sigma))
    taps = [math.exp(-0.5 * (k / sigma) ** 2) for k in range(-reach, reach + 1)]
    return (np.array(taps) / math.fsum(taps)).astype(np.float32)


def blurred(image: NDArray[np.float32], sigma_x: float, sigma_y: float | None = None) -> NDArray[np.float32]:
    """The image (height, width[, 3]) under a Gaussian blur in px, its border continued outward."""
    out = image
    for axis, sigma in ((1, sigma_x), (0, sigma_x if sigma_y is None else sigma_y)):
        if sigma > 0.0:
            out = _along(out, gaussian_kernel(sigma), axis)
    return out


def _along(image: NDArray[np.float32], kernel: NDArray[np.float32], axis: int) -> NDArray[np.float32]:
    reach = len(kernel) // 2
    pad = [(0, 0)] * image.ndim
    pad[axis] = (reach, reach)
    padded = np.pad(image, pad, mode="edge")
    size = image.shape[axis]

    def shifted(k: int) -> NDArray[np.float32]:
        return padded[k : k + size] if axis == 0 else padded[:, k : k + size]

    out = np.asarray(shifted(reach) * kernel[reach])
    for k in range(reach):
        out += (shifted(k) + shifted(2 * reach - k)) * kernel[k]
    return out


def cloud(shape: tuple[int, int], cell: float, rng: np.random.Generator) -> NDArray[np.float32]:
    """Smooth noise of mean about 0 and deviation about 1, its features about `cell` px wide.

    It continues without a seam when repeated side by side.
    """
    counts = [max(1, round(n / cell)) for n in shape]
    knots = rng.standard_normal((counts[0], counts[1]), dtype=np.float32)
    for axis, (size, count) in enumerate(zip(shape, counts, strict=True)):
        at = np.arange(size, dtype=np.float32) * np.float32(count / size)
        low = at.astype(int)
        part = at - low
        part = part * part * (3.0 - 2.0 * part)  # eased, so that no grid of creases shows
        part = part[:, None] if axis == 0 else part[None, :]
        near = np.take(knots, low % count, axis=axis)
        far = np.take(knots, (low + 1) % count, axis=axis)
        knots = (near + (far - near) * part).astype(np.float32)
    return knots * np.float32(1.35)
