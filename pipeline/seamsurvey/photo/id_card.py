"""An ID-1 card in a photo: bank, library or member card, whose size and rounded corners a standard fixes.

ISO/IEC 7810: 85.60 x 53.98 mm, 0.76 mm thick, corners rounded to a radius of 3.18 mm. A template is taken for none,
for a card cut by hand has no four corners of just this radius.
"""

import math
from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.photo.borders import Border, corners_between, measure_border, moved, steepest_step
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed
from seamsurvey.photo.quads import LONGEST_PX, MOST_SKEW, find_quads, lies_as, light_about, share_of

Floats = NDArray[np.float64]

WIDTH_MM, HEIGHT_MM, THICKNESS_MM, RADIUS_MM = 85.60, 53.98, 0.76, 3.18
# Of the playing card whose proportions are nearest, 2¼ × 3½ in: how much less long it is, as a logarithm.
LOG_PLAYING_CARD = math.log(WIDTH_MM / HEIGHT_MM * 2.25 / 3.5)
SIZE_TOLERANCE_MM = 0.13  # of the width, new; taken as one standard deviation, for cards are used
SCALE_SIGMA = SIZE_TOLERANCE_MM / WIDTH_MM
MARK_SIGMA_MM = 0.06  # of one edge, beyond what all have in common
# A tilted camera sees the card's upper rim on the far side, its lower rim on the near side.
HEIGHT_SIGMA_MM = THICKNESS_MM / 2

LEAST_PX_PER_MM = 3.0  # a corner's radius then has nine pixels and a half
ASPECT_TOLERANCE = 0.02  # before the camera is adjusted; `fitting.doubted_cards` then judges more closely
RADIUS_TOLERANCE_MM = 0.4  # a sharp corner lies 1.3 mm beyond the arc, one worn to 1 mm still 0.9 mm
LEAST_CLEAR = 0.75  # of each edge, and of each corner's arc
LEAST_SHARE, MOST_SHARE = 0.002, 0.4  # of the picture
_KEEP_OFF = 0.1  # of an edge at both ends: more than the rounding takes
_ARC_DEG = np.linspace(15.0, 75.0, 13)


@frozen(eq=False)
class FoundCard:
    """A card: what it tells of the camera, and its corners before rounding: (4, 2) px, counter-clockwise, y up."""

    observed: Observed
    outline_px: Floats = field(repr=False)
    text: str = "ID-1 card, 85.60 × 53.98 mm"


def find_id_cards(pixels: NDArray[Any], quads: Sequence[Floats] | None = None) -> list[FoundCard]:
    """Every ID-1 card in ``pixels`` ((h, w, 3) uint8 or uint16, sRGB-encoded) that lies whole and bare in view.

    The reference's own frame: mm, x along the long side, y across it, origin in a corner. ``quads`` are those of
    `quads.find_quads`, when they were found already.
    """
    size_px = (pixels.shape[1], pixels.shape[0])
    found: list[FoundCard] = []
    for quad in find_quads(pixels, LEAST_SHARE, MOST_SHARE) if quads is None else quads:
        if not LEAST_SHARE <= share_of(quad, size_px) <= MOST_SHARE:
            continue
        card = _measured(pixels, quad, size_px)
        if card is not None and not any(
            np.hypot(*(card.outline_px.mean(axis=0) - other.outline_px.mean(axis=0))) < 5 for other in found
        ):
            found.append(card)
    return found


def _measured(pixels: NDArray[Any], quad: Floats, size_px: tuple[int, int]) -> FoundCard | None:
    rough = _long_side_first(quad, size_px)
    if rough is None:
        return None
    reach = 4 * max(1.0, max(size_px) / LONGEST_PX)
    light, first = light_about(pixels, rough, 2 * reach)
    near = rough - first
    borders = []
    for k in range(4):
        border = measure_border(light, near[k], near[(k + 1) % 4], reach_px=reach, keep_off=_KEEP_OFF)
        if border is None or border.clear < LEAST_CLEAR:
            return None
        borders.append(moved(border, first))
    corners = corners_between([border.points for border in borders])
    own = np.array([[0, 0], [WIDTH_MM, 0], [WIDTH_MM, HEIGHT_MM], [0, HEIGHT_MM]])
    to_px = np.asarray(cv2.getPerspectiveTransform(own.astype(np.float32), corners.astype(np.float32)), dtype=float)
    to_part = np.array([[1, 0, -first[0]], [0, 1, -first[1]], [0, 0, 1]]) @ to_px
    if not _has_proportions(corners, size_px) or not all(_rounded(light, to_part, k) for k in range(4)):
        return None
    return FoundCard(_observed(borders, np.asarray(np.linalg.inv(to_px))), corners)


def _long_side_first(quad: Floats, size_px: tuple[int, int]) -> Floats | None:
    """The same corners, the first side a long one; None when it is too small or cannot have the proportions."""
    lengths = np.hypot(*(np.roll(quad, -1, axis=0) - quad).T)
    if lengths.sum() < LEAST_PX_PER_MM * 2 * (WIDTH_MM + HEIGHT_MM):
        return None
    for turned in (quad, np.roll(quad, -1, axis=0)):
        if _has_proportions(turned, size_px, roughness=5):
            return turned
    return None


def _has_proportions(corners: Floats, size_px: tuple[int, int], roughness: float = 1.0) -> bool:
    """Whether a phone can see the card so; ``roughness`` is how much worse the corners are known than measured."""
    wanted = WIDTH_MM / HEIGHT_MM
    return any(
        abs(lying.aspect / wanted - 1) <= roughness * ASPECT_TOLERANCE
        for lying in lies_as(corners, size_px, roughness * MOST_SKEW)
    )


def _rounded(light: NDArray[np.float32], to_px: Floats, corner: int) -> bool:
    """Whether the border goes round this corner on the standard's arc: seen from the arc's centre, one by one."""
    right, up = corner in (1, 2), corner in (2, 3)
    outward = np.array([1.0 if right else -1.0, 1.0 if up else -1.0])
    centre = np.array([WIDTH_MM * right, HEIGHT_MM * up]) - RADIUS_MM * outward
    away = np.column_stack([np.cos(np.radians(_ARC_DEG)), np.sin(np.radians(_ARC_DEG))]) * outward
    ends = _mapped(to_px, np.concatenate([centre + radius * away for radius in (2.0, 5.2)]))
    near, far = ends[: len(away)], ends[len(away) :]
    count = max(20, round(2 * float(np.hypot(*(far - near).T).mean())))
    share = np.linspace(-0.15, 1.15, count)  # the profile's ends go to the smoothing
    at = (near[:, None] + share[None, :, None] * (far - near)[:, None]).astype(np.float32)
    profiles = cv2.remap(light, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    length_px = float(np.hypot(*(far - near).T).mean())
    place, _ = steepest_step(np.asarray(profiles), share * length_px)
    radius = 2.0 + 3.2 * place / length_px
    return bool(np.mean(np.abs(radius - RADIUS_MM) <= RADIUS_TOLERANCE_MM) >= LEAST_CLEAR)


def _observed(borders: list[Border], rough: Floats) -> Observed:
    """Lower, right, upper, left edge: lines y = 0, x = width, y = height, x = 0."""
    counts = [len(border.points) for border in borders]
    return Observed(
        kind="card",
        points_px=np.concatenate([border.points for border in borders]),
        axis=np.repeat((ACROSS, ALONG, ACROSS, ALONG), counts),
        nominal_mm=np.repeat((0.0, WIDTH_MM, HEIGHT_MM, 0.0), counts),
        edge=np.full(sum(counts), KNOWN),
        mark=np.repeat(np.arange(4), counts),
        sigma_px=np.repeat([border.sigma_px for border in borders], counts),
        mark_sigma_mm=MARK_SIGMA_MM,
        scale_sigma=SCALE_SIGMA,
        height_mm=THICKNESS_MM,
        height_sigma_mm=HEIGHT_SIGMA_MM,
        rough=rough,
    )


def _mapped(homography: Floats, points: Floats) -> Floats:
    return np.asarray(cv2.perspectiveTransform(points[None].astype(float), homography)[0], dtype=float)
