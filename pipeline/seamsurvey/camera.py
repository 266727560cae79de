"""A camera over a flat table: from pixels to millimetres on the table, and back.

Frames: *image* = px, x right, y down, a pixel's centre is the integer; *camera* = mm, x right, y down, z into the
picture, origin in the centre of projection; *plane* = mm on the table, x right (the image's x as it lies on the
table), y up, origin where the middle of the picture lies on the table.

The lens follows the division model (A. W. Fitzgibbon, Simultaneous linear estimation of multiple view geometry and
lens distortion, CVPR 2001), with a second term: undistorted = centre + (point − centre) / (1 + k1 r² + k2 r⁴), r in
units of half the picture's diagonal. It leads from the picture to the table in closed form, which is the direction
a measurement goes.
"""

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PARAMETERS = ("log focal", "centre x", "centre y", "k1", "k2", "tilt x", "tilt y", "log height")
LOG_FOCAL, CENTRE_X, CENTRE_Y, K1, K2, TILT_X, TILT_Y, LOG_HEIGHT = range(8)


def parameters(
    focal_px: float,
    height_mm: float,
    tilt: tuple[float, float] = (0.0, 0.0),
    centre: tuple[float, float] = (0.0, 0.0),
    *,
    k1: float = 0.0,
    k2: float = 0.0,
) -> Array:
    """(8,) parameters from a focal length, the camera's height over the table, its tilt, and the lens.

    ``tilt`` is the rotation (rad, about the image's x and y) that takes the optical axis to the table's normal;
    ``centre`` is px from the picture's middle.
    """
    return np.array([math.log(focal_px), *centre, k1, k2, *tilt, math.log(height_mm)])


def half_diagonal(size_px: tuple[int, int]) -> float:
    """Half the picture's diagonal, px: the unit of r in the lens model."""
    return math.hypot(*size_px) / 2


def middle(size_px: tuple[int, int]) -> Array:
    """(2,) the picture's middle, px."""
    return (np.array(size_px) - 1) / 2


def table_axes(theta: Array) -> Array:
    """(3, 3) rows: the plane's x, its y, and the direction straight down to the table, camera frame."""
    angle = math.hypot(theta[TILT_X], theta[TILT_Y])
    share = np.sinc(angle / np.pi)  # sin(angle) / angle
    x, y, z = float(theta[TILT_Y] * share), float(-theta[TILT_X] * share), math.cos(angle)  # down
    across = math.hypot(y, z)  # right: the image's x, made square to down; up: right × down
    return np.array([[across, -x * y / across, -x * z / across], [0.0, -z / across, y / across], [x, y, z]])


def straightened(theta: Array, points_px: Array, size_px: tuple[int, int]) -> Array:
    """(n, 2) px: image points as a lens without distortion would show them."""
    centre = middle(size_px) + theta[[CENTRE_X, CENTRE_Y]]
    off = points_px - centre
    r2 = np.sum(off**2, axis=1) / half_diagonal(size_px) ** 2
    return np.asarray(centre + off / (1 + r2 * (theta[K1] + r2 * theta[K2]))[:, None])


def bent(theta: Array, points_px: Array, size_px: tuple[int, int]) -> Array:
    """(n, 2) px: undo :func:`straightened`, by Newton's method on the radius.

    A point so far outside that the lens shows it nowhere gives nan.
    """
    centre = middle(size_px) + theta[[CENTRE_X, CENTRE_Y]]
    off = points_px - centre
    wanted = np.hypot(*off.T) / half_diagonal(size_px)
    r = wanted.copy()
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        for _ in range(20):
            r2 = r * r
            denominator = 1 + r2 * (theta[K1] + r2 * theta[K2])
            slope = (denominator - r2 * (2 * theta[K1] + 4 * r2 * theta[K2])) / denominator**2
            step = (r / denominator - wanted) / slope
            r -= step
            if np.all(np.abs(step) < _SETTLED):  # not where some are nan
                break
    stretch = np.divide(r, wanted, out=np.ones_like(r), where=wanted > 0)
    return np.asarray(centre + off * stretch[:, None])


def to_table(theta: Array, points_px: Array, size_px: tuple[int, int], above_mm: float = 0.0) -> Array:
    """(n, 2) mm, plane frame: where image points lie on a plane ``above_mm`` over the table.

    A point at or above the horizon gives nan.
    """
    seen = _from_foot(theta, points_px, size_px, above_mm)
    return np.asarray(seen - _from_foot(theta, middle(size_px)[None], size_px, 0.0))


def to_image(theta: Array, points_mm: Array, size_px: tuple[int, int], above_mm: float = 0.0) -> Array:
    """(n, 2) px: where points of a plane ``above_mm`` over the table (plane frame, mm) lie in the picture."""
    from_foot = points_mm + _from_foot(theta, middle(size_px)[None], size_px, 0.0)
    depth = np.full(len(points_mm), math.exp(theta[LOG_HEIGHT]) - above_mm)
    points = np.column_stack([from_foot, depth]) @ table_axes(theta)
    centre = middle(size_px) + theta[[CENTRE_X, CENTRE_Y]]
    flat = centre + math.exp(theta[LOG_FOCAL]) * points[:, :2] / points[:, 2:]
    return bent(theta, flat, size_px)


def _from_foot(theta: Array, points_px: Array, size_px: tuple[int, int], above_mm: float) -> Array:
    """(n, 2) mm along the plane's axes, from the foot of the perpendicular from the camera."""
    centre = middle(size_px) + theta[[CENTRE_X, CENTRE_Y]]
    flat = (straightened(theta, points_px, size_px) - centre) / math.exp(theta[LOG_FOCAL])
    rays = np.column_stack([flat, np.ones(len(flat))])
    along = rays @ table_axes(theta).T
    depth = np.where(along[:, 2] > 0, along[:, 2], np.nan)
    return np.asarray(along[:, :2] * ((math.exp(theta[LOG_HEIGHT]) - above_mm) / depth)[:, None])


_SETTLED = 1e-13  # of half the diagonal: Newton's method has found a radius to all but the last digits
# Central differences: the cube root of the floats' precision, in units of each parameter's natural size.
STEPS = np.array([1e-5, 1e-2, 1e-2, 1e-5, 1e-5, 1e-5, 1e-5, 1e-5])


def sensitivity(theta: Array, points_px: Array, size_px: tuple[int, int], above_mm: float = 0.0) -> Array:
    """(n, 2, 8): how the table points of image points move with the parameters."""
    result = np.empty((len(points_px), 2, len(theta)))
    for k, step in enumerate(STEPS):
        move = np.zeros(len(theta))
        move[k] = step
        ahead = to_table(theta + move, points_px, size_px, above_mm)
        behind = to_table(theta - move, points_px, size_px, above_mm)
        result[:, :, k] = (ahead - behind) / (2 * step)
    return result
