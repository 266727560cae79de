"""Squares and rectangles sewn from right triangles, which may be cut roomy, for the unit is trimmed true."""

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
import shapely
from attrs import frozen

from seamsurvey.geometry import edge_lengths
from seamsurvey.model import Block
from seamsurvey.sheets.trade import EXACT_MM, Rule

MOST = 4  # triangles in a unit: a quarter-square; a goose with its wings has three
_TRIANGLES = ("halves", "quarters")


@frozen
class Unit:
    """A square or rectangle of triangles: its pieces, and its finished sides, the longer first, mm."""

    pieces: frozenset[str]
    sides: tuple[float, float]


def units_of_triangles(block: Block, rules: dict[str, Rule | None]) -> dict[str, Unit]:
    """The smallest square or rectangle of triangles that each triangle of the block is sewn into, by piece.

    ``rules`` is the cutting rule of each piece by its id. A triangle that none holds is left out.
    """
    triangles = [piece for piece in block.pieces if _is_triangle(rules.get(piece.id))]
    shapes = {piece.id: shapely.Polygon(piece.outline) for piece in triangles}
    beside = _neighbours(shapes)
    found: dict[str, Unit] = {}
    for size in range(2, MOST + 1):
        for group in _connected(sorted(shapes), beside, size):
            if any(one in found for one in group):
                continue
            sides = _rectangle([shapes[one] for one in group])
            if sides:
                found |= dict.fromkeys(group, Unit(frozenset(group), sides))
    return found


def _is_triangle(rule: Rule | None) -> bool:
    return rule is not None and rule.kind in _TRIANGLES


def _neighbours(shapes: dict[str, shapely.Polygon]) -> dict[str, set[str]]:
    """Which triangles have a whole edge of one of the two in common."""
    beside: dict[str, set[str]] = {name: set() for name in shapes}
    for one, other in combinations(shapes, 2):
        shared = shapes[one].buffer(EXACT_MM / 4).intersection(shapes[other].exterior).length
        edges = [
            float(e) for name in (one, other) for e in edge_lengths(np.asarray(shapes[name].exterior.coords)[:-1])
        ]
        if any(abs(shared - edge) < EXACT_MM for edge in edges) and shared > EXACT_MM:
            beside[one].add(other)
            beside[other].add(one)
    return beside


def _connected(names: Sequence[str], beside: dict[str, set[str]], size: int) -> Iterator[tuple[str, ...]]:
    """Every connected set of so many triangles, once each."""
    layer = {frozenset([name]) for name in names}
    for _ in range(size - 1):
        layer = {group | {other} for group in layer for one in group for other in beside[one] - group}
    yield from sorted(tuple(sorted(group)) for group in layer)


def _rectangle(shapes: Sequence[shapely.Polygon]) -> tuple[float, float] | None:
    """The sides of the upright rectangle that shapes fill, the longer first; None if they fill none.

    One on its corner is no unit that is sewn first: its triangles belong to upright ones beside it.
    """
    whole = shapely.union_all(shapes, grid_size=1e-4)
    x0, y0, x1, y1 = whole.bounds
    wide, high = x1 - x0, y1 - y0
    if whole.geom_type != "Polygon" or wide * high - whole.area > EXACT_MM * (wide + high) / 2:
        return None
    return max(wide, high), min(wide, high)
