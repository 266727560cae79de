"""The trade's cutting rules, from one law: a cut patch is the finished shape moved outwards by the allowance.

F is a finished length, s the allowance. The closed forms follow from that law with mitred corners; with
s = 1/4 in and rounded up to 1/8 in they are the rules quilters know (F + 1/2, F + 7/8, F + 1 1/4 in).
"""

import math

import numpy as np

from seamsurvey.geometry import edge_lengths, interior_angles
from seamsurvey.model import Array
from seamsurvey.sheets.words import cut_up, length_text, size_text

# Shapes are adjusted, not drawn: what is square to a fifth of a degree and equal to 0.2 mm is cut as such.
SQUARE_DEG = 0.2
EQUAL_MM = 0.2


def half_square(leg_mm: float, s: float) -> float:
    """Side of the square that, cut once corner to corner, gives two right triangles with this finished leg."""
    return leg_mm + s * (2 + math.sqrt(2))


def quarter_square(long_side_mm: float, s: float) -> float:
    """Side of the square that, cut twice corner to corner, gives four triangles with this finished long side."""
    return long_side_mm + s * (2 + 2 * math.sqrt(2))


def side_setting(block_mm: float, s: float) -> float:
    """Side of the square cut twice into the triangles that fill the sides of blocks set on point."""
    return quarter_square(block_mm * math.sqrt(2), s)


def corner_setting(block_mm: float, s: float) -> float:
    """Side of the square cut once into the triangles that fill the corners of blocks set on point."""
    return half_square(block_mm / math.sqrt(2), s)


def diamond_strip(side_mm: float, s: float) -> float:
    """Width of the strip for 45° diamonds of this finished side."""
    return side_mm / math.sqrt(2) + 2 * s


def equilateral_strip(height_mm: float, s: float) -> float:
    """Width of the strip for equilateral triangles of this finished height."""
    return height_mm + 3 * s


def hexagon_strip(side_mm: float, s: float) -> float:
    """Width of the strip for regular hexagons of this finished side, flat to flat."""
    return side_mm * math.sqrt(3) + 2 * s


def rule(outline: Array, s: float, units: str, *, long_side_on_border: bool, metric_step_mm: float = 1.0) -> str:
    """How a rotary cutter would cut this finished shape, (n, 2) mm counter-clockwise; "" if no rule fits.

    A right triangle with equal legs is cut as a quarter of a square when its long side lies on the block's
    border, so that the straight grain does too, and else as a half.
    """
    angles, edges = interior_angles(outline), edge_lengths(outline)

    def alike(values: Array, wanted: tuple[float, ...]) -> bool:
        turns = (np.roll(values, k) for k in range(len(values)))
        return len(values) == len(wanted) and any(np.allclose(t, wanted, rtol=0, atol=SQUARE_DEG) for t in turns)

    def text(length_mm: float) -> str:
        return length_text(cut_up(length_mm, units, metric_step_mm=metric_step_mm), units)

    equal = float(np.ptp(edges)) < EQUAL_MM
    if alike(angles, (90, 90, 90, 90)):
        width, height = sorted((float(edges[0]), float(edges[1])), reverse=True)
        if equal:
            return f"square {text(width + 2 * s)}"
        return f"rectangle {size_text(cut_up(width + 2 * s, units), cut_up(height + 2 * s, units), units)}"
    if alike(angles, (90, 45, 45)):
        long_side = float(edges.max())
        if long_side_on_border:
            return f"square {text(quarter_square(long_side, s))}, cut twice corner to corner: 4 triangles"
        return f"square {text(half_square(long_side / math.sqrt(2), s))}, cut once corner to corner: 2 triangles"
    if alike(angles, (45, 135, 45, 135)) and equal:
        return f"strip {text(diamond_strip(float(edges.mean()), s))} wide, cut at 45°"
    if alike(angles, (60, 60, 60)):
        return f"strip {text(equilateral_strip(float(edges.mean()) * math.sqrt(3) / 2, s))} wide, cut at 60°"
    if alike(angles, (120,) * 6) and equal:
        return f"strip {text(hexagon_strip(float(edges.mean()), s))} wide, cut at 60°"
    return ""


def triangles(
    outline: Array, s: float, units: str, *, long_side_on_border: bool, metric_step_mm: float = 1.0
) -> str:
    """The square that gives right triangles with equal legs, ``s`` larger on every side; "" for other shapes."""
    text = rule(outline, s, units, long_side_on_border=long_side_on_border, metric_step_mm=metric_step_mm)
    return text if text.endswith("triangles") else ""
