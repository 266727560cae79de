"""Printed sheets as a scanner sees them: our own PDF, drawn by pypdfium2, stretched and turned by OpenCV."""

from pathlib import Path

import cv2
import numpy as np
import pypdfium2
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from seamsurvey.model import Picture, ScanPlane

DPI = 150
MM_PER_PX = 25.4 / DPI


def scanned(pdf: Path, page: int, *, stretch: tuple[float, float], turn: float, seed: int = 0) -> NDArray[np.uint8]:
    """The page (1, 2, ...), stretched across and up and turned (degrees), on a dark uneven table with noise."""
    sheet = pypdfium2.PdfDocument(pdf)[page - 1]
    drawn = np.array(sheet.render(scale=DPI / 72).to_pil().convert("L"))
    height, width = drawn.shape
    # The page is drawn to fill whole pixels: what that adds to its size is taken off again.
    whole = np.array(sheet.get_size()) * DPI / 72 / [width, height]
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    matrix = np.array([[c, -s], [s, c]]) @ np.diag(np.array(stretch) * whole)
    size = (round(width * 1.4), round(height * 1.3))
    shift = np.array(size) / 2 - matrix @ (np.array([width, height]) / 2)
    table = cv2.warpAffine(
        drawn, np.column_stack([matrix, shift]), size, flags=cv2.INTER_LINEAR, borderValue=(110,)
    )
    rng = np.random.default_rng(seed)
    grain = gaussian_filter(rng.normal(0, 1, table.shape), 3)
    noisy = table * 0.9 + rng.normal(0, 4, table.shape) + 12 * grain
    return np.asarray(np.clip(noisy, 0, 255), dtype=np.uint8)


def as_picture(grey: NDArray[np.uint8]) -> Picture:
    """The values of a picture with three equal channels."""
    return Picture("page.png", "0" * 64, np.repeat(grey[:, :, None], 3, axis=2))


def glass(grey: NDArray[np.uint8]) -> ScanPlane:
    """The plane of that scan, its scale known to 0.02 % (standard) each way."""
    k = MM_PER_PX
    matrix = np.array([[k, 0.0, 0.0], [0.0, -k, k * grey.shape[0]]])
    sigma = np.array([2e-4 * k, 0, 0, 0, 2e-4 * k, 0])
    return ScanPlane(matrix=matrix, covariance=np.diag(sigma**2), axis=np.array([1.0, 0.0]))
