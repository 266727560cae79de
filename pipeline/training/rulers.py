"""Rulers, tapes, squares and other references, with their marks, as things on the canvas."""

import math

import cv2
import numpy as np

from training.litter import cells
from training.raster import Ink, Kind, Map, Thing
from training.shapes import Points, Random


def _placed(corners: Points, turn: float, to: Points) -> tuple[Points, Points]:
    """Plate corners on the canvas, and the (2, 3) matrix from plate px that takes them there."""
    c, s = math.cos(turn), math.sin(turn)
    matrix = np.array([[c, -s], [s, c]])
    middle = (corners.min(0) + corners.max(0)) / 2
    return (corners - middle) @ matrix.T + to, np.hstack([matrix, (to - matrix @ middle)[:, None]])


def _marks(rng: Random, length: int, width: int, near: float = 1.0) -> Map:
    """A straight ruler's marks and figures on a plate (width, length): one edge or both, one scale or two.

    `near`: how many times nearer than usual it is seen.
    """
    plate = np.zeros((width, length), np.uint8)
    both, start = rng.random() < 0.5, int(rng.uniform(0, 12))
    for side in (0, 1) if both else (int(rng.integers(0, 2)),):
        step = near * float(np.exp(rng.uniform(math.log(1.7), math.log(14))))
        per = int(rng.choice([8, 10, 10, 16]))
        long = width * rng.uniform(0.15, 0.5)
        weight = 1 if step < 5 else int(rng.integers(1, max(3, round(step / 5))))
        strength = int(rng.integers(120, 256))
        figures, mirrored = rng.random() < 0.85, rng.random() < 0.2
        for k in range(int((length - 2 * start) / step)):
            x = start + k * step
            high = long * (
                1.0
                if k % per == 0
                else 0.75
                if 2 * k % per == 0
                else 0.5
                if per % 4 == 0 and 4 * k % per == 0
                else 0.4
            )
            y0, y1 = (0.0, high) if side == 0 else (width - high, width)
            ends = [(int(x * 16), int(y * 16)) for y in (y0, y1)]
            cv2.line(plate, ends[0], ends[1], strength, weight, cv2.LINE_AA, 4)
            if figures and k % per == 0 and step * per > 10:
                size = min(width * 0.012, step * per * 0.02, 0.9 * near)
                y = high + size * 24 if side == 0 else width - high - size * 4
                text = str(k // per)[:: -1 if mirrored else 1]
                bold = 1 if near == 1 else max(1, round(size * 3))
                cv2.putText(
                    plate, text, (int(x), int(y)), cv2.FONT_HERSHEY_SIMPLEX, size, strength, bold, cv2.LINE_AA
                )
    if rng.random() < 0.4:
        word = str(rng.choice(["STEEL", "CM", "INCH", "MADE IN", "No 30", "Precision"]))
        at = (length // 3, int(width * 0.6))
        cv2.putText(plate, word, at, cv2.FONT_HERSHEY_DUPLEX, width * 0.008, 200, 1, cv2.LINE_AA)
    if rng.random() < 0.2:
        cv2.rectangle(plate, (1, 1), (length - 2, width - 2), 160, 1, cv2.LINE_AA)
    return plate


def _grid(rng: Random, length: int, width: int) -> Map:
    """A clear quilting ruler's lines both ways, thin ones between, slanted ones across."""
    plate = np.zeros((width, length), np.uint8)
    step = float(np.exp(rng.uniform(math.log(9), math.log(70))))
    strength = int(rng.integers(90, 256))
    fine = int(rng.choice([1, 2, 4]))
    for k in range(int(max(length, width) / step * fine) + 1):
        at = int((k * step / fine + 3) * 16)
        heavy = k % fine == 0
        if heavy or step / fine > 5:
            value = strength if heavy else strength // 2
            cv2.line(plate, (at, 0), (at, width * 16), value, 1, cv2.LINE_AA, 4)
            if at < width * 16:
                cv2.line(plate, (0, at), (length * 16, at), value, 1, cv2.LINE_AA, 4)
        if heavy and k and step > 14:
            cv2.putText(
                plate,
                str(k // fine),
                (at // 16 + 2, 12),
                cv2.FONT_HERSHEY_SIMPLEX,
                step * 0.012,
                strength,
                1,
                cv2.LINE_AA,
            )
    for slope in (math.radians(30), math.radians(45), math.radians(60)):
        if rng.random() < 0.5:
            cv2.line(plate, (0, width), (int(width / math.tan(slope)), 0), strength, 1, cv2.LINE_AA)
    ticks = float(rng.uniform(2.2, 8))
    if rng.random() < 0.7:
        for k in range(int(length / ticks)):
            cv2.line(plate, (int(k * ticks * 16), 0), (int(k * ticks * 16), 6 * 16), strength, 1, cv2.LINE_AA, 4)
    return plate


def ruler(rng: Random, width: int, height: int, look: int, *, homely: bool = False) -> Thing:
    """One straight ruler, square or tape, anywhere, in part off the canvas now and then.

    `homely`: of a shop's proportions, a tenth as wide as long, or for a clear one a quarter to a half.
    """
    across = max(width, height)
    clear = rng.random() < 0.35
    wide = across * (
        rng.uniform(0.05, 0.3)
        if clear and rng.random() < 0.6
        else float(np.exp(rng.uniform(math.log(0.018), math.log(0.1))))
    )
    long = across * rng.uniform(0.2, 1.2)
    if homely:
        long = across * rng.uniform(0.3, 0.85)
        wide = long * (float(rng.choice([0.25, 0.5, 0.5, 0.9])) if clear else rng.uniform(0.06, 0.15))
        wide = min(wide, 0.4 * across)
    long = max(long, wide * 1.1 if homely else wide * 1.5)
    w, n = max(8, int(wide)), int(long)
    marks = _grid(rng, n, w) if clear and rng.random() < 0.8 else _marks(rng, n, w)
    corners = np.array([[0.0, 0], [n, 0], [n, w], [0, w]])
    holes: tuple[Points, ...] = ()
    kind = rng.random()
    if kind < 0.07 and not clear:  # a square: a second leg at a right angle
        leg = int(n * rng.uniform(0.3, 0.9))
        marks = np.vstack([marks, np.zeros((max(leg - w, 1), n), np.uint8)])
        marks[w:, :w] = np.rot90(_marks(rng, max(leg - w, 9), w))[: marks.shape[0] - w, :w] if leg - w > 9 else 0
        corners = np.array([[0.0, 0], [n, 0], [n, w], [w, w], [w, leg], [0, leg]])
    turn = (
        float(rng.choice([0, math.pi / 2, math.pi, -math.pi / 2]) + rng.normal(0, 0.05))
        if rng.random() < 0.6
        else rng.uniform(0, 6.3)
    )
    if rng.random() < 0.55:  # along a border of the picture
        to = np.array([rng.uniform(0.2, 0.8) * width, rng.uniform(0.2, 0.8) * height])
        near = rng.uniform(-0.3, 2.2) * wide
        if abs(math.cos(turn)) > 0.7:
            to[1] = near if rng.random() < 0.5 else height - near
        else:
            to[0] = near if rng.random() < 0.5 else width - near
    else:
        to = np.array([rng.uniform(0, 1) * width, rng.uniform(0, 1) * height])
    outline, matrix = _placed(corners, turn, to)
    if rng.random() < 0.4:
        t = np.linspace(0, 2 * math.pi, 16, endpoint=False)
        spot = np.array([n - w * 0.5, w * 0.5]) + np.stack([np.cos(t), np.sin(t)], 1) * w * 0.15
        holes = (spot @ matrix[:, :2].T + matrix[:, 2],)
    return Thing(Kind.RULER, outline, float(rng.uniform(0.5, 4)), look, holes, clear, Ink(marks, matrix))


def id_card(rng: Random, width: int, height: int, look: int) -> Thing:
    """A card of a purse (85.6 by 54 mm, round corners) with print on it."""
    n = int(max(width, height) * rng.uniform(0.06, 0.25))
    w = int(n * 0.631)
    t = np.linspace(0, math.pi / 2, 6)
    r = n * 0.037
    corner = np.stack([np.cos(t), np.sin(t)], 1) * r
    parts = []
    for k, (x, y) in enumerate([(n - r, w - r), (r, w - r), (r, r), (n - r, r)]):
        c, s = math.cos(k * math.pi / 2), math.sin(k * math.pi / 2)
        parts.append(corner @ np.array([[c, s], [-s, c]]) + (x, y))
    plate = np.zeros((w, n), np.uint8)
    cv2.rectangle(plate, (int(n * 0.08), int(w * 0.25)), (int(n * 0.3), int(w * 0.75)), 180, -1)
    for k in range(4):
        cv2.line(
            plate,
            (int(n * 0.4), int(w * (0.3 + 0.13 * k))),
            (int(n * rng.uniform(0.6, 0.92)), int(w * (0.3 + 0.13 * k))),
            200,
            1,
            cv2.LINE_AA,
        )
    if rng.random() < 0.5:
        cv2.rectangle(plate, (0, int(w * 0.08)), (n, int(w * 0.22)), 230, -1)
    outline, matrix = _placed(
        np.concatenate(parts), rng.uniform(0, 6.3), rng.uniform(0.08, 0.92, 2) * (width, height)
    )
    return Thing(Kind.RULER, outline, 1.0, look, (), False, Ink(plate, matrix))


def macro(rng: Random, width: int, height: int, look: int) -> Thing:
    """A ruler seen from so near that it fills a third of the picture and more, and goes on beyond it."""
    across = max(width, height)
    near = float(np.exp(rng.uniform(math.log(3), math.log(9))))
    w, n = int(across * rng.uniform(0.25, 1.1)), int(across * rng.uniform(1.5, 2.2))
    corners = np.array([[0.0, 0], [n, 0], [n, w], [0, w]])
    to = rng.uniform(0.3, 0.7, 2) * (width, height)
    outline, matrix = _placed(corners, rng.uniform(0, 6.3), to)
    return Thing(
        Kind.RULER, outline, float(rng.uniform(0, 6)), look, (), False, Ink(_marks(rng, n, w, near), matrix)
    )


def folding(rng: Random, width: int, height: int, look: int) -> list[Thing]:
    """A folding rule: narrow legs end to end, straight or zigzag, a rivet at each joint."""
    across = max(width, height)
    w, n = max(8, int(across * rng.uniform(0.014, 0.04))), int(across * rng.uniform(0.15, 0.35))
    turn, joint = rng.uniform(0, 6.3), rng.uniform(0.05, 0.95, 2) * (width, height)
    bend = float(rng.choice([0.0, math.pi, rng.uniform(0.3, 2.8)])) + rng.normal(0, 0.03)
    corners = np.array([[0.0, 0], [n, 0], [n, w], [0, w]])
    out = []
    for k in range(int(rng.integers(2, 6))):
        along = np.array([math.cos(turn), math.sin(turn)])
        outline, matrix = _placed(corners, turn, joint + along * (n / 2 - w / 2))
        marks = _marks(rng, n, w)
        for end in (w // 2, n - w // 2):
            cv2.circle(marks, (end, w // 2), max(2, w // 5), 150, -1, cv2.LINE_AA)
        out.append(Thing(Kind.RULER, outline, 1.5 + k % 2, look, (), False, Ink(marks, matrix)))
        joint = joint + along * (n - w) + np.array([-along[1], along[0]]) * (w * 1.05 if abs(bend) > 3 else 0.0)
        turn += bend if k % 2 == 0 else -bend
    return out


def page(rng: Random, long: float, to: Points, kind: Kind, look: int) -> Thing:
    """A sheet of Letter or A4 paper, plain, ruled, squared, printed, or a board of cells."""
    short = long * float(rng.choice([210 / 297, 8.5 / 11]))
    n, w = int(long), int(short)
    plate = np.zeros((w, n), np.uint8)
    drawn, step = rng.random(), int(max(5, long * rng.uniform(0.01, 0.05)))
    strength = int(rng.integers(30, 160))
    if drawn < 0.25:
        for k in range(step, max(w, n), step):
            cv2.line(plate, (0, k), (n, k), strength, 1)
            if drawn < 0.13:
                cv2.line(plate, (k, 0), (k, w), strength, 1)
    elif drawn > 0.94:
        plate = np.maximum(plate, np.minimum(cells(rng, n, w), strength))
    elif drawn < 0.35:
        for k in range(2 * step, w - step, step):
            end = int(n * rng.uniform(0.5, 0.93))
            cv2.putText(plate, "mnoun aevs risc uem " * 6, (n // 12, k), 0, step / 40, strength, 1, cv2.LINE_AA)
            plate[k - step : k + step // 3, end:] = 0
    corners = np.array([[0.0, 0], [n, 0], [n, w], [0, w]])
    turn = float(rng.choice([0, math.pi / 2]) + rng.normal(0, 0.15)) if rng.random() < 0.7 else rng.uniform(0, 6.3)
    outline, matrix = _placed(corners, turn, to)
    return Thing(kind, outline, float(rng.uniform(0, 0.6)), look, (), False, Ink(plate, matrix))
