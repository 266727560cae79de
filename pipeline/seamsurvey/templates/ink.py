"""What is drawn or written on one card: the card seen square from above, and all that is not the bare card.

Frame of the pictures here: *card* = px of PX_PER_MM to the millimetre, x right, y down, the plane's axes (y turned
over) through the card's upper left.
"""

from typing import Any

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.model import Picture, Plane

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]

PX_PER_MM = 8.0  # letters 2.5 mm high are 20 px: less is hard to read, more says nothing new
_NODE_MM = 4.0  # the camera's map is straight within this to far less than a pixel
_RIM_MM = 1.2  # a worn edge, a cut that wanders
_GROUND_MM = 7.0  # wider than any pen's stroke is the card's own colour, or a print's
_COARSE = 4  # times coarser is fine enough for the card's own colour
_FAINTEST = 24.0  # of 255: a soft pencil on grey card; fainter is texture
_FULL = 98.0  # percentile of the ink's strength that counts as black
PAPER, _BLACK = 235, 25
_STROKE = 0.3  # of full strength is a stroke
# A seam line keeps its distance from the card's edge: a dash, or a corner, to within the first of these, mm.
# Letters don't. All at one distance (to the third) make up this share of the way round.
_KEEPS_MM, _SHORTEST_MM, _ALIKE_MM, _SHARE = 0.9, 1.4, 0.5, 0.3
_MOSTLY, _PEN_MM = 0.75, 0.2
_TOO_LONG_MM = 60.0  # nothing written hangs together over so far


@frozen(eq=False)
class CardInk:
    """``grey`` (h, w): ink dark on light, evened out; ``strokes`` (h, w): the number of the stroke, 0 on bare card.

    A stroke is what hangs together: a letter, a word in joined writing, the dot of an i. ``rubbed_out`` (h, w):
    where the seam line was.
    """

    grey: Grey = field(repr=False)
    strokes: NDArray[np.int32] = field(repr=False)
    rubbed_out: NDArray[np.bool_] = field(repr=False)


def ink_on(picture: Picture, plane: Plane, outline: Floats) -> CardInk | None:
    """What is on the card with this cut ``outline`` ((n, 2) plane mm), without its seam line; None: nothing is."""
    seen, depth = _from_above(picture, plane, outline)
    strength = _strength(seen) * (depth > _RIM_MM)
    drawn = strength[strength > _FAINTEST]
    if not drawn.size:
        return None
    full = max(float(np.percentile(drawn, _FULL)), 2 * _FAINTEST)
    share = np.clip(strength / full, 0.0, 1.0)
    _, parts = cv2.connectedComponents((share > _STROKE).astype(np.uint8), connectivity=8)
    seam = _of_seam_line(np.asarray(parts), depth)
    gone = np.asarray(cv2.dilate(seam[parts].astype(np.uint8), np.ones((5, 5), np.uint8)) > 0)
    share[gone] = 0.0
    parts[gone] = 0
    return CardInk((PAPER - (PAPER - _BLACK) * share).astype(np.uint8), np.asarray(parts, dtype=np.int32), gone)


def _from_above(picture: Picture, plane: Plane, outline: Floats) -> tuple[NDArray[np.uint8], NDArray[np.float32]]:
    """(h, w, 3) the card as seen from straight above, and (h, w) how far inside its edge each pixel is, mm."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    size = np.ceil((high - low) * PX_PER_MM).astype(int) + 1
    nodes = np.ceil((high - low) / _NODE_MM).astype(int) + 2
    x = low[0] + _NODE_MM * np.arange(nodes[0])
    y = high[1] - _NODE_MM * np.arange(nodes[1])
    at = plane.to_px(np.column_stack([each.ravel() for each in np.meshgrid(x, y)]))
    pixels, corner, scale = _part(picture, at, float(plane.mm_per_px_at(at.mean(axis=0)[None])[0]))
    coarse = ((at - corner + 0.5) / scale - 0.5).reshape(nodes[1], nodes[0], 2).astype(np.float32)
    steps = np.meshgrid(*(np.arange(each) / (_NODE_MM * PX_PER_MM) for each in size))
    across, down = (each.astype(np.float32) for each in steps)
    x, y = (cv2.remap(coarse[..., k], across, down, cv2.INTER_LINEAR) for k in (0, 1))
    seen = np.asarray(cv2.remap(pixels, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
    card = np.zeros((seen.shape[0] + 2, seen.shape[1] + 2), np.uint8)
    corners = (outline - [low[0], high[1]]) * [PX_PER_MM, -PX_PER_MM] + 1
    cv2.fillPoly(card, [np.round(corners).astype(np.int32)], [1.0])
    depth = cv2.distanceTransform(card, cv2.DIST_L2, 5)[1:-1, 1:-1]
    seen[depth == 0] = np.median(seen[depth > 0], axis=0)
    return np.asarray(seen, dtype=np.uint8), np.asarray(depth / PX_PER_MM, dtype=np.float32)


def _part(picture: Picture, at: Floats, mm_per_px: float) -> tuple[NDArray[np.uint8], Floats, int]:
    """The part of the picture round some points, 8 bits a channel, shrunk where it is far finer than needed.

    Returns its pixels, the picture's pixel at its corner, and by how much it was shrunk.
    """
    low = np.maximum(np.floor(at.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(at.max(axis=0)).astype(int) + 1, (picture.width, picture.height))
    pixels = picture.pixels[low[1] : high[1], low[0] : high[0]]
    if pixels.dtype == np.uint16:
        pixels = np.asarray(pixels // 257, dtype=np.uint8)
    scale = max(1, int(1 / (mm_per_px * PX_PER_MM)))
    if scale > 1:
        height, width = (side // scale for side in pixels.shape[:2])
        whole = pixels[: height * scale, : width * scale]
        pixels = np.asarray(cv2.resize(whole, (width, height), interpolation=cv2.INTER_AREA))
    return np.ascontiguousarray(pixels), low.astype(float), scale


def _strength(seen: NDArray[np.uint8]) -> NDArray[np.float32]:
    """(h, w) how far each pixel is from the card's colour about it, in the channel where it is farthest."""
    height, width = seen.shape[:2]
    small = cv2.resize(seen, (max(width // _COARSE, 1), max(height // _COARSE, 1)), interpolation=cv2.INTER_AREA)
    reach = int(_GROUND_MM * PX_PER_MM / _COARSE) | 1
    ground = cv2.resize(cv2.medianBlur(small, reach), (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(cv2.absdiff(seen, ground).max(axis=2), dtype=np.float32)


def _of_seam_line(parts: NDArray[Any], depth: NDArray[np.float32]) -> NDArray[np.bool_]:
    """(parts,) whether each is a bit of a line along the card's edge, or a drawing too large for writing."""
    count = int(parts.max()) + 1
    y, x = np.nonzero(parts)
    of, deep = parts[y, x], depth[y, x]
    number = np.bincount(of, minlength=count)
    spread, level = _extents(of, deep, count), np.bincount(of, deep, count) / np.maximum(number, 1)
    length = number / PX_PER_MM**2 / np.maximum(spread, _PEN_MM)
    keeps = (spread < _KEEPS_MM) & (length > _SHORTEST_MM)
    seam = np.zeros(count, dtype=bool)
    for part in np.nonzero(keeps)[0]:
        row = keeps & (np.abs(level - level[part]) < _ALIKE_MM)
        way_round = np.count_nonzero(np.abs(depth - level[part]) < 0.5 / PX_PER_MM) / PX_PER_MM
        if length[row].sum() > _SHARE * way_round:
            # In a sharp corner a part of the row runs deeper for a bit.
            on_row = np.bincount(of, np.abs(deep - level[part]) < _ALIKE_MM, count) / np.maximum(number, 1)
            seam |= row | (on_row > _MOSTLY)
    across = np.maximum(_extents(of, x, count), _extents(of, y, count)) / PX_PER_MM
    return np.asarray(seam | (across > _TOO_LONG_MM))


def _extents(of: NDArray[Any], values: NDArray[Any], count: int) -> Floats:
    """(count,) greatest minus least value of each part; 0 for one that has none."""
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, of, values)
    np.maximum.at(high, of, values)
    return np.asarray(np.maximum(high - low, 0.0))
