"""The picture writer: a drawing as a PNG."""

import io

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from seamsurvey.sheets.canvas import rgb
from seamsurvey.sheets.drawing import Drawing, Line, Text
from seamsurvey.sheets.type import FILES
from seamsurvey.units import POINT

_FINER = 3  # drawn this many times larger, then averaged: neighbours leave no pale hair between them
_SHIFT = 4  # binary digits of a pixel's fraction in cv2's drawing calls
_ANCHORS = {"start": "ls", "middle": "ms", "end": "rs"}


def write_png(drawing: Drawing, longest_px: int = 1600) -> bytes:
    """The drawing on white, its longer side ``longest_px``; dashes are drawn solid."""
    scale = longest_px / max(drawing.width_mm, drawing.height_mm)
    size = (max(1, round(drawing.width_mm * scale)), max(1, round(drawing.height_mm * scale)))
    large = np.full((size[1] * _FINER, size[0] * _FINER, 3), 255, dtype=np.uint8)
    fine = scale * _FINER
    for mark in drawing.marks:
        if isinstance(mark, Line):
            _line(large, mark, drawing.height_mm, fine)
    image = Image.fromarray(np.asarray(cv2.resize(large, size, interpolation=cv2.INTER_AREA), dtype=np.uint8))
    draw = ImageDraw.Draw(image)
    for mark in drawing.marks:
        if isinstance(mark, Text):
            font = ImageFont.truetype(
                str(FILES[mark.weight]), mark.size_pt * POINT * scale, layout_engine=ImageFont.Layout.BASIC
            )
            at = (mark.at[0] * scale, (drawing.height_mm - mark.at[1]) * scale)
            draw.text(at, mark.text, rgb(mark.colour), font, anchor=_ANCHORS[mark.anchor])
    out = io.BytesIO()
    image.save(out, "PNG", compress_level=6)
    return out.getvalue()


def _line(pixels: np.ndarray, line: Line, height_mm: float, fine: float) -> None:
    points = np.column_stack([line.points[:, 0], height_mm - line.points[:, 1]]) * fine - 0.5
    fixed = np.round(points * 2**_SHIFT).astype(np.int32).reshape(-1, 1, 2)
    if line.fill:
        cv2.fillPoly(pixels, [fixed], rgb(line.fill), cv2.LINE_8, _SHIFT)
    if line.pen:
        width = max(1, round(line.pen.width_mm * fine))
        cv2.polylines(pixels, [fixed], line.closed, rgb(line.pen.colour), width, cv2.LINE_8, _SHIFT)
