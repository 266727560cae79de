"""The plane of a scan by the resolution that its file states: a prior with its doubt, and nothing measured."""

import numpy as np

from seamsurvey.errors import InputError
from seamsurvey.model import Picture, ScanPlane
from seamsurvey.photo.scanner import AXES_SIGMA, SHEAR_SIGMA
from seamsurvey.units import INCH

# Raw flatbed scans are off by 0.1 to 0.6 % locally (ACRS 1997): one standard deviation of the whole scale.
STATED_SIGMA = 0.003
LEAST_DPI = 100.0  # 72 and 96 are what programs write that know nothing of a scanner


def states_resolution(picture: Picture) -> bool:
    """Whether the file says at how many dots per inch a scanner took the picture."""
    return picture.dpi is not None and min(picture.dpi) >= LEAST_DPI and picture.camera is None


def by_resolution(picture: Picture) -> str:
    """What to do of a scan without a ruler whose file states its resolution; "" of another picture."""
    if picture.dpi is None or not states_resolution(picture):
        return ""
    return (
        f"Or take the scale from the {picture.dpi[0]:.0f} dpi that the file states, good to half a percent or so "
        "if the file is as the scanner wrote it: --reference resolution."
    )


def stated_plane(picture: Picture) -> ScanPlane:
    """The plane of the glass, origin at the picture's lower left corner; InputError ``no-resolution``."""
    if picture.dpi is None or not states_resolution(picture):
        said = "nothing of a resolution" if picture.dpi is None else f"{picture.dpi[0]:.0f} dpi"
        raise InputError(
            "no-resolution",
            f"The picture's file says {said}, which is not a scanner's resolution.",
            where=picture.name,
            likely="A camera took it, or a program wrote the file anew: 72 and 96 dpi are what programs put there.",
            todo="Scan at 300 dpi and use the file as the scanner writes it, or lay a ruler on the glass.",
        )
    x, y = (INCH / dpi for dpi in picture.dpi)
    matrix = np.array([[x, 0.0, x / 2], [0.0, -y, y * (picture.height - 0.5)]])
    along, across = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    moves = np.column_stack(
        [
            (np.eye(2) @ matrix).ravel() * STATED_SIGMA,
            (np.outer(across, across) @ matrix).ravel() * AXES_SIGMA,
            (np.outer(along, across) @ matrix).ravel() * SHEAR_SIGMA,
        ]
    )
    return ScanPlane(
        matrix=matrix,
        covariance=moves @ moves.T,
        axis=along,
        warnings=(
            f"No ruler was used: the scale is the {picture.dpi[0]:.0f} dpi that the file states, which scanners"
            " keep to half a percent or so, and which is wrong altogether if the picture was resized.",
        ),
    )
