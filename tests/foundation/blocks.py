"""Blocks to plan: shapes every quilter knows, inventions of our own, and blocks cut up at random."""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import ArrayLike

from seamsurvey.geometry import Points, counter_clockwise, moved
from seamsurvey.model import Block, Piece
from tests.scene.congruence import templates_of
from tests.scene.families import Family

INCH = 25.4


def block_of(outlines: Sequence[ArrayLike], outline: ArrayLike | None = None) -> Block:
    """A block of these pieces (mm), templates found by shape; the outline is their hull unless given."""
    pieces = tuple(counter_clockwise(np.asarray(o, dtype=float)) for o in outlines)
    placed = sorted(
        (copy.piece, f"{template.name}-{number}", template.name, copy.reversed)
        for template in templates_of(pieces)
        for number, copy in enumerate(template.copies, start=1)
    )
    hull = shapely.convex_hull(shapely.union_all([shapely.Polygon(p) for p in pieces])).simplify(1e-6)
    around = shapely.get_coordinates(hull)[:-1] if outline is None else np.asarray(outline, dtype=float)
    return Block(
        outline=counter_clockwise(around),
        pieces=tuple(
            Piece(id=name, template=template, reversed=turned, outline=pieces[k])
            for k, name, template, turned in placed
        ),
    )


def of_family(family: Family) -> Block:
    """A family of the scene renderer as a block."""
    return block_of(family.pieces, family.outline)


def carried(block: Block, turn_deg: float = 0.0, *, mirrored: bool = False, noise_mm: float = 0.0) -> Block:
    """The same block mirrored in the y axis, then turned about the origin, with noise on each corner."""
    rng = np.random.default_rng(7)
    flip = np.array([-1.0, 1.0]) if mirrored else np.ones(2)

    def carry(points: Points) -> Points:
        noise = rng.uniform(-noise_mm, noise_mm, points.shape) if noise_mm else 0.0
        return np.asarray(moved(points * flip, turn_deg, (0.0, 0.0)) + noise)

    return block_of([carry(piece.outline) for piece in block.pieces], carry(block.outline))


def rectangle(x: float, y: float, width: float, height: float) -> Points:
    """Lower left corner and size."""
    return np.array([[x, y], [x + width, y], [x + width, y + height], [x, y + height]], dtype=float)


def grid(columns: int, rows: int, size: float = 50.0) -> Block:
    """Equal squares in rows."""
    return block_of([rectangle(size * i, size * j, size, size) for j in range(rows) for i in range(columns)])


def half_square_unit() -> Block:
    """A square of two triangles."""
    return block_of([[(0, 0), (60, 0), (60, 60)], [(0, 0), (60, 60), (0, 60)]])


def flying_goose() -> Block:
    """A wide triangle between two small ones."""
    return block_of([[(0, 0), (100, 0), (50, 50)], [(0, 0), (50, 50), (0, 50)], [(100, 0), (100, 50), (50, 50)]])


def square_in_a_square() -> Block:
    """A square standing on its corner, four triangles round it."""
    return block_of([
        [(50, 0), (100, 50), (50, 100), (0, 50)],
        [(0, 0), (50, 0), (0, 50)], [(50, 0), (100, 0), (100, 50)],
        [(100, 50), (100, 100), (50, 100)], [(0, 50), (50, 100), (0, 100)],
    ])  # fmt: skip


def log_cabin(rounds: int = 3, log: float = 20.0) -> Block:
    """Strips laid round a centre square, each over the end of the one before."""
    x0, y0, x1, y1 = 0.0, 0.0, 2 * log, 2 * log
    pieces = [rectangle(x0, y0, x1, y1)]
    for _ in range(rounds):
        pieces.append(rectangle(x1, y0, log, y1 - y0))
        x1 += log
        pieces.append(rectangle(x0, y1, x1 - x0, log))
        y1 += log
        pieces.append(rectangle(x0 - log, y0, log, y1 - y0))
        x0 -= log
        pieces.append(rectangle(x0, y0 - log, x1 - x0, log))
        y0 -= log
    return block_of([piece - np.array([x0, y0]) for piece in pieces])


def hourglass() -> Block:
    """A square of four triangles that meet in the middle."""
    middle = (50, 50)
    return block_of([[(0, 0), (100, 0), middle], [(100, 0), (100, 100), middle],
                     [(100, 100), (0, 100), middle], [(0, 100), (0, 0), middle]])  # fmt: skip


def pinwheel_of_eight() -> Block:
    """Eight triangles round the middle of a square."""
    rim = [(100, 0), (100, 50), (100, 100), (50, 100), (0, 100), (0, 50), (0, 0), (50, 0)]
    return block_of([[rim[k - 1], rim[k], (50, 50)] for k in range(8)])


def whirl_of_five() -> Block:
    """Four rectangles round a square, each past the end of the next."""
    return block_of([rectangle(0, 0, 80, 30), rectangle(80, 0, 30, 80), rectangle(30, 80, 80, 30),
                     rectangle(0, 30, 30, 80), rectangle(30, 30, 50, 50)])  # fmt: skip


def eight_pointed_star(side: float = 12 * INCH) -> Block:
    """Eight 45 degree diamonds, four corner squares, four side triangles."""
    return block_of(_star(side)[0])


def eight_pointed_star_halved(side: float = 12 * INCH) -> Block:
    """The same star with the squares and triangles halved through its middle."""
    diamonds, squares, triangles = _star(side)[1]
    halves = [
        half
        for square in squares
        for half in ([square[0], square[1], square[2]], [square[0], square[2], square[3]])
    ]
    for a, b, notch in triangles:
        middle = (a + b) / 2
        halves += [[a, middle, notch], [middle, b, notch]]
    return block_of([*diamonds, *halves])


def _star(side: float) -> tuple[list[Points], tuple[list[Points], list[Points], list[Points]]]:
    """All pieces; and apart: diamonds, squares from the notch round, triangles (two on the rim, then the notch)."""
    d = side / (2 + math.sqrt(2))  # facts of the trade: B / 3.414 (K. Combs, Formulas for Quilters, 2002)
    middle = np.array([side / 2, side / 2])
    quarter = (np.array([[side, side - d], [side - d, side]]), np.array([side - d, side - d]))
    diamonds, squares, triangles = [], [], []
    for turn in (0, 90, 180, 270):
        tip_a, tip_b = moved(quarter[0] - middle, turn, middle)
        corner_notch = moved(quarter[1][None] - middle, turn, middle)[0]
        side_notch = moved(np.array([[side / 2 + d, side / 2]]) - middle, turn, middle)[0]
        next_notch = moved(np.array([[side / 2, side / 2 + d]]) - middle, turn, middle)[0]
        corner = moved(np.array([[side, side]]) - middle, turn, middle)[0]
        below = moved(np.array([[side, d]]) - middle, turn, middle)[0]
        diamonds += [
            np.array([middle, side_notch, tip_a, corner_notch]),
            np.array([middle, corner_notch, tip_b, next_notch]),
        ]
        squares.append(np.array([corner_notch, tip_a, corner, tip_b]))
        triangles.append(np.array([below, tip_a, side_notch]))
    return [*diamonds, *squares, *triangles], (diamonds, squares, triangles)


def cut_up(seed: int, pieces: int, side: float = 240.0) -> Block:
    """A square cut up at random, one piece after another by a straight line, so that it can be sewn straight.

    Half of the cuts run from corner to corner or along the middle, so that seams cross and meet as in real blocks.
    """
    rng = np.random.default_rng([4711, seed])
    parts = [rectangle(0, 0, side, side)]
    while len(parts) < pieces:
        k = int(np.argmax([abs(shapely.Polygon(p).area) * rng.uniform(0.6, 1) for p in parts]))
        halves = _halved(parts[k], rng)
        if halves is not None:
            parts[k : k + 1] = halves
    return block_of(parts)


def _halved(part: Points, rng: np.random.Generator) -> list[Points] | None:
    n = len(part)
    i, j = sorted(int(v) for v in rng.choice(n, 2, replace=False))
    share_i, share_j = (float(rng.choice([0.0, 0.5, 0.5, rng.uniform(0.2, 0.8)])) for _ in range(2))
    start = part[i] + share_i * (part[(i + 1) % n] - part[i])
    end = part[j] + share_j * (part[(j + 1) % n] - part[j])
    one = [start, *part[i + 1 : j + 1], end] if share_j else [start, *part[i + 1 : j + 1]]
    other = [end, *part[j + 1 :], *part[: i + 1], start] if share_i else [end, *part[j + 1 :], *part[: i + 1]]
    halves = [np.array(one), np.array(other)]
    if any(len(half) < 3 or _thin(half) for half in halves):
        return None
    return halves


def _thin(part: Points) -> bool:
    polygon = shapely.Polygon(part)
    return bool(polygon.area < 150 or shapely.minimum_clearance(polygon) < 6 or not polygon.is_valid)
