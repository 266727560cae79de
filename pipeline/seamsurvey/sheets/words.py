"""Lengths and sizes as the sheets write them, in the person's units."""

from seamsurvey.units import INCH, fraction_text, mm_text, round_up

EIGHTH = INCH / 8
SAME_MM = INCH / 64  # no difference smaller than this is worth a word: no ruler shows it and no needle sews it


def length_text(length_mm: float, units: str) -> str:
    """``5 1/2 in``, to a sixteenth, or where it is nearer to a thirty-second; or ``63.5 mm``."""
    if units == "inch":
        return fraction_text(length_mm, 32)
    if abs(length_mm - round(length_mm)) < 0.05 - 1e-9:
        return mm_text(length_mm, 0)
    # A quarter of an inch is 6.35 mm, and neither 6.3 nor 6.4.
    half_tenth = abs(length_mm * 20 - round(length_mm * 20)) < 1e-6 and round(length_mm * 20) % 2
    return mm_text(length_mm, 2 if half_tenth else 1)


def allowance_text(length_mm: float, units: str) -> str:
    """An allowance: ``1/4 in``, ``7 mm``; ``6.35 mm (1/4 in)`` where a presser foot has it in inches alone."""
    text, eighths = length_text(length_mm, units), length_mm / EIGHTH
    in_inches = units != "inch" and abs(eighths - round(eighths)) < 1e-6
    return f"{text} ({fraction_text(length_mm, 8)})" if in_inches else text


def size_text(width_mm: float, height_mm: float, units: str) -> str:
    """``8 × 10 1/2 in``: width first."""
    width, height = length_text(width_mm, units), length_text(height_mm, units)
    return f"{width.rsplit(' ', 1)[0]} × {height}"


def cut_up(length_mm: float, units: str, *, metric_step_mm: float = 1.0) -> float:
    """A length to cut, rounded up: to an eighth of an inch, or to whole steps of millimetres."""
    return round_up(length_mm, EIGHTH if units == "inch" else metric_step_mm)


def on_line(length_mm: float, units: str) -> float:
    """A length to the nearest line of a ruler, 1/16 in or 1 mm: for what is told, not sewn to that size as cut."""
    step = INCH / 16 if units == "inch" else 1.0
    return round(length_mm / step) * step


def count_text(count: int, one: str, many: str) -> str:
    """``1 piece``, ``4 pieces``."""
    return f"{count} {one if count == 1 else many}"
