"""Endless designs of our own in the structures that the trade uses, each a `TradeBlock` with its truth.

Seeds below `FITTED` are for fitting how layouts are ranked; those from `TESTED` on are for testing, and must not be
looked at while fitting.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import combinations

import numpy as np

from . import trade_design_angles as angles
from . import trade_design_grids as grids
from . import trade_design_rounds as rounds
from .congruence import difference
from .geometry import Points, centroid, corner_angles, edge_lengths, mirrored, signed_area
from .trade_block import Sketch, TradeBlock, drafted
from .trade_blocks import TRADE_BLOCKS
from .trade_symmetry import NotDrawnError

FITTED, TESTED = 150, 1000

Rng = np.random.Generator
# How often each structure comes up; roughly as in books of blocks.
STRUCTURES: tuple[tuple[str, float, Callable[[Rng], Sketch]], ...] = (
    ("units in a square", 40, grids.in_a_square),
    ("units in an oblong", 8, grids.in_an_oblong),
    ("rows", 5, grids.in_rows),
    ("bands", 6, grids.in_bands),
    ("triangle", 6, grids.in_a_triangle),
    ("medallion", 10, rounds.medallion),
    ("cabin", 6, rounds.cabin),
    ("whirl", 5, rounds.whirl),
    ("eight-pointed star", 6, angles.star),
    ("octagon", 4, angles.octagon),
    ("hexagon", 7, angles.hexagon),
    ("square on point", 3, angles.diamond_square),
)  # fmt: skip
_WIDTHS = (
    (6, "in"),
    (8, "in"),
    (9, "in"),
    (10, "in"),
    (12, "in"),
    (14, "in"),
    (15, "in"),
    (250, "mm"),
    (300, "mm"),
)
_TRIES = 400
# Seeds whose first drawing is that of an earlier seed, and how many of theirs are passed over.
_AGAIN = {135: 1, 143: 1, 1005: 1}
# A card that someone would cut, and would not take for another of its set.
SHORTEST_EDGE_MM, SHARPEST_CORNER_DEG = 12.0, 18.0
LONGEST_SIDE_MM = 16 * 25.4
LEAST_DIFFERENCE_MM, LEAST_DIFFERENCE_DEG = 2.0, 3.0
_KINDS = {3: "triangle", 6: "hexagon", 8: "octagon"}


@cache
def design(seed: int) -> TradeBlock:
    """The design of a seed: 4 to 64 pieces from 2 to 12 templates, at a usual finished size."""
    rng = np.random.default_rng([20271, seed])
    share = np.array([weight for _, weight, _ in STRUCTURES])
    name, _, draw = STRUCTURES[int(rng.choice(len(STRUCTURES), p=share / share.sum()))]
    again = _AGAIN.get(seed, 0)
    for _ in range(_TRIES):
        try:
            sketch = draw(rng)
        except NotDrawnError:
            continue
        if not 4 <= len(sketch.pieces) <= 64:
            continue
        block = _sized(f"{name} {seed}", sketch, rng)
        if block is not None and shape_of(block) not in _known():
            if not again:
                return block
            again -= 1
    raise RuntimeError(f"no usable design of seed {seed}: {name}")


def _sized(name: str, sketch: Sketch, rng: Rng) -> TradeBlock | None:
    """The sketch at one of the usual widths at which its cards are neither slivers nor alike; None without one."""
    if min(corner_angles(piece).min() for piece in sketch.pieces) < SHARPEST_CORNER_DEG:
        return None
    kind = _KINDS.get(len(sketch.outline)) or ("square" if _is_square(sketch.outline) else "rectangle")
    for k in rng.permutation(len(_WIDTHS)):
        width, unit = _WIDTHS[int(k)]
        block = drafted(name, kind, sketch, width, unit=unit)
        if max(block.size) > LONGEST_SIDE_MM or _shortest_edge(block) < SHORTEST_EDGE_MM:
            continue
        if not 2 <= len(block.templates) <= 12:
            return None
        if not any(_alike(a.finished, b.finished) for a, b in combinations(block.templates, 2)):
            return block
    return None


def _shortest_edge(block: TradeBlock) -> float:
    return min(float(edge_lengths(piece).min()) for piece in block.pieces)


def _is_square(outline: Points) -> bool:
    width, height = np.ptp(outline, axis=0)
    return bool(abs(width - height) < 1e-9)


def _alike(a: Points, b: Points) -> bool:
    length, angle = difference(a, b)
    return length < LEAST_DIFFERENCE_MM and angle < LEAST_DIFFERENCE_DEG


Shape = tuple[tuple[int, int, int], ...]


def shape_of(block: TradeBlock) -> Shape:
    """What is equal for drawings that differ by size, turns and mirrors of the whole only."""
    scale = 1e5 / np.sqrt(signed_area(block.outline))
    found = []
    for over in (False, True):
        ring, *pieces = (mirrored(p) if over else p for p in (block.outline, *block.pieces))
        about = centroid(ring)
        spots = np.array([[*(centroid(p) - about), 0.0] for p in pieces]) * scale
        areas = np.array([signed_area(p) for p in pieces]) * scale * scale * 1e-5
        for corner in ring - about:
            x, y = corner / np.hypot(*corner)
            turned = np.column_stack([spots[:, 0] * x + spots[:, 1] * y, spots[:, 1] * x - spots[:, 0] * y, areas])
            # Shifted by a fraction that no drawing has, so that rounding falls alike.
            found.append(tuple(sorted((int(a), int(b), int(c)) for a, b, c in np.floor(turned / 10 + 0.2371))))
    return min(found)


@cache
def _known() -> frozenset[Shape]:
    return frozenset(shape_of(block) for block in TRADE_BLOCKS)
