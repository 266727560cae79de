"""The true step of each graduated edge: nominal, or by the length the person checked."""

import math
from collections.abc import Set

from seamsurvey.errors import InputError
from seamsurvey.model import Picture
from seamsurvey.photo.graduation import Reading
from seamsurvey.photo.ruler import GraduatedEdge
from seamsurvey.photo.scanner import ScaledComb
from seamsurvey.units import INCH

# A ruler is longer or shorter than its figures say by less than this, or the wrong distance was measured.
MAX_ERROR = 0.005
CHECK_SIGMA_MM = 0.1  # of a distance of two marks read with a good rule or callipers (common practice, no source)


def checked_steps(
    picture: Picture, edges: tuple[tuple[GraduatedEdge, Reading], ...], ruler_length_mm: float | None
) -> list[ScaledComb]:
    """Each edge's comb with its step in mm and that step's uncertainty.

    ``ruler_length_mm`` as for :func:`checked_unit`: edges of that unit get their step from it.
    """
    nominal = [ScaledComb(edge.comb, reading.graduation.step_mm) for edge, reading in edges]
    if ruler_length_mm is None:
        return nominal
    unit, off, sigma = checked_unit(picture, {reading.graduation.unit for _, reading in edges}, ruler_length_mm)
    return [
        ScaledComb(scaled.comb, scaled.step_mm * math.exp(off), sigma)
        if reading.graduation.unit == unit
        else scaled
        for scaled, (_, reading) in zip(nominal, edges, strict=True)
    ]


def checked_unit(picture: Picture, units: Set[str], ruler_length_mm: float) -> tuple[str, float, float]:
    """Which of the units in the picture was checked, ln of true over nominal, and the standard deviation of that.

    ``ruler_length_mm`` is the checked distance of the first and last whole mark: the unit whose multiple it is
    nearest to (inches or centimetres) was the one checked. InputError ``ruler-length`` when it is near neither.
    """
    off = {unit: _off(ruler_length_mm, unit) for unit in sorted(units)}
    unit = min(off, key=lambda name: abs(off[name]))
    if abs(off[unit]) > MAX_ERROR:
        raise InputError(
            "ruler-length",
            f"A ruler of {ruler_length_mm:g} mm between its first and last whole mark fits neither "
            "a whole number of inches nor of centimetres.",
            where=picture.name,
            likely="The ruler's whole length was given, with the bare ends, or in another unit.",
            todo="Measure from the first to the last whole mark, and give for example --ruler-length 300.2mm.",
        )
    return unit, off[unit], CHECK_SIGMA_MM / ruler_length_mm


def _off(length_mm: float, unit: str) -> float:
    """Ln of the length over the nearest whole number of units."""
    size = INCH if unit == "inch" else 10.0
    return math.log(length_mm / (max(round(length_mm / size), 1) * size))
