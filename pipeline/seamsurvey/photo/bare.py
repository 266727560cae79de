"""A picture whose scale nobody wants to know, or can: shapes and ratios, as if it was taken straight from above."""

import numpy as np

from seamsurvey.model import Picture, ScanPlane
from seamsurvey.plane import BARE, STAND_IN_MM

SHAPES_ALONE = "For shapes and ratios alone, in pixels: --reference none."  # what to say where no scale is found
WARNING = (
    "No reference was wanted, so nothing gives a scale: lengths are pixels, and shapes are as if the picture was "
    "taken straight from above. A camera that leaned changes ratios of lengths by a percent for each few degrees."
)


def bare_plane(picture: Picture) -> ScanPlane:
    """A plane without a scale: ``kind`` "bare", its millimetres stand-ins, its parameters taken as exact."""
    step = STAND_IN_MM / max(picture.width, picture.height)
    return ScanPlane(
        kind=BARE,
        matrix=np.array([[step, 0.0, step / 2], [0.0, -step, (picture.height - 0.5) * step]]),
        covariance=np.zeros((6, 6)),
        axis=np.array([1.0, 0.0]),
        warnings=(WARNING,),
    )
