"""Ten families of blocks of 4 to 100 pieces for the benchmark of layouts: drawn exactly, cut up at random.

Each is a function of a seed and a number of pieces, so that there are endless unseen ones. Regions that could be
turned or flipped where they lie are not cut up: of such a block no measurement says which layout was meant.
"""

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import shapely

from seamsurvey.geometry import Points, counter_clockwise, moved
from tests.scene.congruence import templates_of
from tests.scene.families import Family

SHORTEST_EDGE_MM = 12.0
SHARPEST_CORNER_DEG = 18.0
SAME_OUTLINE_MM = 3.0
LEAST_DIFFERENCE_MM = (
    1.5  # three times the largest noise: of two cards more alike no measurement says which is which
)


@dataclass(frozen=True)
class Drawn:
    """A block: its outline and its pieces (mm, block frame, counter-clockwise)."""

    outline: Points
    pieces: tuple[Points, ...]


def cut_up(region: Points, pieces: int, rng: np.random.Generator) -> list[Points]:
    """A convex region cut up by straight lines, one piece after another, no two so alike that they are mistaken."""
    parts, parents, whole = [region], [region], [False]  # whole: not to be cut further
    for _ in range(60 * pieces):
        if len(parts) >= pieces:
            break
        areas = [
            0.0 if w else shapely.Polygon(p).area * rng.uniform(0.6, 1) for p, w in zip(parts, whole, strict=True)
        ]
        k = int(np.argmax(areas))
        halves = None if whole[k] else _halved(parts[k], rng)
        if halves is not None:
            parents[k : k + 1] = [parts[k], parts[k]]
            parts[k : k + 1] = halves
            whole[k : k + 1] = [symmetric(half) for half in halves]
    else:
        raise RuntimeError("the region is too small for so many pieces")
    return _cut_anew(parts, parents, rng)


def _cut_anew(parts: list[Points], parents: list[Points], rng: np.random.Generator) -> list[Points]:
    """The parts, those that are like another cut anew from what they were cut from, with their other half."""
    for _ in range(50 * len(parts)):
        alike = [
            pair for pair in itertools.combinations(range(len(parts)), 2) if are_alike(*(parts[k] for k in pair))
        ]
        if not alike:
            return parts
        able = [k for pair in alike for k in pair if sum(parent is parents[k] for parent in parents) == 2]
        if not able:
            break
        k = able[int(rng.integers(len(able)))]
        mates = [j for j, parent in enumerate(parents) if parent is parents[k]]
        halves = _halved(parents[k], rng)
        if halves is not None:
            for j, half in zip(mates, halves, strict=True):
                parts[j] = half
    raise RuntimeError("no two pieces must be alike")


def symmetric(outline: Points) -> bool:
    """Whether an outline can be laid on itself turned or flipped, to within what a card is cut to."""
    z = (outline - outline.mean(axis=0)) @ np.array([1.0, 1j])
    n = len(z)
    for way, others in ((z, range(1, n)), (np.conj(z)[::-1], range(n))):
        for shift in others:
            target = np.roll(way, shift)
            turn = np.vdot(target, z)
            if np.abs(target * turn / abs(turn) - z).max() < SAME_OUTLINE_MM:
                return True
    return False


def _halved(part: Points, rng: np.random.Generator) -> list[Points] | None:
    n = len(part)
    i, j = sorted(int(v) for v in rng.choice(n, 2, replace=False))
    share_i, share_j = (float(rng.choice([0.0, 0.5, rng.uniform(0.25, 0.75)])) for _ in range(2))
    start = part[i] + share_i * (part[(i + 1) % n] - part[i])
    end = part[j] + share_j * (part[(j + 1) % n] - part[j])
    one = [start, *part[i + 1 : j + 1], end] if share_j else [start, *part[i + 1 : j + 1]]
    other = [end, *part[j + 1 :], *part[: i + 1], start] if share_i else [end, *part[j + 1 :], *part[: i + 1]]
    halves = [np.array(one), np.array(other)]
    return None if any(len(half) < 3 or poor(half) for half in halves) else halves


def poor(outline: Points) -> bool:
    """Whether no one would cut such a card: an edge too short, a corner too sharp or nearly straight."""
    along = np.roll(outline, -1, axis=0) - outline
    lengths = np.hypot(along[:, 0], along[:, 1])
    if (
        lengths.min() < SHORTEST_EDGE_MM
        or shapely.minimum_clearance(shapely.Polygon(outline)) < SHORTEST_EDGE_MM / 2
    ):
        return True
    heading = np.arctan2(along[:, 1], along[:, 0])
    turns = np.degrees((heading - np.roll(heading, 1) + math.pi) % (2 * math.pi) - math.pi)
    return bool(np.any(180 - turns < SHARPEST_CORNER_DEG) or np.any(np.abs(turns) < 180 - 168))


def _side(pieces: int) -> float:
    return 60.0 + 44.0 * math.sqrt(pieces)


def _box(width: float, height: float) -> Points:
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def square(pieces: int, rng: np.random.Generator) -> Drawn:
    """A square cut up."""
    outline = _box(_side(pieces), _side(pieces))
    return Drawn(outline, tuple(cut_up(outline, pieces, rng)))


def rectangle(pieces: int, rng: np.random.Generator) -> Drawn:
    """A rectangle cut up."""
    side, ratio = _side(pieces), rng.uniform(1.15, 1.9)
    outline = _box(side * math.sqrt(ratio), side / math.sqrt(ratio))
    return Drawn(outline, tuple(cut_up(outline, pieces, rng)))


def corner_triangle(pieces: int, rng: np.random.Generator) -> Drawn:
    """A right isosceles triangle cut up."""
    leg = 1.4 * _side(pieces)
    outline = np.array([[0.0, 0.0], [leg, 0.0], [0.0, leg]])
    return Drawn(outline, tuple(cut_up(outline, pieces, rng)))


def _whirl(corners: Points, pieces: int, rng: np.random.Generator) -> Drawn:
    """A turned regular polygon in the middle, and arms that whirl round it, all cut up alike."""
    n = len(corners)
    middle = corners.mean(axis=0)
    inner = middle + rng.uniform(0.3, 0.42) * moved(corners - middle, float(rng.uniform(8, 24)), (0.0, 0.0))
    ends = []
    for k in range(n):
        ray = shapely.LineString([inner[k - 1], inner[k] + 20 * (inner[k] - inner[k - 1])])
        beyond = shapely.LinearRing(corners).intersection(ray)
        ends.append(shapely.get_coordinates(beyond)[0])
    # The arm between the lines through inner[0] and inner[1]: from ends[0] round by the outline to ends[1].
    first, last = (shapely.LinearRing(corners).project(shapely.Point(end)) for end in (ends[0], ends[1]))
    between = [c for c in corners if _ahead(corners, c, first) < _ahead(corners, ends[1], first)]
    between.sort(key=lambda c: _ahead(corners, c, first))
    assert first != last
    arm = np.array([inner[0], ends[0], *between, ends[1]])
    hull = shapely.Polygon(arm).convex_hull
    if abs(hull.area - shapely.Polygon(arm).area) > 1e-6:
        raise RuntimeError("the arm is not convex")
    parts = cut_up(arm, max(1, round((pieces - 1) / n)), rng)
    turned = [middle + moved(part - middle, 360 * k / n, (0.0, 0.0)) for k in range(n) for part in parts]
    return Drawn(corners, (inner, *turned))


def _ahead(corners: Points, point: Points, first: float) -> float:
    ring = shapely.LinearRing(corners)
    return float((ring.project(shapely.Point(point)) - first) % ring.length)


def square_whirl(pieces: int, rng: np.random.Generator) -> Drawn:
    """Four arms round a square, in quarter turns."""
    return _whirl(_box(1.1 * _side(pieces), 1.1 * _side(pieces)), pieces, rng)


def hexagon_whirl(pieces: int, rng: np.random.Generator) -> Drawn:
    """Six arms round a hexagon, in sixth turns."""
    radius = 0.75 * _side(pieces)
    ring = radius * np.array([[math.cos(math.radians(60 * k)), math.sin(math.radians(60 * k))] for k in range(6)])
    return _whirl(ring - ring.min(axis=0), pieces, rng)


def half_turn(pieces: int, rng: np.random.Generator) -> Drawn:
    """A rectangle parted by a slant through its middle, both halves cut up alike."""
    side, ratio = _side(pieces), rng.uniform(0.7, 1.5)
    width, height = side * math.sqrt(ratio), side / math.sqrt(ratio)
    foot = width * rng.uniform(0.3, 0.42)
    half = np.array([[0.0, 0.0], [foot, 0.0], [width - foot, height], [0.0, height]])
    parts = cut_up(half, max(2, pieces // 2), rng)
    size = np.array([width, height])
    return Drawn(_box(width, height), (*parts, *(size - part for part in parts)))


def mirrored(pieces: int, rng: np.random.Generator) -> Drawn:
    """Two wings, each the other's mirror image, on a tapering body."""
    side = _side(pieces)
    height, wing = side * rng.uniform(0.7, 1.0), side * rng.uniform(0.4, 0.55)
    foot, head = side * 0.1 + 6, side * 0.1 - 3
    half = foot + wing
    parts = cut_up(np.array([[foot, 0.0], [half, 0.0], [half, height], [head, height]]), max(2, pieces // 2), rng)
    body = np.array([[-foot, 0.0], [foot, 0.0], [head, height], [-head, height]])
    other = [counter_clockwise(part * np.array([-1.0, 1.0])) for part in parts]
    shift = np.array([half, 0.0])
    return Drawn(_box(2 * half, height), tuple(part + shift for part in (body, *parts, *other)))


def boxes(pieces: int, rng: np.random.Generator) -> Drawn:
    """Squares in squares, each with its corners on the sides of the next, by a lean of its own."""
    rounds = max(1, (pieces - 1) // 4)
    side = min(100.0 * 1.22**rounds, 1500.0)
    ring = _box(side, side)
    found: list[Points] = []
    for _ in range(rounds):
        lean = rng.uniform(0.22, 0.42)
        inner = np.array([ring[k] + lean * (ring[(k + 1) % 4] - ring[k]) for k in range(4)])
        found += [np.array([inner[k - 1], ring[k], inner[k]]) for k in range(4)]
        ring = inner
    return Drawn(_box(side, side), (*found, ring))


def crown(pieces: int, rng: np.random.Generator) -> Drawn:
    """Pieces about the block's middle lines, in quarter turns with mirrors, their corners meeting."""
    cell = _side(pieces) / 2
    knot, notch = cell * rng.uniform(0.25, 0.4), cell * rng.uniform(0.35, 0.55)
    kite = np.array([[0.0, 0.0], [knot, -knot], [cell, 0.0], [knot, knot]])
    knee, tip = np.array([knot, knot]), np.array([0.0, cell])
    right, top = np.array([cell, cell - notch]), np.array([cell - notch, cell])
    chord = np.array([np.array([cell, 0.0]), right, top, tip])
    fill = [np.array([knee, np.array([cell, 0.0]), tip]), chord, np.array([right, [cell, cell], top])]
    rows = max(0, round((pieces / 4 - 4) / 1))
    strips = _strips(fill.pop(1), rows + 1)
    cells = [kite, *fill, *strips]
    turned = [moved(part, 90 * k, (cell, cell)) for k in range(4) for part in cells]
    return Drawn(_box(2 * cell, 2 * cell), tuple(turned))


def _strips(quadrilateral: Points, rows: int) -> list[Points]:
    """A quadrilateral (a right, a top, ...) cut into strips along its parallel sides, of uneven height."""
    a, b, c, d = quadrilateral
    heights = np.linspace(1.0, 1.6, rows)
    stops = np.concatenate([[0.0], np.cumsum(heights) / heights.sum()])
    lines = [(a + s * (b - a), d + s * (c - d)) for s in stops]
    return [np.array([lines[k][0], lines[k + 1][0], lines[k + 1][1], lines[k][1]]) for k in range(rows)]


def columns(pieces: int, rng: np.random.Generator) -> Drawn:
    """Slanted columns in a rectangle, each cut across in slants of its own."""
    side = _side(pieces)
    width, height = side * 1.15, side / 1.15
    count = max(2, round(math.sqrt(pieces / 2)))
    foot, head = width * _uneven(count, rng), width * _uneven(count, rng)
    found: list[Points] = []
    rows = [pieces // count + (k < pieces % count) for k in range(count)]
    for k, number in enumerate(rows):
        left = np.array([[foot[k], 0.0], [head[k], height]])
        right = np.array([[foot[k + 1], 0.0], [head[k + 1], height]])
        found += _cut_across(left, right, number, found, rng)
    return Drawn(_box(width, height), tuple(found))


def _cut_across(
    left: Points, right: Points, number: int, known: list[Points], rng: np.random.Generator
) -> list[Points]:
    """The pieces of a column between two lines, none poor to cut, none like another or one that is known."""
    for _ in range(300):
        stops = [_uneven(number, rng) for _ in range(2)]
        pieces = [
            np.array([_on(left, a), _on(right, c), _on(right, d), _on(left, b)])
            for a, b, c, d in zip(stops[0], stops[0][1:], stops[1], stops[1][1:], strict=False)
        ]
        pairs = itertools.chain(itertools.product(pieces, known), itertools.combinations(pieces, 2))
        if not any(poor(piece) for piece in pieces) and not any(are_alike(one, other) for one, other in pairs):
            return pieces
    raise RuntimeError("the column is too narrow")


def _uneven(parts: int, rng: np.random.Generator) -> Points:
    """(parts + 1,) stops from 0 to 1, unevenly spaced."""
    inner = (np.arange(1, parts) + rng.uniform(-0.28, 0.28, parts - 1)) / parts
    return np.concatenate([[0.0], inner, [1.0]])


def _on(line: Points, share: float) -> Points:
    return np.asarray(line[0] + share * (line[1] - line[0]))


@dataclass(frozen=True)
class Kind:
    """One family of the benchmark: its name, how it is drawn, and the numbers of pieces it is drawn with."""

    name: str
    draw: Callable[[int, np.random.Generator], Drawn]
    sizes: tuple[int, ...]


KINDS = (
    Kind("square cut up", square, (4, 8, 16, 30, 60, 100)),
    Kind("rectangle cut up", rectangle, (5, 9, 16, 30, 60, 100)),
    Kind("triangle cut up", corner_triangle, (4, 8, 14, 24, 40, 60)),
    Kind("whirl in a square", square_whirl, (5, 9, 21, 41, 61, 97)),
    Kind("whirl in a hexagon", hexagon_whirl, (7, 13, 25, 43, 61, 97)),
    Kind("half turn", half_turn, (4, 8, 16, 30, 60, 100)),
    Kind("mirrored wings", mirrored, (5, 9, 17, 31, 51, 81)),
    Kind("square in a square", boxes, (5, 9, 13, 17, 21, 25)),
    Kind("kite crown", crown, (16, 20, 24, 28, 32, 36)),
    Kind("slanted columns", columns, (4, 6, 12, 20, 40, 80)),
)


@cache
def block(kind: Kind, pieces: int, seed: int) -> Family:
    """A block of a kind as a family of templates; a drawing with a poor piece is drawn again."""
    rng = np.random.default_rng([seed, pieces, sum(map(ord, kind.name))])
    for _ in range(3000):
        try:
            drawn = kind.draw(pieces, rng)
        except RuntimeError:
            continue
        if not any(poor(piece) for piece in drawn.pieces) and _told_apart(drawn.pieces):
            size = np.ptp(drawn.outline, axis=0)
            return Family(kind.name, (float(size[0]), float(size[1])), drawn.pieces, "mm", "", False, False)
    raise RuntimeError(f"no usable block of {pieces} pieces: {kind.name}")


def _told_apart(pieces: tuple[Points, ...]) -> bool:
    """Whether no two templates are so alike that a person would take one for the other."""
    finished = [one.finished for one in templates_of(pieces)]
    return not any(are_alike(one, other) for one, other in itertools.combinations(finished, 2))


def are_alike(one: Points, other: Points) -> bool:
    """Whether all edges of two outlines, one after the other, are as long to within LEAST_DIFFERENCE_MM."""
    if len(one) != len(other):
        return False
    a, b = _lengths(one), _lengths(other)
    shifted = np.array([np.roll(way, s) for way in (b, b[::-1]) for s in range(len(b))])
    return bool(np.abs(a - shifted).max(axis=1).min() < LEAST_DIFFERENCE_MM)


def _lengths(outline: Points) -> Points:
    along = np.roll(outline, -1, axis=0) - outline
    return np.hypot(along[:, 0], along[:, 1])
