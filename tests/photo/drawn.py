"""Rulers drawn fast for the tests of the photo room: polygons, supersampled, in linear light.

Nothing of the tool is used but the value it takes. Positions are image px with a pixel's centre at the integer.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import attrs
import cv2
import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Picture
from seamsurvey.seen_model import BORDER, GROUND, REFERENCE, Seen

FINE = 4  # sub-pixels along each side of a pixel


@dataclass(frozen=True)
class Scale:
    """One graduated edge. ``levels``: (steps, length in mm) of each kind of mark, the whole unit first."""

    step_mm: float
    levels: tuple[tuple[int, float], ...]
    marks: int
    first: int = 0  # the number of the first mark
    width_mm: float = 0.2

    def length_mm(self, number: int) -> float:
        """Of mark ``number``."""
        return next(length for steps, length in self.levels if number % steps == 0)


MILLIMETRES = Scale(1.0, ((10, 7.0), (5, 5.2), (1, 3.4)), 101)
TENTHS = Scale(2.54, ((10, 7.0), (5, 5.0), (1, 3.0)), 41)
EIGHTHS = Scale(25.4 / 8, ((8, 8.0), (4, 6.0), (2, 4.5), (1, 3.0)), 33)
SIXTEENTHS = Scale(25.4 / 16, ((16, 8.0), (8, 6.2), (4, 4.8), (2, 3.6), (1, 2.4)), 65)
THIRTYSECONDS = Scale(25.4 / 32, ((32, 8.0), (16, 6.4), (8, 5.2), (4, 4.2), (2, 3.2), (1, 2.3)), 129)


@dataclass(frozen=True)
class Ruler:
    """A ruler lying at ``origin_mm`` (x right, y down, from the picture's upper left corner), turned clockwise."""

    scale: Scale
    origin_mm: tuple[float, float] = (15.0, 15.0)
    turn_deg: float = 0.0
    opposite: Scale | None = None
    body: float = 0.55  # linear light
    ink: float = 0.03
    width_mm: float = 26.0
    missing: Callable[[int], bool] = field(default=lambda _number: False)
    figures: bool = False  # a blot where a figure would stand, at every whole unit


def draw(
    rulers: Sequence[Ruler],
    *,
    size_mm: tuple[float, float] = (135.0, 60.0),
    px_per_mm: tuple[float, float] = (8.0, 8.0),
    lid: float = 0.85,
    blur: float = 0.6,
    noise: float = 0.004,
    dpi: tuple[float, float] | None = None,
    warp: NDArray[np.float64] | None = None,
    seed: int = 0,
) -> Picture:
    """The scan of some rulers. ``warp`` (3, 3) is laid on the ideal image px, as a camera would."""
    width, height = round(size_mm[0] * px_per_mm[0]), round(size_mm[1] * px_per_mm[1])
    fine = np.full((height * FINE, width * FINE), lid, dtype=np.float32)

    def fill(outline_mm: NDArray[np.float64], light: float) -> None:
        px = outline_mm * np.array(px_per_mm) - 0.5
        if warp is not None:
            px = cv2.perspectiveTransform(px[None], warp)[0]
        sub = (px + 0.5) * FINE - 0.5
        cv2.fillConvexPoly(fine, np.round(sub * 256).astype(np.int32), float(light), lineType=cv2.LINE_8, shift=8)

    for ruler in rulers:
        _draw_ruler(ruler, fill)
    light = cv2.GaussianBlur(cv2.resize(fine, (width, height), interpolation=cv2.INTER_AREA), (0, 0), blur)
    light = np.clip(light + np.random.default_rng(seed).normal(0, noise, light.shape), 0, 1)
    encoded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)
    grey = np.round(255 * encoded).astype(np.uint8)
    return picture(np.repeat(grey[:, :, None], 3, axis=2), dpi=dpi)


def picture(pixels: NDArray[Any], dpi: tuple[float, float] | None = None) -> Picture:
    """A picture of given pixels."""
    return Picture("drawn.png", "0" * 64, pixels, dpi)


def seen_as_ruler(scan: Picture, *boxes_px: tuple[int, int, int, int]) -> Picture:
    """The same picture, in which the learned eye sees references in those boxes (left, upper, right, lower)."""
    small = 4
    maps = np.zeros((BORDER + 1, scan.height // small, scan.width // small), np.float32)
    maps[GROUND] = 1
    for left, upper, right, lower in boxes_px:
        box = (slice(upper // small, lower // small), slice(left // small, right // small))
        maps[GROUND][box], maps[REFERENCE][box] = 0, 1
    return attrs.evolve(scan, seen=Seen(maps=maps, scale=1 / small))


def _draw_ruler(ruler: Ruler, fill: Callable[[NDArray[np.float64], float], None]) -> None:
    turn = math.radians(ruler.turn_deg)
    along = np.array([math.cos(turn), math.sin(turn)])
    inward = np.array([-along[1], along[0]])
    origin = np.array(ruler.origin_mm)

    def box(start: float, end: float, near: float, far: float) -> NDArray[np.float64]:
        corners = np.array([[start, near], [end, near], [end, far], [start, far]])
        return np.asarray(origin + corners[:, :1] * along + corners[:, 1:] * inward)

    length = ruler.scale.step_mm * (ruler.scale.marks - 1)
    fill(box(-5.0, length + 5.0, 0.0, ruler.width_mm), ruler.body)
    for scale, upper in ((ruler.scale, True), (ruler.opposite, False)):
        if scale is None:
            continue
        for place in range(scale.marks):
            number = scale.first + place
            if ruler.missing(number):
                continue
            x, deep = place * scale.step_mm, scale.length_mm(number)
            near, far = (0.0, deep) if upper else (ruler.width_mm - deep, ruler.width_mm)
            fill(box(x - scale.width_mm / 2, x + scale.width_mm / 2, near, far), ruler.ink)
            if ruler.figures and upper and number % scale.levels[0][0] == 0:
                fill(box(x - 1.2, x + 1.2, deep + 1.0, deep + 4.0), ruler.ink)
