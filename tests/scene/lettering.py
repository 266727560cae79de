"""Figures and letters as pen strokes: for the numbers on a ruler and the names written on card.

A glyph is drawn on a grid 4 wide and 6 high. Strokes are thickened
into outlines, so that they can be placed, turned and photographed like everything else in a scene.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from .geometry import Points, polygon

# Strokes are separated by blanks, a point is its x and y; `~` before a stroke rounds its corners.
_STROKES: dict[str, str] = {
    "0": "~20,10,01,05,16,26,36,45,41,30,20",
    "1": "05,26,20",
    "2": "~05,06,36,45,44,33,00 00,40",
    "3": "~05,16,36,45,44,33,13 ~13,33,42,41,30,10,01",
    "4": "30,36,02,42",
    "5": "46,06,03 ~03,34,43,41,30,10,01",
    "6": "~46,16,04,01,10,30,41,42,33,13,02",
    "7": "06,46,10",
    "8": "~23,03,06,46,43,23 ~23,03,00,40,43,23",
    "9": "~44,33,13,04,05,16,36,45,42,30,00",
    "A": "00,26,40 12,32",
    "B": "00,06 ~06,36,46,43,33,03 ~03,33,43,40,30,00",
    "C": "~45,36,16,05,01,10,30,41",
    "D": "00,06 ~06,26,45,41,20,00",
    "E": "46,06,00,40 03,33",
    "F": "46,06,00 03,33",
    "G": "~45,36,16,05,01,10,30,41,43 43,23",
    "H": "00,06 40,46 03,43",
    "I": "20,26",
    "J": "46,41 ~41,30,10,01",
    "K": "00,06 46,02 13,40",
    "L": "06,00,40",
    "M": "00,06,23,46,40",
    "N": "00,06,40,46",
    "O": "~20,10,01,05,16,26,36,45,41,30,20",
    "P": "00,06 ~06,36,46,43,33,03",
    "Q": "~20,10,01,05,16,26,36,45,41,30,20 31,50",
    "R": "00,06 ~06,36,46,43,33,03 23,40",
    "S": "~45,36,16,05,04,13,33,42,41,30,10,01",
    "T": "20,26 06,46",
    "U": "06,02 ~02,00,40,42 42,46",
    "V": "06,20,46",
    "W": "06,10,24,30,46",
    "X": "00,46 06,40",
    "Y": "06,23,46 23,20",
    "Z": "06,46,00,40",
    "c": "~33,24,14,03,01,10,20,31",
    "d": "36,30 ~33,14,03,01,10,31",
    "e": "~02,32,33,24,14,03,01,10,20,31",
    "h": "06,00 ~02,14,24,33,30",
    "i": "10,14 15,16",
    "l": "16,10",
    "m": "04,00 ~02,04,14,22,20 ~22,24,34,42,40",
    "n": "04,00 ~02,14,24,33,30",
    "o": "~10,01,03,14,24,33,31,20,10",
    "r": "04,00 ~02,14,24,34",
    "s": "~33,24,14,03,12,22,31,20,10,01",
    "t": "~16,12,10,20,21 04,24",
    "u": "04,01 ~01,10,20,31 34,30",
    "w": "04,10,23,30,44",
    "+": "21,25 03,43",
    "-": "03,33",
    "/": "00,46",
}
_ADVANCE = {"1": 4.4, "I": 4.0, "i": 3.0, "l": 3.0, "t": 3.6, "m": 5.6, "r": 4.4, " ": 3.5}
_DEFAULT_ADVANCE = 5.6


def strokes_of(
    text: str, height: float, shake: float = 0.0, rng: np.random.Generator | None = None
) -> list[Points]:
    """The pen lines of one line of text, its lower left at the origin, x along the line, y up.

    `height` is that of a capital or figure; `shake` moves the pen by that share of the grid's unit, as
    a hand would. Raises KeyError for a character that has no glyph.
    """
    unit = height / 6.0
    lines: list[Points] = []
    at = 0.0
    for character in text:
        if character != " ":
            for stroke in _STROKES[character].split():
                points = _pen_line(stroke)
                if rng is not None and shake > 0.0:
                    points = points + shake * rng.standard_normal(points.shape)
                if stroke.startswith("~"):
                    points = _rounded(points)
                lines.append((points + np.array([at, 0.0])) * unit)
        at += _ADVANCE.get(character, _DEFAULT_ADVANCE)
    return lines


def text_width(text: str, height: float) -> float:
    """The length of the line of text from the first glyph's left to the last one's right."""
    advances = [_ADVANCE.get(character, _DEFAULT_ADVANCE) for character in text]
    return (sum(advances[:-1]) + 4.0) * height / 6.0 if text else 0.0


def inked(lines: list[Points], width: float) -> list[Points]:
    """The outlines of lines drawn with a round pen of that width (they overlap at the joints)."""
    outlines: list[Points] = []
    half = width / 2.0
    dot = np.array([[math.cos(a), math.sin(a)] for a in np.arange(8) * math.pi / 4.0]) * half
    for line in lines:
        outlines += [point + dot for point in line]
        for a, b in pairwise(line):
            along = b - a
            length = math.hypot(along[0], along[1])
            if length > 1e-9:
                side = np.array([-along[1], along[0]]) * (half / length)
                outlines.append(np.array([a - side, b - side, b + side, a + side]))
    return outlines


def _pen_line(stroke: str) -> Points:
    return polygon([(float(p[0]), float(p[1])) for p in stroke.removeprefix("~").split(",")])


def _rounded(points: Points) -> Points:
    """Corners cut twice (Chaikin), the ends kept: a curve through the middles of the pen line."""
    for _ in range(2):
        near = points[:-1] * 0.75 + points[1:] * 0.25
        far = points[:-1] * 0.25 + points[1:] * 0.75
        cut = np.stack([near, far], axis=1).reshape(-1, 2)
        points = np.concatenate([points[:1], cut, points[-1:]])
    return points
