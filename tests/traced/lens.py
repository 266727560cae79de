"""The cameras: a phone's with radial distortion, and a flatbed's. OpenCV's camera convention."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
MM_PER_INCH = 25.4


class Camera(Protocol):
    """What the truth asks of a camera."""

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the upright picture, px."""

    def pixels(self, points: Array) -> Array:
        """(n, 2) where the (n, 3) table points lie in the picture."""

    def record(self) -> dict[str, Any]:
        """The camera as the truth tells it."""


@dataclass(frozen=True)
class Phone:
    """A pinhole with x_d = x_u (1 + k1 r^2 + k2 r^4).

    The rows of `turn` are right, down and forward in the table frame.
    """

    size: tuple[int, int]
    focal: float  # px
    centre: tuple[float, float]  # px
    k: tuple[float, float]
    turn: Array
    place: Array  # (3,) mm

    def pixels(self, points: Array) -> Array:
        """(n, 2) where the (n, 3) table points lie in the picture."""
        own = (np.asarray(points) - self.place) @ self.turn.T
        return self._bent(own[:, :2] / own[:, 2:])

    def _bent(self, xy: Array) -> Array:
        square = np.sum(xy**2, axis=1, keepdims=True)
        return np.asarray(xy * (1 + self.k[0] * square + self.k[1] * square**2) * self.focal + self.centre)

    def straight_pixels(self, pixels: Array) -> Array:
        """(n, 2) where pixels would lie without distortion; by fixed-point iteration."""
        wanted = (pixels - np.array(self.centre)) / self.focal
        xy = wanted.copy()
        for _ in range(12):
            square = np.sum(xy**2, axis=1, keepdims=True)
            xy = wanted / (1 + self.k[0] * square + self.k[1] * square**2)
        return np.asarray(xy * self.focal + self.centre)

    def record(self) -> dict[str, Any]:
        """The camera as the truth tells it."""
        forward = self.turn[2]
        return {
            "model": "pinhole, radial distortion x_d = x_u (1 + k1 r^2 + k2 r^4)",
            "fx": self.focal, "fy": self.focal, "cx": self.centre[0], "cy": self.centre[1],
            "k1": self.k[0], "k2": self.k[1],
            "R_rows_right_down_forward": self.turn.tolist(), "centre_mm": self.place.tolist(),
            "tilt_deg": float(np.degrees(np.arccos(-forward[2]))),
            "focal_equiv_mm": self.focal * 36.0 / max(self.size),
        }  # fmt: skip


@dataclass(frozen=True)
class Flatbed:
    """A scanner: parallel rays, nominally `dpi`, its two axes off by their own shares of it."""

    size: tuple[int, int]
    dpi: float
    off: tuple[float, float]  # shares, x and y

    @property
    def px_per_mm(self) -> tuple[float, float]:
        """True scales along x and y."""
        nominal = self.dpi / MM_PER_INCH
        return nominal * (1 + self.off[0]), nominal * (1 + self.off[1])

    def pixels(self, points: Array) -> Array:
        """(n, 2) where the (n, 3) table points lie; the origin is the bed's lower left corner."""
        a, b = self.px_per_mm
        return np.column_stack([points[:, 0] * a - 0.5, self.size[1] - 0.5 - points[:, 1] * b])

    def record(self) -> dict[str, Any]:
        """The camera as the truth tells it."""
        a, b = self.px_per_mm
        return {
            "model": "orthographic, px = A @ (x, y) + b",
            "A": [[a, 0.0], [0.0, -b]], "b": [-0.5, self.size[1] - 0.5], "dpi": self.dpi,
        }  # fmt: skip


def looking(at: Array, distance: float, tilt: float, azimuth: float, roll: float) -> tuple[Array, Array]:
    """The turn and place of a camera that looks at a table point: degrees; azimuth -90 stands at the near side."""
    t, a, r = np.radians([tilt, azimuth, roll])
    away = np.array([np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.cos(t)])
    forward = -away
    right = np.cross(forward, [-np.sin(r), np.cos(r), 0.0])
    right /= np.hypot(np.hypot(right[0], right[1]), right[2])
    return np.array([right, np.cross(forward, right), forward]), at + away * distance


def framed(seen: Array, size: tuple[int, int], focal: float, k: tuple[float, float], centre: tuple[float, float],
           tilt: float, azimuth: float, roll: float, fill: float) -> Phone:  # fmt: skip
    """The phone held so that all (n, 3) points fill the share `fill` of the frame, their middle in its middle."""
    at = np.append((seen[:, :2].max(axis=0) + seen[:, :2].min(axis=0)) / 2, 0.0)
    distance = 400.0
    half = np.array(size) / 2
    for _ in range(60):
        turn, place = looking(at, distance, tilt, azimuth, roll)
        phone = Phone(size, focal, centre, k, turn, place)
        found = phone.pixels(seen)
        low, high = found.min(axis=0), found.max(axis=0)
        off = (low + high) / 2 - (half - 0.5)
        at = at + np.append((turn[:2].T @ off)[:2] * distance / focal * 0.7, 0.0)
        distance *= float(np.max((high - low) / 2 / half) / fill) ** 0.7
    return phone
