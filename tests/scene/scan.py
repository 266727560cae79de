"""A flatbed scanner: its own scale along each axis, its lamp's soft shadow, blur, dust, noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .canvas import Canvas, Paint
from .coverage import Grey
from .draw import draw_card, draw_ruler, draw_sheet
from .geometry import Matrix, Points, move
from .light import Picture, blurred, cloud, encoded
from .looks import LIDS, Look
from .scene import Scene

MM_PER_INCH = 25.4
BEDS = {"letter": (215.9, 279.4), "a4": (210.0, 297.0), "full": (215.9, 296.9)}


@dataclass(frozen=True)
class Scanner:
    """A scanner and its settings.

    `axis_error`: by how much (x, y) is stretched against the nominal dpi, as shares; `skew`: shear of y
    into x, a share; `psf`: blur in px; `grain`: sensor noise, variance per unit of light; `dust`: specks
    per page; `worn`: share of the ruler's marks that are gone.
    """

    dpi: int = 300
    lid: str = "white"
    axis_error: tuple[float, float] = (0.0, 0.0)
    skew: float = 0.0
    psf: float = 0.65
    grain: float = 3e-5
    dust: int = 60
    worn: float = 0.0
    lamp_above: bool = True
    sharpen: float = 0.0
    quality: int = 91

    @property
    def px_per_mm(self) -> tuple[float, float]:
        """True pixels per millimetre along x and along y."""
        nominal = self.dpi / MM_PER_INCH
        return nominal * (1.0 + self.axis_error[0]), nominal * (1.0 + self.axis_error[1])

    def size(self, room: tuple[float, float]) -> tuple[int, int]:
        """Width and height of the scan in pixels."""
        return round(room[0] * self.dpi / MM_PER_INCH), round(room[1] * self.dpi / MM_PER_INCH)

    def to_image(self, room: tuple[float, float]) -> Matrix:
        """(2, 3) the map from the table (mm, y up) to the image (px, y down)."""
        x, y = self.px_per_mm
        return np.array([[x, x * self.skew, -0.5], [0.0, -y, self.size(room)[1] - 0.5]])


def scan(scene: Scene, scanner: Scanner) -> NDArray[np.uint8]:
    """(height, width, 3) the 8-bit sRGB picture the scanner makes of the scene."""
    rng = np.random.default_rng([scene.seed, 2])
    to_image = scanner.to_image(scene.room)
    view = _Glass(to_image)
    r, g, b = LIDS[scanner.lid]  # seen through a ruler's holes, in its shade
    canvas = Canvas(_lid(scanner, scanner.size(scene.room), rng))
    if scene.sheet is not None:
        draw_sheet(canvas, scene.sheet, view)
    for card in scene.cards:
        _lay_shadow(canvas, move(to_image, move(card.to_table, card.card.as_cut)), card.thickness, scanner)
    for ruler in scene.rulers:
        _lay_shadow(canvas, move(to_image, ruler.outline), ruler.kind.thickness, scanner)
    for card in scene.cards:
        draw_card(canvas, card, view, 0.0, dashed=scene.cutting.allowance > 0.0, rng=rng)
    for ruler in scene.rulers:
        draw_ruler(canvas, ruler, view, 0.0, worn=scanner.worn, behind=(0.62 * r, 0.62 * g, 0.62 * b), rng=rng)
    _drop_dust(canvas, scanner, rng)
    return _develop(canvas.light, scanner, rng)


def _lid(scanner: Scanner, size: tuple[int, int], rng: np.random.Generator) -> Picture:
    shape = (size[1], size[0])
    level = 1.0 + np.float32(0.008) * cloud(shape, 420.0, rng) + np.float32(0.004) * cloud(shape, 30.0, rng)
    return (level[..., None] * np.array(LIDS[scanner.lid], np.float32)).astype(np.float32)


def _lay_shadow(canvas: Canvas, outline: Points, thickness: float, scanner: Scanner) -> None:
    """Shade the lid behind an edge, which the lamp lights from one side only.

    A band as wide as the thing is thick, soft with its distance, and a faint one all round where little
    light gets in.
    """
    if thickness <= 0.0:
        return
    scale = scanner.px_per_mm[1]
    fall = (0.75 if scanner.lamp_above else -0.75) * thickness * scale
    canvas.shade(outline + np.array([0.0, fall]), 0.42, max(0.55 * thickness * scale, 1.0))
    canvas.shade(outline, 0.16, max(0.3 * thickness * scale, 0.8))


class _Glass:
    """The view of what lies face down on the glass: one affine map, whatever a thing's thickness."""

    def __init__(self, to_image: Matrix) -> None:
        self._to_image = to_image

    def pixels(self, points: Points, _height: float) -> Points:
        return move(self._to_image, points)

    outline = pixels

    def painted(self, look: Look, to_table: Matrix, _height: float) -> Paint:
        bottom = [0.0, 0.0, 1.0]
        forward = np.vstack([self._to_image, bottom]) @ np.vstack([to_table, bottom])
        b = np.linalg.inv(forward).astype(np.float32)

        def paint(x: Grey, y: Grey) -> Picture:
            return look(b[0, 0] * x + b[0, 1] * y + b[0, 2], b[1, 0] * x + b[1, 1] * y + b[1, 2])

        return paint


def _drop_dust(canvas: Canvas, scanner: Scanner, rng: np.random.Generator) -> None:
    width, height = canvas.size
    for _ in range(scanner.dust):
        at = rng.uniform(0.0, 1.0, 2) * (width, height)
        radius = float(rng.uniform(0.5, 1.6))
        angles = np.arange(9) * (2.0 * math.pi / 9.0)
        speck = at + np.column_stack([np.cos(angles), np.sin(angles)]) * radius * rng.uniform(0.6, 1.4, (9, 1))
        tone = 0.25 if rng.random() < 0.7 else 0.95
        canvas.paint([speck], (tone, tone, tone), float(rng.uniform(0.15, 0.6)))


def _develop(light: Picture, scanner: Scanner, rng: np.random.Generator) -> NDArray[np.uint8]:
    seen = blurred(light, scanner.psf)
    if scanner.sharpen > 0.0:
        seen = seen + np.float32(scanner.sharpen) * (seen - blurred(seen, 1.1))
    # Shot noise grows with the light, read noise is always there.
    deviation = np.sqrt(np.maximum(seen, 0.0) * np.float32(scanner.grain) + np.float32(4e-6))
    return encoded(seen + deviation * rng.standard_normal(seen.shape, dtype=np.float32))
