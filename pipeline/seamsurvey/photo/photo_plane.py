"""Stage 1 for a camera's photo: every reference in it, adjusted at once with the camera over the table.

How high the cards' faces and the references' marks lie above the table is known only so well; what that does to a
length is kept apart in the result, for a person can measure a thickness.
"""

import math

import attrs
import numpy as np
from numpy.typing import NDArray

from seamsurvey.errors import InputError
from seamsurvey.light import linear_luminance
from seamsurvey.model import PhotoPlane, Picture, Reference
from seamsurvey.photo.adjust import HEIGHT, TURN, Fit
from seamsurvey.photo.checked import checked_unit
from seamsurvey.photo.evidence import Evidence, find_sheets
from seamsurvey.photo.fitting import adjust_all, doubted_cards, scales_off
from seamsurvey.photo.found_rulers import find_rulers
from seamsurvey.photo.misses import misses
from seamsurvey.photo.no_reference import no_reference, no_sheet
from seamsurvey.photo.page import CUT_TOLERANCE_MM, NAMES, cut_sigma
from seamsurvey.photo.quality import reference_warnings
from seamsurvey.photo.reach import reach_warnings
from seamsurvey.plane import COVERAGE
from seamsurvey.units import PAPERS, mm_text

# Cards that nobody measured: from a postcard's 0.3 mm to a stout chipboard's 2 mm (common practice, no source).
FACE_MM, FACE_SIGMA_MM = 1.0, 0.45
MEASURED_SIGMA_MM = 0.06  # of a thickness read to 0.1 mm
FLAT_SIGMA_MM = 0.1  # by which a card that lies flat to the eye does not
BAR_MM = 100.0  # of each bar beside the target's frame
BAR_READ_SIGMA_MM = 0.2  # of a bar read with a ruler
MOST_PRINT_ERROR = 0.1
DISAGREE = 3.0  # standard deviations
POOR_SIGMA0 = 2.0


def find_photo_plane(
    picture: Picture,
    *,
    reference: str = "auto",
    ruler: str = "auto",
    ruler_length_mm: float | None = None,
    ruler_thickness_mm: float | None = None,
    thickness_mm: float | None = None,
    target_bars_mm: tuple[float, float] | None = None,
) -> PhotoPlane:
    """The plane of the cards' faces in a camera's photo; options as for `plane.find_plane`.

    InputError ``no-reference``, ``no-scale``, ``reference-too-weak``, ``ruler-contradicts``, ``ruler-length``,
    ``sheet-contradicts``, ``no-camera``; UndecidedError ``units-unclear``, ``id-card-unclear``,
    ``references-disagree``.
    """
    light = linear_luminance(picture.pixels)
    found, warnings = _found(picture, light, reference, ruler, ruler_length_mm)
    if ruler_thickness_mm is not None:
        found = [_at_height(each, ruler_thickness_mm) if each.observed.kind == "ruler" else each for each in found]
    if ruler_length_mm is not None:
        found = _checked(picture, found, ruler_length_mm)
    if target_bars_mm is not None:
        found = [_print_checked(picture, each, target_bars_mm) for each in found]
    doubt = doubted_cards(picture, found, said=reference == "card")
    if doubt is not None:
        found = [each for each in found if each.observed.kind != "card"]
        if not any(each.has_scale for each in found):
            raise doubt
        warnings = (*warnings, f"{doubt.what} It gives no scale here.")
    fit, found, left_out = adjust_all(picture, found)
    if left_out:
        warnings = (
            *warnings,
            f"Left out: {left_out}. As it was read it can't lie on one flat table with the rest.",
        )
    face = FACE_MM if thickness_mm is None else thickness_mm
    face_sigma = math.hypot(FACE_SIGMA_MM if thickness_mm is None else MEASURED_SIGMA_MM, FLAT_SIGMA_MM)
    plane = _plane_of(picture, fit, face, face_sigma)
    references = _references(plane, fit, found)
    plane = attrs.evolve(plane, references=references)
    said = (*_disagreements(fit, found), *reference_warnings(picture, references), *reach_warnings(picture, plane))
    return attrs.evolve(plane, warnings=(*warnings, *said))


# --- what the photo offers ---


def _found(
    picture: Picture, light: NDArray[np.float32], wanted: str, ruler: str, ruler_length_mm: float | None
) -> tuple[list[Evidence], tuple[str, ...]]:
    kinds = ("mat", "target", "card", "page") if wanted == "auto" else (wanted,)
    sheets = find_sheets(picture, light, kinds)
    rulers: list[Evidence] = []
    warnings: tuple[str, ...] = ()
    if wanted in ("auto", "ruler"):
        mats = sheets if "mat" in kinds else find_sheets(picture, light, ("mat",))
        grids = [each.observed for each in mats if each.observed.kind == "mat"]
        seen = find_rulers(
            picture, focal_px=picture.focal_px, ruler=ruler, ruler_length_mm=ruler_length_mm, grids=grids
        )
        rulers, warnings = list(seen.rulers), seen.warnings
        if not rulers and not any(sheet.has_scale for sheet in sheets):
            # A mat's own lines are an even comb that can't be read; they are no ruler to complain of.
            raise (None if sheets else seen.complaint) or no_reference(picture, wanted, sheets)
    found = [*rulers, *sheets]
    if not any(each.has_scale for each in found):
        raise no_sheet(picture, wanted) if wanted in PAPERS else no_reference(picture, wanted, sheets)
    return found, (*warnings, _rough(wanted)) if wanted in PAPERS else warnings


def _at_height(evidence: Evidence, height_mm: float) -> Evidence:
    observed = attrs.evolve(evidence.observed, height_mm=height_mm, height_sigma_mm=MEASURED_SIGMA_MM)
    return attrs.evolve(evidence, observed=observed)


def _print_checked(picture: Picture, each: Evidence, bars_mm: tuple[float, float]) -> Evidence:
    """A target with its corners where its measured bars say that the printer put them."""
    if each.observed.kind != "target":
        return each
    shares = np.array(bars_mm) / BAR_MM
    if np.any(np.abs(shares - 1) > MOST_PRINT_ERROR):
        raise InputError(
            "target-bars",
            f"Bars of {mm_text(bars_mm[0])} and {mm_text(bars_mm[1])} are too far from {BAR_MM:.0f} mm.",
            where=picture.name,
            likely="Something else was measured, or the target was printed to fit another page.",
            todo="Print the target again at 100 %, and measure the bars from end to end.",
        )
    sigma = BAR_READ_SIGMA_MM / BAR_MM
    observed = attrs.evolve(
        each.observed,
        nominal_mm=each.observed.nominal_mm * shares[each.observed.axis],
        scale_sigma=sigma / math.sqrt(2),
        aspect_sigma=sigma * math.sqrt(2),
    )
    return attrs.evolve(each, observed=observed)


def _checked(picture: Picture, found: list[Evidence], ruler_length_mm: float) -> list[Evidence]:
    """The rulers' marks at the places that the checked length gives them."""
    rulers = [each for each in found if each.observed.kind == "ruler"]
    if not rulers:
        return found
    spans = [(each.unit, float(np.ptp(each.places_mm()))) for each in rulers]
    unit, off, sigma = checked_unit(picture, spans, ruler_length_mm)

    def corrected(each: Evidence) -> Evidence:
        if each.observed.kind != "ruler" or each.unit != unit:
            return each
        share = math.exp(off)
        observed = attrs.evolve(each.observed, nominal_mm=each.observed.nominal_mm * share, scale_sigma=sigma)
        return attrs.evolve(each, observed=observed, step_mm=each.step_mm * share)

    return [corrected(each) for each in found]


# --- the result ---


def _plane_of(picture: Picture, fit: Fit, face_mm: float, face_sigma_mm: float) -> PhotoPlane:
    heights = np.array([begin + HEIGHT for begin in fit.starts])
    crossed = fit.covariance[:8, heights]
    of_heights = np.zeros((9, 9))
    of_heights[:8, :8] = crossed @ np.linalg.solve(fit.covariance[np.ix_(heights, heights)], crossed.T)
    covariance = np.zeros((9, 9))
    covariance[:8, :8] = fit.camera_covariance
    covariance[8, 8] = of_heights[8, 8] = face_sigma_mm**2
    turn = fit.own(0)[TURN]
    return PhotoPlane(
        theta=fit.theta,
        size_px=(picture.width, picture.height),
        face_mm=face_mm,
        covariance=covariance,
        of_heights=of_heights,
        axis=np.array([math.cos(turn), math.sin(turn)]) * (1.0 if math.cos(turn) >= 0 else -1.0),
    )


def _references(plane: PhotoPlane, fit: Fit, found: list[Evidence]) -> tuple[Reference, ...]:
    alone = sum(each.has_scale for each in found) < 2
    result = []
    for each, residuals, weights, (off, sigma) in zip(
        found, fit.residuals_px, fit.weights, scales_off(fit, found), strict=True
    ):
        middle = each.marks_px.mean(axis=0)
        spots, missed = misses(each.observed, residuals, weights)
        result.append(
            Reference(
                kind=each.observed.kind,
                graduation=each.graduation,
                unit=each.unit,
                step_mm=each.step_mm,
                marks_px=each.marks_px,
                marks_mm=each.places_mm(),
                mark_ends_px=each.mark_ends_px,
                residuals_px=each.residuals(residuals),
                outline_px=each.outline_px,
                px_per_mm=1 / float(plane.mm_per_px_at(middle[None])[0]),
                scale_off=None if alone or not each.has_scale else off,
                scale_u=None if alone or not each.has_scale else COVERAGE * sigma,
                spots_px=spots,
                misses_px=missed,
            )
        )
    return tuple(result)


def _disagreements(fit: Fit, found: list[Evidence]) -> list[str]:
    said = []
    if sum(each.has_scale for each in found) > 1:
        for each, (off, sigma) in zip(found, scales_off(fit, found), strict=True):
            if each.has_scale and abs(off) > DISAGREE * sigma:
                way = "larger" if off > 0 else "smaller"
                said.append(
                    f"The {each.graduation} is {abs(off):.2%} {way} than the others say it should be,"
                    f" {abs(off) / sigma:.1f} times what was expected. Is it worn, or a printed copy?"
                )
    if fit.sigma0 > POOR_SIGMA0:
        said.append(
            f"The marks in the photo miss their places {fit.sigma0:.1f} times as far as expected: a sheet that is "
            "not flat, a bent ruler, or a camera that moved. The uncertainty of every length was raised."
        )
    return said


def _rough(paper: str) -> str:
    off = COVERAGE * cut_sigma(paper) / math.sqrt(2)  # the proportions are seen: the mean of two is left
    return (
        f"The scale is a sheet of {NAMES[paper]} paper's, which is rough: paper may be cut {CUT_TOLERANCE_MM:g} mm "
        f"too large or too small (ISO 216), so that all lengths together can be off by {off:.1%}. Lay a "
        "ruler beside the templates where that is too much."
    )
