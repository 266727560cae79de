"""A template cut from card: the margin added, tips trimmed, the cut wandering, the corners worn.

Everything stands in the template's own frame (mm, y up, the finished outline counter-clockwise).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .geometry import (
    Points,
    corner_angles,
    edge_lengths,
    meeting_point,
    move,
    outward_normals,
    placement,
    with_margin,
    with_trimmed_tips,
)
from .hands import extent, written
from .lettering import inked, strokes_of, text_width

# Cut edges are sampled this densely: a fifth of the shortest correlation length anyone would ask for.
_SAMPLE_MM = 0.6
# What a mean over T = L / 2 leaves of the deviation of noise correlated like exp(-d / L):
# the root of 2 (L / T)^2 (T / L - 1 + exp(-T / L)).
_SMOOTHED_SIGMA = math.sqrt(8.0 * (math.exp(-0.5) - 0.5))


@dataclass(frozen=True)
class Cutting:
    """How the maker cut; all mm.

    `allowance`: the margin; `tips_at`: where tips are trimmed, counted from the finished corner, None for
    sharp tips; `wobble_sigma`, `wobble_length`: how far the cut wanders and the correlation length along
    the edge; `wear_radius`: to which corners are worn; `grain_line`:
    whether an arrow is pencilled along the grain; `holes`: diameter of the dots punched at the corners, 0 for none.
    """

    allowance: float = 0.0
    tips_at: float | None = None
    wobble_sigma: float = 0.0
    wobble_length: float = 20.0
    wear_radius: float = 0.4
    grain_line: bool = False
    holes: float = 0.0


@dataclass(frozen=True)
class Card:
    """One cut card.

    `cut`: the outline meant; `as_cut_corners`: where lines fitted to the wandering edges meet, corner for
    corner of `cut`; `as_cut`: the outline that is there, worn corners and all; `note`: lettered below the name;
    `hand`, `lines`: where there is a hand of `hands.HANDS`, all that it wrote, line by line, instead.
    """

    name: str
    finished: Points
    cut: Points
    as_cut_corners: Points
    as_cut: Points
    note: str
    hand: str = ""
    lines: tuple[str, ...] = ()


def cut_card(name: str, finished: Points, cutting: Cutting, note: str, rng: np.random.Generator) -> Card:
    """A card for the finished outline, cut as `cutting` says; the wandering is drawn from `rng`."""
    cut = with_margin(finished, cutting.allowance) if cutting.allowance > 0.0 else finished.copy()
    if cutting.tips_at is not None and cutting.allowance > 0.0:
        cut = with_trimmed_tips(finished, cut, cutting.tips_at)
    wander = [_wander(length, cutting, rng) for length in edge_lengths(cut)]
    as_cut, edges = _outline(cut, wander, cutting.wear_radius)
    return Card(name, finished, cut, _fitted_corners(edges), as_cut, note)


def _wander(length: float, cutting: Cutting, rng: np.random.Generator) -> NDArray[np.float64]:
    """(m,) how far the cut strays outward at even steps from one end of the edge to the other.

    A first-order autoregression, the sampled form of exponentially correlated noise, smoothed over a
    quarter of its correlation length as a hand and a knife would.
    """
    count = max(2, math.ceil(length / _SAMPLE_MM)) + 1
    step = length / (count - 1)
    reach = max(1, round(0.25 * cutting.wobble_length / step))
    noise = rng.standard_normal(count + 2 * reach)
    keep = math.exp(-step / cutting.wobble_length)
    for k in range(1, len(noise)):
        noise[k] = keep * noise[k - 1] + math.sqrt(1.0 - keep * keep) * noise[k]
    smooth = np.convolve(noise, np.full(2 * reach + 1, 1.0 / (2 * reach + 1)), mode="valid")
    return np.asarray(cutting.wobble_sigma / _SMOOTHED_SIGMA * smooth)


def _outline(cut: Points, wander: list[NDArray[np.float64]], wear: float) -> tuple[Points, list[Points]]:
    """The physical outline and, edge by edge, the points of it that belong to that edge alone."""
    n = len(cut)
    normals = outward_normals(cut)
    lengths = edge_lengths(cut)
    halves = np.radians(corner_angles(cut)) / 2.0
    # A worn corner is an arc that touches both edges, this far from the corner.
    reaches = np.minimum(
        wear / np.tan(np.minimum(halves, np.pi - halves)), 0.2 * np.minimum(lengths, np.roll(lengths, 1))
    )
    moved = [
        _shift(normals[k - 1], wander[k - 1][-1], normals[k], wander[k][0]) for k in range(n)
    ]  # how far the wandering edges carry each corner
    edges = []
    for k in range(n):
        along = (cut[(k + 1) % n] - cut[k]) / lengths[k]
        at = np.linspace(0.0, 1.0, len(wander[k]))
        start, end = reaches[k] / lengths[k], 1.0 - reaches[(k + 1) % n] / lengths[k]
        at = np.concatenate([[start], at[(at > start) & (at < end)], [end]])
        stray = np.interp(at, np.linspace(0.0, 1.0, len(wander[k])), wander[k])
        slide = (1.0 - at) * (moved[k] @ along) + at * (moved[(k + 1) % n] @ along)
        edges.append(cut[k] + np.outer(at * lengths[k] + slide, along) + np.outer(stray, normals[k]))
    points = []
    for k in range(n):
        points.append(_arc(edges[k - 1][-1], cut[k] + moved[k], edges[k][0]))
        points.append(edges[k])
    return np.concatenate(points), edges


def _shift(normal_a: Points, stray_a: float, normal_b: Points, stray_b: float) -> Points:
    return meeting_point(normal_a, float(stray_a), normal_b, float(stray_b))


def _arc(start: Points, corner: Points, end: Points) -> Points:
    """The inner points of a smooth bend from start to end that touches both edges.

    A rational quadratic curve: the circle's arc when the two tangents are equally long.
    """
    a, b = start - corner, end - corner
    cosine = float(a @ b) / max(float(np.hypot(*a) * np.hypot(*b)), 1e-12)
    weight = math.sqrt(max(0.0, (1.0 - cosine) / 2.0))  # sin of half the corner's angle
    t = np.arange(1, 8)[:, None] / 8.0
    top = (1.0 - t) ** 2 * start + 2.0 * weight * t * (1.0 - t) * corner + t**2 * end
    return np.asarray(top / ((1.0 - t) ** 2 + 2.0 * weight * t * (1.0 - t) + t**2))


def _fitted_corners(edges: list[Points]) -> Points:
    """Where the least-squares lines of neighbouring edges meet."""
    lines = []
    for points in edges:
        centre = points.mean(axis=0)
        along = np.linalg.svd(points - centre, full_matrices=False)[2][0]
        normal = np.array([along[1], -along[0]])
        lines.append((normal, float(normal @ centre)))
    return np.array([meeting_point(*lines[k - 1], *lines[k]) for k in range(len(edges))])


def roomiest_point(outline: Points) -> tuple[Points, float]:
    """The point inside the outline farthest from every edge (to about 1 mm), and that distance."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    x, y = (axis.ravel() for axis in np.meshgrid(*(np.linspace(low[k], high[k], 61) for k in (0, 1))))
    grid = np.column_stack([x, y])
    ends = np.roll(outline, -1, axis=0)
    distance = np.full(len(grid), np.inf)
    crossings = np.zeros(len(grid), dtype=int)
    for start, end in zip(outline, ends, strict=True):
        step, offset = end - start, grid - start
        t = np.clip(offset @ step / (step @ step), 0.0, 1.0)
        distance = np.minimum(distance, np.hypot(*(offset - np.outer(t, step)).T))
        spans = (start[1] > y) != (end[1] > y)  # the very numbers the next edge starts from
        with np.errstate(divide="ignore", invalid="ignore"):
            crossings += spans & (x < start[0] + step[0] * (y - start[1]) / step[1])
    distance[crossings % 2 == 0] = -1.0
    best = int(np.argmax(distance))
    return grid[best], float(distance[best])


def writing_on(card: Card, rng: np.random.Generator) -> list[Points]:
    """The outlines of the name and the note lettered on the card by hand."""
    centre, room = roomiest_point(card.finished)
    if card.hand:
        tilt = placement(float(rng.uniform(-12.0, 12.0)), centre)
        return [move(tilt, outline) for outline in _by_hand(card, room, rng)]
    height = min(14.0, 0.75 * room)
    lines = [line - np.array([text_width(card.name, height) / 2.0, height * 0.35])
             for line in strokes_of(card.name, height, 0.16, rng)]  # fmt: skip
    outlines = inked(lines, 0.9)
    # Letters and note together stay inside the circle that the roomiest point allows.
    small = min(3.6, 0.22 * room, 1.4 * room / text_width(card.note, 1.0)) if card.note else 0.0
    if small > 1.5:
        corner = np.array([text_width(card.note, small) / 2.0, height * 0.35 + 2.0 * small])
        outlines += inked([line - corner for line in strokes_of(card.note, small, 0.2, rng)], 0.45)
    tilt = placement(float(rng.uniform(-12.0, 12.0)), centre)
    return [move(tilt, outline) for outline in outlines]


def _by_hand(card: Card, room: float, rng: np.random.Generator) -> list[Points]:
    """The card's lines, centred one below the other about the origin, the first one larger where it is short."""
    heights = [float(rng.uniform(3.2, 5.0)) for _ in card.lines]
    if len(card.lines[0]) < 4:
        heights[0] = float(rng.uniform(7.0, 13.0))
    below, outlines = 0.0, []
    for text, height in zip(card.lines, heights, strict=True):
        line = written(text, height, card.hand, rng)
        low, high = extent(line)
        outlines.append([each - np.array([(low[0] + high[0]) / 2.0, high[1] + below]) for each in line])
        below += high[1] - low[1] + float(rng.uniform(0.25, 0.6)) * height
    everything = [each for line in outlines for each in line]
    low, high = extent(everything)
    # All of it inside the circle that the roomiest point allows.
    fits = min(1.0, 1.8 * room / float(np.hypot(*(high - low))))
    return [fits * (each - (low + high) / 2.0) for each in everything]


def seam_dashes(card: Card, rng: np.random.Generator) -> list[Points]:
    """The outlines of the dashed seam line, drawn along the finished outline with a pencil and a rule."""
    dashes: list[Points] = []
    n = len(card.finished)
    for k in range(n):
        a, b = (card.finished[i % n] + 0.12 * rng.standard_normal(2) for i in (k, k + 1))
        length = float(np.hypot(*(b - a)))
        count = max(1, round((length - 3.5) / 6.0))
        dash = (length / (count + 1)) * 0.62
        for at in np.linspace(0.0, length - dash, count + 1):
            ends = np.array([a + (b - a) * (at / length), a + (b - a) * ((at + dash) / length)])
            dashes += inked([ends], 0.34)
    return dashes


def grain_line(card: Card) -> list[Points]:
    """The outlines of a pencilled arrow across the whole card, along its first edge."""
    centre, _ = roomiest_point(card.finished)
    along = (card.cut[1] - card.cut[0]) / np.hypot(*(card.cut[1] - card.cut[0]))
    ends = [centre + (_to_side(card.cut, centre, way) - 1.5) * way for way in (-along, along)]
    across = np.array([-along[1], along[0]])
    barbs = [np.array([ends[1], ends[1] - 5.0 * along + side * 2.0 * across]) for side in (-1.0, 1.0)]
    return inked([np.array(ends), *barbs], 0.4)


def _to_side(outline: Points, start: Points, way: Points) -> float:
    """How far it is from a point inside to the outline's first side in a direction."""
    reach = np.inf
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        along = b - a
        turn = way[0] * along[1] - way[1] * along[0]
        if abs(turn) < 1e-9:
            continue
        gap = a - start
        distance = (gap[0] * along[1] - gap[1] * along[0]) / turn
        share = (gap[0] * way[1] - gap[1] * way[0]) / turn
        if distance > 0.0 and 0.0 <= share <= 1.0:
            reach = min(reach, float(distance))
    return float(reach)


def holes_in(card: Card, diameter: float) -> list[Points]:
    """The outlines of the dots punched at the finished corners, moved inwards to where there is room for one."""
    angles = np.arange(24) * (2.0 * math.pi / 24)
    ring = diameter / 2.0 * np.column_stack([np.cos(angles), np.sin(angles)])
    normals = outward_normals(card.cut)
    centre, _ = roomiest_point(card.finished)
    holes = []
    for corner in card.finished:
        for share in np.linspace(0.0, 1.0, 41):
            at = corner + share * (centre - corner)
            if float(np.sum((card.cut - at) * normals, axis=1).min()) > diameter / 2.0 + 2.0:
                holes.append(ring + at)
                break
    return holes
