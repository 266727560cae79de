"""Numbers that say whether an outline is a card: what lies along, within and outside it, and its like around it."""

import cv2
import numpy as np
from numpy.typing import NDArray

from seamsurvey.seen_model import BORDER, CLUTTER, FACE, GROUND, REFERENCE, SHADOW, SIDE
from seamsurvey.sight.candidates import Candidate, area_of, evenly
from seamsurvey.sight.evidence import Evidence

Values = NDArray[np.float32]

NAMES = (
    "votes", "kinds", "corners", "corners_a_length", "solid", "area", "part_of_picture", "narrow", "long",
    "in_card", "in_card_low", "in_border", "in_reference", "in_clutter", "in_ground", "in_lightness_spread",
    "border", "border_weakest", "card_within", "card_within_weakest", "card_beyond", "card_beyond_strongest",
    "shade_beyond", "other_beyond", "contrast_near", "contrast_near_weakest", "contrast_far",
    "contrast_far_weakest", "spread_within",
    "spread_beyond", "card_in_picture", "border_low", "border_share", "border_deep", "border_far",
    "ground_beyond", "ground_beyond_weakest", "ground_within", "contrast_one_way", "in_side", "in_shadow",
    "in_picture_colours", "four_sides", "alike", "alike_in_size", "size_among_alike",
    "holder_border", "holder_ground_beyond", "part_border", "parts", "rival_border", "rivals",
)  # fmt: skip
_SAMPLES = 96
_EIGHTH = _SAMPLES // 8
_DEPTHS = np.array([-8.0, -5.0, -3.0, -2.0, -1.0, 0.0, 1.0, 3.0, 5.0, 8.0])  # px out from the outline
_WITHIN, _BORDER_AT, _BEYOND = 1, slice(2, 7), 8
_SAME_COLOUR = 8.0  # CIELAB units: cards cut of one stuff, under one lamp
_SAME_AREA = 0.07
LARGER = 1.25  # times its area: what holds a candidate is another thing, not the same drawn a little wider


def _sampled(channels: Values, outlines: list[NDArray[np.float64]]) -> Values:
    """(N, samples, depths, C) values of (h, w, C) along and across each outline, bilinear."""
    out = []
    for outline in outlines:
        line = evenly(outline, _SAMPLES)
        ahead = np.roll(line, -1, 0) - np.roll(line, 1, 0)
        normal = np.stack([ahead[:, 1], -ahead[:, 0]], 1) / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
        out.append(line[:, None] + normal[:, None] * _DEPTHS[None, :, None])
    places = np.asarray(out, np.float32).reshape(len(outlines) * _SAMPLES, len(_DEPTHS), 2)
    parts = []
    for start in range(0, len(places), 30000):  # a picture of OpenCV's own has at most 32767 rows
        block = places[start : start + 30000]
        got = cv2.remap(channels, block[..., 0], block[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        parts.append(got.reshape(len(block), len(_DEPTHS), -1))
    return np.concatenate(parts, dtype=np.float32).reshape(len(outlines), _SAMPLES, len(_DEPTHS), -1)


def _weakest(along: Values) -> Values:
    """The least mean over an eighth of an outline in a row: (N,) of (N, samples)."""
    wrapped = np.concatenate([along, along[:, :_EIGHTH]], axis=1)
    sums = np.cumsum(np.pad(wrapped, ((0, 0), (1, 0))), axis=1, dtype=np.float64)
    return np.asarray(((sums[:, _EIGHTH:] - sums[:, :-_EIGHTH]) / _EIGHTH).min(1), np.float32)


def _inside(stack: Values, outline: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Means and spreads of (h, w, C) inside, 3 px from the outline if there is room; channel 0's least fifth."""
    height, width = stack.shape[:2]
    x0, y0 = np.maximum(np.floor(outline.min(0)).astype(int), 0)
    x1, y1 = np.minimum(np.ceil(outline.max(0)).astype(int) + 1, (width, height))
    part = stack[y0:y1, x0:x1]
    mask = np.zeros(part.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.rint((outline - (x0, y0)) * 16).astype(np.int32)], 1, shift=4)
    core = cv2.erode(mask, np.ones((7, 7), np.uint8), borderValue=0)
    chosen = part[core > 0] if core.any() else part[mask > 0]
    if not len(chosen):
        return np.zeros(stack.shape[2]), np.zeros(stack.shape[2]), 0.0
    return chosen.mean(0), chosen.std(0), float(np.partition(chosen[:, 0], len(chosen) // 5)[len(chosen) // 5])


def traits(evidence: Evidence, found: list[Candidate]) -> Values:
    """(n, len(NAMES)) float32, a row a candidate."""
    if not found:
        return np.zeros((0, len(NAMES)), np.float32)
    maps = evidence.maps
    card = maps[FACE] + maps[BORDER]
    shade, other = maps[SIDE] + maps[SHADOW], maps[REFERENCE] + maps[CLUTTER]
    ground = maps[GROUND] + maps[SHADOW]
    chances = np.ascontiguousarray(np.stack([card, maps[BORDER], shade, other, ground], -1))
    sharp = cv2.cvtColor(evidence.small.astype(np.float32) / np.float32(255), cv2.COLOR_RGB2LAB)
    lab = np.asarray(cv2.GaussianBlur(sharp, (3, 3), 0), np.float32)
    outlines = [c.outline for c in found]
    seen, colour = _sampled(chances, outlines), _sampled(lab, outlines)
    near = np.linalg.norm(colour[:, :, 3] - colour[:, :, 7], axis=2)
    far = np.linalg.norm(colour[:, :, _WITHIN] - colour[:, :, _BEYOND], axis=2)
    border = seen[:, :, _BORDER_AT, 1].max(2)
    stack = np.ascontiguousarray(
        np.stack(
            [
                card,
                maps[BORDER],
                maps[REFERENCE],
                maps[CLUTTER],
                maps[GROUND],
                lab[:, :, 0],
                maps[SIDE],
                maps[SHADOW],
            ],
            -1,
        )
    )
    middle = np.median(colour[:, :, _WITHIN], axis=1)
    picture, picture_spread = float(card.mean()), float(lab[:, :, 0].std())
    rows, more = [], []
    for candidate in found:
        outline = candidate.outline
        area = area_of(outline)
        round_it = float(np.hypot(*(np.roll(outline, -1, 0) - outline).T).sum())
        hull = cv2.contourArea(cv2.convexHull(outline.astype(np.float32)))
        sides = cv2.minAreaRect(outline.astype(np.float32))[1]
        mean, spread, low = _inside(stack, outline)
        rows.append([
            np.log(candidate.votes), candidate.kinds, len(outline), len(outline) / round_it * 100,
            area / max(hull, 1e-6), np.log(area), area / card.size, np.log(min(sides) + 1), np.log(max(sides) + 1),
            mean[0], low, mean[1], mean[2], mean[3], mean[4], spread[5],
        ])  # fmt: skip
        long = np.sort(np.hypot(*(np.roll(outline, -1, 0) - outline).T))
        more.append(
            [mean[6], mean[7], np.linalg.norm(spread[5:6]) / (picture_spread + 1), long[-4:].sum() / round_it]
        )
    way = colour[:, :, _WITHIN] - colour[:, :, _BEYOND]
    inner, outer = seen[:, :, _WITHIN, 0], seen[:, :, _BEYOND, 0]
    along = np.stack([
        border.mean(1), _weakest(border), inner.mean(1), _weakest(inner), outer.mean(1), -_weakest(-outer),
        seen[:, :, 7:9, 2].max(2).mean(1), seen[:, :, _BEYOND, 3].mean(1), np.median(near, 1), _weakest(near),
        np.median(far, 1), _weakest(far), np.linalg.norm(colour[:, :, _WITHIN].std(1), axis=1),
        np.linalg.norm(colour[:, :, _BEYOND].std(1), axis=1), np.full(len(found), picture),
        np.quantile(border, 0.2, axis=1), (border > 0.3).mean(1), seen[:, :, :2, 1].max(2).mean(1),
        seen[:, :, 8:, 1].max(2).mean(1), seen[:, :, _BEYOND, 4].mean(1), _weakest(seen[:, :, _BEYOND, 4]),
        seen[:, :, _WITHIN, 4].mean(1), np.linalg.norm(way.mean(1), axis=1) / (far.mean(1) + 1),
    ], 1)  # fmt: skip
    areas = np.array([row[5] for row in rows])
    good = border.mean(1) > 0.5
    company = []
    for i in range(len(found)):
        like = good & (np.linalg.norm(middle - middle[i], axis=1) < _SAME_COLOUR)
        like[i] = False
        size = areas[like] - areas[i]
        company.append([like.sum(), (np.abs(size) < _SAME_AREA).sum(), np.median(size) if len(size) else 0.0])
    others = _among(outlines, areas, border.mean(1), seen[:, :, _BEYOND, 4].mean(1))
    return np.hstack([np.asarray(rows), along, np.asarray(more), np.asarray(company), others]).astype(np.float32)


def _among(
    outlines: list[NDArray[np.float64]], areas: NDArray[np.float64], border: Values, beyond: Values
) -> NDArray[np.float64]:
    """Each candidate among the others, by their boxes: (N, 6); `areas` (N,) are logarithms.

    The best border of what holds it, and how much ground is round that; the best border of what lies within it, and
    how many there are good; of others drawn of the same place the best border, and how many they are.
    """
    low, high = np.array([o.min(0) for o in outlines]), np.array([o.max(0) for o in outlines])
    common = np.prod(np.maximum(np.minimum(high[:, None], high) - np.maximum(low[:, None], low), 0), axis=2)
    box = np.prod(high - low, axis=1)
    larger = areas[None, :] - areas[:, None]  # of the second over the first
    held = (common > 0.9 * box[:, None]) & (larger > np.log(LARGER))
    same = (common > 0.6 * (box[:, None] + box - common)) & (np.abs(larger) < np.log(LARGER))
    np.fill_diagonal(same, False)

    def best(of: NDArray[np.bool_], values: Values) -> NDArray[np.float64]:
        return np.asarray(np.where(of, values[None, :], 0.0).max(1), np.float64)

    good = border > 0.5
    return np.stack([
        best(held, border), best(held & good, beyond), best(held.T, border), (held.T & good).sum(1),
        best(same, border), same.sum(1),
    ], 1)  # fmt: skip
