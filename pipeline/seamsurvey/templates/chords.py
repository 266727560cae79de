"""Telling straight edges from the chords of a curve: a chord has the curve bowed over it."""

import math
from collections.abc import Sequence

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from seamsurvey.geometry import Points, interior_angles

Floats = NDArray[np.float64]

CORNER_MM = 1.5  # so much of each run's end may be worn round and says nothing about the edge
OFF_MM = 0.6  # farther from the outline a point lies on something else: a letter, a side, a shadow
_BOW_MM = 0.12  # three neighbouring edges bowed the same way by more may be the chords of a curve
_CLEAR_BOW_MM = 0.6  # and by more than a hand's wobble bows an edge, they are curves, each by itself
_TURN_FACTOR, _TURN_SPARE_DEG = 2.5, 4.0  # how well the bows of chords tell by how much they turn
_BENT_MM = 0.15  # a letter or a shadow at a straight edge bows what is seen of it by no more
_ROUGHLY_BENT_MM = 0.4  # but a petal of the cloth may bow one edge by this, in a ragged way
_SMOOTH_SCATTERS = 8.0  # times what is left over beside its bow: no ragged edge's bow is as clear
_ROUND_DEG = 40.0  # an octagon's corners turn by 45 degrees, and no patch has more corners all round
_ROUND_SHARE = 0.94  # of the circle about it: an octagon fills 0.90
_MOST_OFF = 0.1  # of all points: nor does it hide more of an outline


def nearly_round(corners: Points) -> bool:
    """Whether an outline (n, 2) turns nowhere as much as an octagon: a notched pot's rim, cut into chords."""
    return bool(np.abs(180 - interior_angles(corners)).max() < _ROUND_DEG)


def fills_its_circle(outline: Points) -> bool:
    """Whether what was seen, roughly, of an outline (n, 2) mm fills the circle about it, as a coin does."""
    (_, _), reach = cv2.minEnclosingCircle(outline.astype(np.float32))
    return bool(shapely.Polygon(outline).buffer(0).area > _ROUND_SHARE * math.pi * reach**2)


def are_chords(corners: Points, residuals: Sequence[Floats]) -> bool:
    """Whether three neighbouring edges of an outline (n, 2) mm bow the same way, as a curve over its chords does.

    ``residuals``: of each edge its points' distances (m,) in their order. Three edges cut by hand may happen to bow
    alike, but a curve turns no more from chord to chord than its bows say: by 8 s / l for a sagitta s over a chord
    l (s = l² / 8r, and the turn is l / r).
    """
    bows = np.array([_bow(np.arange(len(off), dtype=float), off, _BOW_MM) for off in residuals])
    ways = np.roll(corners, -1, axis=0) - corners
    lengths = np.hypot(*ways.T)
    before = np.roll(ways, 1, axis=0)  # corner k lies between edges k - 1 and k
    turns = np.arctan2(before[:, 0] * ways[:, 1] - before[:, 1] * ways[:, 0], np.sum(before * ways, axis=1))
    told = 8 * np.abs(bows) / lengths
    most = _TURN_FACTOR * (told + np.roll(told, 1)) / 2 + math.radians(_TURN_SPARE_DEG)
    smooth = np.abs(turns) < most
    clear = np.abs(bows) > _CLEAR_BOW_MM
    return any(
        bows[k] * bows[k - 1] > 0
        and bows[k] * bows[after] > 0
        and ((smooth[k] and smooth[after]) or (clear[k] and clear[k - 1] and clear[after]))
        for k, after in enumerate(np.roll(np.arange(len(bows)), -1))
    )


def may_be_chords(corners: Points, points: Points) -> bool:
    """Whether the outline (n, 2) mm through points (m, 2) may stand for a curve.

    It may where one of its edges is bowed, or too many points lie off it: enough only where something else, too,
    speaks for a curve.
    """
    ends = np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)
    places, offs = np.array([_along_and_off(start, end, points) for start, end in ends]).swapaxes(0, 1)
    lengths = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    apart = np.array([shapely.distance(shapely.LineString(line), shapely.points(points)) for line in ends])
    near = apart.min(axis=0) <= OFF_MM
    if np.mean(~near) > _MOST_OFF:
        return True
    own = near & (apart.argmin(axis=0) == np.arange(len(corners))[:, None])
    own &= (places > CORNER_MM) & (places < lengths[:, None] - CORNER_MM)
    seen = [(place[its], off[its]) for place, off, its in zip(places, offs, own, strict=True)]
    bent = [k for k, each in enumerate(seen) if _bow(*each, _BENT_MM)]
    # A free curve shows as several bowed chords, or as one that bows smoothly.
    return len(bent) > 1 or any(
        _bow(*seen[k], _ROUGHLY_BENT_MM) or _bow(*seen[k], _BENT_MM, scatters=_SMOOTH_SCATTERS) for k in bent
    )


def _along_and_off(start: Points, end: Points, points: Points) -> tuple[Floats, Floats]:
    """(m,) how far points lie along a line from its start, and (m,) how far to its right."""
    x, y = (end - start) / np.hypot(*(end - start))
    return (points - start) @ [x, y], (points - start) @ [y, -x]


def _bow(place: Floats, off: Floats, least: float, scatters: float = 2.0) -> float:
    """By how much (mm) points (n,) along an edge bow away from its line, with its sign; 0 where by less.

    ``scatters``: a bow is one only where it is so many times the points' scatter about it.
    """
    if len(off) <= 5:
        return 0.0
    place = np.interp(place, (place.min(), place.max()), (-1, 1))
    fit = np.polyfit(place, off, 2)
    scatter = float(np.std(off - np.polyval(fit, place)))
    return float(fit[0]) if abs(fit[0]) > max(least, scatters * scatter) else 0.0
