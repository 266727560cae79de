"""The verdict on one length, with guard bands, so that "right" is seldom said of what is not.

Guarded acceptance and guarded rejection of JCGM 106:2012, 8.3.2 and 8.3.3 (clauses from memory): a length is right
when it lies inside the tolerance by a guard band w, off when it lies outside by w, and what is between is not told.
With w = z u, where z is the (1 - risk) point of the normal distribution and u the standard uncertainty, the chance
that a length called right is out of tolerance is at most the risk, and so is that of a false "off".
"""

from scipy.special import ndtri

from seamsurvey.check_model import CANT_TELL, OFF, RIGHT
from seamsurvey.plane import ACROSS, ALONG, CAMERA, COVERAGE, THICKNESS
from seamsurvey.units import mm_text

TOLERANCE_MM = 0.4  # 1/64 in: a quarter of a ruler's finest common division; common practice, no source
RISK = 0.05

_CHANGES = {
    ALONG: "lay a longer ruler beside it, or give the checked length of this one with --ruler-length",
    ACROSS: "lay a second ruler at a right angle to the first, or scan the set once more, turned by 90°",
    CAMERA: "hold the camera straight above, the ruler close beside the templates; or scan them",
    THICKNESS: "say how thick the card and the ruler are: --thickness, --ruler-thickness",
    "edge fit": "lay it flat on a plain ground of another colour, in even light, or scan it",
    "edge bias": "go nearer, so that the templates fill the picture, or scan at 300 dpi or more",
}
_OTHERWISE = "scan the templates with a ruler beside them at 300 dpi or more"


def verdict_on(off_mm: float, u_mm: float, *, tolerance_mm: float, risk: float) -> str:
    """What can be said of a length that is off by ``off_mm`` ± ``u_mm`` (expanded, k = 2)."""
    guard = guard_mm(u_mm, risk)
    if abs(off_mm) + guard <= tolerance_mm:
        return RIGHT
    return OFF if abs(off_mm) - guard > tolerance_mm else CANT_TELL


def guard_mm(u_mm: float, risk: float) -> float:
    """The guard band, mm, for an expanded uncertainty (k = 2) and a risk between 0 and 1/2."""
    return float(ndtri(1 - risk)) * u_mm / COVERAGE


def what_to_change(dominant_term: str, u_mm: float, *, tolerance_mm: float, risk: float) -> str:
    """Why nothing can be told, and what would help; ``dominant_term`` is the largest of the length's budget."""
    if guard_mm(u_mm, risk) < tolerance_mm / 2:
        return f"so near the limit of ± {mm_text(tolerance_mm, 2)} that this photo can't say on which side it lies"
    change = _CHANGES.get(dominant_term, _OTHERWISE)
    return f"known only to ± {mm_text(u_mm, 2)}, mostly for the {dominant_term}: {change}"
