"""Cutting mats drawn fast for the tests of the photo room, seen by OpenCV's camera.

Nothing of the tool is used. A mat's own frame: mm, x right, y up, origin at the lower left crossing of its grid.
Every pixel's place on the mat comes from ``cv2.undistortPoints``; lines are filtered by the pixel, then blurred.
Positions are image px with a pixel's centre at the integer.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Field = NDArray[np.float32]
Points = NDArray[np.float64]

_NODES_PX = 8  # pixels' places are worked out on a grid of this many px; between, they are straight to 1e-4 px


@dataclass(frozen=True)
class Mat:
    """``columns`` by ``rows`` squares of ``step_mm``; every ``heavy``-th line ``heavier`` times as wide.

    ``halves``: fine lines between; ``ticks``: parts of a square marked along the outer lines, outwards.
    """

    step_mm: float = 25.4
    columns: int = 23
    rows: int = 17
    line_mm: float = 0.4
    heavy: int = 1
    heavier: float = 2.0
    halves: bool = False
    ticks: int = 1
    ticks_inward: bool = False
    tick_mm: float = 2.8  # long; that in the middle 1.6 times
    diagonals: tuple[float, ...] = (45.0,)  # degrees, through crossings
    rim_mm: float = 18.0
    face: float = 0.12  # linear light
    ink: float = 0.5
    clear: float = (
        0.0  # share of the light from below that passes: 0 for a mat, 0.6 for a ruler lying in its own shade
    )
    oblong: float = 1.0  # height of a square over its width
    wave_mm: float = 0.0  # by which lines swing to either side, as cloth does
    astray_mm: float = 0.0  # standard deviation of the lines' places


@dataclass(frozen=True)
class Shot:
    """The camera over the mat: 26 mm equivalent unless told, looking at ``at`` (mm, mat's frame)."""

    size: tuple[int, int] = (4000, 3000)
    focal_35mm: float = 26.0
    distance: float = 480.0
    tilt: float = 0.0
    azimuth: float = 0.0
    roll: float = 0.0
    at: tuple[float, float] = (290.0, 215.0)
    k1: float = 0.0
    k2: float = 0.0

    @property
    def matrix(self) -> Points:
        """(3, 3) camera matrix."""
        focal = self.focal_35mm * math.hypot(*self.size) / math.hypot(36, 24)
        return np.array([[focal, 0, (self.size[0] - 1) / 2 + 4], [0, focal, (self.size[1] - 1) / 2 - 3], [0, 0, 1]])

    @property
    def lens(self) -> Points:
        """(4,) OpenCV's k1, k2, p1, p2."""
        return np.array([self.k1, self.k2, 0, 0])

    @property
    def pose(self) -> tuple[Points, Points]:
        """Rotation (3, 3) and shift (3,) from the mat's frame (z up) to the camera's."""
        tilt, azimuth, roll = (math.radians(v) for v in (self.tilt, self.azimuth, self.roll))
        back = np.array([math.sin(tilt) * math.cos(azimuth), math.sin(tilt) * math.sin(azimuth), math.cos(tilt)])
        right = np.cross(-back, [0.0, 1.0, 0.0])
        right /= np.linalg.norm(right)
        down = np.cross(-back, right)
        c, s = math.cos(roll), math.sin(roll)
        turn = np.array([c * right + s * down, c * down - s * right, -back])
        return turn, -turn @ (np.array([*self.at, 0.0]) + self.distance * back)

    def to_image(self, points: Points) -> Points:
        """(n, 2) px of points on the mat."""
        turn, shift = self.pose
        flat = np.column_stack([points, np.zeros(len(points))])
        seen, _ = cv2.projectPoints(flat, cv2.Rodrigues(turn)[0], shift, self.matrix, self.lens)
        return np.asarray(seen, dtype=float).reshape(-1, 2)

    def to_mat(self, points_px: Points) -> Points:
        """(n, 2) mm on the mat of image points."""
        turn, shift = self.pose
        criteria = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 50, 1e-12)
        flat = cv2.undistortPoints(
            np.ascontiguousarray(points_px, dtype=float).reshape(-1, 1, 2),
            self.matrix, self.lens, criteria=criteria,
        ).reshape(-1, 2)  # fmt: skip
        rays = np.column_stack([flat, np.ones(len(flat))]) @ turn
        centre = -turn.T @ shift
        return np.asarray(centre[:2] - rays[:, :2] * (centre[2] / rays[:, 2])[:, None])


@dataclass(frozen=True)
class Light:
    """What lies on and under the mat, and what the sensor makes of it."""

    ground: float = 0.35
    cards: int = 3
    blur: float = 0.8
    noise: float = 0.004
    falloff: float = 0.3
    seed: int = 0
    covers: tuple[tuple[tuple[float, float], ...], ...] = ()  # outlines (mat's frame, mm) of more cards


def photograph(mat: Mat | None, shot: Shot, light: Light) -> Field:
    """(h, w) linear luminance of the 8-bit picture of the mat (or of the bare ground)."""
    rng = np.random.default_rng(light.seed)
    x, y, fine = _places(shot)
    seen: Field = np.full(x.shape, light.ground, np.float32)
    if mat is not None:
        wide, high = mat.columns * mat.step_mm, mat.rows * mat.step_mm
        on = (x > -mat.rim_mm) & (x < wide + mat.rim_mm) & (y > -mat.rim_mm) & (y < high + mat.rim_mm)
        seen[on] = mat.clear * seen[on] if mat.clear else mat.face
        ink = np.clip(_ink(mat, x, y, fine), 0, 1)
        seen += (np.float32(mat.ink) - seen) * ink
    for outline in (*_cards(shot, light.cards, rng), *(shot.to_image(np.array(cover)) for cover in light.covers)):
        cv2.fillPoly(seen, [np.rint(outline * 16).astype(np.int32)], 0.55, cv2.LINE_AA, 4)
    width, height = shot.size
    lit = 1 + light.falloff * (np.linspace(-0.5, 0.5, width)[None, :] + np.linspace(-0.3, 0.3, height)[:, None])
    seen *= lit.astype(np.float32)
    seen = np.asarray(cv2.GaussianBlur(seen, (0, 0), light.blur), dtype=np.float32)
    seen += np.float32(light.noise) * rng.standard_normal(seen.shape, dtype=np.float32)
    # An 8-bit picture's steps, evenly spaced as the eye sees them (a plain power stands for sRGB's curve).
    return np.asarray((np.rint(np.clip(seen, 0, 1) ** (1 / 2.2) * 255) / 255) ** 2.2, dtype=np.float32)


def _places(shot: Shot) -> tuple[Field, Field, Field]:
    """(h, w) each: the mat's x and y at every pixel, and mm per px there."""
    width, height = shot.size
    columns, rows = (np.arange(-_NODES_PX, side + 2 * _NODES_PX, float(_NODES_PX)) for side in (width, height))
    nodes = np.stack(np.meshgrid(columns, rows), axis=-1)
    places = shot.to_mat(nodes.reshape(-1, 2)).reshape(nodes.shape)
    right, down = np.gradient(places, _NODES_PX, axis=1), np.gradient(places, _NODES_PX, axis=0)
    scale = np.sqrt(np.abs(right[..., 0] * down[..., 1] - right[..., 1] * down[..., 0]))

    def spread(values: Points) -> Field:
        along = np.arange(width) / _NODES_PX + 1
        upright = np.arange(height) / _NODES_PX + 1
        return np.asarray(_hat(upright, len(rows)) @ values.astype(np.float32) @ _hat(along, len(columns)).T)

    return spread(places[..., 0]), spread(places[..., 1]), spread(scale)


def _hat(at: Points, count: int) -> Field:
    return np.asarray(np.maximum(0, 1 - np.abs(at[:, None] - np.arange(count)[None, :])), dtype=np.float32)


def _ink(mat: Mat, x: Field, y: Field, fine: Field) -> Field:
    """(h, w) share of ink."""
    wide, high = mat.columns * mat.step_mm, mat.rows * mat.step_mm
    if mat.wave_mm:
        swing = np.float32(2 * math.pi / 90)
        x, y = x + np.float32(mat.wave_mm) * np.sin(swing * y), y + np.float32(mat.wave_mm) * np.sin(swing * x)
    y = y / np.float32(mat.oblong)
    places = np.random.default_rng(1).normal(0, 1, 200).astype(np.float32) * np.float32(mat.astray_mm)
    ink = np.zeros_like(x)
    within = (x > -0.5 * mat.line_mm) & (x < wide + 0.5 * mat.line_mm)
    within &= (y > -0.5 * mat.line_mm) & (y < high + 0.5 * mat.line_mm)
    for across in (x, y):
        number = np.rint(across / np.float32(mat.step_mm))
        width = np.where(number % mat.heavy == 0, mat.line_mm * (mat.heavier if mat.heavy > 1 else 1), mat.line_mm)
        off = np.abs(across - number * np.float32(mat.step_mm) - places[number.astype(int) % len(places)])
        ink = np.maximum(ink, within * np.clip((width / 2 - off) / fine + 0.5, 0, 1))
        if mat.halves:
            off = np.float32(mat.step_mm / 2) - off
            ink = np.maximum(ink, within * 0.7 * np.clip((mat.line_mm / 4 - off) / fine + 0.5, 0, 1))
    for angle in mat.diagonals:
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        off = np.abs((x - 2 * np.float32(mat.step_mm)) * s - (y - np.float32(mat.step_mm)) * c)
        ink = np.maximum(ink, within * np.clip((mat.line_mm / 2 - off) / fine + 0.5, 0, 1))
    if mat.ticks > 1:
        part = mat.step_mm / mat.ticks
        for along, across, end in ((x, y, high), (y, x, wide)):
            limit = wide if along is x else high
            number = np.rint(along / np.float32(part))
            off = np.abs(along - number * np.float32(part))
            length = np.float32(mat.tick_mm) * np.where(number % max(mat.ticks // 2, 1) == 0, np.float32(1.6), 1)
            depth = np.maximum(-across, across - np.float32(end)) * np.float32(-1 if mat.ticks_inward else 1)
            there = (depth >= 0) & (depth <= length) & (along > -0.3) & (along < limit + 0.3)
            ink = np.maximum(ink, there * np.clip((mat.line_mm * 0.35 - off) / fine + 0.5, 0, 1))
    return np.asarray(ink, dtype=np.float32)


def _cards(shot: Shot, count: int, rng: np.random.Generator) -> list[Points]:
    """(4, 2) px each: quadrilateral cards anywhere in the picture."""
    width, height = shot.size
    cards = []
    for _ in range(count):
        middle = rng.uniform(0.15, 0.85, 2) * [width, height]
        angles = np.sort(rng.uniform(0, 2 * math.pi, 4))
        reach = rng.uniform(0.06, 0.14, 4) * width
        cards.append(middle + np.column_stack([np.cos(angles), np.sin(angles)]) * reach[:, None])
    return cards
