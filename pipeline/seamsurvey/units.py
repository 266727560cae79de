"""Lengths as people read and write them; inside the tool every length is millimetres.

One inch is 25.4 mm exactly (NBS Circular 572, addendum 1960).
"""

import math
import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Self

from seamsurvey.errors import UsageError

INCH = 25.4
POINT = INCH / 72  # the PDF unit, ISO 32000-1, 8.3.2.3: 1/72 in

# ISO 216 and ANSI/ASME Y14.1, width and height in mm, upright.
PAPERS: dict[str, tuple[float, float]] = {
    "a4": (210.0, 297.0),
    "letter": (8.5 * INCH, 11 * INCH),
}

# What sheets can be printed on. A3 is ISO 216's; Legal, 8 1/2 × 14 in, is common practice, no source.
# "both" is the area that Letter and A4 share: a page that prints whole, at true size, on either.
SHEET_SIZES: dict[str, tuple[float, float]] = {
    "letter": PAPERS["letter"],
    "a4": PAPERS["a4"],
    "legal": (8.5 * INCH, 14 * INCH),
    "a3": (297.0, 420.0),
    "both": (PAPERS["a4"][0], PAPERS["letter"][1]),
}

_SIDE_OFF_MM = 0.6
_UNITS = {
    "in": INCH, "inch": INCH, "inches": INCH, '"': INCH, "″": INCH, "”": INCH,
    "mm": 1.0, "cm": 10.0,
}  # fmt: skip
_VULGAR = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅓": "1/3", "⅔": "2/3",
}  # fmt: skip
_LENGTH = re.compile(
    r"^\s*(?:(?P<whole>\d+)[\s-]+(?P<over>\d+)\s*/\s*(?P<under>\d+)"
    r"|(?P<over2>\d+)\s*/\s*(?P<under2>\d+)"
    r"|(?P<decimal>\d+(?:\.\d*)?|\.\d+))"
    r"\s*(?P<unit>[a-z]+|[\"″”])?\s*$",
    re.IGNORECASE,
)


def parse_length(text: str, default_unit: str | None = None) -> float:
    """Millimetres from ``16in``, ``5 1/2 in``, ``2.125"``, ``6 mm`` or ``1.5cm``.

    Without a unit the ``default_unit`` counts; without either, and for anything else, UsageError.
    """
    plain = text
    for sign, spelled in _VULGAR.items():
        plain = plain.replace(sign, f" {spelled}")
    match = _LENGTH.match(plain)
    unit = ((match["unit"] or default_unit or "") if match else "").lower()
    under = int(match["under"] or match["under2"] or 1) if match else 0
    if match is None or unit not in _UNITS or under == 0:
        raise UsageError(
            "length-unreadable",
            f"“{text}” is not a length I can read.",
            todo="Write a number and a unit: 16in, 5 1/2 in, 2.125in, 6mm or 1.5cm.",
        )
    number = (
        float(match["decimal"])
        if match["decimal"]
        else int(match["whole"] or 0) + int(match["over"] or match["over2"]) / under
    )
    return number * _UNITS[unit]


class Worded(float):
    """A length, mm, that remembers the words it was said in."""

    words: str

    def __new__(cls, text: str) -> Self:
        """Read a length; UsageError as ``parse_length``."""
        length = super().__new__(cls, parse_length(text))
        length.words = text.strip()
        return length

    def __reduce__(self) -> tuple[type["Worded"], tuple[str]]:
        """Pickled as its words, for another process."""
        return Worded, (self.words,)


def length_words(length_mm: float) -> str:
    """A length as it was said; else so that nothing of it is lost: ``1/4 in``, ``6.2 mm``."""
    if isinstance(length_mm, Worded):
        return length_mm.words
    if length_mm > 0 and abs(length_mm - round(length_mm / INCH * 64) * INCH / 64) < 1e-9:
        return fraction_text(length_mm, 64)
    text = f"{length_mm:.4f}".rstrip("0").rstrip(".")
    return f"{text if abs(float(text) - length_mm) < 1e-12 else repr(float(length_mm))} mm"


def usual_size(length_mm: float) -> float:
    """How usual a finished length is: 1 for a whole inch, less for a half, a quarter, or whole centimetres.

    Blocks are drafted to such sizes (common practice, no source); a side is known to some tenths of a millimetre.
    """
    for unit, worth in ((INCH, 1.0), (INCH / 2, 0.6), (10.0, 0.5), (INCH / 4, 0.2)):
        if abs(length_mm - unit * round(length_mm / unit)) <= _SIDE_OFF_MM:
            return worth
    return 0.0


def fraction_text(length_mm: float, denominator: int = 16) -> str:
    """The nearest fraction of an inch, in lowest terms: ``5 1/2 in``, ``3/16 in``, ``0 in``."""
    nearest = Fraction(round(length_mm / INCH * denominator), denominator)
    whole, rest = divmod(abs(nearest), 1)
    sign = "-" if nearest < 0 else ""
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(f"{rest.numerator}/{rest.denominator}")
    return f"{sign}{' '.join(words)} in"


def mm_text(length_mm: float, decimals: int = 1) -> str:
    """``63.5 mm``; never ``-0.0``."""
    rounded = round(length_mm, decimals) + 0.0
    return f"{rounded:.{decimals}f} mm"


def doubt_text(u_mm: float, units: str = "mm") -> str:
    """A ±, rounded up to tenths of a millimetre or 1/64 in: never 0, and never surer than it is."""
    if units == "inch":
        return fraction_text(max(1, math.ceil(u_mm / INCH * 64 - 1e-9)) * INCH / 64, 64)
    return f"{max(1, math.ceil(u_mm * 10 - 1e-9)) / 10:.1f} mm"


def fine_text(length_mm: float, units: str) -> str:
    """A measured length as finely as its ± is told: ``3 31/64 in``, ``88.5 mm``."""
    return fraction_text(length_mm, 64) if units == "inch" else mm_text(length_mm)


def nearest(length_mm: float, system: str, tolerance_mm: float) -> tuple[str, float]:
    """The simplest named length near ``length_mm``, and how far that name is off (name minus length, mm).

    ``system`` is "inch" or "mm". In inches the coarsest of 1/8, 1/16, 1/32 that lies within ``tolerance_mm``
    is taken (an eighth is what a ruler is read in), else the nearest 1/32; in millimetres the whole
    millimetre if within the tolerance, else the nearest half. It is a suggestion: the length stays what it is.
    """
    if system == "inch":
        steps = [(INCH / n, n) for n in (8, 16, 32)]
        step, n = next(
            (s for s in steps if abs(length_mm - round(length_mm / s[0]) * s[0]) <= tolerance_mm), steps[-1]
        )
        named = round(length_mm / step) * step
        return fraction_text(named, n), named - length_mm
    step = 1.0 if abs(length_mm - round(length_mm)) <= tolerance_mm else 0.5
    named = round(length_mm / step) * step
    return mm_text(named, 0 if math.isclose(named, round(named)) else 1), named - length_mm


# A ruler's own unit is what people cut by, ten times out of eleven: a judgement, there is no source.
_USUAL_ODDS = 10.0
_GRIDS = {"inch": INCH / 16, "mm": 1.0}
# Half of a set's edges are diagonals and leftovers that lie on no grid, about.
_ON_GRID = 0.5


def fitting_unit(lengths_mm: Sequence[float], u_mm: Sequence[float], usual: str = "inch") -> str:
    """Return "inch" or "mm", by whose grid of 1/16 in or 1 mm the lengths were cut; ``u_mm`` are their k = 2.

    The likelihood of what is left over each grid line, normal and wrapped, beside that of no grid at all, with odds
    for the ``usual`` unit, which is taken where nothing tells.
    """
    odds = {"inch": 0.0, "mm": 0.0, usual: math.log(_USUAL_ODDS)}
    for unit, step in _GRIDS.items():
        for length, u in zip(lengths_mm, u_mm, strict=True):
            sigma = max(u / 2, 0.02 * step)
            off = length - round(length / step) * step
            wrapped = sum(math.exp(-0.5 * ((off + k * step) / sigma) ** 2) for k in range(-3, 4))
            density = step * wrapped / (sigma * math.sqrt(2 * math.pi))
            odds[unit] += math.log(_ON_GRID * density + 1 - _ON_GRID)
    return max(odds, key=lambda unit: odds[unit])


def round_up(length_mm: float, step_mm: float) -> float:
    """``length_mm`` rounded up to a whole number of steps; a hair over a step (1e-6 mm) does not count."""
    return math.ceil((length_mm - 1e-6) / step_mm) * step_mm
