"""Small scans for these tests: flat cards on a lid, filled exactly, in linear light, then blurred and encoded.

Nothing here is the tool's: polygons are filled by tests/scene/coverage.py, by exact area.
"""

from collections.abc import Sequence
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from seamsurvey.model import Picture, Plane, ScanPlane
from tests.scene.coverage import cover

Floats = NDArray[np.float64]

DPI = 300
PX_PER_MM = DPI / 25.4

WHITE, GREY, BLACK = (0.80, 0.80, 0.79), (0.26, 0.27, 0.27), (0.008, 0.008, 0.009)
CREAM, CHIPBOARD, BLUE, DARK = (0.77, 0.70, 0.54), (0.34, 0.33, 0.31), (0.16, 0.29, 0.48), (0.02, 0.02, 0.022)


def plane_of(height: int, px_per_mm: float = PX_PER_MM) -> ScanPlane:
    """The true plane of a scan of this height, origin at its lower left corner; 0.02 % along x, 0.2 % across."""
    k = 1 / px_per_mm
    return ScanPlane(
        kind="scan",
        matrix=np.array([[k, 0, k / 2], [0, -k, (height - 0.5) * k]]),
        covariance=np.diag([(2e-4 * k) ** 2, (5e-4 * k) ** 2, 1e-6, (5e-4 * k) ** 2, (2e-3 * k) ** 2, 1e-6]),
        axis=np.array([1.0, 0.0]),
    )


class Covered(NamedTuple):
    """The share of each pixel that a polygon covers, in its ``box`` of a picture of this ``shape`` (h, w)."""

    box: tuple[slice, slice]
    part: Floats
    shape: tuple[int, int]

    @property
    def whole(self) -> Floats:
        """The same for every pixel of the picture."""
        inside = np.zeros(self.shape)
        inside[self.box] = self.part
        return inside


def coverage(polygon: ArrayLike, shape: tuple[int, int], plane: Plane) -> Covered:
    """What a polygon ((n, 2) plane mm) covers of a picture of this (height, width)."""
    patch = cover([plane.to_px(np.asarray(polygon, dtype=float))], shape[::-1])
    return Covered(patch.window, patch.alpha.astype(float), shape)


def scan(
    cards: Sequence[ArrayLike],
    *,
    size_mm: tuple[float, float] = (120.0, 90.0),
    lid: ArrayLike = WHITE,
    card: ArrayLike = CREAM,
    shadow_mm: float = 0.0,
    lines: Sequence[tuple[ArrayLike, ArrayLike]] = (),
    blur_px: float = 0.7,
    seed: int = 0,
) -> tuple[Picture, Plane]:
    """Cards ((n, 2) plane mm) on a lid; a shadow falls to the lower right; ``lines`` are drawn on the cards.

    Colours are linear light. Each line is a start and an end, plane mm, 0.3 mm wide and dark.
    """
    rng = np.random.default_rng(seed)
    width, height = (round(mm * PX_PER_MM) for mm in size_mm)
    plane = plane_of(height)
    light: Floats = np.ones((height, width, 3)) * np.asarray(lid)
    light *= 1 - 0.03 * np.linspace(0, 1, width)[None, :, None]
    shapes = [coverage(polygon, (height, width), plane) for polygon in cards]
    if shadow_mm:
        step = round(shadow_mm * PX_PER_MM * 0.7)
        for shape in shapes:
            fallen = np.roll(shape.whole, (step, step), axis=(0, 1))
            light *= 1 - 0.5 * blurred(fallen, 0.35 * shadow_mm * PX_PER_MM)[..., None]
    grain = 1 + 0.015 * rng.normal(size=(height, width, 1))
    for shape in shapes:
        light += (np.asarray(card) * grain - light) * shape.whole[..., None]
    for start, end in lines:
        a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
        side = 0.15 * np.array([a[1] - b[1], b[0] - a[0]]) / np.hypot(*(b - a))
        stroke = coverage([a + side, b + side, b - side, a - side], (height, width), plane)
        light[stroke.box] += (0.05 - light[stroke.box]) * 0.8 * stroke.part[..., None]
    light = blurred(light, blur_px)
    light += 0.003 * rng.normal(size=light.shape)
    return picture(light), plane


def blurred(light: Floats, deviation_px: float) -> Floats:
    """The picture ((h, w) or (h, w, 3)) blurred by a Gaussian."""
    return np.asarray(cv2.GaussianBlur(light, (0, 0), deviation_px), dtype=float)


def picture(light: Floats) -> Picture:
    """A picture of this linear light ((h, w, 3), 0..1), 8 bit sRGB (IEC 61966-2-1)."""
    clipped = np.clip(light, 0, 1)
    encoded = np.where(clipped <= 0.0031308, 12.92 * clipped, 1.055 * clipped ** (1 / 2.4) - 0.055)
    return Picture("scan.png", "0" * 64, np.round(encoded * 255).astype(np.uint8), (DPI, DPI))


def dashes(start: ArrayLike, end: ArrayLike, length: float = 3.0) -> list[tuple[Floats, Floats]]:
    """A dashed line as strokes, as long as the gaps."""
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    count = int(np.hypot(*(b - a)) / (2 * length))
    return [(a + (b - a) * k / count, a + (b - a) * (k + 0.5) / count) for k in range(count)]


def turned(polygon: ArrayLike, degrees: float, middle: tuple[float, float]) -> Floats:
    """The polygon turned counter-clockwise about its mean corner, which is then moved to ``middle``."""
    points = np.asarray(polygon, dtype=float)
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.asarray((points - points.mean(axis=0)) @ np.array([[c, s], [-s, c]]) + np.array(middle))
