"""Four-sided things in a photo, roughly; and whether such a thing can be a rectangle lying on the table."""

from typing import Any

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.light import linear_channels

Floats = NDArray[np.float64]

LONGEST_PX = 1000  # of the reduced picture: a card of a tenth of its width still has 100 px
_LEAST_FILL = 0.80  # of its hull: templates may bite into a sheet's border, a printed card has holes
_SIDES = 4
_LEAST_SINE = 0.2  # of the angle between neighbouring sides
# Focal lengths of phones, in longest sides of the picture: 20 to 120 mm, 35 mm equivalent.
_FOCALS = np.geomspace(0.55, 3.4, 24)
MOST_SKEW = 0.03  # cosine of the angle between two sides: the lens bends lines by as much
_MOST_TILT_DEG = 50.0


@frozen
class Lying:
    """How a quadrilateral would lie as a rectangle: ``aspect`` is its first side over its second."""

    focal_px: float
    aspect: float
    tilt_deg: float


def find_quads(pixels: NDArray[Any], least_share: float, most_share: float) -> list[Floats]:
    """Every quadrilateral whose share of the picture is within the limits: (4, 2) image px, right to some pixels.

    ``pixels`` is (h, w, 3) uint8 or uint16, sRGB-encoded. Corners run so that they are counter-clockwise with y up.
    """
    reduction = max(1.0, max(pixels.shape[:2]) / LONGEST_PX)
    size = (round(pixels.shape[1] / reduction), round(pixels.shape[0] / reduction))
    # Reduced as encoded, for only borders are measured, in linear light; in 16 bits, for the mean of many pixels
    # tells a card from its ground in the shadow by less than one of 256 levels.
    fine = pixels if pixels.dtype == np.uint16 else pixels.astype(np.uint16) * np.uint16(257)
    small = linear_channels(np.asarray(cv2.resize(fine, size, interpolation=cv2.INTER_AREA)))
    stretch = np.array(pixels.shape[1::-1]) / np.array(size)
    lab = np.asarray(cv2.cvtColor(np.sqrt(small), cv2.COLOR_RGB2LAB), dtype=np.float32)
    found: list[Floats] = []
    for mask in (*_plain_parts(lab), _framed_parts(lab)):
        contours, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        for contour in contours:
            share = cv2.contourArea(contour) / mask.size
            if not least_share <= share <= most_share:
                continue
            quad = _four_corners(np.asarray(contour, dtype=np.int32))
            if quad is not None and not _is_among(quad, found):
                found.append(quad)
    return [(quad + 0.5) * stretch - 0.5 for quad in found]


def share_of(quad: Floats, size_px: tuple[int, int]) -> float:
    """How much of the picture a quadrilateral takes."""
    return float(cv2.contourArea(quad.astype(np.float32)) / (size_px[0] * size_px[1]))


def light_about(pixels: NDArray[Any], quad: Floats, margin_px: float) -> tuple[NDArray[np.float32], Floats]:
    """(h, w, 3) linear light of the picture's part round a quadrilateral, and (2,) where its first pixel lies."""
    size = np.array(pixels.shape[1::-1])
    low = np.clip(np.floor(quad.min(axis=0) - margin_px).astype(int), 0, size - 1)
    high = np.clip(np.ceil(quad.max(axis=0) + margin_px).astype(int) + 1, low + 1, size)
    return linear_channels(pixels[low[1] : high[1], low[0] : high[0]]), low.astype(float)


def _plain_parts(lab: NDArray[np.float32]) -> list[NDArray[np.uint8]]:
    """Masks of what is lighter, and what is darker, than a threshold in each channel (N. Otsu, 1979)."""
    masks = []
    for channel in cv2.split(lab):
        low, high = float(channel.min()), float(channel.max())
        if high - low < 6:  # of the hundred units of L*
            continue
        levels = np.round((channel - low) * (255 / (high - low))).astype(np.uint8)
        middle = cv2.threshold(levels, 0, 255, cv2.THRESH_OTSU)[0]
        upper = cv2.threshold(levels[levels > middle].reshape(1, -1), 0, 255, cv2.THRESH_OTSU)[0]
        lower = cv2.threshold(levels[levels <= middle].reshape(1, -1), 0, 255, cv2.THRESH_OTSU)[0]
        for threshold in (lower, middle, upper):
            lighter = np.where(levels > threshold, 255, 0).astype(np.uint8)
            masks += [_opened(lighter), _opened(255 - lighter)]
    return masks


def _opened(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Without specks, and without what touches the rest by a thread."""
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8)), dtype=np.uint8)


def _framed_parts(lab: NDArray[np.float32]) -> NDArray[np.uint8]:
    """A mask of what sharp edges surround."""
    soft = cv2.GaussianBlur(lab, (0, 0), 1.2)
    slopes = [np.hypot(cv2.Sobel(c, cv2.CV_32F, 1, 0), cv2.Sobel(c, cv2.CV_32F, 0, 1)) for c in cv2.split(soft)]
    steep = np.max(slopes, axis=0)
    limit = max(4.0, 3 * float(np.median(steep)))
    return np.where(steep > limit, 0, 255).astype(np.uint8)


def _four_corners(contour: NDArray[np.int32]) -> Floats | None:
    """The quadrilateral that a contour nearly is; None when it is another shape."""
    hull = cv2.convexHull(contour)
    if cv2.contourArea(contour) < _LEAST_FILL * cv2.contourArea(hull):
        return None
    length = cv2.arcLength(hull, closed=True)
    for share in (0.02, 0.03, 0.04, 0.06):
        corners = cv2.approxPolyDP(hull, share * length, closed=True).reshape(-1, 2).astype(float)
        if len(corners) == _SIDES:
            area = cv2.contourArea(corners.astype(np.float32), oriented=True)
            # Positive is clockwise as y runs down: turned about, it is counter-clockwise with y up.
            return _between_sides(contour.reshape(-1, 2), corners[::-1] if area > 0 else corners)
        if len(corners) < _SIDES:
            return None
    return None


def _between_sides(outline: NDArray[np.int32], corners: Floats) -> Floats | None:
    """Where the lines through the sides' middle parts meet: rounded or worn corners leave them alone."""
    lines = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = float(np.hypot(*(end - start)))
        along = (end - start) / length
        off = outline - start
        place, beside = off @ along, off @ np.array([-along[1], along[0]])
        near = (np.abs(place / length - 0.5) < 0.35) & (np.abs(beside) < 0.04 * length + 2)
        if near.sum() < 8:
            return None
        # Huber's estimate: what bites into the border counts less.
        line = cv2.fitLine(outline[near].astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01)
        lines.append(np.asarray(line, dtype=float).reshape(2, 2))
    normals = np.array([[-way[1], way[0]] for way, _ in lines])
    places = np.array([normal @ point for normal, (_, point) in zip(normals, lines, strict=True)])
    pairs = [[k - 1, k] for k in range(_SIDES)]
    if any(abs(np.linalg.det(normals[pair])) < _LEAST_SINE for pair in pairs):
        return None
    return np.array([np.linalg.solve(normals[pair], places[pair]) for pair in pairs])


def _is_among(quad: Floats, found: list[Floats]) -> bool:
    """Whether a quadrilateral is one of those found, or nearly, from whichever corner it is told."""
    if not found:
        return False
    limit = 0.02 * float(np.hypot(*(quad.max(axis=0) - quad.min(axis=0))))
    turned = np.stack([np.roll(quad, k, axis=0) for k in range(_SIDES)])
    apart = np.abs(np.stack(found)[:, None] - turned)
    return bool(np.any(apart.max(axis=(2, 3)) < limit))


def lies_as(quad: Floats, size_px: tuple[int, int], most_skew: float = MOST_SKEW) -> list[Lying]:
    """How a quadrilateral ((4, 2) image px) can be a rectangle seen by a phone: one answer for each focal length.

    The images of two sides' directions, taken back through the lens, are square to one another on a rectangle, and
    their lengths have its proportions (Z. Zhang, L. He, Whiteboard scanning and image enhancement, Digital Signal
    Processing 17, 2007). Straight from above every focal length serves.
    """
    middle = (np.array(size_px) - 1) / 2
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    homography = np.asarray(cv2.getPerspectiveTransform(square, (quad - middle).astype(np.float32)), dtype=float)
    result = []
    for focal in _FOCALS * max(size_px):
        first, second = (homography[:, k] / [focal, focal, 1.0] for k in (0, 1))
        lengths = np.linalg.norm(first), np.linalg.norm(second)
        normal = np.cross(first, second)
        tilt = np.degrees(np.arccos(min(1.0, abs(normal[2]) / float(np.linalg.norm(normal)))))
        if abs(first @ second) <= most_skew * lengths[0] * lengths[1] and tilt <= _MOST_TILT_DEG:
            result.append(Lying(float(focal), float(lengths[0] / lengths[1]), float(tilt)))
    return result
