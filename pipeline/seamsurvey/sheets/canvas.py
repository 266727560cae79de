"""A picture to draw on: anti-aliased lines and words with a pale edge, at sub-pixel places.

Frame: *image* of the picture as it was; the canvas scales to its own size, so a pixel's centre stays right.
"""

import io
import math
from collections.abc import Sequence
from functools import cache

import cv2
import numpy as np
import shapely
import shapely.ops
from attrs import define, field
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from PIL.PngImagePlugin import PngInfo
from shapely.geometry.base import BaseGeometry

from seamsurvey.model import Array, Picture
from seamsurvey.sheets.label_places import place_for, room_at
from seamsurvey.sheets.type import FILES

_SHIFT = 4  # binary digits of a pixel's fraction in cv2's drawing calls
_PAPER = (255, 255, 255)


def rgb(colour: str) -> tuple[int, int, int]:
    """Three numbers 0..255 from "#rrggbb"."""
    return (int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16))


@define
class Canvas:
    """A scaled copy of a picture, drawn on in place; ``taken`` are the rooms of words and leaders so far."""

    pixels: NDArray[np.uint8]  # (h, w, 3)
    scale: float  # canvas pixels for one picture pixel
    taken: list[BaseGeometry] = field(factory=list)

    @classmethod
    def of(cls, picture: Picture, longest_px: int) -> "Canvas":
        """A copy of the picture, at most ``longest_px`` along its longer side, paler for the ink's sake."""
        pixels = picture.pixels
        eight_bit = (pixels >> 8).astype(np.uint8) if pixels.dtype == np.uint16 else pixels.astype(np.uint8)
        scale = min(1.0, longest_px / max(picture.width, picture.height))
        size = (max(1, round(picture.width * scale)), max(1, round(picture.height * scale)))
        small = cv2.resize(eight_bit, size, interpolation=cv2.INTER_AREA)
        pale = np.asarray(cv2.addWeighted(small, 0.85, np.full_like(small, 255), 0.15, 0), dtype=np.uint8)
        # The last bits are the sensor's noise, which no eye sees and no file packs.
        return cls(np.ascontiguousarray(pale & np.uint8(0xFC) | np.uint8(0x02)), scale)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in canvas pixels."""
        return int(self.pixels.shape[1]), int(self.pixels.shape[0])

    @property
    def text_px(self) -> int:
        """Size of the common type: a hundredth of the longer side is a capital, which reads at arm's length."""
        return max(12, round(max(self.size) / 70))

    def at(self, points_px: Array) -> Array:
        """(n, 2) picture pixels to canvas pixels: the centre of a pixel is the integer in both."""
        return np.asarray((points_px + 0.5) * self.scale - 0.5)

    def back(self, points: Array) -> Array:
        """(n, 2) canvas pixels to picture pixels."""
        return np.asarray((points + 0.5) / self.scale - 0.5)

    def line(self, points: Array, colour: str, width: int, *, closed: bool = False, edge: int = 0) -> None:
        """A polyline through canvas points, over a white one ``edge`` pixels wider on either side."""
        fixed = np.round(points * 2**_SHIFT).astype(np.int32).reshape(-1, 1, 2)
        if edge:
            cv2.polylines(self.pixels, [fixed], closed, _PAPER, width + 2 * edge, cv2.LINE_AA, _SHIFT)
        cv2.polylines(self.pixels, [fixed], closed, rgb(colour), width, cv2.LINE_AA, _SHIFT)

    def veil(self, lines: Sequence[Array], colour: str, width: int, share: float) -> None:
        """Many polylines at once, of which only a ``share`` of the ink covers what lies under them."""
        inked = self.pixels.copy()
        fixed = [np.round(points * 2**_SHIFT).astype(np.int32).reshape(-1, 1, 2) for points in lines]
        cv2.polylines(inked, fixed, False, rgb(colour), width, cv2.LINE_AA, _SHIFT)
        self.pixels = np.asarray(cv2.addWeighted(inked, share, self.pixels, 1 - share, 0), dtype=np.uint8)

    def dashes(self, points: Array, colour: str, width: int, on: float) -> None:
        """A closed dashed line through canvas points, dashes and gaps ``on`` pixels long."""
        ring = shapely.LinearRing(points)
        for k in range(max(1, int(ring.length / (2 * on)))):
            dash = shapely.ops.substring(ring, 2 * k * on, (2 * k + 1) * on)
            self.line(shapely.get_coordinates(dash), colour, width, edge=1)

    def dot(self, point: Array, colour: str, radius: float, edge: float = 1.2) -> None:
        """A disc with a white edge at a canvas point."""
        centre = tuple(int(v) for v in np.round(point * 2**_SHIFT))
        for reach, ink in ((radius + edge, _PAPER), (radius, rgb(colour))):
            cv2.circle(self.pixels, centre, round(reach * 2**_SHIFT), ink, -1, cv2.LINE_AA, _SHIFT)

    def word(
        self, text: str, size: int, places: Sequence[tuple[Array, float]], colour: str, *, weight: str = "regular"
    ) -> None:
        """One line of text centred on the first of the places (point, turn) that is free and on the picture.

        Where none is, it stands farther off, with a line that leads to the first (``label_places``). A word for
        which all the picture has no room is left out: over another neither could be read.
        """
        place = place_for(self._box(text, size, weight), places, self.taken, self.size)
        if place is None:
            return
        if place.leader is not None:
            self.taken.append(place.leader)
            self.line(shapely.get_coordinates(place.leader), colour, 1, edge=1)
        self._set(text, size, place.point, place.turn_deg, colour=colour, weight=weight)

    def label(
        self, text: str, size: int, places: Sequence[tuple[Array, float]], colour: str, *, weight: str = "regular"
    ) -> bool:
        """One line of text at the first of the places that is free and on the picture; False if none is."""
        frame, box = shapely.box(0, 0, *self.size), self._box(text, size, weight)
        for point, turn in places:
            room = room_at(box, point, turn)
            if frame.contains(room) and not any(room.intersects(other) for other in self.taken):
                self._set(text, size, (float(point[0]), float(point[1])), turn, colour=colour, weight=weight)
                return True
        return False

    def _box(self, text: str, size: int, weight: str) -> tuple[float, float]:
        """Width and height of the room that a word takes."""
        return _font(size, weight).getlength(text) + 6.0, float(size)

    def _set(
        self, text: str, size: int, point: tuple[float, float], turn_deg: float, *, colour: str, weight: str
    ) -> None:
        at = np.array(point)
        self.taken.append(room_at(self._box(text, size, weight), at, turn_deg))
        self._stamp(text, size, (at, turn_deg), colour=colour, weight=weight)

    def _stamp(self, text: str, size: int, place: tuple[Array, float], *, colour: str, weight: str) -> None:
        point, turn_deg = place
        font, edge = _font(size, weight), max(2, round(size / 6))
        side = math.ceil(font.getlength(text)) + 2 * edge + 4
        high = int(size * 1.5) + 2 * edge
        layers = []
        for stroke in (edge, 0):
            mask = Image.new("L", (side, high), 0)
            ImageDraw.Draw(mask).text((side / 2, high / 2), text, 255, font, anchor="mm", stroke_width=stroke)
            layers.append(mask.rotate(turn_deg, Image.Resampling.BICUBIC, expand=True))
        left, top = round(float(point[0]) - layers[0].width / 2), round(float(point[1]) - layers[0].height / 2)
        x, y = max(left, 0), max(top, 0)
        part = self.pixels[y : max(y, top + layers[0].height), x : max(x, left + layers[0].width)]
        if not part.size:
            return
        image = Image.fromarray(part)
        for mask, ink in zip(layers, (_PAPER, rgb(colour)), strict=True):
            image.paste(ink, (left - x, top - y), mask)
        part[:] = np.asarray(image)

    def legend(
        self,
        lines: Sequence[tuple[str, str]],
        *,
        swatches: Sequence[str] = (),
        inset: NDArray[np.uint8] | None = None,
        size: int | None = None,
    ) -> None:
        """A white band under the picture with lines of text, each (words, colour), broken where they must be.

        The last lines have the ``swatches``, one each, before them; ``inset`` is a picture at the band's right.
        """
        size = margin = size or self.text_px
        beside = 0 if inset is None else inset.shape[1] + margin
        font, room = _font(size, "regular"), self.size[0] - 2 * margin - beside
        plain = len(lines) - len(swatches)
        chips: dict[int, str] = {}
        set_lines: list[tuple[str, str]] = []
        for number, (words, colour) in enumerate(lines):
            if number >= plain:
                chips[len(set_lines)] = swatches[number - plain]
            line = ""
            for word in words.split():
                trial = f"{line} {word}".strip()
                if line and font.getlength(trial) > room:
                    set_lines.append((line, colour))
                    trial = "    " + word
                line = trial
            set_lines.append((line, colour))
        step = round(size * 1.4)
        high = max(step * len(set_lines), 0 if inset is None else inset.shape[0])
        band = Image.new("RGB", (self.size[0], high + 2 * margin), _PAPER)
        draw = ImageDraw.Draw(band)
        for k, (line, colour) in enumerate(set_lines):
            y = margin + k * step
            if k in chips:
                draw.rectangle((margin, y, margin + 2 * size, y + size), rgb(chips[k]), "#777777")
            draw.text((margin + (2.6 * size if k in chips else 0), y), line, rgb(colour), font)
        if inset is not None:
            band.paste(Image.fromarray(inset), (self.size[0] - margin - inset.shape[1], margin))
        self.pixels = np.vstack([self.pixels, np.asarray(band)])

    def png(self) -> bytes:
        """The canvas as a PNG file."""
        out = io.BytesIO()
        about = PngInfo()
        about.add_text("Software", "seamsurvey")
        Image.fromarray(self.pixels).save(out, "PNG", compress_level=5, pnginfo=about)
        return out.getvalue()


@cache
def _font(size: int, weight: str) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(FILES[weight]), size, layout_engine=ImageFont.Layout.BASIC)
