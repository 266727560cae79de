"""Faces of cards in a picture of which nothing is known: no scale, and no ground along its border.

Used where no reference is wanted (``--reference none``). Whatever is one even face with straight edges, lighter or
darker than all round it, keeps its outline over many thresholds; what is cut out of an uneven ground by one of them
does not.
"""

from collections.abc import Iterator

import cv2
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.geometry import signed_area
from seamsurvey.light import LUMINANCE, linear_channels
from seamsurvey.model import Picture, Plane
from seamsurvey.templates.cards import Card, Found
from seamsurvey.templates.masks import contour_of, filled

Floats = NDArray[np.float64]

_LONGEST_PX = 2400  # faces are looked for in a picture no larger: their edges are measured in the full one
_LEVELS = np.concatenate(
    [np.arange(8, 64, 4), np.arange(64, 192, 8), np.arange(192, 252, 4)]
)  # thresholds, grey levels of a luminance's square root
_LEAST_LEVELS = 4  # over which a face must keep its outline
_LEAST_SHARE, _MOST_SHARE = 2e-4, 0.2  # of the picture: a smaller thing is no template worth measuring
_STEADY = 0.15  # by which a face's area may differ from level to level
_CORNER_SHARE = 0.02  # of the outline's length: how far it may lie off the polygon of its corners
_OFF_SHARE = 0.004  # and on average
_MOST_CORNERS = 12
_LEAST_ROUND = 0.02  # area over the length's square: a thinner thing is a tool, a joint of boards, a shadow
_INSIDE = 0.8  # of a face within another's hull: the two are one card's
_LETTER = 0.3  # of a card's area: what is smaller is written on it, what is larger is its face within a border
_EVEN = 0.2  # a face's scatter of light, as a share of its contrast


@frozen
class _Face:
    """A region of one threshold: its outline (n, 2) in the reduced picture, as a shape, and the level's index."""

    shape: Polygon
    contour: Floats = field(eq=False, repr=False)
    level: int


def find_faces(picture: Picture, plane: Plane, _photo: int = 0) -> Found:
    """Every even, straight-edged face of the picture away from its border, roughly outlined."""
    factor = max(1, -(-max(picture.width, picture.height) // _LONGEST_PX))
    grey = _grey(picture, factor)
    groups = [
        group
        for dark in (True, False)
        for group in _one_in_another(_regions(grey, dark=dark))
        if _is_even(grey, group[len(group) // 2])
    ]
    cards = []
    for group in _clearest(groups):
        contour = group[len(group) // 2].contour * factor + (factor - 1) / 2
        cards.append(Card(contour=contour if signed_area(plane.to_mm(contour)) > 0 else contour[::-1]))
    return Found(tuple(cards), ())


def _grey(picture: Picture, factor: int) -> NDArray[np.uint8]:
    """The picture's luminance as an eye sees it (its square root), 0 to 255, ``factor`` times smaller."""
    light = linear_channels(picture.pixels) @ LUMINANCE.astype(np.float32)
    height, width = light.shape[0] // factor, light.shape[1] // factor
    light = light[: height * factor, : width * factor].reshape(height, factor, width, factor).mean(axis=(1, 3))
    return np.asarray(np.clip(255 * np.sqrt(light), 0, 255).astype(np.uint8))


def _regions(grey: NDArray[np.uint8], *, dark: bool) -> Iterator[_Face]:
    """The polygons among the regions under (or over) each threshold, away from the border."""
    height, width = grey.shape
    for level, threshold in enumerate(_LEVELS):
        mask = grey < threshold if dark else grey >= threshold
        count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
        for label in range(1, count):
            left, top, wide, high, area = (int(v) for v in stats[label])
            inside = left > 1 and top > 1 and left + wide < width - 1 and top + high < height - 1
            if not inside or not _LEAST_SHARE * grey.size < area < _MOST_SHARE * grey.size:
                continue
            blob = np.pad(labels[top : top + high, left : left + wide] == label, 2)
            contour = contour_of(filled(blob)) + np.array([left - 2, top - 2], dtype=float)
            shape = Polygon(contour).buffer(0)
            if shape.geom_type == "Polygon" and _is_straight(shape, contour):
                yield _Face(shape, contour, level)


def _is_straight(shape: Polygon, contour: Floats) -> bool:
    """Whether few corners, straight lines between them, describe the outline."""
    line = contour.astype(np.float32)
    length = float(cv2.arcLength(line, closed=True))
    if shape.area < _LEAST_ROUND * length**2:
        return False
    corners = cv2.approxPolyDP(line, _CORNER_SHARE * length, closed=True)[:, 0]
    if not 3 <= len(corners) <= _MOST_CORNERS:
        return False
    simple = Polygon(corners).buffer(0)
    return bool(shape.symmetric_difference(simple).area < _OFF_SHARE * length**2)


def _is_even(grey: NDArray[np.uint8], face: _Face) -> bool:
    """Whether the face has one colour, but for writing, against what it stands out from."""
    inside = np.zeros(grey.shape, np.uint8)
    cv2.fillPoly(inside, [np.round(face.contour).astype(np.int32)], 1)
    (left, top), (right, bottom) = (
        (face.contour.min(axis=0) - 8).astype(int),
        (face.contour.max(axis=0) + 8).astype(int),
    )
    box = np.s_[max(0, top) : bottom, max(0, left) : right]
    part, light = inside[box], grey[box].astype(float)
    core = cv2.erode(part, np.ones((7, 7), np.uint8)) > 0
    round_it = (cv2.dilate(part, np.ones((13, 13), np.uint8)) > 0) & (
        cv2.dilate(part, np.ones((5, 5), np.uint8)) == 0
    )
    if not core.any() or not round_it.any():
        return False
    own = float(np.median(light[core]))
    contrast = abs(own - float(np.median(light[round_it])))
    return bool(np.mean(np.abs(light[core] - own)) < _EVEN * contrast)


def _clearest(groups: list[list[_Face]]) -> list[list[_Face]]:
    """Of faces in one another one each: a letter goes with its card; of a face and its border the clearer stays."""
    kept: list[list[_Face]] = []
    for group in sorted(groups, key=len, reverse=True):
        face = group[len(group) // 2].shape
        for k, other in enumerate(kept):
            whole = other[len(other) // 2].shape
            small, large = sorted((face, whole), key=lambda shape: float(shape.area))
            if large.convex_hull.intersection(small).area > _INSIDE * small.area:
                if small.area < _LETTER * large.area and large is face:
                    kept[k] = group  # what was taken for a card is written on one
                break
        else:
            kept.append(group)
    return kept


def _one_in_another(regions: Iterator[_Face]) -> list[list[_Face]]:
    """The regions that lie in one another at neighbouring levels, each group by level; steady ones only."""
    groups: list[list[_Face]] = []
    for face in sorted(regions, key=lambda each: each.level):
        for group in groups:
            last = group[-1]
            if face.level - last.level == 1:
                common = face.shape.intersection(last.shape).area
                if common > (1 - _STEADY) * max(face.shape.area, last.shape.area):
                    group.append(face)
                    break
        else:
            groups.append([face])
    return [group for group in groups if len(group) >= _LEAST_LEVELS]
