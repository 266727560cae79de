"""What is known of a picture's focal length beforehand: what its file says, or what phones usually have."""

import math

from seamsurvey.photo.exif import FULL_FRAME_DIAGONAL_MM

# A phone's main lens, as 35 mm equivalent: 24 to 28 mm (common practice, no source); used where the file is silent.
USUAL_FOCAL_35MM = 26.0
# One standard deviation of ln f (common practice, no source).
FOCAL_SIGMA = 0.03  # EXIF rounds 26.4 to 26 mm, and the lens moves as it focuses on a near table
UNKNOWN_FOCAL_SIGMA = 0.25  # 24 to 52 mm equivalent
CUT_SHARE = 1 / 3  # of the whole picture's width is what a cut one shows at least (common practice, no source)


def usual_focal_px(size_px: tuple[int, int]) -> float:
    """Px, for a picture of (width, height) px whose file says nothing."""
    return USUAL_FOCAL_35MM / FULL_FRAME_DIAGONAL_MM * math.hypot(*size_px)


def focal_prior(size_px: tuple[int, int], stated_px: float | None, *, cut: bool = False) -> tuple[float, float]:
    """Px, and one standard deviation of its logarithm; ``stated_px`` is what the file says.

    A picture ``cut`` out of another shows less than its lens did: any share from ``CUT_SHARE`` to all is as likely
    as its double (of an even distribution, JCGM 100:2008, 4.3.7).
    """
    if stated_px is not None:
        return stated_px, FOCAL_SIGMA
    usual = usual_focal_px(size_px)
    if not cut:
        return usual, UNKNOWN_FOCAL_SIGMA
    return usual / math.sqrt(CUT_SHARE), math.hypot(UNKNOWN_FOCAL_SIGMA, math.log(CUT_SHARE) / math.sqrt(12))
