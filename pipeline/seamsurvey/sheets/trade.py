"""The trade's cutting rules, from one law: a cut patch is the finished shape moved outwards by the allowance.

F is a finished length, s the allowance. The closed forms follow from that law with mitred corners; with
s = 1/4 in and rounded up to 1/8 in they are the rules quilters know (F + 1/2, F + 7/8, F + 1 1/4 in).

A size that is sewn as it is cut is told only where a ruler has it: to 1/16 in, or 1 mm, and no further than 1/64 in
from what the drawing needs. What is trimmed after sewing, or by a template, may be cut larger.
"""

import math

import numpy as np
from attrs import frozen

from seamsurvey.geometry import edge_lengths, interior_angles
from seamsurvey.model import Array
from seamsurvey.sheets.words import cut_up, length_text, size_text
from seamsurvey.units import INCH

EXACT_MM = INCH / 64  # a quarter of the finest line of a quilter's ruler: no eye and no blade is better
# A whole block from cuts that are told may miss its drawn size by this: what a careful piecer's seams do.
# Each size may be off by its own share of the block, so that no row of patches adds up to more.
BLOCK_MM = INCH / 32


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


@frozen
class Rule:
    """How a rotary cutter cuts a finished shape.

    ``sizes`` are the lengths set on the ruler, exact: (finished length of it, what is added to that). Where a shape
    is measured, not drawn, its equal edges differ by a hair: each is among them.
    """

    kind: str  # "square", "rectangle", "halves", "quarters", "diamonds", "triangles", "hexagons"
    sizes: tuple[tuple[tuple[float, ...], float], ...]


@frozen
class Told:
    """A rule in words, and the lengths it names, mm."""

    text: str
    sizes_mm: tuple[float, ...]


def rule_of(outline: Array, s: float, *, long_side_on_border: bool) -> Rule | None:
    """The rule for a finished shape, (n, 2) mm counter-clockwise; None if there is none.

    A right triangle with equal legs is cut as a quarter of a square when its long side lies on the block's
    border, so that the straight grain does too, and else as a half.
    """
    angles, edges = interior_angles(outline), edge_lengths(outline)
    # Shapes are adjusted, not drawn: a corner is square where the longest edge shows no other.
    square_deg = math.degrees(EXACT_MM / float(edges.max()))

    def alike(*wanted: float) -> bool:
        turns = (np.roll(angles, k) for k in range(len(angles)))
        return len(angles) == len(wanted) and any(np.allclose(t, wanted, rtol=0, atol=square_deg) for t in turns)

    lengths = tuple(float(edge) for edge in edges)
    equal = max(lengths) - min(lengths) < EXACT_MM
    if alike(90, 90, 90, 90):
        if equal:
            return Rule("square", ((lengths, 2 * s),))
        longer, shorter = sorted((lengths[0::2], lengths[1::2]), reverse=True)
        return Rule("rectangle", ((longer, 2 * s), (shorter, 2 * s)))
    if alike(90, 45, 45):
        *legs, long_side = sorted(lengths)
        if long_side_on_border:
            return Rule("quarters", (((long_side, *(leg * math.sqrt(2) for leg in legs)), quarter_square(0, s)),))
        return Rule("halves", (((long_side / math.sqrt(2), *legs), half_square(0, s)),))
    if alike(45, 135, 45, 135) and equal:
        return Rule("diamonds", ((tuple(edge / math.sqrt(2) for edge in lengths), diamond_strip(0, s)),))
    if alike(60, 60, 60) and equal:
        heights = tuple(edge * math.sqrt(3) / 2 for edge in lengths)
        return Rule("triangles", ((heights, equilateral_strip(0, s)),))
    if alike(*(120,) * 6) and equal:
        return Rule("hexagons", ((tuple(edge * math.sqrt(3) for edge in lengths), hexagon_strip(0, s)),))
    return None


def on_ruler(finished_mm: tuple[float, ...], added_mm: float, units: str, block_mm: float) -> float | None:
    """The length to set on a ruler so that these finished lengths come out, mm; None where no such line is right.

    To 1/16 in or 1 mm, at most 1/64 in off, and off by no more than the length's share of ``BLOCK_MM`` in a block
    of ``block_mm``.
    """
    step = INCH / 16 if units == "inch" else 1.0
    told = round((sum(finished_mm) / len(finished_mm) + added_mm) / step) * step
    off = max(abs(told - added_mm - length) for length in finished_mm)
    if off > min(EXACT_MM, BLOCK_MM * min(finished_mm) / block_mm) + 1e-9:
        return None
    return told


def exact(rule: Rule, units: str, block_mm: float) -> Told | None:
    """The rule in words where every one of its sizes is on a ruler; None where one is not."""
    found = [on_ruler(lengths, added, units, block_mm) for lengths, added in rule.sizes]
    sizes = tuple(size for size in found if size is not None)
    if len(sizes) < len(found):
        return None
    return Told(_worded(rule.kind, sizes, units), sizes)


def roomy(rule: Rule, units: str) -> Told:
    """The rule in words with its sizes rounded up to 1/8 in or 1 mm, for what is trimmed afterwards."""
    sizes = tuple(cut_up(max(lengths) + added, units) for lengths, added in rule.sizes)
    return Told(_worded(rule.kind, sizes, units), sizes)


def _worded(kind: str, sizes: tuple[float, ...], units: str) -> str:
    size = length_text(sizes[0], units)
    return {
        "square": f"square {size}",
        "rectangle": f"rectangle {size_text(sizes[0], sizes[-1], units)}",
        "halves": f"square {size}, cut once corner to corner: 2 triangles",
        "quarters": f"square {size}, cut twice corner to corner: 4 triangles",
        "diamonds": f"strip {size} wide, cut at 45° every {size}",
        "triangles": f"strip {size} wide, cut at 60°",
        "hexagons": f"strip {size} wide, cut at 60°",
    }[kind]
