"""Blocks that can't be sewn straight as drawn, of any size: inventions of our own."""

import math

import numpy as np

from seamsurvey.geometry import Points
from seamsurvey.model import Block
from tests.foundation.blocks import block_of, rectangle


def kite_star(points: int, side: float = 300.0, waist: float = 0.45) -> Block:
    """A star of kites from the middle to the outline of a square, and the ground between them."""
    middle = np.array([side / 2, side / 2])
    turns = [2 * math.pi * (k + 0.5) / points for k in range(points)]
    tips = [middle + _to_square(turn, side / 2) for turn in turns]
    notches = [
        middle + waist * side / 2 * np.array([math.cos(t), math.sin(t)])
        for t in (turn + math.pi / points for turn in turns)
    ]
    pieces = []
    for k in range(points):
        following = (k + 1) % points
        pieces.append(np.array([middle, notches[k - 1], tips[k], notches[k]]))
        pieces.append(np.array([tips[k], *_corners_between(turns[k], points, side), tips[following], notches[k]]))
    return block_of(pieces)


def _to_square(turn: float, half: float) -> Points:
    ray = np.array([math.cos(turn), math.sin(turn)])
    return np.asarray(ray * half / np.abs(ray).max())


def _corners_between(turn: float, points: int, side: float) -> list[Points]:
    """Corners of the square between one tip's direction and the next."""
    found = []
    for quarter in range(8):
        corner = math.pi / 4 + quarter * math.pi / 2
        if turn + 1e-9 < corner < turn + 2 * math.pi / points - 1e-9:
            found.append(side / 2 + _to_square(corner, side / 2))
    return found


def whirls(seed: int, pieces: int, side: float = 300.0) -> Block:
    """A square of rectangles: whirls of five, and rectangles cut in two, one within another at random."""
    rng = np.random.default_rng([815, seed])
    parts = _whirl((0.0, 0.0, side, side), rng)
    while len(parts) < pieces:
        k = int(np.argmax([w * h * rng.uniform(0.5, 1) for _, _, w, h in parts]))
        x, y, w, h = parts[k]
        if min(w, h) > 90 and pieces - len(parts) >= 4 and rng.uniform() < 0.6:
            parts[k : k + 1] = _whirl(parts[k], rng)
        elif w > h:
            cut = w * rng.uniform(0.35, 0.65)
            parts[k : k + 1] = [(x, y, cut, h), (x + cut, y, w - cut, h)]
        else:
            cut = h * rng.uniform(0.35, 0.65)
            parts[k : k + 1] = [(x, y, w, cut), (x, y + cut, w, h - cut)]
    return block_of([rectangle(*part) for part in parts])


Box = tuple[float, float, float, float]


def _whirl(box: Box, rng: np.random.Generator) -> list[Box]:
    x, y, w, h = box
    a, b = sorted(rng.uniform(0.25, 0.45, 2)), sorted(rng.uniform(0.25, 0.45, 2))
    x1, x2, y1, y2 = a[0] * w, w - a[1] * w, b[0] * h, h - b[1] * h
    whirl = [(0.0, 0.0, x2, y1), (x2, 0.0, w - x2, y2), (x1, y2, w - x1, h - y2), (0.0, y1, x1, h - y1)]
    whirl.append((x1, y1, x2 - x1, y2 - y1))
    return [(x + u, y + v, p, q) for u, v, p, q in whirl]


def y_cells(columns: int, rows: int, cell: float = 90.0) -> Block:
    """Squares of three pieces that meet in a Y, each the mirror image of its neighbours."""
    pieces = []
    for i in range(columns):
        for j in range(rows):
            for outline in _y_cell(cell):
                shape = outline.copy()
                if i % 2:
                    shape[:, 0] = cell - shape[:, 0]
                if j % 2:
                    shape[:, 1] = cell - shape[:, 1]
                pieces.append(shape + np.array([i * cell, j * cell]))
    return block_of(pieces, rectangle(0, 0, columns * cell, rows * cell))


def _y_cell(cell: float) -> list[Points]:
    middle = (0.42 * cell, 0.5 * cell)
    return [
        np.array([(0, 0), (cell, 0), middle, (0, cell)], dtype=float),
        np.array([(cell, 0), (cell, cell), middle], dtype=float),
        np.array([(cell, cell), (0, cell), middle], dtype=float),
    ]


def rhombs(rings: int = 2, edge: float = 60.0) -> Block:
    """A hexagon of rhombs in three heaps round its middle, as boxes that are seen from above."""
    u, v = np.array([1.0, 0.0]), np.array([-0.5, math.sqrt(3) / 2])
    w = -u - v
    return block_of([
        edge * (i * a + j * b + np.array([np.zeros(2), a, a + b, b]))
        for i in range(rings)
        for j in range(rings)
        for a, b in ((u, v), (v, w), (w, u))
    ])  # fmt: skip


def whirl_in_a_wedge() -> Block:
    """Four pieces round a fifth in a triangle with a point of 14.9°; pieces 1 and 4 have that point or its like."""
    return block_of(
        [
            [(0, 0), (230, 0), (230, 20), (75, 20)],
            [(230, 0), (300, 0), (300, 45), (230, 45)],
            [(300, 45), (300, 80), (200, 160 / 3), (200, 45)],
            [(75, 20), (200, 20), (200, 160 / 3)],
            [(200, 20), (230, 20), (230, 45), (200, 45)],
        ],
        [(0, 0), (300, 0), (300, 80)],
    )
