"""Designs of our own that grow round a middle: medallions, log cabins, whirls."""

from __future__ import annotations

import numpy as np

from .geometry import Points, polygon, signed_area
from .trade_block import Sketch
from .trade_design_grids import Palette, Rng
from .trade_symmetry import GROUPS, Box, NotDrawnError, repeated
from .trade_units import Pieces, box, boxed, goose, halves, moved_by, on_point, round_about, turned_about

_FRAMES = ("border", "mitred", "on point", "logs", "sawtooth", "geese")


def medallion(rng: Rng) -> Sketch:
    """A middle of units and one to three frames round it."""
    many = int(rng.integers(1, 4))
    group = GROUPS["quarter turns and mirrors" if rng.random() < 0.6 else "quarter turns"]
    side = 4.0
    cells: list[Box] = [
        (side * i / many - side / 2, side * j / many - side / 2, side / many, side / many)
        for j in range(many)
        for i in range(many)
    ]
    pieces = repeated(cells, group, np.zeros(2), Palette(rng, 2).units)
    for _ in range(int(rng.integers(1, 4))):
        frame, side = _framed(str(rng.choice(_FRAMES)), side, rng)
        if frame is None:
            pieces = [*turned_about(pieces, (0, 0), 45.0), *_on_point(side)]
        else:
            pieces += round_about(frame, (0, 0), 4)
    return boxed(moved_by(pieces, side / 2, side / 2), side)


def _on_point(side: float) -> Pieces:
    """The corners round a square that stands on its tip."""
    return moved_by(on_point(0, 0, side)[1:], -side / 2, -side / 2)


def _framed(kind: str, side: float, rng: Rng) -> tuple[Pieces | None, float]:
    """A quarter of a frame round the square about the origin, and the side then; None where the whole is turned."""
    low, high = -side / 2, side / 2
    if kind == "on point":
        return None, side * np.sqrt(2.0)
    if kind == "sawtooth":
        many = int(rng.integers(3, 6))
        w = side / many
        rising, turn_over = bool(rng.random() < 0.5), bool(rng.random() < 0.5)
        teeth = [
            piece
            for k in range(many)
            for piece in halves(low + k * w, low - w, w, rising=rising ^ (turn_over and k >= many / 2))
        ]
        return [*teeth, box(low - w, low - w, w)], side + 2 * w
    if kind == "geese":
        many = int(rng.integers(1, 4))
        w = side / many / 2
        toward = str(rng.choice(["N", "S"]))
        geese = [piece for k in range(many) for piece in goose(low + 2 * k * w, low - w, 2 * w, w, toward)]
        return [*geese, box(low - w, low - w, w)], side + 2 * w
    w = side * float(rng.choice([1 / 4, 3 / 8, 1 / 2]))
    if kind == "mitred":
        return [polygon([(low, low), (low - w, low - w), (high + w, low - w), (high, low)])], side + 2 * w
    if kind == "logs":
        return [box(low - w, low - w, side + w, w)], side + 2 * w
    corner = (
        [box(low - w, low - w, w)]
        if rng.random() < 0.5
        else halves(low - w, low - w, w, rising=bool(rng.random() < 0.5))
    )
    return [box(low, low - w, side, w), *corner], side + 2 * w


def cabin(rng: Rng) -> Sketch:
    """Strips round a square, in a spiral, by pairs, or on two sides only; rounds of different widths."""
    rounds = int(rng.integers(2, 5))
    middle = float(rng.choice([1.5, 2.0, 2.5, 3.0]))
    order = str(rng.choice(["ESWN", "NSEW", "EN", "ENN", "EWN"]))
    widths = rng.choice([0.75, 1.0, 1.25, 1.5], size=2)
    by_side = bool(rng.random() < 0.4)
    x0, y0, x1, y1 = 0.0, 0.0, middle, middle
    pieces = _middle(middle, rng)
    for k in range(rounds * len(order)):
        toward = order[k % len(order)]
        w = float(widths[int(toward in "NE") if by_side else (k // len(order)) % 2])
        if toward == "E":
            pieces.append(box(x1, y0, w, y1 - y0))
            x1 += w
        elif toward == "N":
            pieces.append(box(x0, y1, x1 - x0, w))
            y1 += w
        elif toward == "W":
            pieces.append(box(x0 - w, y0, w, y1 - y0))
            x0 -= w
        else:
            pieces.append(box(x0, y0 - w, x1 - x0, w))
            y0 -= w
    return boxed(moved_by(pieces, -x0, -y0), x1 - x0, y1 - y0)


def _middle(side: float, rng: Rng) -> Pieces:
    return (
        Palette(rng, 2).units((0, 0, side, side))[0](0, 0, side, side) if rng.random() < 0.4 else [box(0, 0, side)]
    )


def whirl(rng: Rng) -> Sketch:
    """Four arms whirling round a square or a tilted square, each arm cut up alike."""
    if rng.random() < 0.5:
        wide, long = float(rng.choice([1, 2])), float(rng.choice([3, 4, 5]))
        middle = long - wide
        arm = _arm(box(0, 0, long, wide), rng)
        centre = (long + wide) / 2
        heart = _middle(middle, rng) if middle > 1 else [box(0, 0, middle)]
        return boxed([*moved_by(heart, wide, wide), *round_about(arm, (centre, centre), 4)], long + wide)
    # Lines from a point on each side to the foot of the next one's line leave a tilted square.
    share = float(rng.choice([1 / 4, 1 / 3, 1 / 2, 2 / 3]))
    side, lean = 6.0, float(rng.choice([1.0, 2.0, 3.0]))
    foot = np.array([side * share, 0.0])
    head = foot + np.array([lean, side])
    lines = [turned_about([polygon([foot, head])], (side / 2, side / 2), 90.0 * k)[0] for k in range(4)]
    tips = [_crossing(lines[k], lines[(k + 1) % 4]) for k in range(4)]
    arm = _arm(polygon([foot, (side, 0), lines[1][0], tips[0]]), rng)
    tilted = polygon(tips)
    if signed_area(tilted) < 0.5:
        raise NotDrawnError("the lines leave no square between them")
    return boxed([tilted, *round_about(arm, (side / 2, side / 2), 4)], side)


def _crossing(one: Points, other: Points) -> Points:
    u, v = one[1] - one[0], other[1] - other[0]
    w = other[0] - one[0]
    return np.asarray(one[0] + u * (w[0] * v[1] - w[1] * v[0]) / (u[0] * v[1] - u[1] * v[0]))


def _arm(arm: Points, rng: Rng) -> Pieces:
    """A quadrilateral whole, cut once across, or cut from corner to corner."""
    a, b, c, d = arm
    half, third, over = (a + b) / 2, (2 * a + b) / 3, (c + d) / 2
    ways: list[list[list[Points]]] = [
        [[a, b, c, d]],
        [[a, b, c], [a, c, d]],
        [[a, b, d], [b, c, d]],
        [[a, half, over, d], [half, b, c, over]],
        [[a, third, d], [third, b, c, d]],
        [[a, half, c, d], [half, b, c]],
    ]
    return [np.array(corners) for corners in ways[int(rng.integers(len(ways)))]]
