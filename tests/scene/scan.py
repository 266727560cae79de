"""A flatbed scanner: its own scale along each axis, its lamp's soft shadow, blur, dust, noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .canvas import Canvas
from .cards import seam_dashes, writing_on
from .coverage import Grey
from .geometry import Matrix, Points, move
from .light import Picture, blurred, cloud, encoded
from .looks import CARDS, LIDS, RULER_INKS, Look, card_look, ruler_look
from .rulers import figures_of, holes_of, marks_of, word_of
from .scene import LaidCard, LaidRuler, Scene

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
    canvas = Canvas(_lid(scanner, scanner.size(scene.room), rng))
    for card in scene.cards:
        _lay_shadow(canvas, move(to_image, move(card.to_table, card.card.as_cut)), card.thickness, scanner)
    for ruler in scene.rulers:
        _lay_shadow(canvas, move(to_image, ruler.outline), ruler.kind.thickness, scanner)
    for card in scene.cards:
        _draw_card(canvas, card, to_image, scene.cutting.allowance > 0.0, rng)
    for ruler in scene.rulers:
        _draw_ruler(canvas, ruler, to_image, scanner, rng)
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


class _Painted:
    """A look as the canvas wants it: by pixel rather than by the thing's own millimetres."""

    def __init__(self, look: Look, to_table: Matrix, to_image: Matrix) -> None:
        forward = np.vstack([to_image, [0.0, 0.0, 1.0]]) @ np.vstack([to_table, [0.0, 0.0, 1.0]])
        self._look, self._back = look, np.linalg.inv(forward).astype(np.float32)

    def __call__(self, x: Grey, y: Grey) -> Picture:
        b = self._back
        return self._look(b[0, 0] * x + b[0, 1] * y + b[0, 2], b[1, 0] * x + b[1, 1] * y + b[1, 2])


def _draw_card(canvas: Canvas, laid: LaidCard, to_image: Matrix, dashed: bool, rng: np.random.Generator) -> None:
    stock = CARDS[laid.stock]

    def seen(outlines: list[Points]) -> list[Points]:
        return [move(to_image, move(laid.to_table, outline)) for outline in outlines]

    canvas.paint(seen([laid.card.as_cut]), _Painted(card_look(laid.stock, rng), laid.to_table, to_image))
    writing = writing_on(laid.card, rng)
    dashes = seam_dashes(laid.card, rng) if dashed else []
    if not laid.face_down:  # the writing is on the face
        canvas.paint(seen(writing), stock.ink, 0.93)
        canvas.paint(seen(dashes), stock.ink, 0.85)


def _draw_ruler(
    canvas: Canvas, laid: LaidRuler, to_image: Matrix, scanner: Scanner, rng: np.random.Generator
) -> None:
    kind = laid.kind
    ink = RULER_INKS[kind.look]

    def seen(outlines: list[Points]) -> list[Points]:
        return [move(to_image, move(laid.to_table, outline)) for outline in outlines]

    canvas.paint([move(to_image, laid.outline)], _Painted(ruler_look(kind.look, rng), laid.to_table, to_image))
    for scale in kind.scales:
        marks = marks_of(kind, scale)
        # Print is uneven: each mark takes a little more or less ink, some are worn away.
        inking = rng.integers(3, size=len(marks))
        there = rng.random(len(marks)) >= scanner.worn
        for choice, strength in enumerate((0.98, 0.93, 0.86)):
            chosen = [m.outline for m, i, t in zip(marks, inking, there, strict=True) if t and i == choice]
            canvas.paint(seen(chosen), ink, strength)
        canvas.paint(seen(figures_of(kind, scale)), ink, 0.95)
    canvas.paint(seen(word_of(kind)), ink, 0.7)
    r, g, b = LIDS[scanner.lid]
    canvas.paint(seen(holes_of(kind)), (0.62 * r, 0.62 * g, 0.62 * b))  # the lid, in the ruler's shade


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
