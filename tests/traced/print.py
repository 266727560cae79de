"""What is printed on rulers and mats: exact lines and numerals on a raster, y up, in mm."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from .lettering import packaged

Colour = tuple[int, int, int]


def sans(height_px: float) -> ImageFont.FreeTypeFont:
    """A plain face, by the height of its capitals."""
    return packaged("fontpkg_roboto", max(int(height_px / 0.711), 6))


class Plate:
    """A printed face, width x height mm: colours and a cover of ink 0 to 1 over a ground colour."""

    def __init__(self, width: float, height: float, per_mm: float, ground: Colour) -> None:
        self.per_mm = per_mm
        self.size = width, height
        shape = (round(height * per_mm), round(width * per_mm))
        self.colour = np.empty((*shape, 3), dtype=np.float32)
        self.colour[:] = ground
        self.ink = np.zeros(shape, dtype=np.float32)

    def box(self, x: tuple[float, float], y: tuple[float, float], colour: Colour) -> None:
        """A filled box, its borders falling within pixels by their true cover."""
        rows, height = self.colour.shape[0], self.size[1]
        columns = _cover(x[0] * self.per_mm, x[1] * self.per_mm, self.colour.shape[1])
        lines = _cover((height - y[1]) * self.per_mm, (height - y[0]) * self.per_mm, rows)
        if columns is None or lines is None:
            return
        here = (slice(*lines[0]), slice(*columns[0]))
        cover = lines[1][:, None] * columns[1][None, :]
        self.colour[here] += cover[..., None] * (np.array(colour, dtype=np.float32) - self.colour[here])
        self.ink[here] = np.maximum(self.ink[here], cover)

    def line(self, a: tuple[float, float], b: tuple[float, float], width: float, colour: Colour) -> None:
        """A slanting line."""
        scale, height = self.per_mm, self.size[1]
        mask = Image.new("L", self.ink.shape[::-1])
        ends = [(a[0] * scale, (height - a[1]) * scale), (b[0] * scale, (height - b[1]) * scale)]
        ImageDraw.Draw(mask).line(ends, fill=255, width=max(round(width * scale), 1))
        self._over(mask, colour, (0, 0))

    def text(self, text: str, at: tuple[float, float], height: float, colour: Colour, turn: int = 0) -> None:
        """Text with the middle of its box at a point; its capitals `height` mm high; turned by `turn` degrees."""
        font = sans(height * self.per_mm)
        left, top, right, bottom = font.getbbox(text)
        mask = Image.new("L", (int(right - left) + 4, int(bottom - top) + 4))
        ImageDraw.Draw(mask).text((2 - left, 2 - top), text, fill=255, font=font)
        mask = mask.rotate(turn, expand=True)
        x = round(at[0] * self.per_mm - mask.width / 2)
        y = round((self.size[1] - at[1]) * self.per_mm - mask.height / 2)
        self._over(mask, colour, (x, y))

    def _over(self, mask: Image.Image, colour: Colour, corner: tuple[int, int]) -> None:
        cover = np.asarray(mask, dtype=np.float32) / 255
        x, y = max(corner[0], 0), max(corner[1], 0)
        cover = cover[y - corner[1] :, x - corner[0] :][: self.ink.shape[0] - y, : self.ink.shape[1] - x]
        if not cover.size:
            return
        here = (slice(y, y + cover.shape[0]), slice(x, x + cover.shape[1]))
        self.colour[here] += cover[..., None] * (np.array(colour, dtype=np.float32) - self.colour[here])
        self.ink[here] = np.maximum(self.ink[here], cover)

    def save(self, path: Path, clear: bool = False) -> None:
        """The face as a PNG; with the ink alone opaque when `clear`."""
        colour = self.colour.round().clip(0, 255).astype(np.uint8)
        if clear:
            colour = np.dstack([colour, (self.ink * 255).round().astype(np.uint8)])
        Image.fromarray(colour).save(path, compress_level=1)


def _cover(low: float, high: float, count: int) -> tuple[tuple[int, int], NDArray[np.float32]] | None:
    """The pixels from `low` to `high` and how much of each is covered."""
    first, last = max(int(np.floor(low)), 0), min(int(np.ceil(high)), count)
    if last <= first:
        return None
    k = np.arange(first, last)
    return (first, last), (np.minimum(k + 1, high) - np.maximum(k, low)).clip(0, 1).astype(np.float32)
