"""How a card's edge looks under one lamp: the face, the side below it, the shadow on the table, the lens.

Across an edge, at the distance x outwards from it (px), the picture shows

    light(x) = face · B(top(x)) + side · B(wall(x)) + ground · B(back(x))

top: 1 on the face. wall: 1 on the card's side, as far out as the camera sees it; its light is about ``side`` times
the face's, unless the face is printed. back: the bare table beyond, less what the lamp's shadow and the card's
nearness take away. B is the lens, and the phone's sharpening. All cards of a photo lie under one lamp and were seen
by one lens, so that all their edges together tell both, and an edge that says little for itself is read by what the
others say.
"""

import math
from collections.abc import Callable
from functools import lru_cache

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.special import ndtr

from seamsurvey.model import PhotoPlane

Floats = NDArray[np.float64]

_STEP = 0.1  # px, of the tables
_FAR = 40.0  # px: tables reach so far to both sides
TABLE: Floats = np.arange(-_FAR, _FAR + _STEP / 2, _STEP)
SHARPENED_PX = 1.2  # deviation of what an unsharp mask takes away; phones' own lie between 0.8 and 1.5 px
COLOUR_BLUR_PX = 1.3  # colour is stored at half the resolution (JPEG 4:2:0), and smoothed when it is read
LEAST_BLUR_PX = 0.3
LEAST_HEIGHT_MM = 0.05  # of a shadow: paper throws none that is seen


@frozen
class Look:
    """What all the edges of a photo have in common.

    ``blur_px``: deviation of the lens's blur; ``sharpened``: share of the unsharp mask. ``shadow``: where the
    shadow of a point 1 mm up falls on the table (plane mm); ``cast``: the share of light gone there; ``soft``:
    deviation of the shadow's end in mm for each mm of height. ``contact``: the share of light gone close beside a
    card, and ``near``: how far that reaches, as ``soft``. ``side``: a side's light as a share of the face's, and
    ``side_lit``: how much more that is where it faces the lamp. ``height``: of the faces above the table, mm, and
    ``height_sigma`` one standard deviation of that, as far as the edges leave it open.
    """

    blur_px: float = 0.9
    sharpened: float = 0.3
    shadow: tuple[float, float] = (0.0, 0.0)
    cast: float = 0.5
    soft: float = 0.3
    contact: float = 0.15
    near: float = 0.6
    side: float = 0.5
    side_lit: float = 0.0
    height: float = 1.0
    height_sigma: float = 0.0


@frozen
class Slope:
    """How one edge stands to camera and table.

    ``normal`` (2,) outwards, plane frame, of unit length; ``px_per_mm`` outwards; ``side_px``: how wide the side
    shows beyond the edge for each mm of height, below 0 where the face hides it.
    """

    normal: tuple[float, float]
    px_per_mm: float
    side_px: float


@lru_cache(maxsize=512)
def tables(look: Look, slope: Slope, colour: bool) -> Floats:
    """(3, len(TABLE)): the face's, the side's and the ground's share of light at TABLE px outwards from the edge.

    ``colour``: as the picture's colours show it, less sharp than its light.
    """
    foot = slope.side_px * look.height
    seen = max(foot, 0.0)
    covered: Floats = np.clip(0.5 - (TABLE - seen) / _STEP, 0.0, 1.0)
    # A face that overhangs hides the table's darkest part: the foot then lies at foot < 0.
    away = (TABLE - foot) / slope.px_per_mm
    height = max(look.height, LEAST_HEIGHT_MM)
    reach = height * (look.shadow[0] * slope.normal[0] + look.shadow[1] * slope.normal[1])
    shadow = look.cast * ndtr((reach - away) / (look.soft * height))
    contact = 2 * look.contact * ndtr(-np.maximum(away, 0.0) / (look.near * height))
    back = (1.0 - covered) * (1.0 - shadow) * (1.0 - contact)
    inside = _step_through_lens(0.0, look, colour)
    on_side = _step_through_lens(seen, look, colour) - inside if seen else np.zeros_like(inside)
    return np.array([inside, on_side, _through_lens(back, look, colour)])


def at_height(look: Look, height: float) -> Look:
    """The look with the faces at another height, mm, and as long and soft a shadow on the table as before."""
    by = max(look.height, LEAST_HEIGHT_MM) / max(height, LEAST_HEIGHT_MM)
    shadow = (look.shadow[0] * by, look.shadow[1] * by)
    return attrs.evolve(look, height=height, shadow=shadow, soft=look.soft * by, near=look.near * by)


def side_share(look: Look, slope: Slope) -> float:
    """An edge's side's light as a share of the face's, where nothing is printed on the face."""
    length = math.hypot(*look.shadow)
    towards = -(look.shadow[0] * slope.normal[0] + look.shadow[1] * slope.normal[1]) / length if length else 0.0
    return min(1.2, max(0.05, look.side + look.side_lit * towards))


def _through_lens(light: Floats, look: Look, colour: bool) -> Floats:
    return _sharpened(lambda blur: gaussian_filter1d(light, blur / _STEP, mode="nearest"), look, colour)


def _step_through_lens(end: float, look: Look, colour: bool) -> Floats:
    """What is 1 up to ``end``, px, and 0 beyond: a blurred step is known in closed form."""
    return _sharpened(lambda blur: ndtr((end - TABLE) / blur), look, colour)


def _sharpened(blurred: Callable[[float], Floats], look: Look, colour: bool) -> Floats:
    """The light as the picture shows it: ``blurred`` by a deviation of so many px, and sharpened by the phone."""
    blur = math.hypot(look.blur_px, COLOUR_BLUR_PX) if colour else look.blur_px
    seen = blurred(blur)
    if look.sharpened and not colour:
        seen = seen + look.sharpened * (seen - blurred(math.hypot(blur, SHARPENED_PX)))
    return np.asarray(seen)


def slope_of(ends: Floats, plane: PhotoPlane) -> Slope:
    """How the edge between two ``ends`` ((2, 2) plane mm, card to the left) stands."""
    middle = ends.mean(axis=0)
    way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    normal = np.array([way[1], -way[0]])
    seen = plane.to_px(np.vstack([ends, middle + normal, middle - normal, middle]))
    along = (seen[1] - seen[0]) / np.hypot(*(seen[1] - seen[0]))
    outward = np.array([-along[1], along[0]])
    px_per_mm = float((seen[2] - seen[3]) @ outward) / 2
    foot = float((plane.below_px(middle[None])[0] - seen[4]) @ outward) if plane.face_mm > 0 else 0.0
    side_px = foot / plane.face_mm if plane.face_mm > 0 else 0.0
    return Slope((float(normal[0]), float(normal[1])), px_per_mm, side_px)


def at(table: Floats, distance: Floats) -> Floats:
    """The table's values at distances from the edge, px."""
    return np.interp(distance, TABLE, table)
