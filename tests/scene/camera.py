"""A phone's camera above the table: where it stands, and where it sees a point. OpenCV projects.

Table frame as everywhere, with z up towards the camera; camera frame x right, y down, z forward.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from .canvas import Paint
from .coverage import Grey
from .geometry import Matrix, Points, with_steps
from .light import Picture
from .looks import Look

# The diagonal of a 36 x 24 mm frame, mm: a 35 mm equivalent compares diagonals (CIPA DCG-001).
_FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
# Straight edges are bent by the lens: between points this close (mm) by less than 0.001 px.
_STEP_MM = 5.0
# Rays are worked out exactly on a grid of this many px; between, they are straight to 1e-6 of the distance.
_RAY_GRID_PX = 16


@dataclass(frozen=True)
class Phone:
    """A camera and where it is held.

    `focal_35mm`: 35 mm equivalent, mm; `principal`: of the optical axis from the picture's middle, px;
    `k1`, `k2`: radial distortion, x_d = x (1 + k1 r^2 + k2 r^4); `distance`: to the point looked at, mm;
    `tilt`: of the axis from straight down, degrees, towards `azimuth` (counter-clockwise from the table's
    x); `roll`: about the axis, degrees.
    """

    focal_35mm: float = 26.0
    size: tuple[int, int] = (4000, 3000)
    principal: tuple[float, float] = (0.0, 0.0)
    k1: float = 0.0
    k2: float = 0.0
    distance: float = 480.0
    tilt: float = 0.0
    azimuth: float = -90.0
    roll: float = 0.0

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return self.focal_35mm * math.hypot(*self.size) / _FULL_FRAME_DIAGONAL_MM

    @property
    def matrix(self) -> NDArray[np.float64]:
        """(3, 3) camera matrix; the pixel centres are the integers."""
        cx, cy = ((side - 1) / 2.0 + off for side, off in zip(self.size, self.principal, strict=True))
        return np.array([[self.focal_px, 0.0, cx], [0.0, self.focal_px, cy], [0.0, 0.0, 1.0]])

    @property
    def distortion(self) -> NDArray[np.float64]:
        """(4,) OpenCV's k1, k2, p1, p2."""
        return np.array([self.k1, self.k2, 0.0, 0.0])


class PhoneView:
    """A phone looking at a point of the table, `(x, y)` in mm."""

    def __init__(self, phone: Phone, at: Points) -> None:
        tilt, azimuth = math.radians(phone.tilt), math.radians(phone.azimuth)
        back = np.array([math.sin(tilt) * math.cos(azimuth), math.sin(tilt) * math.sin(azimuth), math.cos(tilt)])
        self.phone = phone
        self.centre = np.array([at[0], at[1], 0.0]) + phone.distance * back
        self.rotation = _looking_along(-back, math.radians(phone.roll))

    def pixels(self, points: Points, height: float) -> Points:
        """(n, 2) px of points on the table lifted by `height` (mm)."""
        lifted = np.column_stack([points, np.full(len(points), height)])
        turn, _ = cv2.Rodrigues(self.rotation)
        shift = -self.rotation @ self.centre
        seen, _ = cv2.projectPoints(lifted, turn, shift, self.phone.matrix, self.phone.distortion)
        return np.asarray(seen, dtype=np.float64).reshape(-1, 2)

    def outline(self, outline: Points, height: float) -> Points:
        """The outline as it is seen, its straight edges bent by the lens."""
        return self.pixels(with_steps(outline, _STEP_MM), height)

    @cached_property
    def _slopes(self) -> tuple[Grey, Grey]:
        """Two (h, w) arrays: how far the ray of each pixel goes along x and along y per mm it goes up."""
        width, height = self.phone.size
        x, y = (np.arange(0, side + _RAY_GRID_PX, _RAY_GRID_PX, dtype=np.float64) for side in (width, height))
        nodes = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 1, 2)
        flat = cv2.undistortPoints(nodes, self.phone.matrix, self.phone.distortion).reshape(-1, 2)
        rays = np.column_stack([flat, np.ones(len(flat))]) @ self.rotation
        slopes = (rays[:, :2] / rays[:, 2:]).reshape(len(y), len(x), 2)
        return _between(slopes[..., 0], width, height), _between(slopes[..., 1], width, height)

    def on_table(self, height: float, window: tuple[slice, slice]) -> tuple[Grey, Grey]:
        """The table's x and y (mm), (h, w) each, that the window's pixels see at `height`; for grain only."""
        rise = np.float32(height - self.centre[2])
        across, up = (slope[window] for slope in self._slopes)
        return (
            np.asarray(np.float32(self.centre[0]) + rise * across),
            np.asarray(np.float32(self.centre[1]) + rise * up),
        )

    def painted(self, look: Look, to_table: Matrix, height: float) -> Paint:
        """A look, given in the frame that `to_table` leads from, by pixel."""
        b = np.linalg.inv(np.vstack([to_table, [0.0, 0.0, 1.0]])).astype(np.float32)

        def paint(x: Grey, y: Grey) -> Picture:
            left, top = int(x[0, 0]), int(y[0, 0])
            u, v = self.on_table(height, (slice(top, top + x.shape[0]), slice(left, left + x.shape[1])))
            return look(b[0, 0] * u + b[0, 1] * v + b[0, 2], b[1, 0] * u + b[1, 1] * v + b[1, 2])

        return paint


def visible_room(phone: Phone, border_px: float = 70.0) -> tuple[float, float]:
    """Width and height (mm) of the largest rectangle about the point looked at that is seen whole.

    It has the picture's own proportions; its border keeps `border_px` from the picture's.
    """
    view = PhoneView(phone, np.zeros(2))
    width, height = phone.size
    square = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2.0
    limits = np.array([width - 1.0, height - 1.0]) - border_px

    def seen_whole(scale: float) -> bool:
        border = view.outline(square * scale, 0.0)
        return bool(np.all(border >= border_px) and np.all(border <= limits))

    low, high = 0.0, phone.distance / phone.focal_px
    for _ in range(30):
        middle = (low + high) / 2.0
        low, high = (middle, high) if seen_whole(middle) else (low, middle)
    return low * width, low * height


def _looking_along(forward: Points, roll: float) -> NDArray[np.float64]:
    """(3, 3) rotation whose rows are right, down, forward; the picture's top towards the table's y."""
    right = np.cross(forward, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    c, s = math.cos(roll), math.sin(roll)
    return np.array([c * right + s * down, c * down - s * right, forward])


def _between(nodes: NDArray[np.float64], width: int, height: int) -> Grey:
    """Values at every pixel, linearly between the nodes of the ray grid."""
    rows, columns = (_weights(side, count) for side, count in zip((height, width), nodes.shape, strict=True))
    return np.asarray(rows @ nodes @ columns.T, dtype=np.float32)


def _weights(side: int, count: int) -> NDArray[np.float64]:
    at = np.arange(side) / _RAY_GRID_PX
    return np.asarray(np.maximum(0.0, 1.0 - np.abs(at[:, None] - np.arange(count)[None, :])))
