"""A chosen outline drawn anew where the evidence for card ends, all round: a closed path of least cost.

A candidate is a contour at some level of some channel, and wanders where its level wanders: into a shadow, along a
dashed line. What the network saw is steadier. Frame: *small*.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, map_coordinates

from seamsurvey.seen_model import BORDER, FACE
from seamsurvey.sight.candidates import Points, area_of, evenly, grown
from seamsurvey.sight.evidence import Evidence

_REACH, _STEP = 6.0, 0.5  # px to both sides that the outline may move, and how finely it is looked at
_DEEP = 3.0  # px farther in and out that the evidence counts
_SPACING = 1.0  # px from station to station
_NORMAL = 3.0  # px, deviation: outlines' directions are taken over more than their own steps
_TRUST = 0.03  # the network errs so often where it is surest
_LOOSE = 12  # px round an outline within which the card may go on
_TOOTH = 2.0  # px
_PIXEL = 0.5  # a contour runs through pixels' centres; the area ends half a pixel outside
_SAME = 0.75  # of their areas: what has more in common is the same card
_ROUNDS = 2  # the second begins where the first ended, with straighter directions


def traced(evidence: Evidence, outline: Points) -> Points:
    """The outline (n, 2), clockwise on the screen, moved by at most a few px to where card turns into what is none.

    The outline as it was, where what comes out is none.
    """
    chance = np.clip(evidence.maps[FACE] + evidence.maps[BORDER], _TRUST, 1 - _TRUST)
    odds = np.log(chance) - np.log1p(-chance)
    drawn = _component(evidence, outline)
    for _ in range(_ROUNDS):
        drawn = _moved(odds, drawn)
    return drawn if area_of(drawn) > 0.5 * area_of(outline) else outline


def _component(evidence: Evidence, outline: Points) -> Points:
    """The outline of the network's own connected area of card, where that is the same card, and no less simple."""
    card = (evidence.maps[FACE] + evidence.maps[BORDER] > 0.5).astype(np.uint8)
    low = np.maximum(np.floor(outline.min(axis=0)).astype(int) - _LOOSE, 0)
    high = np.ceil(outline.max(axis=0)).astype(int) + _LOOSE + 1
    part = cv2.morphologyEx(card[low[1] : high[1], low[0] : high[0]], cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    mine = np.zeros_like(part)
    cv2.fillPoly(mine, [np.rint(outline - low).astype(np.int32)], (1,))
    contours, _ = cv2.findContours(part, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    for contour in contours:
        whole = cv2.drawContours(np.zeros_like(part), [contour], -1, (1,), cv2.FILLED)
        common = np.count_nonzero(np.logical_and(whole, mine))
        if common > _SAME * np.count_nonzero(np.logical_or(whole, mine)):
            found = contour[:, 0].astype(float)
            found = grown(found if area_of(found) > 0 else found[::-1], _PIXEL) + low
            return found if _corners(found) <= _corners(outline) else outline
    return outline


def _corners(outline: Points) -> int:
    """How many corners an outline has that stand out: the one with bites or teeth has more."""
    return len(cv2.approxPolyDP(outline.astype(np.float32)[:, None], _TOOTH, True))


def _moved(odds: NDArray[np.float32], outline: Points) -> Points:
    around = float(np.hypot(*(np.roll(outline, -1, 0) - outline).T).sum())
    line = evenly(outline, max(12, round(around / _SPACING)))
    ahead = gaussian_filter1d(np.roll(line, -1, 0) - np.roll(line, 1, 0), _NORMAL / _SPACING, axis=0, mode="wrap")
    outward = np.stack([ahead[:, 1], -ahead[:, 0]], 1) / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    depths = np.arange(-_REACH - _DEEP, _REACH + _DEEP + _STEP / 2, _STEP)
    at = line[:, None] + outward[:, None] * depths[None, :, None]
    seen = map_coordinates(odds, [at[..., 1], at[..., 0]], order=1, mode="nearest")
    # To end at a depth costs the odds of all that is card beyond it, less the odds of what is card within it.
    gain = np.cumsum(seen, axis=1)
    first, last = round(_DEEP / _STEP), len(depths) - round(_DEEP / _STEP)
    window = round(_DEEP / _STEP)
    within = gain[:, first:last] - gain[:, first - window : last - window]
    beyond = gain[:, first + window : last + window] - gain[:, first:last]
    offset = depths[first:last][_closed_path(beyond - within)]
    smooth = gaussian_filter1d(offset, 1.0, mode="wrap")
    return np.asarray(line + outward * smooth[:, None])


def _closed_path(cost: NDArray[np.float64]) -> NDArray[np.int64]:
    """(n,) the column of each row on the closed path of least cost that moves by at most one column a row.

    Viterbi over the rows twice round: the second round begins where the first came out.
    """
    rows, columns = cost.shape
    twice = np.concatenate([cost, cost])
    best = twice[0].copy()
    came = np.zeros((2 * rows, columns), np.int8)
    for k in range(1, 2 * rows):
        padded = np.pad(best, 1, constant_values=np.inf)
        ways = np.stack([padded[:-2], padded[1:-1], padded[2:]])
        way = ways.argmin(axis=0)
        came[k] = way - 1
        best = ways[way, np.arange(columns)] + twice[k]
    path = np.zeros(2 * rows, np.int64)
    path[-1] = int(best.argmin())
    for k in range(2 * rows - 1, 0, -1):
        path[k - 1] = path[k] + came[k, path[k]]
    middle = rows // 2
    return np.roll(path[middle : middle + rows], middle)
