"""Blocks with curved seams to plan: inventions of our own."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from seamsurvey.geometry import Points, moved
from seamsurvey.model import Block, Piece

QUARTER = math.tan(math.radians(90) / 4)
"""The bulge of a quarter circle."""

Outlined = tuple[str, ArrayLike, Sequence[float]]
"""A template's name, its outline (mm), the bulges of its edges."""


def curved_block(pieces: Sequence[Outlined], width: float, height: float) -> Block:
    """A rectangle of these pieces, named by template and copy."""
    count: dict[str, int] = {}
    placed = []
    for template, outline, bulges in pieces:
        count[template] = count.get(template, 0) + 1
        placed.append(
            Piece(
                id=f"{template}-{count[template]}",
                template=template,
                reversed=False,
                outline=np.asarray(outline, dtype=float),
                bulges=tuple(bulges) if any(bulges) else (),
            )
        )
    around = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    return Block(outline=around, pieces=tuple(placed))


def _turned_unit(quarters: int, x: float, y: float, side: float, radius: float) -> list[Outlined]:
    """A quarter circle round a corner of a square and the rest of it, turned about the square's middle."""
    pie = [(0, 0), (radius, 0), (0, radius)]
    rest = [(radius, 0), (side, 0), (side, side), (0, side), (0, radius)]
    half = np.array([side / 2, side / 2])

    def laid(outline: ArrayLike) -> Points:
        return np.asarray(moved(np.asarray(outline, dtype=float) - half, 90 * quarters, half + np.array([x, y])))

    return [("T1", laid(pie), (0, QUARTER, 0)), ("T2", laid(rest), (0, 0, 0, 0, -QUARTER))]


def harbour_path(side: float = 90.0, radius: float = 60.0) -> Block:
    """Four squares with a quarter circle each, which lead a path from corner to corner."""
    units = [(0, 0, 0), (1, side, 0), (3, 0, side), (2, side, side)]
    pieces = [piece for q, x, y in units for piece in _turned_unit(q, x, y, side, radius)]
    return curved_block(pieces, 2 * side, 2 * side)


def lantern_fan(blades: int = 4, side: float = 160.0, inner: float = 50.0, outer: float = 130.0) -> Block:
    """A quarter circle in a corner, blades round it, and a ground whose one long arc meets the arcs of them all."""
    turns = np.linspace(0, np.pi / 2, blades + 1)
    near, far = (r * np.column_stack([np.cos(turns), np.sin(turns)]) for r in (inner, outer))
    step = math.tan(math.pi / 2 / blades / 4)
    pieces: list[Outlined] = [("T1", [(0, 0), near[0], near[-1]], (0, QUARTER, 0))]
    pieces += [("T2", [near[k], far[k], far[k + 1], near[k + 1]], (0, step, 0, -step)) for k in range(blades)]
    ground = [far[0], (side, 0), (side, side), (0, side), far[-1]]
    return curved_block([*pieces, ("T3", ground, (0, 0, 0, 0, -QUARTER))], side, side)


def ripple(arcs: int = 3, side: float = 60.0, sweep: float = 70.0) -> Block:
    """Two rows of squares that meet along arcs, bowing up and down by turns, and straight at both ends."""
    bulge = math.tan(math.radians(sweep) / 4)
    lower: list[Outlined] = []
    upper: list[Outlined] = []
    for k in range(arcs + 2):
        x, bow = k * side, 0.0 if k in (0, arcs + 1) else bulge * (-1) ** k
        square = np.array([[x, 0], [x + side, 0], [x + side, side], [x, side]])
        lower.append((f"L{k}", square, (0, 0, bow, 0)))
        upper.append((f"U{k}", square + np.array([0, side]), (-bow, 0, 0, 0)))
    return curved_block([*lower, *upper], (arcs + 2) * side, 2 * side)


def round_window(side: float = 100.0, radius: float = 30.0) -> Block:
    """A whole circle, drawn as four arcs, in the middle of a square: no cut leads to it."""
    turns = np.radians([0, 90, 180, 270])
    ring = side / 2 + radius * np.column_stack([np.cos(turns), np.sin(turns)])
    half = [(0, 0), (side, 0), (side, side / 2), ring[0], ring[3], ring[2], (0, side / 2)]
    other = [(0, side / 2), ring[2], ring[1], ring[0], (side, side / 2), (side, side), (0, side)]
    return curved_block(
        [
            ("T1", ring, (QUARTER,) * 4),
            ("T2", half, (0, 0, 0, -QUARTER, -QUARTER, 0, 0)),
            ("T2", other, (0, -QUARTER, -QUARTER, 0, 0, 0, 0)),
        ],
        side,
        side,
    )
