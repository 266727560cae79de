"""The typeface of every sheet and picture: its files, its measures, the breaking of lines.

Lato 2.007 (SIL Open Font License 1.1, text beside the files) has the marks a quilter reads: ″ ′ ½ ¼ ⅛ × ± →.
"""

from functools import cache
from pathlib import Path

from PIL import ImageFont

from seamsurvey.units import POINT

FAMILY = "Lato"
FILES = {
    "regular": Path(__file__).parent / "fonts" / "Lato-Regular.ttf",
    "bold": Path(__file__).parent / "fonts" / "Lato-Bold.ttf",
}
CAP_HEIGHT = 1433 / 2000  # of the size: the font's own OS/2 table
LINE = 1.36  # from baseline to baseline, of the size: calm reading at a sewing machine's distance
SMALLEST_PT = 7.0  # nothing on a sheet is set smaller

_EM = 1000  # measured at this size, so that a width is a thousandth of an em


@cache
def _measure(weight: str) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(FILES[weight]), _EM, layout_engine=ImageFont.Layout.BASIC)


@cache
def width_mm(text: str, size_pt: float, weight: str = "regular") -> float:
    """Width of one line of text in mm."""
    return float(_measure(weight).getlength(text)) / _EM * size_pt * POINT


def cap_mm(size_pt: float) -> float:
    """Height of a capital letter or a digit in mm."""
    return CAP_HEIGHT * size_pt * POINT


def line_mm(size_pt: float) -> float:
    """From one baseline to the next in mm."""
    return LINE * size_pt * POINT


def broken(text: str, size_pt: float, room_mm: float, weight: str = "regular") -> list[str]:
    """The text as lines no wider than ``room_mm``, broken at blanks; a longer word is broken where it must be."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        trial = f"{line} {word}".strip()
        if width_mm(trial, size_pt, weight) <= room_mm:
            line = trial
            continue
        if line:
            lines.append(line)
        while width_mm(word, size_pt, weight) > room_mm and len(word) > 1:
            fits = max(n for n in range(1, len(word)) if n == 1 or width_mm(word[:n], size_pt, weight) <= room_mm)
            lines.append(word[:fits])
            word = word[fits:]  # noqa: PLW2901
        line = word
    return [*lines, line] if line else lines


def cut_short(text: str, size_pt: float, room_mm: float, weight: str = "regular") -> str:
    """The text if it has room on one line, else as much of it as has, and an ellipsis."""
    if width_mm(text, size_pt, weight) <= room_mm:
        return text
    kept = text
    while kept and width_mm(kept + "…", size_pt, weight) > room_mm:
        kept = kept[:-1]
    return kept.rstrip() + "…"
