"""Find the cards in a photo: what lies on the ground, whole, away from the border, and is no reference.

As in ``cards``, the result is coarse: each card's outline without its shadow and side, where ``contour`` starts.
"""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation

from seamsurvey.geometry import signed_area
from seamsurvey.model import LeftOut, Picture, Plane
from seamsurvey.templates.cards import (
    AT_BORDER,
    MARKS_PROVE,
    MIN_AREA_MM2,
    MIN_REPORTED_MM2,
    TOO_SMALL,
    TOUCHING,
    UNDERLAYS,
    Card,
    Found,
    parts_of,
    too_small,
    touching_at,
)
from seamsurvey.templates.ground import Ground
from seamsurvey.templates.masks import Floats, Mask, closed, contour_of, filled, opened
from seamsurvey.templates.photo_ground import what_lies_there

_THREAD_MM = 1.2  # what is narrower hangs on a card by chance: a flower of the cloth, a joint of the planks

_APART_MM = 3.5  # what is nearer than this are no two cards: these lie 5 mm apart, if in rough outlines
_LEAST_BLOT = 0.1  # of a face's area: a petal of the cloth beside a card is smaller
_GRAIN_MM = 0.4
_RIM_MM = 4.0  # shadow and side reach no farther: a card is 2 mm thick at most
_LETTER_MM = 6.0  # writing that touches the edge takes no larger bite out of a card's colour
_LEAST_SPREAD = (0.012, 0.006)  # ln, of lightness and colour: no card is more even
_SIGMAS = 5.0  # within this of the card's own colour a pixel is card
_PLAIN_SHARE = 0.75  # of a card's middle has its one colour, but for writing; else the card is printed
_VIVID = 0.3  # ln, of colour
_CELL = (0.07, 0.035)  # ln, of lightness and colour: what differs by less may be one print
_LEAST_SHARE = 0.01  # of a card's face: a colour met less often is no colour of its print


def find_cards_in_photo(picture: Picture, plane: Plane, photo: int = 0) -> Found:
    """Every card of the photo, roughly outlined; ``photo`` is the picture's index for what is left out.

    A thing at the border, a coin, a hand, and templates that touch are left out, not refused.
    """
    lying = what_lies_there(picture, plane)
    ground = lying.ground
    per_mm = ground.per_mm
    mask = opened(filled(closed(lying.mask, 0.6 * per_mm)), _THREAD_MM / 2 * per_mm)
    # The grain of a card is no colour of its own.
    lightness, chroma = (
        np.asarray(cv2.GaussianBlur(values, (0, 0), _GRAIN_MM * per_mm), dtype=float)
        for values in (ground.lightness, ground.chroma)
    )
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    faces: list[tuple[tuple[slice, slice], Mask]] = []
    others: list[tuple[tuple[slice, slice], Mask]] = []
    left_out: list[LeftOut] = []

    for label in range(1, count):
        left, top, width, height, area = (int(v) for v in stats[label])
        if area < MIN_REPORTED_MM2 * per_mm**2:
            continue
        box = np.s_[max(0, top - 2) : top + height + 2, max(0, left - 2) : left + width + 2]
        corner = np.array([max(0, left - 2), max(0, top - 2)], dtype=float)
        blob = labels[box] == label
        outline = ground.to_px(contour_of(blob) + corner)
        if _marks_within(blob, corner, ground, plane) >= MARKS_PROVE:
            continue
        why = too_small(blob, per_mm) or (AT_BORDER if _at_border(stats[label], mask.shape) else "")
        parts = [] if why else _faces(blob, lightness[box], chroma[box], per_mm)
        if not parts:
            left_out.append(LeftOut(photo=photo, outline_px=outline, why=why or TOO_SMALL[1]))
            others.append((box, blob))
        elif touching_at(parts, per_mm) is not None or _is_several(lying.mask[box] & blob, per_mm):
            left_out.append(LeftOut(photo=photo, outline_px=outline, why=TOUCHING))
            others.append((box, blob))
        else:
            faces += [(box, part) for part in parts]
    things = np.zeros(mask.shape, dtype=np.int32)
    for number, (box, thing) in enumerate([*faces, *others], start=1):
        things[box][thing] = number
    cards: list[Card] = []
    for face, near in _with_neighbours(things, len(faces), per_mm):
        contour = ground.to_px(contour_of(face))
        if near:
            left_out.append(LeftOut(photo=photo, outline_px=contour, why=TOUCHING))
        else:
            cards.append(Card(contour=contour if signed_area(plane.to_mm(contour)) > 0 else contour[::-1]))
    return Found(tuple(cards), tuple(left_out))


def _with_neighbours(things: NDArray[np.int32], faces: int, per_mm: float) -> Iterator[tuple[Mask, bool]]:
    """Each of the numbered things that is a face, and whether another thing of some size lies too near.

    Cards lie farther apart. The blots of a print whose own ground is of the table's colour do not, and each of
    them could pass for a card.
    """
    sizes = np.bincount(things.ravel())
    for label in range(1, faces + 1):
        face = things == label
        x, y, width, height = cv2.boundingRect(face.astype(np.uint8))
        margin = int(_APART_MM * per_mm) + 2
        reach = np.s_[max(0, y - margin) : y + height + margin, max(0, x - margin) : x + width + margin]
        away = cv2.distanceTransform((~face[reach]).astype(np.uint8), cv2.DIST_L2, 5)
        near = away < _APART_MM * per_mm
        others = np.unique(things[reach][near])
        others = others[(others > 0) & (others != label)]
        yield face, bool(np.any(sizes[others] > _LEAST_BLOT * sizes[label]))


def _is_several(seen: Mask, per_mm: float) -> bool:
    """Whether the ground shows in a gap from side to side of what was closed to one blob."""
    _, _, stats, _ = cv2.connectedComponentsWithStats(
        opened(seen, _THREAD_MM / 2 * per_mm).astype(np.uint8), connectivity=4
    )
    return int(np.sum(stats[1:, cv2.CC_STAT_AREA] > MIN_AREA_MM2 * per_mm**2)) > 1


def _at_border(stats: NDArray[np.int32], shape: tuple[int, ...]) -> bool:
    left, top, width, height = (int(v) for v in stats[:4])
    return left < 2 or top < 2 or left + width > shape[1] - 2 or top + height > shape[0] - 2


def _marks_within(blob: Mask, corner: Floats, ground: Ground, plane: Plane) -> int:
    """How many marks of rulers and cards lie on a blob whose pixel (0, 0) is the coarse pixel ``corner``."""
    marks = 0
    for reference in plane.references:
        if reference.kind not in UNDERLAYS:
            at = np.round(ground.to_coarse(reference.marks_px) - corner).astype(int)
            seen = np.all((at >= 0) & (at < blob.shape[::-1]), axis=1)
            marks += int(blob[at[seen, 1], at[seen, 0]].sum())
    return marks


def _faces(blob: Mask, lightness: Floats, chroma: Floats, per_mm: float) -> list[Mask]:
    """The cards' faces in a blob of cards, their sides and their shadows, of which they are freed from outside.

    Mostly one; two that lie close share one shadow. A face may be printed in several colours. A shadow has the
    ground's colour, only darker; a side has the face's, only darker.
    """
    depth = cv2.distanceTransform(np.pad(blob, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    middle = depth > min(_RIM_MM * per_mm, 0.5 * float(depth.max()))
    alike = _of_one_colour(blob, middle, lightness, chroma)
    if alike[middle].mean() < _PLAIN_SHARE:
        alike = _of_a_print(blob, middle, lightness, chroma)
    # A print's tip of another colour: it is neither the ground's nor the face's in shade.
    own = np.median(chroma[middle], axis=0)
    vivid = np.minimum(np.linalg.norm(chroma, axis=2), np.linalg.norm(chroma - own, axis=2)) > _VIVID
    alike |= opened(blob & vivid, per_mm)
    # Writing that runs off the edge is the card's.
    face = closed(alike, _LETTER_MM / 2 * per_mm) & blob | (depth > _RIM_MM * per_mm)
    return parts_of(face, per_mm)


def _of_one_colour(blob: Mask, middle: Mask, lightness: Floats, chroma: Floats) -> Mask:
    """What has the middle's one colour, in light that may be uneven."""
    rows, columns = np.nonzero(middle)
    few = np.s_[:: max(1, len(rows) // 4000)]
    terms = np.column_stack([np.ones(len(rows)), rows, columns])[few]
    values = lightness[middle][few]
    weight = np.ones(len(values))
    for _ in range(8):
        fit = np.linalg.lstsq(terms * weight[:, None], values * weight, rcond=None)[0]
        off = np.abs(values - terms @ fit)
        weight = 1 / np.maximum(1.0, off / (1.4826 * float(np.median(off)) + 1e-3))
    y, x = np.indices(blob.shape)
    away = lightness - (fit[0] + fit[1] * y + fit[2] * x)
    colour = chroma - np.median(chroma[middle], axis=0)
    spread = (
        max(_LEAST_SPREAD[0], 1.4826 * float(np.median(np.abs(away[middle])))),
        max(_LEAST_SPREAD[1], 1.4826 * float(np.median(np.abs(colour[middle])))),
    )
    return np.asarray(blob & (np.hypot(away / spread[0], np.linalg.norm(colour, axis=2) / spread[1]) < _SIGMAS))


def _of_a_print(blob: Mask, middle: Mask, lightness: Floats, chroma: Floats) -> Mask:
    """What has one of the middle's colours."""
    differences = (chroma[..., 0] - chroma[..., 1], chroma[..., 2] - chroma[..., 1])
    cells = np.stack(
        [np.round(lightness / _CELL[0]), *(np.round(difference / _CELL[1]) for difference in differences)], axis=2
    ).astype(int)
    low = cells[blob].min(axis=0) - 1
    counts = np.zeros(tuple(cells[blob].max(axis=0) - low + 2))
    np.add.at(counts, tuple((cells[middle] - low).T), 1.0)
    own = binary_dilation(counts >= _LEAST_SHARE * middle.sum(), np.ones((3, 3, 3), dtype=bool))
    at = tuple((cells[blob] - low).T)
    alike = np.zeros_like(blob)
    alike[blob] = own[at]
    return alike
