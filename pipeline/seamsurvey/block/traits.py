"""What is seen of a layout at a glance, as numbers: how it repeats itself, what meets, which seams run through.

Everything here is geometry of one layout; what it says for the layout stands in ``meaning``.
"""

import cmath
import itertools
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

import numpy as np

from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes, area_of

_SAME_DEG = 1.5  # directions of lines nearer to one another are one
_MOST_CELLS = 9  # across a block
_Line = TypeVar("_Line", bound=tuple[float, Any, Any])
_EVEN = 0.02  # share of the side by which lines may miss equal spaces


class Moving(Protocol):
    """A move of the plane, of ``groups`` or of ``symmetry``: what traits ask of it."""

    @property
    def mirrored(self) -> bool:
        """Whether the other face shows."""

    @property
    def turn(self) -> complex:
        """The turn, a unit."""


@dataclass(frozen=True)
class Traits:
    """Counts unless a name says more; all of one layout."""

    pieces: int
    templates: int
    turns: int  # the order of its turns onto itself
    mirrored: bool
    vertices: int
    tees: int  # corners that meet an edge between its ends
    ways: int  # of lying: different (template, face, turn)
    runs: int  # straight lines of seams
    through: int  # of those from side to side
    wyes: int  # meeting points inside that no seam runs straight through
    star: int  # the most corners under 75 degrees that meet in a point
    centred: bool  # the middle is a meeting point or the middle of a piece
    across: int  # equal columns that seams part the block into
    down: int  # equal rows
    kinds_of_cell: int  # different cells, of across × down, whichever way each is turned; 0 without
    cells_as_they_lie: int  # different cells, told apart by how they are turned, too
    taken_off: int  # pieces that can be taken off one by one, each along a whole side of the box that is left
    kinds_of_seam: int  # different ways in which two pieces meet along whole edges, turned or mirrored alike
    spiral: bool  # and from side after side, round and round
    width: float  # mm
    height: float  # mm
    outline: str
    counts: tuple[int, ...]  # of each template


def traits_of(shapes: Shapes, layout: Layout, kept: Sequence[Moving], near: float) -> Traits:
    """The traits of a layout that the moves ``kept`` carry to itself; ``near`` mm is its tolerance."""
    at = np.array(layout.at)
    corners = layout.outline.at(*layout.size)
    middle = sum(corners) / len(corners)
    centres = np.array([sum(layout.at[v] for v in ring) / len(ring) for _, _, ring in layout.pieces])
    runs = _runs(layout, near)
    inside = [r for r in runs if not r.on_side]
    through = [r for r in inside if r.from_side and r.to_side]
    across = _equal([abs(r.offset) for r in through if r.upright], layout.size[0])
    down = _equal([abs(r.offset) for r in through if r.level], layout.size[1])
    counts = Counter(t for t, _, _ in layout.pieces)
    kinds, as_they_lie = _kinds_of_cell(layout, centres, across, down) if across * down > 1 else (0, 0)
    taken = _taken_off(layout, near) if len(layout.outline.corners) == 4 else []
    centred = bool(min(np.abs(at - middle).min(), np.abs(centres - middle).min()) <= 3 * near)
    return Traits(
        pieces=len(layout.pieces),
        templates=len(counts),
        turns=1 + sum(not m.mirrored for m in kept if abs(m.turn - 1) > 1e-6),
        mirrored=any(m.mirrored for m in kept),
        vertices=len(at),
        tees=len({v for v, _, _ in layout.meetings}),
        ways=_ways(shapes, layout),
        runs=len(inside),
        through=len(through),
        wyes=_wyes(layout, at, inside, near),
        star=_star(shapes, layout),
        centred=centred,
        across=across,
        down=down,
        kinds_of_cell=kinds,
        cells_as_they_lie=as_they_lie,
        taken_off=len(taken),
        kinds_of_seam=_kinds_of_seam(shapes, layout),
        spiral=_is_round(taken),
        width=layout.size[0],
        height=layout.size[1],
        outline=layout.outline.name,
        counts=tuple(counts[t] for t in range(len(shapes.names))),
    )


@dataclass(frozen=True)
class _Run:
    """A straight run of seams: where it starts and ends along its line, and where its line lies."""

    direction: complex
    offset: float  # of the line to the left of the origin, mm
    start: float
    end: float
    on_side: bool
    from_side: bool
    to_side: bool

    @property
    def upright(self) -> bool:
        return abs(self.direction.real) < 0.02

    @property
    def level(self) -> bool:
        return abs(self.direction.imag) < 0.02


def _runs(layout: Layout, near: float) -> list[_Run]:
    """All straight runs of edges, those along the outline among them.

    Plain numbers: a layout has some dozens of edges in a few directions, too few for arrays to pay.
    """
    at, sides = layout.at, layout.sides
    edges: list[tuple[float, int, int]] = []
    for _, _, ring in layout.pieces:
        for v, w in zip(ring, (*ring[1:], ring[0]), strict=True):
            angle = math.degrees(cmath.phase(at[w] - at[v])) % 180
            edges.append((angle - 180 if angle > 180 - _SAME_DEG else angle, v, w))
    edges.sort()
    runs: list[_Run] = []
    for group in _parted(edges, _SAME_DEG):
        direction = cmath.exp(1j * math.radians(sum(angle for angle, _, _ in group) / len(group)))
        back = direction.conjugate()
        lines = []
        for _, v, w in group:
            a, b = at[v] * back, at[w] * back
            start, end = ((a.real, v), (b.real, w)) if a.real <= b.real else ((b.real, w), (a.real, v))
            lines.append(((a.imag + b.imag) / 2, start, end))
        lines.sort()
        for part in _parted(lines, 3 * near):
            offset = sum(line[0] for line in part) / len(part)
            spans: list[tuple[tuple[float, int], tuple[float, int]]] = []
            for _, start, end in sorted(part, key=lambda line: line[1][0]):
                if spans and start[0] <= spans[-1][1][0] + 3 * near:
                    if end[0] > spans[-1][1][0]:
                        spans[-1] = spans[-1][0], end
                else:
                    spans.append((start, end))
            for (start_at, first), (end_at, last) in spans:
                ends = sides[first], sides[last]
                runs.append(
                    _Run(direction, offset, start_at, end_at, bool(ends[0] & ends[1]), bool(ends[0]), bool(ends[1]))
                )
    return runs


def _parted(lines: list[_Line], gap: float) -> Iterator[list[_Line]]:
    """Lines in order, parted where the first number jumps by more than a gap."""
    first = 0
    for k in range(1, len(lines) + 1):
        if k == len(lines) or lines[k][0] - lines[k - 1][0] > gap:
            yield lines[first:k]
            first = k


def _equal(offsets: list[float], side: float) -> int:
    """Into how many equal parts lines at these offsets part a side, at most; 1 where they do not."""
    for parts in range(_MOST_CELLS, 1, -1):
        if all(any(abs(o - side * k / parts) <= _EVEN * side for o in offsets) for k in range(1, parts)):
            return parts
    return 1


def _kinds_of_cell(layout: Layout, centres: np.ndarray, across: int, down: int) -> tuple[int, int]:
    """Different cells: by the templates in each and how far, then also where, from its middle they lie."""
    width, height = layout.size[0] / across, layout.size[1] / down
    step = 0.04 * (width + height)
    cells: dict[tuple[int, int], list[tuple[int, complex]]] = {}
    for (t, _, _), centre in zip(layout.pieces, centres, strict=True):
        i, j = min(int(centre.real / width), across - 1), min(int(centre.imag / height), down - 1)
        away = centre - complex((i + 0.5) * width, (j + 0.5) * height)
        cells.setdefault((i, j), []).append((t, away))
    turned = {tuple(sorted((t, round(abs(z) / step)) for t, z in cell)) for cell in cells.values()}
    laid = {
        tuple(sorted((t, round(z.real / step), round(z.imag / step)) for t, z in cell)) for cell in cells.values()
    }
    return len(turned), len(laid)


def _taken_off(layout: Layout, near: float) -> list[int]:
    """The sides (0 below, then counter-clockwise) from which pieces come off a box one by one, while any do."""
    boxes: dict[int, tuple[float, float, float, float]] = {}  # of the oblong pieces that are left
    for k, (_, _, ring) in enumerate(layout.pieces):
        points = [layout.at[v] for v in ring]
        x, y = [z.real for z in points], [z.imag for z in points]
        low_x, low_y, high_x, high_y = min(x), min(y), max(x), max(y)
        area = (high_x - low_x) * (high_y - low_y)
        if abs(area_of(points) - area) <= 0.02 * area:
            boxes[k] = low_x, low_y, high_x, high_y
    left = len(layout.pieces)
    box = [0.0, 0.0, *layout.size]
    taken: list[int] = []
    while left > 1:
        for side, which in enumerate((1, 2, 3, 0)):
            if taken and (side - taken[-1]) % 4 == 0 and left > 2:
                continue
            # It reaches across the box, and lies along this side.
            ends = [i for i in range(4) if i != (which + 2) % 4]
            found = next((k for k, one in boxes.items() if all(abs(one[i] - box[i]) <= 3 * near for i in ends)), -1)
            if found >= 0:
                box[which] = boxes.pop(found)[(which + 2) % 4]
                left -= 1
                taken.append(side)
                break
        else:
            return taken
    return taken


def _is_round(taken: list[int]) -> bool:
    """Whether sides follow one another round and round; the last few pieces fit from more sides than one."""
    steps = {(b - a) % 4 for a, b in itertools.pairwise(taken[:-2])}
    return len(taken) > 4 and steps in ({1}, {3})


def _ways(shapes: Shapes, layout: Layout) -> int:
    seen = set()
    for t, over, ring in layout.pieces:
        face = shapes.face(t, over)
        turn = (layout.at[ring[1]] - layout.at[ring[0]]) / (face.corners[1] - face.corners[0])
        period = 360 / shapes.turns[t]
        seen.add((t, over, round(math.degrees(cmath.phase(turn)) / 5) % round(period / 5)))
    return len(seen)


def _wyes(layout: Layout, at: np.ndarray, runs: list[_Run], near: float) -> int:
    """Meeting points inside the block that no run passes."""
    inner = at[np.array(layout.sides) == 0]
    if not len(inner) or not runs:
        return len(inner)
    turned = inner[:, None] * np.array([run.direction for run in runs]).conjugate()
    passed = (
        (np.abs(turned.imag - np.array([run.offset for run in runs])) <= 3 * near)
        & (turned.real > np.array([run.start for run in runs]) + 3 * near)
        & (turned.real < np.array([run.end for run in runs]) - 3 * near)
    )
    return int((~passed.any(axis=1)).sum())


_Edge = tuple[int, int, int]  # template, and how far from its middle the edge starts and ends


def _kinds_of_seam(shapes: Shapes, layout: Layout) -> int:
    """How many different seams there are along whole edges of two pieces, turned or mirrored alike.

    An edge of a card is known by how far its ends are from the card's middle, in mm.
    """
    lying: dict[tuple[int, int], _Edge] = {}
    found: set[tuple[_Edge, _Edge]] = set()
    for t, over, ring in layout.pieces:
        corners = shapes.face(t, over).corners
        middle = sum(corners) / len(corners)
        away = [round(abs(z - middle)) for z in corners]
        for k, v in enumerate(ring):
            far = (k + 1) % len(ring)
            mine = t, away[k], away[far]
            other = lying.pop((ring[far], v), None)
            if other is None:
                lying[v, ring[far]] = mine
            else:
                there = other[0], other[2], other[1]
                # Its mirror image begins at the other end.
                found.add(min(_pair(mine, there), _pair((t, away[far], away[k]), other)))
    return len(found)


def _pair(one: _Edge, other: _Edge) -> tuple[_Edge, _Edge]:
    return (one, other) if one <= other else (other, one)


def _star(shapes: Shapes, layout: Layout) -> int:
    """The most sharp corners (under 75 degrees) that meet in one point inside."""
    sharp: Counter[int] = Counter()
    for t, over, ring in layout.pieces:
        angles = shapes.face(t, over).angles
        sharp.update(v for v, a in zip(ring, angles, strict=True) if a < math.radians(75) and not layout.sides[v])
    return max(sharp.values(), default=0)
