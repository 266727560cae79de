"""What a person measured on a ruler: it tells how the ruler is divided, and corrects its nominal length."""

import math
from collections.abc import Iterable, Sequence

from attrs import evolve

from seamsurvey.errors import InputError
from seamsurvey.model import Picture
from seamsurvey.photo.combs import square_on
from seamsurvey.photo.graduation import GRADUATIONS, Graduation, Reading, shortest_mark
from seamsurvey.photo.ruler import GraduatedEdge
from seamsurvey.photo.scanner import ScaledComb
from seamsurvey.units import INCH

# A ruler is longer or shorter than its figures say by less than this, or the wrong distance was measured.
MAX_ERROR = 0.005
CHECK_SIGMA_MM = 0.1  # of a distance of two marks read with a good rule or callipers (common practice, no source)

# What to say where marks are found and nothing tells what they stand for.
SAY_LENGTH = (
    "If these marks are a ruler's, say what it is divided in and how far the last mark in view is from the first, "
    "for example --ruler cm --ruler-length 151mm."
)


def told_by_length(edges: Sequence[GraduatedEdge], unit: str, ruler_length_mm: float | None) -> list[GraduatedEdge]:
    """The edges, each with only those readings whose marks span the checked length, where it has some.

    Of an edge whose marks' lengths tell nothing, every usual division of the said ``unit`` ("auto": none) is a
    reading: the steps of two divisions differ by a fifth at least, far more than a ruler errs.
    """
    if ruler_length_mm is None:
        return list(edges)
    result = []
    for edge in edges:
        usual = [_unread(edge, graduation) for graduation in GRADUATIONS if graduation.unit == unit]
        fitting = [
            r for r in edge.readings or usual if abs(math.log(ruler_length_mm / edge.span_mm(r))) <= MAX_ERROR
        ]
        result.append(evolve(edge, readings=tuple(fitting)) if fitting else edge)
    return result


def _unread(edge: GraduatedEdge, graduation: Graduation) -> Reading:
    """A reading for which only the person's word stands; where its whole units lie is not known."""
    return Reading(graduation, 0, 0.0, 1.0, shortest_mark(edge.comb.lengths) / edge.comb.step)


def checked_steps(
    picture: Picture, edges: Sequence[tuple[GraduatedEdge, Reading]], ruler_length_mm: float | None
) -> list[ScaledComb]:
    """Each edge's comb with its step in mm and that step's uncertainty.

    ``ruler_length_mm`` as for :func:`checked_unit`: edges of that unit get their step from it.
    """
    nominal = [ScaledComb(square_on(edge.comb), reading.graduation.step_mm) for edge, reading in edges]
    if ruler_length_mm is None:
        return nominal
    spans = [(reading.graduation.unit, edge.span_mm(reading)) for edge, reading in edges]
    unit, off, sigma = checked_unit(picture, spans, ruler_length_mm)
    return [
        ScaledComb(scaled.comb, scaled.step_mm * math.exp(off), sigma)
        if reading.graduation.unit == unit
        else scaled
        for scaled, (_, reading) in zip(nominal, edges, strict=True)
    ]


def checked_unit(
    picture: Picture, spans: Iterable[tuple[str, float]], ruler_length_mm: float
) -> tuple[str, float, float]:
    """Which of the units in the picture was checked, ln of true over nominal, and the standard deviation of that.

    ``spans`` are each ruler's unit, and mm from its first mark in view to its last. ``ruler_length_mm`` is the
    checked distance of these two, or of the first and last whole ones: what it is nearest to was measured.
    InputError ``ruler-length`` when it is near nothing.
    """
    offs = []
    for unit, span in spans:
        size = INCH if unit == "inch" else 10.0
        whole = max(round(ruler_length_mm / size), 1) * size
        offs += [(unit, math.log(ruler_length_mm / nominal)) for nominal in (whole, span)]
    unit, off = min(offs, key=lambda each: abs(each[1]))
    if abs(off) > MAX_ERROR:
        raise InputError(
            "ruler-length",
            f"A ruler of {ruler_length_mm:g} mm fits neither the marks in view, from the first to the last, nor a "
            "whole number of inches or centimetres.",
            where=picture.name,
            likely="The ruler's whole length was given, with the bare ends, or in another unit.",
            todo="Measure from the first to the last mark in view, or to the last whole one, and give for example "
            "--ruler-length 300.2mm.",
        )
    return unit, off, CHECK_SIGMA_MM / ruler_length_mm
