"""A photograph of a scene: the table's grain, shadows, card edges, lamp, lens, sensor, JPEG with EXIF."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image
from PIL.TiffImagePlugin import IFDRational

from .camera import Phone, PhoneView
from .canvas import Canvas
from .draw import draw_card, draw_ruler, draw_sheet
from .geometry import Matrix, Points, move
from .grounds import board_look, ground_look, mat_figures, mat_lines, mat_outline
from .light import Colour, Picture, blurred, encoded
from .looks import CARDS
from .scene import LaidCard, LaidMat, Scene

_HERE: Matrix = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
# How a stored raster is turned for each EXIF orientation, as quarter turns counter-clockwise from upright.
_QUARTER_TURNS = {1: 0, 6: 1, 3: 2, 8: 3}


@dataclass(frozen=True)
class Exposure:
    """The light on the table and what sensor and software make of it.

    `ground`: a name of `grounds.GROUNDS`; `lamp`: where the light comes from, degrees counter-clockwise
    from the table's x; `lamp_height`: shadow length per height of a thing; `falloff`: share of light lost
    across the picture; `warmth`: red over blue; `level`: linear value of a white card; `psf`: blur, px;
    `grain`: noise variance per unit of light; `vignette`: share of light lost in the corners;
    `orientation`: EXIF, 1, 3, 6 or 8; `tells_focal`: whether the file names the focal length;
    `shade`: share of light left where something's hard shadow falls across the table, 1 for none, and
    `shade_turn`: degrees, how its border runs.
    """

    ground: str = "white"
    lamp: float = 120.0
    lamp_height: float = 0.8
    falloff: float = 0.2
    warmth: float = 1.1
    level: float = 0.85
    psf: float = 0.75
    grain: float = 3e-4
    sharpen: float = 0.4
    vignette: float = 0.18
    worn: float = 0.0
    orientation: int = 1
    tells_focal: bool = True
    quality: int = 91
    shade: float = 1.0
    shade_turn: float = 20.0


def photograph(scene: Scene, view: PhoneView, exposure: Exposure) -> NDArray[np.uint8]:
    """(height, width, 3) the upright 8-bit sRGB picture the phone takes of the scene."""
    rng = np.random.default_rng([scene.seed, 3])
    width, height = view.phone.size
    canvas = Canvas(np.zeros((height, width, 3), np.float32))
    whole = np.array([[-0.5, -0.5], [width - 0.5, -0.5], [width - 0.5, height - 0.5], [-0.5, height - 0.5]])
    canvas.paint([whole], view.painted(ground_look(exposure.ground, rng), _HERE, 0.0))
    if scene.mat is not None:
        _draw_mat(canvas, scene.mat, view, rng)
    if scene.sheet is not None:
        draw_sheet(canvas, scene.sheet, view)
    things = [(move(c.to_table, c.card.as_cut), c.thickness, CARDS[c.stock].base, 1.0) for c in scene.cards]
    things += [(r.outline, r.kind.thickness, _RULER_SIDE, 0.3 if r.kind.clear else 1.0) for r in scene.rulers]
    things += [(t.outline, t.thickness, t.base, 1.0) for t in scene.things]
    for outline, thickness, _, dense in things:
        _lay_shadow(canvas, outline, thickness, view, exposure=exposure, dense=dense)
    for outline, thickness, base, dense in things:
        _draw_sides(canvas, outline, (0.0, thickness), base, view, dense=dense)
    for card in scene.cards:
        dashed = scene.cutting.allowance > 0.0
        draw_card(
            canvas, card, view, card.thickness,
            dashed=dashed, rng=rng, cutting=scene.cutting, behind=_HOLE_IN[exposure.ground == "white"],
        )  # fmt: skip
    for thing in scene.things:
        for outline, tone in thing.faces:
            canvas.paint([view.outline(outline, thing.thickness)], tone)
    for ruler in scene.rulers:
        under = _HOLE_IN[exposure.ground == "white"]
        draw_ruler(canvas, ruler, view, ruler.kind.thickness, worn=exposure.worn, behind=under, rng=rng)
    for cover in scene.covers:
        _lay_over(
            canvas,
            cover,
            max((r.kind.thickness for r in scene.rulers), default=0.0),
            view,
            exposure=exposure,
            rng=rng,
        )
    return _develop(canvas.light, exposure, rng)


_PENUMBRA = 0.002  # half the width of a hard shadow's border, as a share of the picture: about 1 mm
_RULER_SIDE: Colour = (0.25, 0.2, 0.15)
# What shows deep in a ruler's hole: the table in the ruler's own shade, light or dark.
_HOLE_IN: dict[bool, Colour] = {True: (0.3, 0.3, 0.3), False: (0.05, 0.04, 0.03)}


def _lay_over(
    canvas: Canvas, card: LaidCard, under: float, view: PhoneView, *, exposure: Exposure, rng: np.random.Generator
) -> None:
    """Lay a card on the ruler, `under` mm above the table; it is stiff and stays at that height."""
    outline = move(card.to_table, card.card.as_cut)
    _lay_shadow(canvas, outline, under + card.thickness, view, exposure=exposure, dense=1.0)
    _draw_sides(canvas, outline, (under, under + card.thickness), CARDS[card.stock].base, view, dense=1.0)
    draw_card(canvas, card, view, under + card.thickness, dashed=False, rng=rng)


def _draw_mat(canvas: Canvas, laid: LaidMat, view: PhoneView, rng: np.random.Generator) -> None:
    mat = laid.mat
    strong, fine = mat_lines(mat)

    def seen(outlines: list[Points]) -> list[Points]:
        return [view.outline(move(laid.to_table, outline), 0.0) for outline in outlines]

    canvas.paint(seen([mat_outline(mat)]), view.painted(board_look(mat.base, rng), laid.to_table, 0.0))
    for lines, strength in ((fine, 0.6), (strong, 0.85)):
        for line in seen(lines):  # one by one: crossing lines add no ink to one another
            canvas.paint([line], mat.ink, strength)
    canvas.paint(seen(mat_figures(mat)), mat.ink, 0.85)


def _lay_shadow(
    canvas: Canvas, outline: Points, thickness: float, view: PhoneView, *, exposure: Exposure, dense: float
) -> None:
    """Darken the table on the side away from the lamp, and a little all round; `dense`: 1 where no light passes."""
    if thickness <= 0.0:
        return
    scale = view.phone.focal_px / view.phone.distance
    away = -np.array([math.cos(math.radians(exposure.lamp)), math.sin(math.radians(exposure.lamp))])
    fallen = outline + away * exposure.lamp_height * thickness
    canvas.shade(view.outline(fallen, 0.0), 0.5 * dense, max(0.25 * thickness * scale, 0.7))
    canvas.shade(view.outline(outline, 0.0), 0.15 * dense, max(0.6 * thickness * scale, 1.0))


def _draw_sides(
    canvas: Canvas, outline: Points, heights: tuple[float, float], base: Colour, view: PhoneView, *, dense: float
) -> None:
    """The sides of a thing that a tilted camera sees; the top, drawn later, hides the others."""
    if heights[1] <= 0.0:
        return
    low, high = (view.pixels(outline, height) for height in heights)
    sides = []
    for a, b, c, d in zip(low, np.roll(low, -1, axis=0), np.roll(high, -1, axis=0), high, strict=True):
        sides.append(np.array([a, b, c, d]))
    r, g, b_ = (0.45 * channel for channel in base)
    canvas.paint([side for side in sides if abs(_doubled_area(side)) > 1e-9], (r, g, b_), dense)


def _doubled_area(outline: Points) -> float:
    x, y = outline[:, 0], outline[:, 1]
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _develop(light: Picture, exposure: Exposure, rng: np.random.Generator) -> NDArray[np.uint8]:
    height, width = light.shape[:2]
    x = (np.arange(width, dtype=np.float32) / width - 0.5)[None, :]
    y = (0.5 - np.arange(height, dtype=np.float32) / height)[:, None]
    lamp = math.radians(exposure.lamp)
    lit = 1.0 + exposure.falloff * (x * math.cos(lamp) + y * math.sin(lamp))
    lit = lit * (1.0 - exposure.vignette * 2.0 * (x * x + y * y))
    if exposure.shade < 1.0:
        turn = math.radians(exposure.shade_turn)
        beyond = (x - 0.12) * math.sin(turn) + y * math.cos(turn)
        dark = 0.5 + 0.5 * np.tanh(beyond / np.float32(_PENUMBRA))
        lit = lit * (1.0 - (1.0 - exposure.shade) * dark)
    warm = np.array([math.sqrt(exposure.warmth), 1.0, 1.0 / math.sqrt(exposure.warmth)], np.float32)
    seen = light * (lit[..., None] * np.float32(exposure.level) * warm).astype(np.float32)
    seen = blurred(seen, exposure.psf)
    if exposure.sharpen > 0.0:
        seen += np.float32(exposure.sharpen) * (seen - blurred(seen, 1.1))
    deviation = np.sqrt(np.maximum(seen, 0.0) * np.float32(exposure.grain) + np.float32(6e-6))
    return encoded(seen + deviation * rng.standard_normal(seen.shape, dtype=np.float32))


def as_stored(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """The raster as a phone held that way stores it. Raises KeyError for an orientation other than 1, 3, 6, 8."""
    return np.ascontiguousarray(np.rot90(pixels, _QUARTER_TURNS[orientation]))


def stored_from_upright(size: tuple[int, int], orientation: int) -> NDArray[np.float64]:
    """(3, 3) the map from the upright picture (of that width and height) to the stored raster, px."""
    width, height = size
    quarter = np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, width - 1.0], [0.0, 0.0, 1.0]])
    half = np.array([[-1.0, 0.0, width - 1.0], [0.0, -1.0, height - 1.0], [0.0, 0.0, 1.0]])
    back = np.array([[0.0, -1.0, height - 1.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    return (np.eye(3), quarter, half, back)[_QUARTER_TURNS[orientation]]


def photo_jpeg(pixels: NDArray[np.uint8], phone: Phone, exposure: Exposure) -> bytes:
    """The JPEG file a phone would write: the raster as stored, with its EXIF."""
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "Quillon"
    exif[ExifTags.Base.Model] = "Q3"
    exif[ExifTags.Base.Orientation] = exposure.orientation
    if exposure.tells_focal:
        about = exif.get_ifd(ExifTags.IFD.Exif)
        about[ExifTags.Base.FocalLengthIn35mmFilm] = round(phone.focal_35mm)
        about[ExifTags.Base.FocalLength] = IFDRational(round(phone.focal_35mm * 16.4), 100)
    buffer = io.BytesIO()
    stored = Image.fromarray(as_stored(pixels, exposure.orientation))
    stored.save(buffer, "JPEG", quality=exposure.quality, exif=exif, dpi=(72, 72))
    return buffer.getvalue()
