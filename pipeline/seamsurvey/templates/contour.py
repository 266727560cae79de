"""From a card's rough outline to points on its edge, to a fraction of a pixel.

Only used to find out which edges there are; ``edges`` then measures each of them.
"""

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.light import LUMINANCE, linear_channels
from seamsurvey.model import PhotoPlane, Picture, Plane

Floats = NDArray[np.float64]

SPACING_MM = 0.5  # the eye's outline is good to no less
_MOST_POINTS = 640  # of an outline longer than 320 mm they lie farther apart
_REACH_MM = 1.6  # the rough outline is right to about 0.3 mm, except where a shadow has the card's own colour
# How much farther out, and over how much to both sides along the edge a profile is the mean (mm); not where so
# large a share of the points was clear before. On a ground with a grain the rough outline may lie farther inside;
# in deep shade a camera's noise hides what is averaged over less.
_LOOKS = ((0.0, 1.0, 1.0), (0.8, 1.0, 0.5), (0.0, 3.0, 0.8))  # the last at photos alone
_ALONG_STEP_PX = 2.0  # more values along the edge than this hardly differ in their noise
_TANGENT_MM = 2.0  # the direction of the edge is taken over this much to both sides
_LEAST_SIGMAS = 5.0  # a step must stand out from the card's own texture by this
# Linear light by which a card's colour must differ from a grey of the ground's tint. Below it the coarse, rounded
# colour of a JPEG says more of its own blocks than of the edge: chipboard on white (0.025) is seen 2 px off, cream
# (0.10) and blue (0.23) within 0.3 px.
_LEAST_COLOUR = 0.05
_CLEAR_COLOUR = 3.0  # and how many times the colour's scatter that must be
_CARD_SHARE = 0.65  # of the card's colour: its side shows it in shade, at about half the light
_FIRST_STEP = 0.4  # from inside, the first step of at least this share of the steepest is the card's edge


@frozen
class Crop:
    """A part of a picture in linear light.

    ``light`` (h, w, 3) float32; its pixel (0, 0) is the picture's pixel ``corner`` (x, y).
    """

    light: NDArray[np.float32] = field(eq=False, repr=False)
    corner: tuple[int, int]

    def places(self, at: Floats, plane: Plane) -> Floats:
        """(..., 2) of its pixels (x, y) from plane mm."""
        return np.asarray((plane.to_px(at.reshape(-1, 2)) - np.array(self.corner)).reshape(at.shape))

    def luminance(self) -> NDArray[np.float32]:
        """(h, w) relative luminance."""
        return np.asarray(self.light @ LUMINANCE.astype(np.float32))


def sampled(values: NDArray[np.float32], at: Floats) -> Floats:
    """(...) or (..., c): what a picture has at (..., 2) its pixels (x, y), between them."""
    grid = at.astype(np.float32).reshape(len(at), -1, 2)
    found = cv2.remap(values, grid[..., 0], grid[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(found, dtype=float).reshape(*at.shape[:-1], *values.shape[2:])


def crop_around(picture: Picture, points_px: Floats, margin_px: float) -> Crop:
    """The smallest part of the picture that holds the points with a margin, in linear light."""
    low = np.maximum(np.floor(points_px.min(axis=0) - margin_px).astype(int), 0)
    high = np.minimum(np.ceil(points_px.max(axis=0) + margin_px).astype(int) + 1, (picture.width, picture.height))
    return Crop(linear_channels(picture.pixels[low[1] : high[1], low[0] : high[0]]), (int(low[0]), int(low[1])))


def boundary_points(crop: Crop, contour: Floats, plane: Plane) -> Floats:
    """(n, 2) image pixels on the card's edge, in the contour's order, where the edge could be told.

    ``contour`` is (m, 2) image pixels, counter-clockwise in the plane frame, right to within 1.5 mm.
    """
    px_per_mm = 1 / float(plane.mm_per_px_at(contour.mean(axis=0)[None])[0])
    starts, outward = stations(contour, px_per_mm)
    across = np.arange(-_REACH_MM * px_per_mm, _REACH_MM * px_per_mm + 0.25, 0.5)
    best, most = contour[:0], -1
    for farther_mm, along_mm, enough in _LOOKS if isinstance(plane, PhotoPlane) else _LOOKS[:2]:
        if most > enough * len(starts):
            continue
        here = starts + outward * farther_mm * px_per_mm
        profiles = _profiles(crop, here, outward, across, along_mm * px_per_mm)
        offset, clear = _by_colour(profiles, across) or _first_step(profiles, across)
        if clear.sum() > most:
            best, most = (here + outward * offset[:, None])[clear], int(clear.sum())
    return best


def stations(contour: Floats, px_per_mm: float) -> tuple[Floats, Floats]:
    """Evenly spaced points along the smoothed contour, and the outward normal at each."""
    closed = np.vstack([contour, contour[:1]])
    run = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = int(min(_MOST_POINTS, run[-1] / (SPACING_MM * px_per_mm)))
    at = np.arange(count) * run[-1] / count
    points = np.column_stack([np.interp(at, run, closed[:, k]) for k in range(2)])
    reach = max(2, round(_TANGENT_MM * px_per_mm * count / run[-1]))
    kernel = np.arange(-reach, reach + 1, dtype=float)
    wrapped = np.vstack([points[-reach:], points, points[:reach]])
    slope = np.column_stack([np.convolve(wrapped[:, k], -kernel, mode="valid") for k in range(2)])
    tangent = slope / np.hypot(slope[:, 0], slope[:, 1])[:, None]
    # Counter-clockwise with y up is clockwise with y down: outward is to the left of the way in the image.
    return points, np.column_stack([-tangent[:, 1], tangent[:, 0]])


def _profiles(crop: Crop, starts: Floats, outward: Floats, across: Floats, reach_px: float) -> Floats:
    """(n, len(across), 3): linear light across the edge, averaged along it, so far to both sides."""
    along = np.column_stack([outward[:, 1], -outward[:, 0]])
    total = np.zeros((len(starts), len(across), 3))
    shifts = np.linspace(-reach_px, reach_px, max(7, round(reach_px / _ALONG_STEP_PX)))
    for shift in shifts:
        at = (starts + along * shift - np.array(crop.corner))[:, None, :] + outward[:, None, :] * across[:, None]
        total += sampled(crop.light, at)
    return total / len(shifts)


def shadow_blind(card: Floats, ground: Floats) -> Floats | None:
    """(3,) the mixture of the channels that is 0 on the ground in whatever shade, and 1 on the card.

    From (n, 3) samples of both in linear light. None where the card's colour does not stand out from the ground's:
    a neutral shadow scales the ground's light, and only a colour of its own tells a card from every shade of it.
    """
    if len(card) < 10 or len(ground) < 10:
        return None
    grey: Floats = np.median(ground, axis=0)
    grey = grey / (np.linalg.norm(grey) + 1e-9)
    own: Floats = np.median(card, axis=0)
    own = own - grey * float(grey @ own)
    size = float(np.linalg.norm(own))
    if size < _LEAST_COLOUR:
        return None
    mixture = own / size**2
    if float(np.std(card @ mixture)) + float(np.std(ground @ mixture)) > 1 / _CLEAR_COLOUR:
        return None
    return np.asarray(mixture)


def _by_colour(profiles: Floats, across: Floats) -> tuple[Floats, NDArray[np.bool_]] | None:
    """As ``_first_step``, by the card's colour; None where it has none of its own all round."""
    ends = max(4, len(across) // 6)
    mixture = shadow_blind(profiles[:, :ends].reshape(-1, 3), profiles[:, -ends:].reshape(-1, 3))
    if mixture is None:
        return None
    mixed = profiles @ mixture
    below = mixed < _CARD_SHARE
    first = np.argmax(below, axis=1)
    clear = below.any(axis=1) & (first > 0)
    rows = np.arange(len(first))
    before, at = mixed[rows, first - 1], mixed[rows, first]
    share = np.where(clear, (before - _CARD_SHARE) / np.where(before > at, before - at, 1), 0)
    return across[first - 1] + share * (across[1] - across[0]), clear


def _first_step(profiles: Floats, across: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """(n,) offset of the card's edge along each profile, and whether it is clear."""
    inner = max(4, len(across) // 6)
    # How much neighbouring values differ inside the card: its texture and the noise, channel by channel.
    texture = np.diff(profiles[:, :inner], axis=1)
    noise = np.maximum(1.4826 * np.median(np.abs(texture), axis=(0, 1)) * 2, 1e-4)
    slope = (profiles[:, 4:] - profiles[:, :-4]) / (noise * 2)
    steepness = np.linalg.norm(slope, axis=2)
    middle = across[2:-2]
    peak = np.zeros_like(steepness, dtype=bool)
    peak[:, 1:-1] = (steepness[:, 1:-1] >= steepness[:, :-2]) & (steepness[:, 1:-1] > steepness[:, 2:])
    tall = peak & (steepness > np.maximum(_LEAST_SIGMAS, _FIRST_STEP * steepness.max(axis=1, keepdims=True)))
    clear = tall.any(axis=1)
    first = np.clip(np.argmax(tall, axis=1), 1, steepness.shape[1] - 2)
    rows = np.arange(len(first))
    before, at, after = steepness[rows, first - 1], steepness[rows, first], steepness[rows, first + 1]
    bend = before - 2 * at + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, 1), 0.0)
    return middle[first] + shift * (across[1] - across[0]), clear
