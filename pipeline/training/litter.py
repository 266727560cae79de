"""Litter that has passed for cards: grains by the hundred, leaves, and things that are printed in cells."""

import math

import cv2
import numpy as np

from training.raster import Ink, Kind, Map, Thing
from training.shapes import Points, Random


def _oval(a: float, b: float, turn: float, to: Points, n: int = 12) -> Points:
    t = np.linspace(0, 2 * math.pi, n, endpoint=False)
    c, s = math.cos(turn), math.sin(turn)
    ring = np.stack([np.cos(t) * a, np.sin(t) * b], 1)
    return np.asarray(ring @ np.array([[c, s], [-s, c]]) + to)


def grains(rng: Random, width: int, height: int, look: int) -> Thing:
    """Seeds, beads, crumbs: a handful alike, strewn; one thing, for they are too many to number."""
    across = max(width, height)
    long = across * float(np.exp(rng.uniform(math.log(0.003), math.log(0.02))))
    slim, middle = rng.uniform(0.25, 1.0), rng.uniform(0.1, 0.9, 2) * (width, height)
    spread = across * rng.uniform(0.03, 0.2)
    square = rng.random() < 0.25
    out = []
    for _ in range(int(rng.integers(8, 90))):
        size = long * float(np.exp(rng.normal(0, 0.15)))
        to = middle + rng.normal(0, spread, 2)
        out.append(_oval(size, size * slim, rng.uniform(0, 6.3), to, 4 if square else 12))
    return Thing(Kind.CLUTTER, out[0], float(rng.uniform(0.3, 3)), look, parts=tuple(out[1:]))


def leaf(rng: Random, width: int, height: int, look: int) -> Thing:
    """A leaf: two arcs to a point, a rib between, a lobed or even border."""
    size = max(width, height) * float(np.exp(rng.uniform(math.log(0.03), math.log(0.2))))
    t = np.linspace(0, 1, 30)
    wide = np.sin(math.pi * t ** rng.uniform(0.6, 1.2)) * rng.uniform(0.2, 0.5)
    wide = wide * (1 + rng.choice([0.0, 0.25]) * np.abs(np.sin(t * rng.uniform(8, 20))))
    bend = (t - 0.5) ** 2 * rng.normal(0, 0.4)
    upper, lower = np.stack([t - 0.5, bend + wide], 1), np.stack([t - 0.5, bend - wide], 1)
    turn, to = rng.uniform(0, 6.3), rng.uniform(0, 1, 2) * (width, height)
    c, s = math.cos(turn), math.sin(turn)
    matrix = np.array([[c, -s], [s, c]]) * 2 * size
    outline = np.concatenate([upper, lower[::-1]]) @ matrix.T + to
    plate = np.zeros((64, 64), np.uint8)
    cv2.line(plate, (0, 32), (63, 32), 160, 1, cv2.LINE_AA)
    for k in range(6, 60, 9):
        for up in (-1, 1):
            cv2.line(plate, (k, 32), (k + 12, 32 + 22 * up), 110, 1, cv2.LINE_AA)
    scaled = matrix / 64
    ink = Ink(plate, np.hstack([scaled, (to - scaled @ np.array([32.0, 32.0]))[:, None]]))
    return Thing(Kind.CLUTTER, outline, float(rng.uniform(0.2, 3)), look, ink=ink)


def _struck(rng: Random) -> Map:
    """(64, 64) what is struck on a coin: a rim, a figure or a head, words round it."""
    plate = np.zeros((64, 64), np.uint8)
    cv2.circle(plate, (32, 32), int(rng.integers(27, 31)), int(rng.integers(60, 200)), 1, cv2.LINE_AA)
    if rng.random() < 0.5:
        text = str(rng.choice(["1", "2", "5", "10", "20", "50"]))
        at = (32 - 9 * len(text), 42)
        cv2.putText(plate, text, at, cv2.FONT_HERSHEY_DUPLEX, 1, int(rng.integers(90, 220)), 2, cv2.LINE_AA)
    else:
        for _ in range(int(rng.integers(2, 5))):
            middle, axes = rng.integers(22, 43, 2).tolist(), rng.integers(4, 15, 2).tolist()
            cv2.ellipse(plate, middle, axes, float(rng.uniform(0, 180)), 0, 360, int(rng.integers(40, 160)), -1)
    for t in np.arange(0, float(rng.uniform(2, 6)), 0.3):
        x, y = 32 + 23 * math.cos(t), 32 + 23 * math.sin(t)
        cv2.circle(plate, (int(x), int(y)), int(rng.integers(1, 3)), int(rng.integers(60, 190)), -1, cv2.LINE_AA)
    return plate


def coins(rng: Random, width: int, height: int, look: int) -> list[Thing]:
    """A purse's worth of coins, of one to three sizes and as many metals; some are milled to many sides."""
    across = max(width, height)
    base, kinds = across * float(np.exp(rng.uniform(math.log(0.008), math.log(0.07)))), int(rng.integers(1, 4))
    sizes = base * rng.uniform(0.7, 1.3, kinds)
    sides = [int(rng.choice([48, 48, 48, 7, 12])) for _ in range(kinds)]
    near, spread = rng.uniform(0.05, 0.95, 2) * (width, height), across * rng.uniform(0.03, 0.35)
    out = []
    for _ in range(int(rng.integers(1, 11))):
        k = int(rng.integers(0, kinds))
        r, to, turn = float(sizes[k]), near + rng.normal(0, spread, 2), rng.uniform(0, 6.3)
        c, s = math.cos(turn) * r / 31, math.sin(turn) * r / 31
        matrix = np.array([[c, -s], [s, c]])
        ink = Ink(_struck(rng), np.hstack([matrix, (to - matrix @ np.array([32.0, 32.0]))[:, None]]))
        out.append(Thing(Kind.COIN, _oval(r, r, turn, to, sides[k]), float(rng.uniform(0.5, 4)), look + k, ink=ink))
    return out


def cells(rng: Random, n: int, high: int) -> Map:
    """(high, n) a board of dark and bare cells, even or at random, in a margin."""
    across = int(rng.integers(3, 13))
    down = max(2, round(across * high / n))
    board = np.indices((down, across)).sum(0) % 2
    if rng.random() < 0.5:
        board = rng.integers(0, 2, (down, across))
        board[[0, -1]], board[:, [0, -1]] = 1, 1
    plate = np.zeros((high, n), np.uint8)
    margin = int(rng.uniform(0.04, 0.2) * min(n, high))
    inner = (n - 2 * margin, high - 2 * margin)
    if min(inner) > 4:
        drawn = cv2.resize((board * 255).astype(np.uint8), inner, interpolation=cv2.INTER_NEAREST)
        plate[margin : margin + inner[1], margin : margin + inner[0]] = drawn
    return plate


def tag(rng: Random, width: int, height: int, look: int) -> Thing:
    """A marker for cameras, a chessboard, a chart of squares: white, printed in cells."""
    n = int(max(width, height) * float(np.exp(rng.uniform(math.log(0.04), math.log(0.3)))))
    high = n if rng.random() < 0.6 else int(n * rng.uniform(0.4, 1))
    turn, to = rng.uniform(0, 6.3), rng.uniform(0.03, 0.97, 2) * (width, height)
    c, s = math.cos(turn), math.sin(turn)
    matrix = np.array([[c, -s], [s, c]])
    half = np.array([n, high]) / 2
    corners = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]) * half
    to_canvas = np.hstack([matrix, (to - matrix @ half)[:, None]])
    ink = Ink(cells(rng, n, high), to_canvas)
    return Thing(Kind.TAG, corners @ matrix.T + to, float(rng.uniform(0.2, 3)), look, ink=ink)
