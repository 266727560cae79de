"""What else lies about: hands, scissors, pins, coins, pencils, thread, cups, phones, scraps, cables, litter."""

import math

import cv2
import numpy as np

from training.litter import grains, leaf, tag
from training.raster import Ink, Kind, Thing
from training.shapes import Points, Random


def _turned(points: Points, turn: float, to: Points) -> Points:
    c, s = math.cos(turn), math.sin(turn)
    return np.asarray(points @ np.array([[c, s], [-s, c]]) + to)


def _oval(a: float, b: float, n: int = 32) -> Points:
    t = np.linspace(0, 2 * math.pi, n, endpoint=False)
    return np.stack([np.cos(t) * a, np.sin(t) * b], 1)


def _thick(path: Points, half: Points | float) -> Points:
    """A band of half width `half` along a path (n, 2)."""
    along = np.gradient(path, axis=0)
    normal = np.stack([-along[:, 1], along[:, 0]], 1) / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    wide = normal * (half if isinstance(half, float) else half[:, None])
    return np.concatenate([path + wide, (path - wide)[::-1]])


def clutter(rng: Random, width: int, height: int, look: int) -> list[Thing]:
    """One thing of its kind, of one to four parts, anywhere."""
    if rng.random() < 0.2:
        return [(grains, leaf, tag)[int(rng.integers(0, 3))](rng, width, height, look)]
    across = max(width, height)
    to, turn = rng.uniform(-0.02, 1.02, 2) * (width, height), rng.uniform(0, 6.3)
    size = across * float(np.exp(rng.uniform(math.log(0.02), math.log(0.18))))
    kind = int(rng.integers(0, 11))
    parts: list[tuple[Points, tuple[Points, ...], float]] = []
    ink: Ink | None = None
    if kind == 0:  # a coin or button
        radius = across * rng.uniform(0.008, 0.035)
        holes = (
            tuple(
                _oval(radius * 0.1, radius * 0.1, 10) + p
                for p in np.array([[0.3, 0.3], [-0.3, 0.3], [0.3, -0.3], [-0.3, -0.3]]) * radius
            )
            if rng.random() < 0.4
            else ()
        )
        parts.append((_oval(radius, radius), holes, 2.0))
        plate = np.zeros((64, 64), np.uint8)
        cv2.circle(plate, (32, 32), 27, 140, 2, cv2.LINE_AA)
        cv2.putText(
            plate, str(rng.choice(["1", "5", "10", "2"])), (18, 42), cv2.FONT_HERSHEY_DUPLEX, 1, 160, 2, cv2.LINE_AA
        )
        ink = Ink(plate, np.array([[radius / 32, 0, to[0] - radius], [0, radius / 32, to[1] - radius]]))
        turn = 0.0
    elif kind == 1:  # a pencil, a pen, a knife
        long, thin = across * rng.uniform(0.12, 0.5), across * rng.uniform(0.004, 0.014)
        parts.append(
            (
                np.array(
                    [
                        [-long / 2, -thin],
                        [long / 2, -thin],
                        [long / 2 + thin * 4, 0],
                        [long / 2, thin],
                        [-long / 2, thin],
                    ]
                ),
                (),
                4.0,
            )
        )
    elif kind == 2:  # scissors
        s = across * rng.uniform(0.05, 0.16)
        for sign in (-1, 1):
            blade = _turned(
                np.array([[-0.2, -0.09], [1.5, 0], [-0.2, 0.09]]) * s, sign * rng.uniform(0.03, 0.3), np.zeros(2)
            )
            parts.append((blade, (), 3.0))
            ring = np.array([-0.75, sign * 0.38]) * s
            parts.append((_oval(s * 0.55, s * 0.3) + ring, (_oval(s * 0.4, s * 0.19) + ring,), 5.0))
    elif kind == 3:  # pins and needles
        for _ in range(int(rng.integers(1, 5))):
            at, angle, s = rng.normal(0, 0.03 * across, 2), rng.uniform(0, 6.3), across * rng.uniform(0.015, 0.05)
            parts.append((_turned(np.array([[0, -0.8], [s, -0.6], [s, 0.6], [0, 0.8]]), angle, at), (), 1.0))
            if rng.random() < 0.7:
                parts.append((_oval(s * 0.08 + 1, s * 0.08 + 1, 12) + at, (), 3.0))
    elif kind == 4:  # a hand: fingers and a palm that comes in from the border
        to = np.array([rng.choice([0.0, 1.0]) * width, rng.uniform(0, 1) * height])
        turn = math.atan2(height / 2 - to[1], width / 2 - to[0]) + rng.normal(0, 0.4)
        s = across * rng.uniform(0.05, 0.13)
        parts.append((_oval(s * 1.3, s * 0.8), (), 8.0))
        for k in range(int(rng.integers(1, 5))):
            path = np.stack(
                [
                    np.linspace(0, s * rng.uniform(1.7, 2.7), 12),
                    (k - 1.5) * s * 0.42 + np.linspace(0, 1, 12) ** 2 * rng.normal(0, 0.15) * s,
                ],
                1,
            )
            parts.append(
                (
                    _thick(
                        path, np.linspace(0.2, 0.13, 12) * s * np.sqrt(np.clip((12 - np.arange(12)) / 2, 0.25, 1))
                    ),
                    (),
                    8.0,
                )
            )
    elif kind == 5:  # a cable, a ribbon, a measuring thread
        t = np.linspace(-1, 1, 50)
        path = np.stack(
            [t * across * 0.6, np.sin(t * rng.uniform(1, 6) + rng.uniform(0, 6)) * across * rng.uniform(0.02, 0.2)],
            1,
        )
        parts.append(
            (_thick(path, float(across * np.exp(rng.uniform(math.log(0.0012), math.log(0.012))))), (), 2.0)
        )
    elif kind == 6:  # a cup, a reel, a roll of tape, seen from above
        holes = (_oval(size * 0.75, size * 0.75),) if rng.random() < 0.6 else ()
        parts.append((_oval(size, size), holes, 14.0))
    elif kind == 7:  # a phone, a box, a book
        w = size * rng.uniform(0.4, 0.8)
        parts.append((np.array([[-size, -w], [size, -w], [size, w], [-size, w]]), (), float(rng.uniform(4, 14))))
        plate = np.zeros((64, 96), np.uint8)
        if rng.random() < 0.6:
            for k in range(5):
                cv2.putText(
                    plate, "abc de fghi"[k:], (6, 14 + 11 * k), cv2.FONT_HERSHEY_PLAIN, 0.8, 190, 1, cv2.LINE_AA
                )
        c, s2 = math.cos(turn) * size / 48, math.sin(turn) * size / 48
        m = np.array([[c, -s2], [s2, c]])
        ink = Ink(plate, np.hstack([m, (to - m @ np.array([48.0, 32]))[:, None]]))
    else:  # scraps, leaves, crumbs, an elbow: a blob
        n = 40
        t = np.linspace(0, 2 * math.pi, n, endpoint=False)
        r = np.ones(n)
        for k in range(2, 7):
            r += rng.normal(0, 0.22) * np.cos(k * t + rng.uniform(0, 6))
        parts.append(
            (
                _oval(size, size * rng.uniform(0.3, 1), n) * np.maximum(r, 0.2)[:, None],
                (),
                float(rng.uniform(0.5, 6)),
            )
        )
    things = []
    for i, (points, holes, high) in enumerate(parts):
        own = look + int(i > 0 and kind == 3)  # a pin's head is not its needle
        turned = tuple(_turned(hole, turn, to) for hole in holes)
        things.append(Thing(Kind.CLUTTER, _turned(points, turn, to), high, own, turned, False, ink))
    return things
