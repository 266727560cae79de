"""How far what was found in a photo can be trusted over the table, and what to add to the picture."""

import math

import numpy as np

from seamsurvey.camera import LOG_HEIGHT
from seamsurvey.errors import InputError
from seamsurvey.model import PhotoPlane, Picture
from seamsurvey.units import mm_text

REACH_MM = 100.0  # the length whose uncertainty is told
GRID = 9  # places across the picture
MODEST_MM = 0.5  # of REACH_MM, k = 2: worth a warning where templates may lie
# Of the picture's longer side that the ruler should take: with less, the uncertainty grows fast away from it.
LEAST_SHARE = 1 / 3
ALIKE = 1.1  # times the usual uncertainty: no difference worth telling
HOPELESS_MM = 3.0  # at the best place: nobody sews by that


def reach_warnings(picture: Picture, plane: PhotoPlane) -> list[str]:
    """What to say of the expected error over the picture; InputError ``reference-too-weak`` when it is hopeless."""
    x, y = (np.linspace(0.1, 0.9, GRID) * side for side in (picture.width, picture.height))
    places = plane.to_mm(np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2))
    places = places[np.all(np.isfinite(places), axis=1)]
    expected = plane.length_u(places, REACH_MM)
    if not len(expected) or float(expected.min()) > HOPELESS_MM:
        away = f"{math.exp(plane.theta[LOG_HEIGHT]):.0f} mm"
        raise InputError(
            "reference-too-weak",
            "What gives the photo its scale is too weak: 100 mm would be measured to "
            f"{mm_text(float(expected.min()) if len(expected) else np.inf)} at best.",
            where=picture.name,
            likely=f"As far as its lens is known, the camera was only some {away} away: so near, each millimetre "
            "by which a card lies higher or lower than the ruler's marks counts."
            if _of_heights(plane)
            else "Only a short piece of a ruler is in view, or it is far from the camera.",
            todo=_advice(plane),
        )
    worst = float(np.percentile(expected, 90))
    if worst <= MODEST_MM:
        return []
    usual = float(np.median(expected))
    where = "Anywhere in the picture" if worst < ALIKE * usual else "Over most of the picture"
    edges = "" if worst < ALIKE * usual else f", towards its edges only to ± {mm_text(worst, 2)}"
    return [f"{where} 100 mm can be measured to ± {mm_text(usual, 2)}{edges}. {_advice(plane)}"]


def _of_heights(plane: PhotoPlane) -> bool:
    """Whether most of the uncertainty, in the middle, is that of heights over the table."""
    middle = plane.to_mm(np.array([[plane.size_px[0] / 2, plane.size_px[1] / 2]]))
    slopes = plane.sensitivity(plane.to_px(middle + np.array([[50.0, 0.0]]))) - plane.sensitivity(
        plane.to_px(middle - np.array([[50.0, 0.0]]))
    )
    slope = slopes[0, 0]
    return bool(slope @ plane.of_heights @ slope > 0.5 * slope @ plane.covariance @ slope)


def _advice(plane: PhotoPlane) -> str:
    if _of_heights(plane):
        return (
            "Most of that comes from not knowing how thick card and ruler are: measure them, and run again with "
            "--thickness and --ruler-thickness."
        )
    if not any(reference.kind == "ruler" for reference in plane.references):
        return (
            "Most of that is what a mat, printed sheet or card may be off by: lay a ruler in as well, which is "
            "truer to its scale."
        )
    if _longest_share(plane) < LEAST_SHARE:
        return (
            f"The longest ruler takes only {_longest_share(plane):.0%} of the picture: go nearer, or lay in a "
            "longer one."
        )
    return (
        "Lay a second ruler at a right angle to the first, or the templates on a cutting mat or inside a printed "
        "target (seamsurvey target), and take the photo from straight above."
    )


def _longest_share(plane: PhotoPlane) -> float:
    """How much of the picture's longer side the longest ruler's marks take."""
    lengths = [
        float(np.hypot(*(reference.marks_px[-1] - reference.marks_px[0])))
        for reference in plane.references
        if reference.kind == "ruler" and len(reference.marks_px)
    ]
    return max(lengths, default=0.0) / max(plane.size_px)
