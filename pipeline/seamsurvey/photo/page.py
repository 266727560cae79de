"""A plain sheet of paper in a photo: its straight edges tell how the table is tilted, and nothing of its scale.

Paper is cut square far better than to size (ISO 216 allows 2 mm a side), and A4 and Letter differ by less than a
tilt does; so its opposite edges count as parallel, its neighbouring edges as square, and its size as unknown.
"""

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.light import LUMINANCE
from seamsurvey.photo.borders import Border, corners_between, measure_border, moved
from seamsurvey.photo.observed import ACROSS, ALONG, Observed
from seamsurvey.photo.quads import LONGEST_PX, find_quads, lies_as, light_about, share_of
from seamsurvey.units import PAPERS

Floats = NDArray[np.float64]

LEAST_SHARE = 0.25  # of the picture: a template is rarely so large
MOST_SHARE = 0.95
LEAST_CLEAR = 0.6  # of each edge: templates and hands may cover the rest
ASPECT_TOLERANCE = 0.03  # in proportion to A4's or Letter's: rough corners, and the lens
LIGHTER = 1.25  # than the ground outside, in linear light, along every edge
MARK_SIGMA_MM = 0.2  # how straight and square paper is cut; common practice, no source
FLAT_SIGMA_MM = 0.3
_BESIDE_PX = 6.0
_KEEP_OFF = 0.04


@frozen(eq=False)
class FoundPage:
    """A sheet: what it tells of the camera, and its corners, (4, 2) image px, counter-clockwise with y up."""

    observed: Observed
    outline_px: Floats = field(repr=False)
    text: str = "sheet of paper"


def find_pages(pixels: NDArray[Any], quads: Sequence[Floats] | None = None) -> list[FoundPage]:
    """The one sheet that fills a good part of the picture ((h, w, 3) uint8 or uint16, sRGB-encoded), or none.

    It must be lighter than the ground, have four long straight edges in view, and the proportions of A4 or Letter.
    ``quads`` are those of `quads.find_quads`, when they were found already.
    """
    size_px = (pixels.shape[1], pixels.shape[0])
    found = []
    for quad in find_quads(pixels, LEAST_SHARE, MOST_SHARE) if quads is None else quads:
        if not LEAST_SHARE <= share_of(quad, size_px) <= MOST_SHARE:
            continue
        page = _measured(pixels, quad, size_px)
        if page is not None:
            found.append(page)
    # Several would be one sheet and its shadow, or the table: none of them is sure.
    return found if len(found) == 1 else []


def _measured(pixels: NDArray[Any], quad: Floats, size_px: tuple[int, int]) -> FoundPage | None:
    if np.any(quad < _BESIDE_PX) or np.any(quad > np.array(size_px) - 1 - _BESIDE_PX):
        return None  # an edge on the picture's own border is no edge
    reach = 5 * max(1.0, max(size_px) / LONGEST_PX)
    light, first = light_about(pixels, quad, 2 * reach)
    near = quad - first
    borders = []
    for k in range(4):
        border = measure_border(light, near[k], near[(k + 1) % 4], reach_px=reach, keep_off=_KEEP_OFF)
        if border is None or border.clear < LEAST_CLEAR or not _lighter_inside(light, border, near.mean(axis=0)):
            return None
        borders.append(moved(border, first))
    corners = corners_between(borders)
    paper = _proportions(corners, size_px)
    if paper is None:
        return None
    if paper[0] < paper[1]:  # its longer side is made the first
        corners, borders, paper = np.roll(corners, -1, axis=0), borders[1:] + borders[:1], paper[::-1]
    width, height = paper
    own = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float32)
    rough = cv2.getPerspectiveTransform(corners.astype(np.float32), own)
    return FoundPage(_observed(borders, width, height, np.asarray(rough, dtype=float)), corners)


def _lighter_inside(light: NDArray[np.float32], border: Border, centre: Floats) -> bool:
    """Whether paper lies on the inner side: lighter, all along the border."""
    inward = centre - border.points.mean(axis=0)
    along = border.points[-1] - border.points[0]
    normal = np.array([-along[1], along[0]]) / np.hypot(*along)
    normal *= np.sign(normal @ inward)
    sides = []
    for way in (1, -1):
        at = (border.points + way * _BESIDE_PX * normal).astype(np.float32)
        seen = cv2.remap(light, at[None, :, 0], at[None, :, 1], cv2.INTER_LINEAR)[0]
        sides.append(seen @ LUMINANCE)
    return bool(np.mean(sides[0] > LIGHTER * sides[1]) >= LEAST_CLEAR)


def _proportions(corners: Floats, size_px: tuple[int, int]) -> tuple[float, float] | None:
    """Width and height, mm, of the paper whose proportions the corners can have: the first side's, the second's."""
    best, least = None, ASPECT_TOLERANCE
    for lying in lies_as(corners, size_px):
        for short, long in PAPERS.values():
            for sides in ((long, short), (short, long)):
                off = abs(lying.aspect / (sides[0] / sides[1]) - 1)
                if off < least:
                    best, least = sides, off
    return best


def _observed(borders: list[Border], width: float, height: float, rough: Floats) -> Observed:
    """Lower, right, upper, left edge: lines y = 0, x = width, y = height, x = 0, each plus an unknown offset."""
    axes, places = (ACROSS, ALONG, ACROSS, ALONG), (0.0, width, height, 0.0)
    counts = [len(border.points) for border in borders]
    total = sum(counts)
    return Observed(
        kind="page",
        points_px=np.concatenate([border.points for border in borders]),
        axis=np.repeat(axes, counts),
        nominal_mm=np.repeat(places, counts),
        edge=np.repeat(np.arange(4), counts),
        mark=np.arange(total),  # a wavering cut: what one point has of it, the next has not
        sigma_px=np.repeat([border.sigma_px for border in borders], counts),
        mark_sigma_mm=MARK_SIGMA_MM,
        scale_sigma=float("inf"),
        height_mm=0.0,
        height_sigma_mm=FLAT_SIGMA_MM,
        rough=rough,
    )
