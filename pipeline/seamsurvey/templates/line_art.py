"""Line art on a page: its strokes, and the faces that they enclose.

A stroke is a thin dark line with paper on both sides. That tells it from a card's edge, beyond which lies another
surface, and from a shadow, which is soft and falls to one side. Everything here is coarse (about 0.1 mm):
``stroke_lines`` then measures each stroke.
"""

from typing import Any

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from seamsurvey.geometry import signed_area
from seamsurvey.light import linear_channels
from seamsurvey.model import Picture, Plane
from seamsurvey.templates.cards import MIN_AREA_MM2, MIN_HALF_WIDTH_MM
from seamsurvey.templates.contour import sampled, stations
from seamsurvey.templates.masks import Floats, Mask, closed, contour_of, filled, half_width, opened

FINE_PER_MM = 6.0  # a line of 0.25 mm is then a pixel and a half wide
WIDEST_MM = 2.0  # a broad felt pen; what is wider is no line
LEAST_INK = 0.15  # share of the paper's light that a stroke takes away: noise and creases take less
LEAST_PAPER = 0.12  # linear light; darker ground is no paper
_SPREAD_MM = 0.15
GAP_MM = 0.2  # breaks up to twice this are bridged: worn print; the letters of a line of text stay apart
_SLIT_MM = 1.2  # strokes that hang on an outline from inside (notches, letters) are narrower than twice this
_OUTWARD_MM = (-0.6, 1.4)  # where the stroke's middle lies from the face's rim: half a stroke
_BESIDE_MM = 0.6  # beyond the stroke's half width the paper shows
_SAME_TONE = 0.12  # ln of light; paper is that even on both sides of one line
_PAGE_MM = (8.0, 11.0, 14.0)  # beyond a card with an allowance lies the table, beyond an outline more paper

_SAME_PAGE = 0.2  # ln of light, over that distance
_PLACES = 64  # across the picture and down: a horizon is all but straight


@frozen(kw_only=True)
class LineArt:
    """A picture's strokes at FINE_PER_MM or less: coarse pixel (i, j) has its centre at factor (i, j) + (f - 1)/2.

    ``ink`` (h, w) is the share of the paper's light that is missing in the channel where most is, spread over
    _SPREAD_MM, ``paper`` (h, w, 3) ln of the light without strokes.
    """

    ink: NDArray[np.float32] = field(eq=False, repr=False)
    paper: NDArray[np.float32] = field(eq=False, repr=False)
    factor: int
    per_mm: float

    def to_px(self, coarse: Floats) -> Floats:
        """(n, 2) coarse (x, y) to (n, 2) image pixels."""
        return coarse * self.factor + (self.factor - 1) / 2


@frozen(kw_only=True)
class Face:
    """What a closed stroke encloses.

    ``rim`` (n, 2) image pixels along the face, inside the stroke, counter-clockwise in the plane frame; ``middle``
    (m, 2) image pixels on the stroke's middle where it is clear; ``clear`` the share of the way round where it is;
    ``alike``: paper of one tone lies on both sides; ``on_page``: the share of places well outside that are paper
    of this tone too; ``tone`` (3,) is ln of the paper's light inside.
    """

    rim: Floats = field(eq=False, repr=False)
    middle: Floats = field(eq=False, repr=False)
    clear: float
    alike: bool
    on_page: float
    tone: tuple[float, float, float]


def line_art(picture: Picture, plane: Plane) -> LineArt:
    """The strokes of the picture."""
    px_per_mm = 1 / plane.mm_per_px
    factor = max(1, round(px_per_mm / FINE_PER_MM))
    per_mm = px_per_mm / factor
    seen = _coarse(picture.pixels, factor)
    side = 2 * round(WIDEST_MM * per_mm / 2) + 3
    # A square, for it is quick: strokes at 45 degrees may be wider by half. Encoding keeps the light's order.
    paper = cv2.morphologyEx(seen, cv2.MORPH_CLOSE, np.ones((side, side), np.uint8))
    light, ground = linear_channels(seen), linear_channels(paper)
    ink = np.max(1 - light / np.maximum(ground, LEAST_PAPER), axis=2)
    ink[ground.max(axis=2) < LEAST_PAPER] = 0
    ink[_off_table(seen.shape[:2], factor, plane)] = 0
    # A thin line's ink is the same wherever it lies between the pixels.
    ink = cv2.GaussianBlur(ink, (0, 0), _SPREAD_MM * per_mm)
    smooth = linear_channels(cv2.blur(paper, (side, side)))
    return LineArt(ink=ink, paper=np.log(np.maximum(smooth, 0.01)), factor=factor, per_mm=per_mm)


def _off_table(shape: tuple[int, int], factor: int, plane: Plane) -> Mask:
    """(h, w) of coarse pixels: where the camera, as measured, sees no table."""
    y, x = (np.linspace(0, side - 1, _PLACES) for side in shape)
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2) * factor + (factor - 1) / 2
    off = ~np.isfinite(plane.to_mm(places)).all(axis=1).reshape(_PLACES, _PLACES)
    if not off.any():
        return np.zeros(shape, dtype=bool)
    wider = cv2.dilate(off.astype(np.uint8), np.ones((3, 3), np.uint8))  # what lies between two places counts, too
    return np.asarray(cv2.resize(wider, shape[::-1], interpolation=cv2.INTER_NEAREST) > 0)


def _coarse(pixels: NDArray[Any], factor: int) -> NDArray[np.uint8]:
    """(h // factor, w // factor, 3) block means, sRGB-encoded, 8 bit."""
    height, width = pixels.shape[0] // factor, pixels.shape[1] // factor
    whole = pixels[: height * factor, : width * factor]
    small = cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA) if factor > 1 else whole
    return np.asarray(small if small.dtype == np.uint8 else small // 256, dtype=np.uint8)


def faces_of(art: LineArt, plane: Plane, least_ink: float = LEAST_INK) -> list[Face]:
    """Every face as large as a template that strokes of at least this ink enclose, in the picture's whole."""
    ink = closed(np.asarray(art.ink > least_ink), GAP_MM * art.per_mm)
    count, labels, stats, _ = cv2.connectedComponentsWithStats((~ink).astype(np.uint8), connectivity=4)
    faces = []
    height, width = ink.shape
    margin = round(_SLIT_MM * art.per_mm) + 2
    for label in range(1, count):
        left, top, wide, high, area = (int(v) for v in stats[label])
        if wide * high < MIN_AREA_MM2 * art.per_mm**2 or area < MIN_AREA_MM2 / 4 * art.per_mm**2:
            continue
        if left == 0 or top == 0 or left + wide == width or top + high == height:
            continue
        blob = np.pad(labels[top : top + high, left : left + wide] == label, margin)
        blob = _whole(blob, art.per_mm)
        if blob.sum() < MIN_AREA_MM2 * art.per_mm**2 or half_width(blob) < MIN_HALF_WIDTH_MM * art.per_mm:
            continue
        rim = contour_of(blob) + np.array([left - margin, top - margin])
        face = _face(art, rim, plane)
        if face is not None:
            faces.append(face)
    return faces


def _whole(blob: Mask, per_mm: float) -> Mask:
    """The face without the letters in it and the marks that hang on its outline, inside or out."""
    return opened(filled(closed(filled(blob), _SLIT_MM * per_mm)), _SLIT_MM * per_mm)


def _face(art: LineArt, rim: Floats, plane: Plane) -> Face | None:
    rim_px = art.to_px(rim)
    if signed_area(plane.to_mm(rim_px)) < 0:
        rim, rim_px = rim[::-1], rim_px[::-1]
    starts, outward = stations(rim, art.per_mm)
    if len(starts) < 24:
        return None
    across = np.arange(_OUTWARD_MM[0] * art.per_mm, _OUTWARD_MM[1] * art.per_mm + 0.25, 0.5)
    ink = sampled(art.ink, starts[:, None] + outward[:, None] * across[:, None])
    first = _first_ridge(ink)
    clear = first >= 0
    if clear.sum() < 12:
        return None
    window = np.clip(first[:, None] + np.arange(-3, 4), 0, len(across) - 1)
    weight = np.take_along_axis(ink, window, axis=1) ** 2
    at = np.sum(weight * across[window], axis=1) / np.maximum(weight.sum(axis=1), 1e-9)
    middle = (starts + outward * at[:, None])[clear]
    step = _BESIDE_MM * art.per_mm + np.median(at[clear])
    inside = _tones(art, middle - outward[clear] * step)
    outside = _tones(art, middle + outward[clear] * step)
    own = np.nanmedian(inside, axis=0)
    alike = bool(np.max(np.abs(np.nanmedian(outside - inside, axis=0))) < _SAME_TONE)
    beyond = np.concatenate([_tones(art, middle + outward[clear] * (mm * art.per_mm)) for mm in _PAGE_MM])
    near = np.abs(beyond - own).max(axis=1) < _SAME_PAGE
    seen = np.isfinite(beyond).all(axis=1)
    return Face(
        rim=rim_px,
        middle=art.to_px(middle),
        clear=float(clear.mean()),
        alike=alike,
        on_page=float(near[seen].mean()) if seen.any() else 0.0,
        tone=(float(own[0]), float(own[1]), float(own[2])),
    )


def _first_ridge(ink: Floats) -> NDArray[np.int64]:
    """(n,) where each profile, from inside, first has a peak half as dark as its darkest; -1 where none is."""
    inner = ink[:, 1:-1]
    peak = (inner >= ink[:, :-2]) & (inner > ink[:, 2:])
    tall = peak & (inner > np.maximum(LEAST_INK, 0.5 * ink.max(axis=1, keepdims=True)))
    return np.where(tall.any(axis=1), np.argmax(tall, axis=1) + 1, -1)


def _tones(art: LineArt, at: Floats) -> Floats:
    """(n, 3) ln of the paper's light at (n, 2) coarse places; nan outside the picture."""
    places = [at[:, 1], at[:, 0]]
    return np.column_stack(
        [map_coordinates(art.paper[..., k], places, order=0, mode="constant", cval=np.nan) for k in range(3)]
    )
