"""Small operations on masks: (h, w) arrays of bool."""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_fill_holes

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


def disc(radius: float) -> NDArray[np.uint8]:
    """A round structuring element."""
    size = 2 * max(1, round(radius)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), dtype=np.uint8)


def closed(mask: Mask, radius: float) -> Mask:
    """The mask with gaps closed that are narrower than twice the radius."""
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, disc(radius)) > 0)


def opened(mask: Mask, radius: float) -> Mask:
    """The mask without what is narrower than twice the radius."""
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, disc(radius)) > 0)


def filled(mask: Mask) -> Mask:
    """The mask with its holes filled."""
    return np.asarray(binary_fill_holes(mask))


def contour_of(mask: Mask) -> Floats:
    """(n, 2) the outer contour of the mask's largest part, (x, y) in mask pixels."""
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(max(contours, key=len)[:, 0, :], dtype=float)


def half_width(mask: Mask) -> float:
    """The radius of the largest circle inside."""
    return float(cv2.distanceTransform(np.pad(mask, 1).astype(np.uint8), cv2.DIST_L2, 5).max())
