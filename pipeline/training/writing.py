"""What is on a card's face: names, how many to cut, seam lines, grain arrows, figures. No edge of a card."""

import math

import cv2
import numpy as np

from training.raster import Ink, Map
from training.shapes import Cut, Points, Random, densified, inset, seam

_LETTERS = list("ABCDEFGHKLMT0123456789 ")
_WORDS = ("cut 1", "cut 4", "CUT 8", "x12", "4 rev", "top", "dark", "LIGHT", "1/4 in", "No 7", "half", "SIDE", "bg")


def _text(rng: Random, plate: Map, strength: int) -> None:
    """A name, at any turn and size, and often a second line below it."""
    n = len(plate)
    name = "".join(rng.choice(_LETTERS, int(rng.choice([1, 1, 1, 2, 2, 3, 5, 8]))))
    lines = [name, str(rng.choice(_WORDS))] if rng.random() < 0.5 else [name]
    font, big = (
        int(rng.choice([0, 2, 3, 4, 6, 7])),
        float(n * np.exp(rng.uniform(math.log(0.002), math.log(0.016)))),
    )
    weight = max(1, round(big * float(rng.uniform(0.7, 4))))
    at = np.array([rng.uniform(0.2, 0.5), rng.uniform(0.35, 0.65)]) * n
    own = np.zeros_like(plate)
    for k, line in enumerate(lines):
        size = big if k == 0 else big * float(rng.uniform(0.3, 0.7))
        place = (int(at[0]), int(at[1] + k * (big * 16 + 8)))
        cv2.putText(own, line, place, font, size, strength, weight if k == 0 else max(1, weight // 2), cv2.LINE_AA)
    turned = cv2.getRotationMatrix2D((n / 2, n / 2), float(rng.uniform(0, 360)), 1.0)
    np.maximum(plate, cv2.warpAffine(own, turned, (n, n), flags=cv2.INTER_LINEAR), out=plate)


def _strokes(plate: Map, line: Points, dash: float, gap: float, weight: int, strength: int) -> None:
    """A closed line (n, 2), whole where `gap` is 0."""
    for a, b in zip(line, np.roll(line, -1, 0), strict=True):
        long = float(np.hypot(*(b - a)))
        starts = np.arange(0, long, dash + gap) if gap else np.zeros(1)
        for at in starts:
            ends = (a + (b - a) * (t / max(long, 1e-9)) for t in (at, min(at + dash, long) if gap else long))
            p, q = ((int(e[0] * 16), int(e[1] * 16)) for e in ends)
            cv2.line(plate, p, q, strength, weight, cv2.LINE_AA, 4)


def _figures(rng: Random, plate: Map, strength: int) -> None:
    """One to four solid or open figures alike, side by side, as printed on playing cards. None is a card."""
    n = len(plate)
    sides, size = int(rng.choice([3, 4, 4, 5, 6, 24])), n * rng.uniform(0.04, 0.14)
    turn, way, squeeze = rng.uniform(0, 6.3), rng.uniform(0, 6.3), rng.uniform(0.4, 1)
    t = np.arange(sides) * 2 * math.pi / sides
    ring = np.stack([np.cos(t), squeeze * np.sin(t)], 1) * size
    ring = ring @ np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    count, solid = int(rng.integers(1, 5)), rng.random() < 0.6
    for k in range(count):
        middle = n / 2 + (k - (count - 1) / 2) * 2.4 * size * np.array([math.cos(way), math.sin(way)])
        points = [np.rint((ring + middle) * 16).astype(np.int32)]
        if solid:
            cv2.fillPoly(plate, points, strength, cv2.LINE_AA, 4)
        else:
            cv2.polylines(plate, points, True, strength, max(1, round(size / 8)), cv2.LINE_AA, 4)


def written(rng: Random, card: Cut, size: float) -> Ink:
    """Ink for a card of half width `size` px on the canvas; the plate's px are the canvas's."""
    n = max(16, int(size * 2.4))
    plate = np.zeros((n, n), np.uint8)
    low = card.outline.min(0)
    strength = int(rng.integers(70, 256))
    weight = int(rng.integers(1, max(2, min(5, round(size / 40) + 2))))
    if rng.random() < 0.7:
        _text(rng, plate, strength)
    if rng.random() < 0.55:
        corners = cv2.approxPolyDP(card.outline.astype(np.float32)[:, None], 1.2, True)[:, 0].astype(float)
        line = seam(corners, size * float(np.exp(rng.uniform(math.log(0.04), math.log(0.3)))))
        if line is None:
            line = inset(densified(card.outline, max(size * 0.08, 3)), rng.uniform(0.6, 0.92))
        dash = max(2.0, size * float(rng.uniform(0.02, 0.12)))
        gap = dash * float(rng.uniform(0.4, 1.2)) if rng.random() < 0.65 else 0.0
        _strokes(plate, line - low, dash, gap, weight, strength)
    if rng.random() < 0.05:
        _figures(rng, plate, strength)
    for _ in range(int(rng.choice([0, 1, 2], p=[0.65, 0.25, 0.1]))):
        a, b = rng.uniform(0.1, 0.9, 2) * n, rng.uniform(0.1, 0.9, 2) * n
        ends = (int(a[0]), int(a[1])), (int(b[0]), int(b[1]))
        if rng.random() < 0.6:
            cv2.arrowedLine(plate, *ends, strength, weight, cv2.LINE_AA, 0, 0.15)
        else:  # a line from side to side: a fold, half of a face
            cv2.line(plate, *ends, strength, weight, cv2.LINE_AA)
    return Ink(plate, np.array([[1.0, 0, low[0]], [0, 1, low[1]]]))
