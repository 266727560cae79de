"""A card's face freed of its side and shadow: what has the colour of its middle.

A shadow has the ground's colour, only darker; a side has the face's, only darker. Everything here works on a
*coarse* picture: block means in linear light, about four to the millimetre, as the natural logarithm of the light,
so that the same shade takes the same number off whatever it falls on.

A face of two plain colours that meet in one straight line may be two cards side by side, or one cut from a box.
Nothing in the picture tells the two apart, so that a person is asked.
"""

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.cluster.vq import kmeans2
from shapely import Polygon

from seamsurvey.light import linear_channels
from seamsurvey.model import Picture, Plane
from seamsurvey.templates.masks import Floats, Mask, closed, contour_of, disc, filled, opened

COARSE_PER_MM = 4.0  # fine enough to start an edge within 0.3 mm, coarse enough to average paper grain away
FLARE = 0.01  # added to all light before the logarithm: below one hundredth a picture shows only flare and noise
_LOOSE_MM = 1.0  # by which what was seen may lie within the card
_AROUND_MM = 8.0  # no bite that is mended goes deeper
_GRAIN_MM = 0.4
_RIM_MM = 4.0  # shadow and side reach no farther: a card is 2 mm thick at most
_THREAD_MM = 0.75  # half of it: what is narrower hangs on a face by chance
_LETTER_MM = 6.0  # writing that touches the edge takes no larger bite out of a card's colour
_LEAST_SPREAD = (0.012, 0.006)  # ln, of lightness and colour: no card is more even
_SIGMAS = 5.0  # within this of the card's own colour a pixel is card
_EVEN = (0.2, 0.1)  # ln, of lightness and colour: by no more does one stuff differ from itself, but for writing
_PLAIN_SHARE = 0.75  # of a card's middle is so; else the card is printed
_SAME = 0.8  # of an outline's area: what has less in common with it is another shape
_LEAST_CONTRAST = 0.035  # ln light: about four grey levels of white paper
_LEAST_PART = 0.1  # of a face of two colours: a smaller part is print
_IN_LINE = 0.97  # of the face lies on its own colour's side of the line: the rest is writing
_APART = 4.0  # spreads of either colour that lie between the two
_LEAST_POINTS = 100


def coarse_light(pixels: NDArray[Any], factor: int) -> Floats:
    """(h // factor, w // factor, 3): ln of the block means of linear light (plus FLARE)."""
    height, width = pixels.shape[0] // factor, pixels.shape[1] // factor
    light = linear_channels(pixels[: height * factor, : width * factor])
    return np.asarray(np.log(light.reshape(height, factor, width, factor, 3).mean(axis=(1, 3)) + FLARE))


def freed(picture: Picture, outline: Floats, plane: Plane) -> tuple[Floats, bool]:
    """The outline (n, 2) image px, right to a millimetre, without side and shadow; whether the face is motley.

    The outline as it was, where what comes out is another shape.
    """
    light, blob, low, factor, per_mm = coarse_around(picture, outline, plane)
    lightness = light.mean(axis=2)
    loose = np.asarray(cv2.dilate(blob, disc(_LOOSE_MM * per_mm)) > 0)
    depth = cv2.distanceTransform(np.pad(loose, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    middle = np.asarray(depth > min(_RIM_MM * per_mm, 0.5 * float(depth.max())))
    away, colour = _from_middle(middle, lightness, light - lightness[..., None])
    even = (np.abs(away) < _EVEN[0]) & (np.linalg.norm(colour, axis=2) < _EVEN[1])
    motley = bool(even[middle].mean() < _PLAIN_SHARE)
    if motley:
        # One of its colours may be the side's, in shade: what is not the ground's is card.
        unlike = _unlike_ground(loose, lightness, light - lightness[..., None])
        # A side is thinner than what a blot's border hides.
        missed = opened(_missed(loose | unlike, loose, per_mm), _GRAIN_MM * per_mm)
        loose |= missed
        wide = closed(loose, _LETTER_MM / 2 * per_mm)
        alike = wide & ~_of_ground(wide, lightness, light - lightness[..., None])
        face = opened(closed(alike, _LETTER_MM / 2 * per_mm) & wide, _THREAD_MM * per_mm)
        blob = wide.astype(np.uint8)
    else:
        alike = _of_one_colour(middle, away, colour)
        missed = _missed(alike, loose, per_mm)
        loose |= missed
        blob |= loose & (np.asarray(cv2.dilate(missed.astype(np.uint8), disc(_LOOSE_MM * per_mm))) > 0)
        alike &= loose
        # Writing that runs off the edge is the card's.
        face = closed(alike, _LETTER_MM / 2 * per_mm) & loose | (depth > _RIM_MM * per_mm)
        face = np.asarray(cv2.dilate(face.astype(np.uint8), disc(_GRAIN_MM * per_mm)) > 0)  # its rim was smoothed
    seen = Polygon(outline).buffer(0)
    for part in _parts(face & (blob > 0), per_mm):
        contour = contour_of(part) * factor + (factor - 1) / 2 + low
        shape = Polygon(contour).buffer(0)
        if shape.intersection(seen).area > _SAME * shape.union(seen).area:
            return np.asarray(contour), motley
    return outline, motley


def stands_out(picture: Picture, outline: Floats, plane: Plane, others: Sequence[Floats] = ()) -> bool:
    """Whether what an outline (n, 2) image px holds differs in light or colour from most that lies round it.

    ``others``: outlines of what lies there besides, which is left aside.
    """
    light, blob, low, factor, per_mm = coarse_around(picture, outline, plane)
    step = disc(_LOOSE_MM * per_mm)
    within = light[cv2.erode(blob, step, borderValue=0) > 0]
    taken = blob.copy()
    for other in others:
        cv2.fillPoly(taken, [_in_coarse(other, low, factor)], (1,))
    beyond = light[cv2.dilate(taken, step) == 0]
    if not len(within) or not len(beyond):
        return False
    apart, spread = np.median(within, axis=0) - np.median(beyond, axis=0), np.zeros(3)
    for part in (within, beyond):
        spread += 1.4826 * np.median(np.abs(part - np.median(part, axis=0)), axis=0)
    return bool(np.any(np.abs(apart) > np.maximum(_SIGMAS * spread, _LEAST_CONTRAST)))


def coarse_around(
    picture: Picture, outline: Floats, plane: Plane
) -> tuple[Floats, NDArray[np.uint8], NDArray[np.int64], int, float]:
    """Round an outline: coarse light (h, w, 3), what it fills, the first pixel, px a coarse one, these a mm."""
    px_per_mm = 1 / float(plane.mm_per_px_at(outline.mean(axis=0)[None])[0])
    factor = max(1, round(px_per_mm / COARSE_PER_MM))
    per_mm = px_per_mm / factor
    margin = _AROUND_MM * px_per_mm
    low = np.maximum(np.floor((outline.min(axis=0) - margin) / factor).astype(int), 0) * factor
    high = np.ceil((outline.max(axis=0) + margin) / factor).astype(int) * factor
    light = coarse_light(picture.pixels[low[1] : high[1], low[0] : high[0]], factor)
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), _GRAIN_MM * per_mm))
    blob = np.zeros(light.shape[:2], np.uint8)
    cv2.fillPoly(blob, [_in_coarse(outline, low, factor)], (1,))
    return light, blob, low, factor, per_mm


def _in_coarse(outline: Floats, low: NDArray[np.int64], factor: int) -> NDArray[np.int32]:
    """An outline (n, 2) image px in coarse px."""
    return np.rint((outline - low - (factor - 1) / 2) / factor).astype(np.int32)


def _parts(mask: Mask, per_mm: float) -> list[Mask]:
    """The mask's parts without holes and threads, the largest first."""
    bare = opened(filled(mask), _THREAD_MM * per_mm).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(bare, connectivity=4)
    order = sorted(range(1, count), key=lambda label: -int(stats[label, cv2.CC_STAT_AREA]))
    return [filled(np.asarray(labels == label)) for label in order[:2]]


def _from_middle(middle: Mask, lightness: Floats, colour: Floats) -> tuple[Floats, Floats]:
    """By how much each pixel's lightness (h, w) and colour (h, w, 3) differ from the middle's, in uneven light."""
    rows, columns = np.nonzero(middle)
    few = np.s_[:: max(1, len(rows) // 4000)]
    terms = np.column_stack([np.ones(len(rows)), rows, columns])[few]
    values = lightness[middle][few]
    weight = np.ones(len(values))
    for _ in range(8):
        fit = np.linalg.lstsq(terms * weight[:, None], values * weight, rcond=None)[0]
        off = np.abs(values - terms @ fit)
        weight = 1 / np.maximum(1.0, off / (1.4826 * float(np.median(off)) + 1e-3))
    y, x = np.indices(middle.shape)
    return lightness - (fit[0] + fit[1] * y + fit[2] * x), colour - np.median(colour[middle], axis=0)


def _missed(alike: Mask, loose: Mask, per_mm: float) -> Mask:
    """What hangs together with the face, has its colour, and lies beyond what was seen: a bite that the eye took.

    Nothing where that runs on and on: then the ground has the face's colour.
    """
    whole = opened(closed(alike, _THREAD_MM * per_mm), _THREAD_MM * per_mm)  # strokes of a pen part nothing
    _, labels = cv2.connectedComponents(whole.astype(np.uint8), connectivity=4)
    counts = np.bincount(labels[loose], minlength=1)
    counts[0] = 0
    part = np.asarray(labels == int(np.argmax(counts))) if counts.any() else np.zeros_like(loose)
    border = np.concatenate([part[0], part[-1], part[:, 0], part[:, -1]])
    missed = part & ~loose
    if border.any() or missed.sum() > (1 - _SAME) * loose.sum():
        return np.zeros_like(loose)
    return np.asarray(missed)


def _of_ground(inside: Mask, lightness: Floats, colour: Floats) -> Mask:
    """What has the one colour of what lies round about; nothing where that is a pattern."""
    around = ~inside
    if not around.any():
        return np.zeros_like(inside)
    away, colour = _from_middle(around, lightness, colour)
    return _of_one_colour(around, away, colour)


def _unlike_ground(inside: Mask, lightness: Floats, colour: Floats) -> Mask:
    """What is no ground, and no shadow on it: lighter, or of another colour; nothing where it is a pattern."""
    around = ~inside
    if not around.any():
        return np.zeros_like(inside)
    away, colour = _from_middle(around, lightness, colour)
    light, tint = _spread(around, away, colour)
    return np.asarray((away > _SIGMAS * light) | (np.linalg.norm(colour, axis=2) > _SIGMAS * tint))


def _spread(middle: Mask, away: Floats, colour: Floats) -> tuple[float, float]:
    """How much the middle's lightness and colour differ from one, standard deviations."""
    return (
        max(_LEAST_SPREAD[0], 1.4826 * float(np.median(np.abs(away[middle])))),
        max(_LEAST_SPREAD[1], 1.4826 * float(np.median(np.abs(colour[middle])))),
    )


def _of_one_colour(middle: Mask, away: Floats, colour: Floats) -> Mask:
    """What has the middle's one colour."""
    light, tint = _spread(middle, away, colour)
    return np.asarray(np.hypot(away / light, np.linalg.norm(colour, axis=2) / tint) < _SIGMAS)


# --- two colours ---


def parted_by_colour(picture: Picture, outline: Floats, plane: Plane) -> bool:
    """Whether one straight line parts what an outline (n, 2) image px holds into two plain colours."""
    light, blob, _, _, per_mm = coarse_around(picture, outline, plane)
    rows, columns = np.nonzero(cv2.erode(blob, disc(_LOOSE_MM * per_mm), borderValue=0))
    if len(rows) < _LEAST_POINTS:
        return False
    few = np.s_[:: max(1, len(rows) // 4000)]
    at, colour = np.column_stack([columns, rows])[few].astype(float), light[rows, columns][few]
    one = _of_two(colour)
    if not _LEAST_PART < one.mean() < 1 - _LEAST_PART:
        return False
    apart = np.median(colour[one], axis=0) - np.median(colour[~one], axis=0)
    size = float(np.linalg.norm(apart))
    along = colour @ (apart / size)
    spreads = [1.4826 * float(np.median(np.abs(along[part] - np.median(along[part])))) for part in (one, ~one)]
    normal, place, share = _line_between(at, one)
    if size < _APART * max(spreads) or share < _IN_LINE:
        return False
    rows, columns = np.nonzero(cv2.dilate(blob, disc(_RIM_MM * per_mm)) == 0)
    beyond = np.column_stack([columns, rows]) @ normal > place
    if min(beyond.sum(), (~beyond).sum()) < _LEAST_POINTS:
        return True
    ground = light[rows, columns]
    step = np.median(ground[beyond], axis=0) - np.median(ground[~beyond], axis=0)
    return bool(step @ apart < 0.5 * size**2)


def _of_two(colour: Floats) -> Mask:
    """(n,) which of two colours (n, 3) each is nearer to: the two means that Lloyd's way (1982) comes to."""
    middle = colour.mean(axis=0)
    one = (colour - middle) @ np.linalg.svd(colour - middle, full_matrices=False)[2][0] > 0
    if not one.any():
        return np.asarray(one)  # all of one colour
    means = np.array([colour[one].mean(axis=0), colour[~one].mean(axis=0)])
    return np.asarray(kmeans2(colour, means, iter=20, minit="matrix")[1] == 0)


def _line_between(at: Floats, one: Mask) -> tuple[Floats, float, float]:
    """The straight line that parts points (n, 2) best: ``x @ normal > place`` is the ``one`` part's side of it.

    And what share lies on its own side. The normal is Fisher's discriminant (1936).
    """
    parts = at[one], at[~one]
    within = sum(np.cov(part.T) * len(part) for part in parts) / len(at)
    normal = np.linalg.solve(within, parts[0].mean(axis=0) - parts[1].mean(axis=0))
    places = at @ normal
    order = np.argsort(places)
    right = int(one.sum()) + np.concatenate([[0], np.cumsum(np.where(one[order], -1, 1))])
    best = int(np.argmax(right))
    return normal, float(places[order[max(best - 1, 0)]]), float(right[best]) / len(at)
