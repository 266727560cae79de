"""Outlines of cut cards, of every kind that patchwork knows, in a frame of their own.

A shape lies round the origin and reaches about 1 from it; `Cut` carries what scissors and use did to it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Random = np.random.Generator


@dataclass(frozen=True)
class Cut:
    """A card's outline, (n, 2), anticlockwise in a frame with y up, and the holes in it."""

    outline: Points
    holes: tuple[Points, ...] = field(default=())

    def moved(self, turn: float, size: float, to: Points) -> "Cut":
        """Turned by `turn` (radians), scaled by `size`, shifted to `to` (2,)."""
        c, s = math.cos(turn) * size, math.sin(turn) * size
        matrix = np.array([[c, -s], [s, c]])
        return Cut(self.outline @ matrix.T + to, tuple(hole @ matrix.T + to for hole in self.holes))


def _ring(angles: NDArray[np.float64], radii: NDArray[np.float64] | float = 1.0) -> Points:
    return np.stack([np.cos(angles) * radii, np.sin(angles) * radii], axis=1)


def _regular(rng: Random) -> Points:
    n = int(rng.choice([3, 4, 5, 6, 6, 8, 8, 10, 12]))
    return _ring(np.arange(n) * 2 * math.pi / n)


def _rectangle(rng: Random) -> Points:
    narrow = float(np.exp(rng.uniform(math.log(0.045), 0))) if rng.random() < 0.5 else rng.uniform(0.25, 1)
    return np.array([[-1, -narrow], [1, -narrow], [1, narrow], [-1, narrow]])


def _square(_rng: Random) -> Points:
    return np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]) * 0.75


def _triangle(rng: Random) -> Points:
    kind = rng.random()
    if kind < 0.45:
        return np.array([[-0.7, -0.7], [0.9, -0.7], [-0.7, 0.9]])
    if kind < 0.6:
        return np.array([[-1, -0.4], [1, -0.4], [0, 0.6]])
    if kind < 0.8:
        tall = rng.uniform(0.3, 3.0)
        return np.array([[-0.6, -0.3 * tall], [0.6, -0.3 * tall], [rng.uniform(-0.7, 0.7), 0.6 * tall]])
    return _ring(np.sort(rng.uniform(0, 2 * math.pi, 3)) * 0.2 + np.array([0.0, 2.1, 4.2]))


def _four_sided(rng: Random) -> Points:
    kind = rng.random()
    if kind < 0.35:  # rhomb
        half = math.radians(rng.choice([11.25, 15, 22.5, 22.5, 30, 36, rng.uniform(9, 40)]))
        return np.array([[-math.cos(half), 0], [0, -math.sin(half)], [math.cos(half), 0], [0, math.sin(half)]])
    if kind < 0.6:  # parallelogram
        high, lean = rng.uniform(0.15, 0.7), rng.uniform(0.2, 0.8)
        return np.array([[-1, -high], [1 - lean, -high], [1, high], [-1 + lean, high]])
    if kind < 0.8:  # trapezoid
        high, top = rng.uniform(0.12, 0.8), rng.uniform(0.2, 0.9)
        skew = rng.choice([0.0, 1 - top, rng.uniform(-0.3, 0.3)])
        return np.array([[-1, -high], [1, -high], [top + skew, high], [-top + skew, high]])
    side, low = rng.uniform(0.25, 0.6), rng.uniform(-0.9, -0.2)  # kite
    return np.array([[0, low], [side, 0.0], [0, rng.uniform(0.2, 1.0)], [-side, 0.0]])


def _convex(rng: Random) -> Points:
    n = int(rng.integers(4, 10))
    angles = (np.arange(n) + rng.uniform(-0.35, 0.35, n)) * 2 * math.pi / n
    return np.asarray(_ring(angles) * np.array([1.0, rng.uniform(0.3, 1.0)]))


def _hollow(rng: Random) -> Points:
    kind = rng.random()
    if kind < 0.25:  # L
        a, b = rng.uniform(0.2, 0.7, 2)
        return (
            np.array([[-1, -1], [1, -1], [1, -1 + 2 * a], [-1 + 2 * b, -1 + 2 * a], [-1 + 2 * b, 1], [-1, 1]]) * 0.8
        )
    if kind < 0.45:
        return star(rng)
    if kind < 0.6:  # cross
        a = rng.uniform(0.2, 0.45)
        one = np.array([[1, -a], [1, a], [a, a]])
        return np.concatenate([one @ np.array([[math.cos(t), math.sin(t)], [-math.sin(t), math.cos(t)]])
                               for t in np.arange(4) * math.pi / 2])  # fmt: skip
    if kind < 0.8:  # house, arrow
        roof, notch = rng.uniform(0.2, 0.9), rng.uniform(-0.6, 0.6)
        return np.array(
            [[-0.6, -0.8], [0, -0.8 + max(notch, 0)], [0.6, -0.8], [0.6, 0.2], [0, 0.2 + roof * 0.8], [-0.6, 0.2]]
        )
    if kind < 0.9:  # stairs, up to 24 edges
        n = int(rng.integers(2, 12))
        run, rise = np.cumsum(rng.uniform(0.5, 1.5, n)), np.cumsum(rng.uniform(0.5, 1.5, n))[::-1]
        steps = np.stack([np.repeat(np.concatenate([[0.0], run]), 2)[1:-1], np.repeat(rise, 2)], 1)
        ends = np.array([[0.0, 0.0], [run[-1], 0.0]])
        stairs = np.concatenate([ends, steps[::-1]]) / [run[-1], rise[0]]
        return np.asarray((stairs - 0.5) * [1.6, rng.uniform(0.6, 1.6)])
    n = int(rng.integers(5, 13))
    angles = (np.arange(n) + rng.uniform(-0.3, 0.3, n)) * 2 * math.pi / n
    return _ring(angles, rng.uniform(0.55, 1.0, n))


def _arc(a: Points, b: Points, bulge: float, n: int = 24) -> Points:
    """Points from a (with) to b (without) along an arc whose height over half its chord is `bulge`."""
    if abs(bulge) < 1e-3:
        return a[None]
    chord = b - a
    half = float(np.hypot(*chord)) / 2
    radius = half * (1 + bulge * bulge) / (2 * bulge)
    normal = np.array([chord[1], -chord[0]]) / (2 * half)
    centre = (a + b) / 2 - normal * (radius - half * bulge)
    start = math.atan2(*(a - centre)[::-1])
    angle = 4 * math.atan(bulge)
    t = start + np.arange(n) / n * angle
    return centre + abs(radius) * np.stack([np.cos(t), np.sin(t)], 1)


def _curved(rng: Random) -> Points:
    kind = rng.random()
    if kind < 0.2:  # quarter round
        return np.concatenate([[[0.0, 0.0]], _ring(np.linspace(0, math.pi / 2, 25))]) * 1.4 - 0.6
    if kind < 0.4:  # what a quarter round leaves of a square
        r = rng.uniform(0.5, 0.85)
        arc = _ring(np.linspace(math.pi / 2, 0, 25), r)
        return (np.concatenate([arc, [[1, 0], [1, 1], [0, 1]]])) * 1.4 - 0.8
    if kind < 0.55:  # petal
        bulge = rng.uniform(0.2, 0.6)
        a, b = np.array([-1.0, 0]), np.array([1.0, 0])
        return np.concatenate([_arc(a, b, bulge), _arc(b, a, bulge)])
    if kind < 0.65:  # round, oval
        ring = _ring(np.linspace(0, 2 * math.pi, 60, endpoint=False))
        return np.asarray(ring * np.array([1, rng.uniform(0.4, 1)]) * 0.9)
    if kind < 0.75:  # blade of a fan
        wide, r = rng.uniform(0.15, 0.5), rng.uniform(0.1, 0.5)
        outer, inner = _ring(np.linspace(-wide, wide, 20), 1.6), _ring(np.linspace(wide, -wide, 12), 1.6 * r)
        return np.concatenate([outer, inner]) - [0.9, 0]
    base = KINDS[int(rng.integers(0, 5))](rng)  # any shape, one or more sides bowed
    bulges = np.where(rng.random(len(base)) < 0.5, rng.uniform(-0.3, 0.45, len(base)), 0)
    return np.concatenate(
        [_arc(a, b, float(k)) for a, b, k in zip(base, np.roll(base, -1, 0), bulges, strict=True)]
    )


KINDS: tuple[Callable[[Random], Points], ...] = (
    _square,
    _rectangle,
    _triangle,
    _four_sided,
    _regular,
    _convex,
    _hollow,
    _curved,
)
_SHARES = np.array([0.14, 0.2, 0.22, 0.15, 0.07, 0.06, 0.07, 0.09])


def star(rng: Random) -> Points:
    """A star of 4 to 12 points."""
    n = int(rng.choice([4, 5, 6, 8, 12]))
    radii = np.where(np.arange(2 * n) % 2 == 0, 1.0, rng.uniform(0.4, 0.75))
    return _ring(np.arange(2 * n) * math.pi / n, radii)


def strip(rng: Random) -> Points:
    """A strip of 5:1 to 22:1, its ends square, at 45 degrees, or at another angle."""
    narrow = 1 / float(np.exp(rng.uniform(math.log(5), math.log(22))))
    lean = narrow * float(rng.choice([0.0, 0.0, 0.0, 1.0, rng.uniform(-1, 1)]))
    other = lean if rng.random() < 0.5 else -lean
    return np.array([[-1 + lean, -narrow], [1 - other, -narrow], [1 + other, narrow], [-1 - lean, narrow]])


def slim(rng: Random) -> Points:
    """A long triangle, kite or rhomb whose sharpest tip has 5 to 25 degrees."""
    half, kind = math.tan(math.radians(rng.uniform(2.5, 12.5))), rng.random()
    if kind < 0.35:  # the blade of a star or compass
        return np.array([[-1, -2 * half], [1, 0], [-1, 2 * half]])
    if kind < 0.6:  # half of one
        return np.array([[-1, -2 * half], [1, -2 * half], [-1, 2 * half]])
    wide = rng.uniform(0.1, 1.0)  # of what lies behind the widest place, kites to rhombs
    long = 2 / (1 + wide)
    return np.array([[1 - 2, 0], [1 - long, -long * half], [1, 0], [1 - long, long * half]])


def outline(rng: Random, kind: Callable[[Random], Points] | None = None) -> Points:
    """One of all kinds, or of `kind`; anticlockwise with y up."""
    points = (kind or KINDS[int(rng.choice(len(KINDS), p=_SHARES))])(rng)
    if rng.random() < 0.5:
        points = points * np.array([-1, 1])
    x, y = points.T
    return points if (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() > 0 else points[::-1]


def trimmed(points: Points, rng: Random) -> Points:
    """Acute tips cut off square, as makers trim them."""
    out: list[Points] = []
    for i, p in enumerate(points):
        a, b = points[i - 1] - p, points[(i + 1) % len(points)] - p
        la, lb = float(np.hypot(*a)), float(np.hypot(*b))
        angle = math.acos(float(np.clip(a @ b / (la * lb + 1e-12), -1, 1)))
        cut = rng.uniform(0.05, 0.16)
        if angle < math.radians(62) and min(la, lb) > 3 * cut:
            out += [p + a / la * cut, p + b / lb * cut]
        else:
            out.append(p)
    return np.array(out)


def densified(points: Points, step: float) -> Points:
    """The same outline with a point at least every `step`."""
    parts = []
    for a, b in zip(points, np.roll(points, -1, 0), strict=True):
        n = max(1, math.ceil(float(np.hypot(*(b - a))) / step))
        parts.append(a + (b - a) * (np.arange(n) / n)[:, None])
    return np.concatenate(parts)


def worn(points: Points, amount: float) -> Points:
    """Corners rounded over about `amount`: a running mean over a dense outline."""
    dense = densified(points, amount / 2)
    return (np.roll(dense, 1, 0) + 2 * dense + np.roll(dense, -1, 0)) / 4


def wobbled(points: Points, rng: Random, amount: float) -> Points:
    """Cut by hand: smooth wandering of about `amount` across the outline."""
    dense = densified(points, 0.12)
    n = len(dense)
    t = np.arange(n) / n * 2 * math.pi
    shift = np.zeros((n, 2))
    for k in rng.integers(2, max(3, n // 3), 6):
        shift += rng.normal(0, 1, 2) * np.cos(k * t + rng.uniform(0, 6.3))[:, None]
    return np.asarray(dense + shift * amount / math.sqrt(6))


def inset(points: Points, part: float) -> Points:
    """The outline drawn towards its middle: a window, a seam line (right for what is about round)."""
    middle = points.mean(0)
    return np.asarray(middle + (points - middle) * part)


def seam(points: Points, by: float) -> Points | None:
    """The line `by` within an outline's sides (anticlockwise, y up), nearer at sharp tips; None if none is left."""
    ahead = np.roll(points, -1, 0) - points
    normal = np.stack([-ahead[:, 1], ahead[:, 0]], 1) / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    before = np.roll(normal, 1, 0)
    line = points + (before + normal) / np.maximum(1 + (before * normal).sum(1), 0.3)[:, None] * by
    x, y = line.T
    kept = (((np.roll(line, -1, 0) - line) * ahead).sum(1) > 0).all()
    return line if kept and (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() > 0 else None


def holds(outline: Points, hole: Points) -> bool:
    """Whether all of a hole (m, 2) lies within an outline (n, 2)."""
    ring = outline.astype(np.float32)
    return all(cv2.pointPolygonTest(ring, (float(x), float(y)), False) > 0 for x, y in hole)


def cut(rng: Random, kind: Callable[[Random], Points] | None = None) -> Cut:
    """A card as somebody cut it, of `kind` if that is given."""
    ideal = outline(rng, kind)
    points = ideal
    if len(points) < 8 and rng.random() < 0.12:
        points = trimmed(points, rng)
    if rng.random() < 0.35:
        points = wobbled(points, rng, float(np.exp(rng.uniform(math.log(0.002), math.log(0.012)))))
    elif rng.random() < 0.35:
        points = worn(points, rng.uniform(0.02, 0.1))
    holes: list[Points] = []
    chance = rng.random()
    if chance < 0.07:
        holes.append(inset(ideal, rng.uniform(0.35, 0.8)))
    elif chance < 0.16:
        at = ideal.mean(0) + rng.normal(0, 0.08, 2)
        holes.append(at + _ring(np.linspace(0, 2 * math.pi, 20, endpoint=False), rng.uniform(0.02, 0.09)))
    return Cut(points, tuple(hole for hole in holes if holds(points, hole)))
