"""Flat printed things photographed for the tests: textures on planes, seen through OpenCV's camera, supersampled.

Table frame: mm, x right, y up. Nothing of the tool is used but the page it prints.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
import pypdfium2
from numpy.typing import NDArray

from tests.scene.camera import Phone, PhoneView

Floats = NDArray[np.float64]
Light = NDArray[np.float32]

FINE = 3  # sub-pixels along each side of a pixel
_BAND = 64  # rows of pixels made at a time


@dataclass(frozen=True)
class Flat:
    """Something flat on the table: ``light`` (h, w, 3) linear and ``cover`` (h, w) 0..1, first row uppermost.

    ``to_table`` (2, 3) leads from its own mm (origin lower left, y up) to the table.
    """

    light: Light
    cover: Light
    size_mm: tuple[float, float]
    to_table: Floats
    height_mm: float = 0.0


@dataclass(frozen=True)
class Looks:
    """What light and sensor do: ``blur`` px, ``noise`` in linear light, a shadow's edge across the picture."""

    ground: tuple[float, float, float] = (0.12, 0.08, 0.05)
    blur: float = 0.7
    noise: float = 0.004
    shadow: float = 1.0  # light left on the dark side
    falloff: float = 0.2  # of the light, across the picture
    seed: int = 0
    quality: int | None = None  # of a JPEG


def laid(turn_deg: float, at: tuple[float, float], centre: tuple[float, float]) -> Floats:
    """(2, 3): a thing's own ``centre`` laid on the table ``at``, turned counter-clockwise."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    turn = np.array([[c, -s], [s, c]])
    return np.column_stack([turn, np.asarray(at) - turn @ np.asarray(centre)])


def on_table(to_table: Floats, points: Floats) -> Floats:
    """(n, 2) own mm to table mm."""
    return np.asarray(points @ to_table[:, :2].T + to_table[:, 2])


def printed(content: bytes, to_table: Floats, dpi: int = 600, paper: float = 0.85, ink: float = 0.03) -> Flat:
    """The first page of a PDF as pypdfium2 paints it, on paper with ink of that reflectance."""
    page = pypdfium2.PdfDocument(content)[0]
    painted = page.render(scale=dpi / 72, grayscale=True).to_numpy()
    grey = painted.reshape(painted.shape[:2]).astype(np.float32) / 255
    width, height = (side * 25.4 / 72 for side in page.get_size())
    light = np.repeat((ink + (paper - ink) * grey)[..., None], 3, axis=2)
    return Flat(np.asarray(light, dtype=np.float32), np.ones(grey.shape, np.float32), (width, height), to_table)


def shape(
    outline_mm: Floats, colour: tuple[float, float, float], to_table: Floats, *, height_mm: float = 0.0,
    radius_mm: float = 0.0,
) -> Flat:  # fmt: skip
    """A plain convex polygon, counter-clockwise in own mm; a rectangle's corners may be rounded."""
    px_per_mm = 20.0
    width, height = np.ceil((outline_mm.max(axis=0) + 0.5) * px_per_mm).astype(int)
    y, x = np.mgrid[0:height, 0:width]
    at = np.stack([(x + 0.5) / px_per_mm, (height - y - 0.5) / px_per_mm], axis=-1)
    along = np.roll(outline_mm, -1, axis=0) - outline_mm
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]
    beyond = np.stack([(at - p) @ n + radius_mm for p, n in zip(outline_mm, outward, strict=True)])
    outside = beyond.max(axis=0) - radius_mm
    if radius_mm:
        two = np.sort(beyond, axis=0)[-2:]
        outside = np.where(two[0] > 0, np.hypot(*two) - radius_mm, outside)
    cover = np.clip(0.5 - outside * px_per_mm, 0, 1).astype(np.float32)
    light = np.broadcast_to(np.array(colour, np.float32), (height, width, 3)).copy()
    size_mm = (float(width) / px_per_mm, float(height) / px_per_mm)
    return Flat(np.asarray(light, dtype=np.float32), cover, size_mm, to_table, height_mm)


def photograph(
    things: list[Flat], phone: Phone, looks: Looks, at: tuple[float, float] = (0.0, 0.0)
) -> NDArray[np.uint8]:
    """(h, w, 3) uint8 sRGB: the things, later ones on top, on a plain ground; the phone looks ``at`` a point."""
    (width, height), (x, y) = phone.size, phone.principal
    finer = replace(phone, size=(width * FINE, height * FINE), principal=(FINE * x, FINE * y))
    view = PhoneView(finer, np.asarray(at, dtype=float))
    light = np.empty((height, width, 3), np.float32)
    for top in range(0, height, _BAND):
        rows = min(_BAND, height - top)
        window = (slice(top * FINE, (top + rows) * FINE), slice(0, width * FINE))
        band = np.broadcast_to(np.array(looks.ground, np.float32), (rows * FINE, width * FINE, 3)).copy()
        seen = {height_mm: view.on_table(height_mm, window) for height_mm in {t.height_mm for t in things}}
        for thing in things:
            _paint(band, thing, *seen[thing.height_mm])
        light[top : top + rows] = cv2.resize(band, (width, rows), interpolation=cv2.INTER_AREA)
    return _developed(light, looks)


def _paint(band: Light, thing: Flat, x: Light, y: Light) -> None:
    inverse = np.linalg.inv(np.vstack([thing.to_table, [0, 0, 1]]))
    rows, columns = thing.cover.shape
    u = inverse[0, 0] * x + inverse[0, 1] * y + inverse[0, 2]
    v = inverse[1, 0] * x + inverse[1, 1] * y + inverse[1, 2]
    column = (u * columns / thing.size_mm[0] - 0.5).astype(np.float32)
    row = (rows - v * rows / thing.size_mm[1] - 0.5).astype(np.float32)
    cover = cv2.remap(thing.cover, column, row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)[..., None]
    if cover.any():
        light = cv2.remap(thing.light, column, row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        band += cover * (light - band)


def _developed(light: Light, looks: Looks) -> NDArray[np.uint8]:
    height, width = light.shape[:2]
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    lit = 1 + looks.falloff * (x / width - 0.5)
    edge = (x + 0.6 * y - 0.55 * width) / (0.01 * width)  # a slanting shadow with a soft edge
    lit *= looks.shadow + (1 - looks.shadow) / (1 + np.exp(np.clip(edge, -50, 50)))
    seen = cv2.GaussianBlur(light * lit[..., None], (0, 0), looks.blur)
    seen = seen + looks.noise * np.random.default_rng(looks.seed).standard_normal(seen.shape, dtype=np.float32)
    seen = np.clip(seen, 0, 1)
    # IEC 61966-2-1, the sRGB curve.
    encoded = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    pixels = np.round(255 * encoded).astype(np.uint8)
    if looks.quality is not None:
        ok, jpeg = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, looks.quality])
        assert ok
        decoded = cv2.imdecode(jpeg, cv2.IMREAD_COLOR)
        assert decoded is not None
        pixels = np.ascontiguousarray(decoded[..., ::-1], dtype=np.uint8)
    return np.asarray(pixels)
