"""The uncertainty as a map over the table: how well a length can be measured where in the photo.

What the map tells is the plane's part alone (camera, scale, heights); an edge's own ± has the rest.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Array, Picture, Plane, Template
from seamsurvey.sheets.canvas import Canvas, rgb
from seamsurvey.sheets.photo_facts import LENGTH_MM, LENGTH_TEXT
from seamsurvey.units import INCH

# ColorBrewer, YlGnBu of six (C. Brewer, M. Harrower, The Pennsylvania State University): told apart by their
# lightness too, so in grey and by the colour-blind.
SHADES = ("#ffffcc", "#c7e9b4", "#7fcdbb", "#41b6c4", "#2c7fb8", "#253494")
INK = "#111111"
REFERENCE = "#8a4b00"

_UNIT_MM = {"inch": INCH, "mm": 1.0}
_UNIT_TEXT = {"inch": "in", "mm": "mm"}
_PLACES = 28  # across the picture: the uncertainty changes slowly
_SHARE = 0.62  # of the shade over the photo
_FLAT = 0.05  # of the largest: a smaller difference is none worth a colour
_HIGHEST = 98  # percentile; what lies beyond is shown as the worst shade
_TINIEST = {"inch": 0.001, "mm": 0.01}  # the smallest step between two shades: nobody cuts finer


def uncertainty_map(
    picture: Picture, plane: Plane, templates: Sequence[Template], *, unit: str, width: int, type_px: int
) -> Canvas:
    """A small picture of the photo, tinted, its key below; ``width`` and type in px, ``unit`` "inch" or "mm"."""
    canvas = Canvas.of(picture, max(1, round(width * max(picture.width, picture.height) / picture.width)))
    values = _expected(canvas, plane, unit)
    bounds = _bounds(values, unit)
    classes = np.searchsorted(bounds, values)
    grey = cv2.cvtColor(canvas.pixels, cv2.COLOR_RGB2GRAY)[:, :, None].repeat(3, axis=2)
    shades = np.array([rgb(shade) for shade in SHADES], dtype=np.uint8)[classes]
    known = np.isfinite(values)[:, :, None]
    tinted = cv2.addWeighted(shades, _SHARE, grey, 1 - _SHARE, 0)
    canvas.pixels = np.ascontiguousarray(np.where(known, tinted, grey // 2))
    for k in range(len(bounds)):
        edge, _ = cv2.findContours((classes > k).astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        canvas.veil([np.asarray(line, dtype=float).reshape(-1, 2) for line in edge], "#ffffff", 1, 0.6)
    for reference in plane.references:
        canvas.line(canvas.at(reference.outline_px), REFERENCE, 2, closed=True, edge=1)
    for template in templates:
        canvas.line(canvas.at(template.corners_px), INK, 1, closed=True, edge=1)
    canvas.legend(
        _words(values, bounds, unit), swatches=SHADES[: len(bounds) + 1] if len(bounds) else (), size=type_px
    )
    return canvas


def _expected(canvas: Canvas, plane: Plane, unit: str) -> Array:
    """(h, w) of the canvas: expanded uncertainty of the length, in the unit; nan where the table is not seen."""
    width, height = canvas.size
    across, down = _PLACES, max(2, round(_PLACES * height / width))
    x, y = (np.linspace(0.0, side - 1.0, count) for side, count in ((width, across), (height, down)))
    places = plane.to_mm(canvas.back(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)))
    seen = np.isfinite(places).all(axis=1)
    values = np.full(len(places), np.nan)
    values[seen] = plane.length_u(places[seen], LENGTH_MM[unit]) / _UNIT_MM[unit]
    coarse = values.reshape(down, across)
    # The grid's outer places lie on the outer pixels' centres, so the map is stretched by places and not by sides.
    columns, rows = np.meshgrid(
        np.linspace(0, across - 1, width, dtype=np.float32), np.linspace(0, down - 1, height, dtype=np.float32)
    )
    return np.asarray(cv2.remap(coarse.astype(np.float32), columns, rows, cv2.INTER_LINEAR), dtype=float)


def _bounds(values: NDArray[np.float64], unit: str) -> Array:
    """Round numbers between the shades, at most one fewer than there are; none where all is alike."""
    known = values[np.isfinite(values)]
    if not len(known):
        return np.zeros(0)
    low, high = float(known.min()), float(np.percentile(known, _HIGHEST))
    if high - low < max(_FLAT * high, _TINIEST[unit]):
        return np.zeros(0)
    step = _TINIEST[unit]
    for power in range(math.floor(math.log10(step)), 4):
        for digit in (1, 2, 5):
            step = max(step, digit * 10.0**power)
            bounds = (np.arange(math.floor(low / step) + 1, math.ceil(high / step)) * step).astype(np.float64)
            if len(bounds) < len(SHADES):
                return bounds
    return np.zeros(0)


def _words(values: Array, bounds: Array, unit: str) -> list[tuple[str, str]]:
    """The key's lines: what is mapped, and what each shade stands for."""
    known = values[np.isfinite(values)]
    name, digits = _UNIT_TEXT[unit], 3 if unit == "inch" else 2
    if not len(known):
        return [("The table is not seen.", INK)]
    low, high = float(known.min()), float(known.max())
    if not len(bounds):
        return [(f"Anywhere on the table {LENGTH_TEXT[unit]} can be measured to ± {high:.{digits}f} {name}.", INK)]
    head = f"{LENGTH_TEXT[unit]} lying here can be measured to ± {name}:"
    edges = [low, *bounds, high]
    parts = [f"{a:.{digits}f} to {b:.{digits}f}" for a, b in pairwise(edges)]
    return [(head, INK), *((part, INK) for part in parts)]
