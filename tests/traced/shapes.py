"""Outlines: the mitred allowance, an edge that a hand cut, worn corners. All in mm, counter-clockwise, y up."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from shapely.geometry import Polygon

Points = NDArray[np.float64]  # (n, 2)
STEP_MM = 1.0  # between the points of a cut edge
LONGEST_WAVE_MM = 60.0


@dataclass(frozen=True)
class CutCard:
    """A card's outline in its template's frame: as drawn, as the lines that its edges follow, as it is."""

    ideal: Points
    straight: Points  # corners, in the drawing's order, of the lines fitted to the edges as cut
    outline: Points


@dataclass(frozen=True)
class Hand:
    """How well somebody cuts: standard deviations in mm, and the radius to which corners are worn."""

    off: float
    wander: float
    worn: float


def moved_lines(outline: Points, out: NDArray[np.float64]) -> Points:
    """The corners of the outline when its edge k is moved outward by out[k]."""
    along = np.roll(outline, -1, axis=0) - outline
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    offset = np.sum(normal * outline, axis=1) + out
    corners = []
    for k in range(len(outline)):
        pair = np.array([normal[k - 1], normal[k]])
        if abs(np.linalg.det(pair)) < 1e-6:  # a straight joint between two edges
            corners.append(outline[k] + normal[k] * out[k])
        else:
            corners.append(np.linalg.solve(pair, np.array([offset[k - 1], offset[k]])))
    return np.array(corners)


def cut_by_hand(finished: Points, allowance: float, hand: Hand, rng: Generator) -> CutCard:
    """The card that a hand cuts: each edge a little off and wandering, each corner worn round."""
    count = len(finished)
    ideal = moved_lines(finished, np.full(count, allowance))
    rough = moved_lines(finished, allowance + rng.normal(0.0, hand.off, count))
    points, lines = [], []
    for k in range(count):
        edge = _wandering(rough[k], rough[(k + 1) % count], hand.wander, rng)
        points.append(edge[:-1])
        lines.append(_fitted(edge))
    straight = np.array([_crossing(lines[k - 1], lines[k], rough[k]) for k in range(count)])
    worn = Polygon(np.concatenate(points)).buffer(-hand.worn).buffer(hand.worn, quad_segs=6)
    return CutCard(ideal, straight, np.array(worn.exterior.coords)[:-1][::-1])


def _wandering(start: Points, end: Points, sigma: float, rng: Generator) -> Points:
    length = float(np.hypot(*(end - start)))
    along = (end - start) / length
    normal = np.array([along[1], -along[0]])
    t = np.linspace(0.0, length, max(int(length / STEP_MM), 4) + 1)
    waves = max(2, int(2 * length / LONGEST_WAVE_MM) + 2)
    order = np.arange(1, waves + 1)
    sway = np.sin(np.pi * np.outer(t, order) / length) @ (rng.standard_normal(waves) / order)
    spread = float(np.sqrt(np.mean(np.square(sway)))) or 1.0
    sway = sway / spread * sigma * abs(rng.normal(1.0, 0.3))
    return np.asarray(start + t[:, None] * along + sway[:, None] * normal)


def _fitted(edge: Points) -> tuple[Points, Points]:
    """A point and the direction of the line that lies best among the points."""
    middle = edge.mean(axis=0)
    return middle, np.linalg.svd(edge - middle)[2][0]


def _crossing(a: tuple[Points, Points], b: tuple[Points, Points], near: Points) -> Points:
    across = np.column_stack([a[1], -b[1]])
    if abs(np.linalg.det(across)) < 1e-3:
        return near
    return np.asarray(a[0] + a[1] * np.linalg.solve(across, b[0] - a[0])[0])


def turned(degrees: float, to: tuple[float, float] | Points, over: bool = False) -> NDArray[np.float64]:
    """(2, 3) the map that turns the own frame (mirrored first when `over`) and carries its origin to `to`."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    linear = np.array([[c, -s], [s, c]]) @ np.diag([-1.0 if over else 1.0, 1.0])
    return np.column_stack([linear, np.asarray(to, dtype=np.float64)])


def carried(matrix: NDArray[np.float64], points: Points) -> Points:
    """The points under a (2, 3) map."""
    return np.asarray(points @ matrix[:, :2].T + matrix[:, 2])
