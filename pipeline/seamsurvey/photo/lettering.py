"""What is printed beside a ruler's marks: its figures, and the word for its unit.

Only asked where the marks' lengths don't tell what they stand for. Figures grow by one a whole unit: by which share
of one from mark to mark is how the ruler is divided. Inches in tenths and centimetres in millimetres are figured
alike; then only a word tells.
"""

import re
from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey import ocr
from seamsurvey.photo.graduation import GRADUATIONS, Graduation, Reading
from seamsurvey.photo.slant_combs import SlantComb
from seamsurvey.units import INCH

Grey = NDArray[np.uint8]

_DEPTH = 2.4  # times the longest marks: figures stand no further from the edge
_MARK_PX = 48.0  # the longest marks in the strip that is looked at; figures are about half as high
_MOST_FINER = 2.0  # than the picture
_SURE = 0.7  # the least sureness of a figure's digits
_FEW, _SHARE = 5, 0.6  # figures at least, and of all that were read, that follow one another
_RIVAL = 0.5  # of them, at most, follow another division's step
_OFF = 0.3  # of a figure's step: beside its mark rather than at it
_MAX_STRIP_PX = 6000
_SAME_STEP = 0.02
_WORDS = {"cm": "cm", "mm": "cm", "inch": "inch", "inches": "inch", "in": "inch"}


@frozen
class Lettering:
    """``per_step``: by how much the figures grow from mark to mark; 0 when they don't tell. ``unit``: as a word."""

    per_step: float = 0.0
    unit: str = ""


def allowed_by_lettering(
    pixels: NDArray[Any], comb: SlantComb, readings: tuple[Reading, ...]
) -> tuple[Reading, ...]:
    """Those of a comb's readings that its figures and words allow; all of them where these say nothing.

    ``pixels`` is (h, w, 3) uint8 or uint16, sRGB-encoded.
    """
    said = read_lettering(pixels, comb)
    left = tuple(
        reading
        for reading in readings
        if (not said.per_step or _is_figured(reading.graduation, said.per_step))
        and said.unit in ("", reading.graduation.unit)
    )
    return left or readings


def printed_note(readings: Sequence[Reading | None]) -> str:
    """What to tell where readings were chosen by what is printed on the ruler."""
    names = " and ".join(sorted({reading.graduation.text for reading in readings if reading is not None}))
    return (
        f"The ruler’s marks alone do not tell how it is divided; by what is printed beside them it is {names}. If"
        " that is wrong, say --ruler inch or --ruler cm."
    )


def _is_figured(graduation: Graduation, per_step: float) -> bool:
    """Whether figures that grow by this from mark to mark stand on a ruler so divided."""
    return any(abs(per_step / step - 1) < _SAME_STEP for step in _figured_by(graduation))


def _figured_by(graduation: Graduation) -> tuple[float, ...]:
    """By how much figures may grow from mark to mark: they count inches, or centimetres, or millimetres."""
    units = (INCH,) if graduation.unit == "inch" else (10.0, 1.0)
    return tuple(graduation.step_mm / unit for unit in units)


def read_lettering(pixels: NDArray[Any], comb: SlantComb) -> Lettering:
    """What is printed along a comb's marks, whichever way it stands."""
    strip, numbers = _strip(pixels, comb)
    lines = ocr.find_lines(strip)
    best, most = Lettering(), 0
    for turns in range(4):
        figures, units = [], set()
        for line in lines:
            low = np.maximum(np.floor(line.corners.min(axis=0)).astype(int), 0)
            high = np.minimum(np.ceil(line.corners.max(axis=0)).astype(int) + 1, strip.shape[::-1])
            seen = np.ascontiguousarray(np.rot90(strip[low[1] : high[1], low[0] : high[0]], turns))
            for text, place in _words(ocr.read_line(seen)):
                # A row of figures along the strip may be one line; what stands across it is one figure.
                share = (place, 0.5, 1 - place, 0.5)[turns]
                column = low[0] + share * (high[0] - low[0])
                if text in _WORDS:
                    units.add(_WORDS[text])
                elif text.isdecimal() and text.isascii() and len(text) <= 3:
                    figures.append((float(np.interp(column, np.arange(len(numbers)), numbers)), int(text)))
        per_step, count = _progress(figures)
        if count + len(units) > most:
            best, most = Lettering(per_step, units.pop() if len(units) == 1 else ""), count + len(units)
    return best


def _words(reading: ocr.Reading) -> list[tuple[str, float]]:
    """The figures and words of a line that were read surely, and where the middle of each stands."""
    words = []
    for match in re.finditer(r"\d+|[^\W\d]+", reading.text):
        own = slice(*match.span())
        if min(reading.sureness[own]) >= _SURE:
            words.append((match.group().lower(), float(np.mean(reading.places[own]))))
    return words


def _strip(pixels: NDArray[Any], comb: SlantComb) -> tuple[Grey, NDArray[np.float64]]:
    """The ruler along the marks, from its edge inwards, dark on light; and the number of a mark at each column."""
    longest = float(np.percentile(comb.lengths, 95))
    finer = min(_MARK_PX / longest, _MOST_FINER)
    span = float(comb.index[-1] - comb.index[0] + 2) * comb.step
    finer = min(finer, _MAX_STRIP_PX / span)
    along = np.arange(round(span * finer)) / (finer * comb.step) + comb.index[0] - 1
    inward = np.arange(round(_DEPTH * longest * finer)) / finer
    origin, on, deep = comb.places(np.array([0.0, 1.0, 0.0]) + along.mean(), np.array([0.0, 0.0, comb.step]))
    if np.linalg.det([on - origin, deep - origin]) < 0:
        along = along[::-1]  # or it would be seen in a mirror
    places = comb.places(*np.meshgrid(along, inward)).astype(np.float32)
    shrunk = max(1, int(1 / finer))
    if shrunk > 1:  # what is coarser than the picture is first averaged
        pixels = cv2.blur(pixels, (shrunk, shrunk))
    seen = np.asarray(cv2.remap(pixels, places[..., 0], places[..., 1], cv2.INTER_LINEAR))
    grey = np.asarray(cv2.cvtColor(seen, cv2.COLOR_RGB2GRAY), dtype=float) / np.iinfo(pixels.dtype).max
    low, high = np.percentile(grey, [1, 90] if comb.dark else [10, 99])
    level = np.clip((grey - low) / max(high - low, 1e-6), 0.0, 1.0)
    return np.asarray(40 + 190 * (level if comb.dark else 1 - level), dtype=np.uint8), along


def _progress(figures: Sequence[tuple[float, int]]) -> tuple[float, int]:
    """By how much figures (place in steps, value) grow from mark to mark, and how many; 0 where that is unclear."""
    if len(figures) < _FEW:
        return 0.0, 0
    place, value = np.array(figures, dtype=float).T
    slopes = sorted({round(slope, 9) for graduation in GRADUATIONS for slope in _figured_by(graduation)})
    counts = {}
    for slope in slopes:
        apart = 10.0 if slope >= 0.5 else 1.0  # millimetres are figured by tens
        for way in (slope, -slope):
            rest = value - way * place
            near = np.abs(rest[:, None] - rest) < _OFF * apart
            row = near[int(near.sum(axis=1).argmax())]
            counts[way] = len(set(value[row].tolist()))
    first, second = sorted(counts, key=lambda way: -counts[way])[:2]
    enough = counts[first] >= max(_FEW, _SHARE * len(set(value.tolist())))
    return (abs(first), counts[first]) if enough and counts[second] <= _RIVAL * counts[first] else (0.0, 0)
