"""What a photo was measured by, in sentences: its references, the camera over the table, the error to expect."""

import math
from collections.abc import Sequence

import numpy as np

from seamsurvey import camera
from seamsurvey.model import PhotoPlane, Plane, Reference, Template
from seamsurvey.sheets.words import count_text
from seamsurvey.units import INCH, doubt_text

LENGTH_MM = {"inch": 4 * INCH, "mm": 100.0}  # the length whose error is told
LENGTH_TEXT = {"inch": "4 inches", "mm": "100 mm"}

_FULL_FRAME_DIAGONAL_MM = math.hypot(36, 24)
_MARKS = {
    "mat": ("line", "lines"),
    "target": ("checker corner", "checker corners"),
    "card": ("edge", "edges"),
    "page": ("edge", "edges"),
}


def marks_used(reference: Reference) -> str:
    """``41 lines``, ``64 checker corners``, ``4 edges``, ``187 marks``: what a person would count."""
    if reference.kind == "target":
        count = len(reference.spots_px)
    elif reference.kind == "page":
        count = len(reference.outline_px)
    else:
        count = len(reference.marks_px)
    return count_text(count, *_MARKS.get(reference.kind, ("mark", "marks")))


def rms_px(reference: Reference) -> float:
    """Root mean square of what the fit left over: of its places, where a grid has them, else of its marks."""
    if len(reference.spots_px):
        return float(np.sqrt(np.mean(np.sum(reference.misses_px**2, axis=1))))
    return reference.residual_px


def reference_text(reference: Reference) -> str:
    """One sentence: what it is, how many of its marks were used, how well they fit, the scale along it."""
    used = f"{marks_used(reference)}, on average {rms_px(reference):.2f} pixels from where they should be"
    if reference.unit:
        per_inch, per_cm = reference.px_per_mm * INCH, reference.px_per_mm * 10
        scale = f"{per_inch:.2f} px per inch = {per_cm:.2f} px per cm along it"
        return f"Scale from a {reference.kind} ({reference.graduation}): {used}, {scale}."
    return f"{reference.graduation[0].upper()}{reference.graduation[1:]}: {used}."


def agreement_text(reference: Reference) -> str:
    """How its millimetres compare with the adjusted ones; empty when nothing else has a scale to compare with."""
    if reference.scale_off is None or reference.scale_u is None:
        return ""
    way = "longer" if reference.scale_off > 0 else "shorter"
    agrees = "as expected" if abs(reference.scale_off) <= reference.scale_u else "more than expected"
    return (
        f"Its own lengths are {abs(reference.scale_off):.3%} {way} than all references together say, "
        f"± {reference.scale_u:.3%}: {agrees}."
    )


def camera_text(plane: Plane) -> str:
    """Where the camera was, and its lens; empty for a scan."""
    if not isinstance(plane, PhotoPlane):
        return ""
    focal_px = math.exp(plane.theta[camera.LOG_FOCAL])
    equivalent = focal_px / math.hypot(*plane.size_px) * _FULL_FRAME_DIAGONAL_MM
    return (
        f"Camera: {plane.tilt_deg:.1f}° from straight above, {plane.distance_mm:.0f} mm over the table, "
        f"focal length {focal_px:.0f} px ({equivalent:.0f} mm equivalent). "
        f"Cards taken to be {plane.face_mm:.1f} mm thick."
    )


def expected_text(plane: Plane, templates: Sequence[Template], unit: str) -> str:
    """The error to expect of a length where the templates lie; empty without templates."""
    middles = np.array([template.cut_outline.mean(axis=0) for template in templates])
    if not len(middles):
        return ""
    expected = plane.length_u(middles, LENGTH_MM[unit])
    least, most = (doubt_text(float(value), unit) for value in (expected.min(), expected.max()))
    figures = f"± {most}" if least == most else f"± {least} to ± {most}"
    return (
        f"Where the templates lie, picture and scale are good to {figures} in {LENGTH_TEXT[unit]}; the ± of an "
        "edge counts how it was cut as well."
    )
