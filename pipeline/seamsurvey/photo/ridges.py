"""The thin dark and light lines of a picture, as points on their centre lines to a fraction of a pixel.

The method is Steger's (C. Steger, "An unbiased detector of curvilinear structures", IEEE PAMI 20(2), 1998): where
the second derivative across a line is large and the first one vanishes within the pixel. On a step edge the first
derivative vanishes nowhere, so the outlines of cards leave at most a faint trail beside them.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.photo.windows import Window

# A line w pixels wide is one ridge when sigma >= w / (2 sqrt 3) (Steger 1998, eq. 9): this takes lines to 5 px.
SIGMA = 1.5
MIN_RELATIVE = 0.012  # second derivative over local brightness: a 1.5 px line of a tenth of contrast passes
NOISE_FACTOR = 6.0  # and above the noise of the picture's plain parts;
FAINT_FACTOR = 4.0  # where marks are sure to be: four points of noise in a line are rare enough
TILE_PX = 32  # where the ground is uneven, noise is judged by tiles of this size
TILE_SAMPLE = 4  # by every such pixel
MIN_BRIGHTNESS = 0.02  # linear light: below it, contrast is judged as if it were this bright
BACKGROUND_PX = 31  # the neighbourhood whose mean brightness contrast is judged against
MAX_OFFSET = 0.6  # px from a pixel's centre to the ridge: 0.5 and a little for noise
MAX_ROUNDNESS = 0.5  # smaller over larger second derivative: a line, not a speck


@frozen(eq=False)
class Ridges:
    """Points on the centre lines of thin lines; image frame of the level they were found on."""

    points: NDArray[np.float64]  # (n, 2) px, (x, y)
    pixels: NDArray[np.intp]  # (n, 2) the pixel (x, y) of each
    along_deg: NDArray[np.float64]  # (n,) direction of the line, 0 = right, 90 = down, in [0, 180)
    dark: NDArray[np.bool_]  # (n,) darker than what is beside it
    strength: NDArray[np.float64]  # (n,) second derivative across the line over local brightness

    def within(self, windows: Sequence[Window] | None, factor: int) -> "Ridges":
        """Those in any of the windows of a picture that the level is smaller than by ``factor``; None: all."""
        if windows is None:
            return self
        chosen = np.any([window.holds((self.points + 0.5) * factor - 0.5) for window in windows], axis=0)
        names = ("points", "pixels", "along_deg", "dark", "strength")
        return Ridges(*(getattr(self, name)[chosen] for name in names))


def _kernels(sigma: float) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    reach = int(np.ceil(4 * sigma))
    x = np.arange(-reach, reach + 1, dtype=float)
    bell = np.exp(-0.5 * (x / sigma) ** 2)
    bell /= bell.sum()
    first = x / sigma**2 * bell  # the filter correlates, so the derivative's kernel is turned round
    second = (x**2 / sigma**4 - 1 / sigma**2) * bell
    return bell, first, second - second.mean()


def _quietest(bulk: NDArray[np.float32], noise: float) -> NDArray[np.float32]:
    """(h, w) the noise, or what is less in a tile and its neighbours: cloth must not hide a ruler."""
    height, width = (max(side // TILE_PX, 1) for side in bulk.shape)
    some = bulk[: height * TILE_PX : TILE_SAMPLE, : width * TILE_PX : TILE_SAMPLE]
    rows, columns = some.shape[0] // height, some.shape[1] // width
    tiles = some[: height * rows, : width * columns].reshape(height, rows, width, columns)
    medians = 1.4826 * np.median(tiles, axis=(1, 3)).astype(np.float32)
    # A ruler's marks fill a tile as cloth does; its plain face is in the next one.
    quiet = np.minimum(cv2.erode(medians, np.ones((3, 3), np.uint8)), np.float32(noise))
    return np.asarray(cv2.resize(quiet, bulk.shape[::-1], interpolation=cv2.INTER_LINEAR))


def find_ridges(
    light: NDArray[np.float32], sigma: float = SIGMA, *, uneven: bool = False, faint: bool = False
) -> Ridges:
    """The ridge points of ``light``, (h, w) linear light in 0..1.

    ``uneven``: the ground is rougher in places; ``faint``: lines are looked for that hardly stand out from noise.
    """
    bell, first, second = _kernels(sigma)

    def filtered(across: NDArray[np.float64], down: NDArray[np.float64]) -> NDArray[np.float32]:
        out = cv2.sepFilter2D(light, cv2.CV_32F, across, down, borderType=cv2.BORDER_REPLICATE)
        return np.asarray(out, dtype=np.float32)

    xx, yy = filtered(second, bell), filtered(bell, second)
    bulk = np.abs(xx + yy)
    sample = bulk[::7, ::7]
    noise = 1.4826 * float(np.median(sample))
    brightness = np.maximum(cv2.blur(light, (BACKGROUND_PX, BACKGROUND_PX)), np.float32(MIN_BRIGHTNESS))
    # A line's Laplacian is its one large second derivative, so few pixels are left to look at closely.
    floor = (FAINT_FACTOR if faint else NOISE_FACTOR) * (_quietest(bulk, noise) if uneven else noise)
    rows, columns = np.nonzero(bulk > np.maximum(MIN_RELATIVE * brightness, floor))
    gather = (rows, columns)
    xx, yy, brightness = xx[gather], yy[gather], brightness[gather]
    xy = filtered(first, first)[gather]
    gx, gy = filtered(first, bell)[gather], filtered(bell, first)[gather]

    half_trace = (xx + yy) / 2
    root = np.hypot((xx - yy) / 2, xy)
    large = half_trace + np.where(half_trace >= 0, root, -root)
    small = 2 * half_trace - large
    normal = 0.5 * np.arctan2(2 * xy, xx - yy) + np.where(half_trace >= 0, 0.0, np.pi / 2)
    nx, ny = np.cos(normal), np.sin(normal)
    offset = -(gx * nx + gy * ny) / large
    # Of the pixels that a slanting line touches, the one nearest to it in each row (or column) is taken.
    good = np.abs(offset) <= MAX_OFFSET * np.maximum(np.abs(nx), np.abs(ny))
    good &= np.abs(small) <= MAX_ROUNDNESS * np.abs(large)
    offset, nx, ny = offset[good], nx[good], ny[good]
    # Across a line so blurred light is a bell curve of variance s² = sigma² + w²/12, on which this one step of
    # Newton's overshoots: the step from t is t / (1 - t²/s²). Taken back to third order, for a line of 2 px.
    offset = offset - offset**3 / np.float32(sigma**2 + 1 / 3)
    pixels = np.column_stack([columns[good], rows[good]])
    return Ridges(
        points=pixels + np.column_stack([offset * nx, offset * ny]).astype(float),
        pixels=pixels,
        along_deg=np.degrees(normal[good] + np.pi / 2).astype(float) % 180,
        dark=large[good] > 0,
        strength=(np.abs(large[good]) / brightness[good]).astype(float),
    )
