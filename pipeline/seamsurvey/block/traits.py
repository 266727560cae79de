"""What is seen of a layout at a glance, as numbers: how it repeats itself, what meets, which seams run through.

Everything here is geometry of one layout; what it says for the layout stands in ``meaning``.
"""

import cmath
import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes

_SAME_DEG = 1.5  # directions of lines nearer to one another are one
_MOST_CELLS = 9  # across a block
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
    spiral: bool  # and from side after side, round and round
    width: float  # mm
    height: float  # mm
    outline: str
    counts: tuple[int, ...]  # of each template


def traits_of(shapes: Shapes, layout: Layout, kept: Sequence[Moving], near: float) -> Traits:
    """The traits of a layout that the moves ``kept`` carry to itself; ``near`` mm is its tolerance."""
    at = np.array(layout.at)
    middle = complex(np.mean(layout.outline.at(*layout.size)))
    centres = np.array([at[list(ring)].mean() for _, _, ring in layout.pieces])
    runs = _runs(layout, at, near)
    inside = [r for r in runs if not r.on_side]
    through = [r for r in inside if r.from_side and r.to_side]
    across = _equal([abs(r.offset) for r in through if r.upright], layout.size[0])
    down = _equal([abs(r.offset) for r in through if r.level], layout.size[1])
    counts = Counter(t for t, _, _ in layout.pieces)
    kinds, as_they_lie = _kinds_of_cell(layout, centres, across, down) if across * down > 1 else (0, 0)
    taken = _taken_off(layout, at, near) if len(layout.outline.corners) == 4 else []
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


def _runs(layout: Layout, at: np.ndarray, near: float) -> list[_Run]:
    """All straight runs of edges, those along the outline among them."""
    a = np.array([v for _, _, ring in layout.pieces for v in ring])
    b = np.array([v for _, _, ring in layout.pieces for v in (*ring[1:], ring[0])])
    along = at[b] - at[a]
    angle = np.degrees(np.angle(along)) % 180
    angle = np.where(angle > 180 - _SAME_DEG, angle - 180, angle)
    order = np.argsort(angle)
    cuts = np.flatnonzero(np.diff(angle[order]) > _SAME_DEG) + 1
    sides = np.array(layout.sides)
    runs: list[_Run] = []
    for group in np.split(order, cuts):
        direction = cmath.exp(1j * math.radians(float(angle[group].mean())))
        turned_a, turned_b = at[a[group]] / direction, at[b[group]] / direction
        offset = (turned_a.imag + turned_b.imag) / 2
        by_offset = np.argsort(offset)
        parts = np.split(by_offset, np.flatnonzero(np.diff(offset[by_offset]) > 3 * near) + 1)
        for part in parts:
            low = np.minimum(turned_a.real[part], turned_b.real[part])
            high = np.maximum(turned_a.real[part], turned_b.real[part])
            low_v = np.where(turned_a.real[part] <= turned_b.real[part], a[group][part], b[group][part])
            high_v = np.where(turned_a.real[part] <= turned_b.real[part], b[group][part], a[group][part])
            line = float(offset[part].mean())
            spans: list[list[float]] = []
            for i in np.argsort(low):
                lo, hi, lv, hv = float(low[i]), float(high[i]), int(low_v[i]), int(high_v[i])
                if spans and lo <= spans[-1][1] + 3 * near:
                    if hi > spans[-1][1]:
                        spans[-1][1], spans[-1][3] = hi, hv
                else:
                    spans.append([lo, hi, lv, hv])
            for start, end, first, last in spans:
                ends = int(sides[int(first)]), int(sides[int(last)])
                runs.append(
                    _Run(direction, line, start, end, bool(ends[0] & ends[1]), bool(ends[0]), bool(ends[1]))
                )
    return runs


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


def _taken_off(layout: Layout, at: np.ndarray, near: float) -> list[int]:
    """The sides (0 below, then counter-clockwise) from which pieces come off a box one by one, while any do."""
    boxes = []
    for _, _, ring in layout.pieces:
        points = at[list(ring)]
        boxes.append([points.real.min(), points.imag.min(), points.real.max(), points.imag.max()])
    left = np.array(boxes)
    areas = (left[:, 2] - left[:, 0]) * (left[:, 3] - left[:, 1])
    oblong = np.array([
        abs(_area(at[list(ring)]) - area) <= 0.02 * area
        for (_, _, ring), area in zip(layout.pieces, areas, strict=True)
    ])  # fmt: skip
    box = np.array([0.0, 0.0, *layout.size])
    there = np.ones(len(left), bool)
    taken: list[int] = []
    while there.sum() > 1:
        for side, (across, which) in enumerate(((0, 1), (1, 2), (0, 3), (1, 0))):
            spans = (
                there & oblong
                & (np.abs(left[:, across] - box[across]) <= 3 * near)
                & (np.abs(left[:, across + 2] - box[across + 2]) <= 3 * near)
                & (np.abs(left[:, which] - box[which]) <= 3 * near)
            )  # fmt: skip
            if spans.any() and not (taken and (side - taken[-1]) % 4 == 0 and there.sum() > 2):
                k = int(np.flatnonzero(spans)[0])
                there[k] = False
                box[which] = left[k][(which + 2) % 4]
                taken.append(side)
                break
        else:
            return taken
    return taken


def _is_round(taken: list[int]) -> bool:
    """Whether sides follow one another round and round; the last few pieces fit from more sides than one."""
    steps = {(b - a) % 4 for a, b in itertools.pairwise(taken[:-2])}
    return len(taken) > 4 and steps in ({1}, {3})


def _area(points: np.ndarray) -> float:
    return float(np.sum((points.conjugate() * np.roll(points, -1)).imag)) / 2


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
    if not len(inner):
        return 0
    passed = np.zeros(len(inner), bool)
    for run in runs:
        local = inner / run.direction
        passed |= (
            (np.abs(local.imag - run.offset) <= 3 * near)
            & (local.real > run.start + 3 * near)
            & (local.real < run.end - 3 * near)
        )
    return int((~passed).sum())


def _star(shapes: Shapes, layout: Layout) -> int:
    """The most sharp corners (under 75 degrees) that meet in one point inside."""
    sharp: Counter[int] = Counter()
    for t, over, ring in layout.pieces:
        angles = shapes.face(t, over).angles
        sharp.update(v for v, a in zip(ring, angles, strict=True) if a < math.radians(75) and not layout.sides[v])
    return max(sharp.values(), default=0)
