"""Cutting mats below the cards: coloured sheets ruled both ways, ticks and figures along their borders. Ground."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from training.raster import Ink, Kind, Map, Thing
from training.shapes import Random

_COLOURS = np.array([
    [0.02, 0.16, 0.07], [0.03, 0.25, 0.17], [0.03, 0.12, 0.28], [0.02, 0.05, 0.16], [0.12, 0.13, 0.14],
    [0.01, 0.01, 0.012], [0.5, 0.12, 0.25], [0.2, 0.1, 0.35], [0.35, 0.5, 0.5], [0.75, 0.75, 0.72],
])  # fmt: skip


def colours(rng: Random, n: int) -> NDArray[np.float64]:
    """(n, 3) linear colours of mats: green, teal, blue, grey, black, pink, violet, pale."""
    picked = _COLOURS[rng.integers(0, len(_COLOURS), n)] * np.exp(rng.normal(0, 0.25, (n, 1)))
    return np.asarray(np.clip(picked * np.exp(rng.normal(0, 0.12, (n, 3))), 0.004, 0.9))


def mat(rng: Random, width: int, height: int, look: int) -> Thing:
    """One mat round the canvas's middle, whole in sight or larger than the picture."""
    long = max(width, height) * rng.uniform(0.6, 1.5)
    size = (int(long), int(long * rng.uniform(0.62, 0.85)))
    if height > width:
        size = size[::-1]
    turn = float(rng.normal(0, 0.1)) if rng.random() < 0.85 else float(rng.uniform(-0.8, 0.8))
    c, s = math.cos(turn), math.sin(turn)
    matrix = np.array([[c, -s], [s, c]])
    middle = rng.uniform(0.35, 0.65, 2) * (width, height)
    half = np.array(size) / 2
    corners = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]) * half
    to_canvas = np.hstack([matrix, (middle - matrix @ half)[:, None]])
    return Thing(
        Kind.MAT, corners @ matrix.T + middle, rng.uniform(0, 3), look, ink=Ink(_ruled(rng, *size), to_canvas)
    )


def _ruled(rng: Random, wide: int, high: int) -> Map:
    """(high, wide) the lines, ticks and figures of a mat."""
    plate = np.zeros((high, wide), np.uint8)
    step = float(np.exp(rng.uniform(math.log(12), math.log(75))))
    margin = step * float(rng.choice([0.0, rng.uniform(0.3, 1.2)]))
    across, down = int((wide - 2 * margin) / step), int((high - 2 * margin) / step)
    start = np.array([(wide - across * step) / 2, (high - down * step) / 2])
    end = start + np.array([across, down]) * step
    strength = int(rng.integers(60, 256))
    finer = int(rng.choice([1, 1, 2, 4]))
    heavy_each = int(rng.choice([1, 1, 2, 5]))
    weight = int(rng.integers(1, 3))

    def line(a: NDArray[np.float64], b: NDArray[np.float64], value: int, thick: int = 1) -> None:
        cv2.line(plate, _fine(a), _fine(b), value, thick, cv2.LINE_AA, 4)

    for axis, count in ((0, across), (1, down)):
        for k in range(count * finer + 1):
            main = k % finer == 0
            a, b = start.copy(), end.copy()
            a[axis] = b[axis] = start[axis] + k * step / finer
            if main or step / finer > 5:
                heavy = main and (k // finer) % heavy_each == 0
                line(a, b, strength if main else strength // 2, weight if heavy else 1)
        _border(rng, plate, start, end, axis, step, strength)
    for slope in (30, 45, 60):
        if rng.random() < 0.4:
            far = (end[1] - start[1]) / math.tan(math.radians(slope))
            line(np.array([start[0], end[1]]), np.array([start[0] + far, start[1]]), strength)
    return plate


def _fine(point: NDArray[np.float64]) -> tuple[int, int]:
    """A point in sixteenths of a pixel, as OpenCV draws lines with a shift of 4."""
    return int(point[0] * 16), int(point[1] * 16)


def _border(
    rng: Random,
    plate: Map,
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    axis: int,
    step: float,
    strength: int,
) -> None:
    """Ticks and figures along both borders that run along an axis."""
    ticks, figures = int(rng.choice([0, 4, 8, 10])), rng.random() < 0.75
    size = max(0.25, step * float(rng.uniform(0.006, 0.014)))
    for k in range(int((end[axis] - start[axis]) / step) + 1):
        for side in (0, 1):
            at = start.copy()
            at[axis] += k * step
            at[1 - axis] = (start, end)[side][1 - axis]
            outward = -1 if side == 0 else 1
            for j in range(ticks if step / max(ticks, 1) > 2 else 0):
                a = at.copy()
                a[axis] += j * step / ticks
                b = a.copy()
                b[1 - axis] -= outward * step * (0.25 if 2 * j == ticks else 0.15)
                cv2.line(plate, _fine(a), _fine(b), strength, 1, cv2.LINE_AA, 4)
            if figures:
                place = at + np.array([2.0, -2.0 if side else 22 * size + 2])
                cv2.putText(
                    plate, str(k), (int(place[0]), int(place[1])), cv2.FONT_HERSHEY_SIMPLEX, size, strength, 1,
                    cv2.LINE_AA,
                )  # fmt: skip
