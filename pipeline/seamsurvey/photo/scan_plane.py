"""Stage 1 for flatbed scans: from the picture to the plane of its glass.

The marks of every ruler in the picture are found and read (`ruler`, `graduation`, `decide`), then the scanner's
scales are adjusted to all of them (`scanner`). What lies on the glass is seen square to it, so a template's
thickness does not change its size as it would before a camera.
"""

import math
from collections.abc import Sequence

import numpy as np

from seamsurvey.errors import InputError, UndecidedError
from seamsurvey.model import Picture, Reference, ScanPlane
from seamsurvey.photo.bare import SHAPES_ALONE
from seamsurvey.photo.checked import SAY_LENGTH, checked_steps, told_by_length
from seamsurvey.photo.combs import square_on
from seamsurvey.photo.decide import choose
from seamsurvey.photo.graduation import Reading
from seamsurvey.photo.ruler import GraduatedEdge, find_graduated_edges
from seamsurvey.photo.scanner import DISAGREE, Scanner, adjust_scanner, scale_sigma
from seamsurvey.photo.stated_resolution import by_resolution
from seamsurvey.photo.windows import reference_windows
from seamsurvey.units import INCH

# What a flatbed and an honest print do not do, and a camera held by hand does. Along 300 mm seen from 500 mm,
# half a degree of tilt changes the step by 1 % (measuring on rendered pictures); the wooden ruler at hand,
# scanned, changes by 0.08 % and its marks fan by 0.4°.
MAX_STRETCH = 0.004
MAX_FAN_DEG = 0.8
MAX_LEAN_DEG = 2.5  # of the marks against the square to their edge
SURE = 4.0  # sigmas
DPI_WARN = 0.02
MIN_EVEN_MARKS = 24  # an unreadable comb with fewer marks is not worth a word of its own


class NotAScanError(Exception):
    """What shows that a camera took the picture: the reason as a sentence."""


def find_scan_plane(picture: Picture, *, ruler: str = "auto", ruler_length_mm: float | None = None) -> ScanPlane:
    """The plane of a flatbed scan, from every graduated edge of every straight ruler in it.

    ``ruler`` is "auto", "inch" or "cm" and only chooses among what the picture allows; ``ruler_length_mm`` is
    the checked distance of the ruler's first and last whole mark and replaces its nominal length. The
    plane's origin is the picture's lower left corner, x runs along the picture's rows.

    InputError: ``no-ruler``, ``ruler-too-short``, ``ruler-contradicts``, ``ruler-length``; UndecidedError:
    ``units-unclear``; NotAScanError. There is no default scale.
    """
    edges = find_graduated_edges(picture.pixels, windows=reference_windows(picture), on_glass=True)
    edges = told_by_length(edges, ruler, ruler_length_mm)
    readable = [edge for edge in edges if edge.readings]
    if not readable:
        raise _nothing_readable(picture, edges)
    straight = [edge for edge in readable if not _bent(edge)]
    if sum(edge.marks for edge in straight) <= sum(edge.marks for edge in readable) / 2:
        raise NotAScanError(_how_bent(next(edge for edge in readable if _bent(edge))))
    choice = choose(picture, straight, ruler)
    chosen = [
        (edge, reading) for edge, reading in zip(straight, choice.readings, strict=True) if reading is not None
    ]
    scaled = checked_steps(picture, chosen, ruler_length_mm)
    scanner = adjust_scanner(scaled)
    matrix, covariance = scanner.plane(picture.height)
    best = min(range(len(scaled)), key=lambda place: scale_sigma(scaled[place]) / chosen[place][0].marks)
    axis = scanner.matrix @ scaled[best].comb.edge
    return ScanPlane(
        matrix=matrix,
        covariance=covariance,
        axis=axis / np.hypot(*axis) * (1.0 if axis[0] >= 0 else -1.0),
        references=tuple(_reference(edge, reading) for edge, reading in chosen),
        warnings=(*choice.warnings, *_disagreements(chosen, scanner), *_resolution(picture, scanner)),
    )


def _reference(edge: GraduatedEdge, reading: Reading) -> Reference:
    comb, graduation = square_on(edge.comb), reading.graduation
    return Reference(
        kind="ruler",
        graduation=graduation.text,
        unit=graduation.unit,
        step_mm=graduation.step_mm,
        marks_px=comb.points,
        marks_mm=(comb.index - comb.index[0]) * graduation.step_mm,
        mark_ends_px=edge.comb.fars,
        residuals_px=comb.residuals,
        outline_px=edge.outline_px,
        px_per_mm=comb.step / graduation.step_mm,
    )


def _bent(edge: GraduatedEdge) -> bool:
    comb = square_on(edge.comb)
    lean = math.degrees(math.asin(min(1.0, abs(float(comb.edge @ comb.marks)))))
    stretched = abs(comb.stretch) > max(MAX_STRETCH, SURE * comb.stretch_sigma)
    fanned = abs(comb.fan_deg) > max(MAX_FAN_DEG, SURE * comb.fan_sigma_deg)
    return stretched or fanned or lean > MAX_LEAN_DEG


def _how_bent(edge: GraduatedEdge) -> str:
    comb = square_on(edge.comb)
    return (
        f"Along the ruler the distance of its marks changes by {abs(comb.stretch):.1%}, "
        f"and their direction by {abs(comb.fan_deg):.1f}°."
    )


def _disagreements(chosen: Sequence[tuple[GraduatedEdge, Reading]], scanner: Scanner) -> list[str]:
    said = []
    for (_, reading), misfit in zip(chosen, scanner.misfits, strict=True):
        if abs(misfit) > DISAGREE:
            said.append(
                f"The graduation in {reading.graduation.text} disagrees with the others by {abs(misfit):.1f} times "
                "its uncertainty; the uncertainty of every length was raised. Is one of the rulers worn or reduced?"
            )
    return said


def _resolution(picture: Picture, scanner: Scanner) -> list[str]:
    if picture.dpi is None:
        return ["The file does not say at how many dots per inch it was scanned, so that check is missing."]
    matrix = scanner.matrix
    for name, stated, found in zip(
        ("across", "down"), picture.dpi, INCH / np.abs([matrix[0, 0], matrix[1, 1]]), strict=True
    ):
        if abs(math.log(found / stated)) > DPI_WARN:
            return [
                f"By the ruler the picture has {found:.1f} px per inch {name}, but its file says {stated:.0f} dpi. "
                "The ruler counts. If the picture was resized this is as it should be; if not, look at the ruler's "
                "marks in the report."
            ]
    return []


def _nothing_readable(picture: Picture, edges: list[GraduatedEdge]) -> InputError | UndecidedError | NotAScanError:
    """What to say when no edge has a reading."""
    even = [edge for edge in edges if edge.marks >= MIN_EVEN_MARKS]
    otherwise = f"{by_resolution(picture)} {SHAPES_ALONE}".lstrip()
    if not even:
        return InputError(
            "no-ruler",
            "No ruler was found in the picture.",
            where=picture.name,
            likely="There is none, or its marks are too faint, too fine or covered.",
            todo="Scan again at 300 dpi or more with an ordinary ruler beside the templates, its marks towards "
            "the glass and at least three inches or five centimetres of them in view. If a camera took the "
            f"picture, say --taken-with camera. {otherwise}",
        )
    best = max(even, key=lambda edge: edge.marks)
    (x, y), (u, v) = best.comb.feet[[0, -1]]
    where = f"{picture.name}, from x = {x:.0f}, y = {y:.0f} to x = {u:.0f}, y = {v:.0f} px"
    if _bent(best):
        return NotAScanError(_how_bent(best))
    if best.marks < 2 * MIN_EVEN_MARKS:
        return InputError(
            "ruler-too-short",
            f"Only {best.marks} evenly spaced marks were found, too few to tell what they stand for.",
            where=where,
            likely="Most of the ruler is covered, or lies outside the picture.",
            todo=f"Scan again with at least three inches or five centimetres of the ruler in view. {otherwise}",
        )
    return UndecidedError(
        "units-unclear",
        f"{best.marks} evenly spaced marks were found, but their lengths do not show which are the whole units.",
        where=where,
        likely="It is no ruler, or its long and short marks can't be told apart here.",
        todo=f"{SAY_LENGTH} Or scan again at 300 dpi or more with an ordinary ruler, its marks clean and in full "
        f"view. {otherwise}",
    )
