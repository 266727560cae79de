"""The outlines a block can have: polygons that stretch with the block's width and height.

A corner at (u, v) lies at (u · width, v · height) mm, block frame. Side k runs from corner k to corner k + 1; a
vertex's flag for it is the bit ``1 << k``.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from seamsurvey.geometry import interior_angles, signed_area


@dataclass(frozen=True)
class Outline:
    """``aspect`` is height over width, None where the search has to find it; ``symmetries``: those it can have."""

    name: str
    corners: tuple[tuple[float, float], ...]
    aspect: float | None
    symmetries: frozenset[str]

    def width(self, area: float) -> float:
        """The width, mm, of a block of this outline and area, mm²; of a square where the aspect is open."""
        return math.sqrt(area / (self._unit_area * (self.aspect or 1.0)))

    def area(self, width: NDArray[np.float64], height: NDArray[np.float64]) -> NDArray[np.float64]:
        """The areas, mm², of blocks of this outline and of these widths and heights, mm, of one shape."""
        return np.asarray(self._unit_area * width * height)

    @cached_property
    def _unit_area(self) -> float:
        return signed_area(np.array(self.corners))

    def at(self, width: float, height: float) -> list[complex]:
        """The corners, complex mm, block frame."""
        return [complex(u * width, v * height) for u, v in self.corners]

    def flags(self) -> list[int]:
        """For each corner the flags of the two sides that meet there."""
        n = len(self.corners)
        return [1 << k | 1 << (k - 1) % n for k in range(n)]

    @cached_property
    def sides(self) -> tuple[tuple[float, float, float, float], ...]:
        """(a, b, w, h) for each side: a · x + b · y = w · width + h · height, with a² + b² = 1."""
        rows = []
        for k, (u, v) in enumerate(self.corners):
            onward = self.corners[(k + 1) % len(self.corners)]
            a, b = onward[1] - v, u - onward[0]
            offset = a * u + b * v
            if a == 0:
                rows.append((0.0, 1.0, 0.0, offset / b))
            elif b == 0:
                rows.append((1.0, 0.0, offset / a, 0.0))
            else:
                b /= self.aspect or 1.0
                norm = math.hypot(a, b)
                rows.append((a / norm, b / norm, offset / norm, 0.0))
        return tuple(rows)


_BOX = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
_OBLONG = frozenset({"both", "half-turn", "mirror", "none"})

SQUARE = Outline("square", _BOX, 1.0, _OBLONG | {"quarter-turn", "mirror-diagonal"})
RECTANGLE = Outline("rectangle", _BOX, None, _OBLONG)
TRIANGLE = Outline("triangle", ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)), 1.0, frozenset({"mirror-diagonal", "none"}))
HEXAGON = Outline(
    "hexagon",
    ((0.25, 0.0), (0.75, 0.0), (1.0, 0.5), (0.75, 1.0), (0.25, 1.0), (0.0, 0.5)),
    math.sqrt(3) / 2,
    _OBLONG | {"sixth-turn", "third-turn"},
)
_CUT = 1 / (2 + math.sqrt(2))  # of the width: the corners cut off a square that leave eight equal sides
OCTAGON = Outline(
    "octagon",
    (
        (_CUT, 0.0), (1 - _CUT, 0.0), (1.0, _CUT), (1.0, 1 - _CUT),
        (1 - _CUT, 1.0), (_CUT, 1.0), (0.0, 1 - _CUT), (0.0, _CUT),
    ),
    1.0,
    _OBLONG | {"quarter-turn", "mirror-diagonal"},
)  # fmt: skip
OUTLINES = {outline.name: outline for outline in (SQUARE, RECTANGLE, TRIANGLE, HEXAGON, OCTAGON)}


def corner_angles(outlines: tuple[Outline, ...]) -> tuple[float, ...]:
    """The different inner angles, degrees, that the outlines have."""
    angles: set[float] = set()
    for outline in outlines:
        corners = np.array(outline.corners) * [1.0, outline.aspect or 1.0]
        angles |= {round(float(angle), 6) for angle in interior_angles(corners)}
    return tuple(sorted(angles))


def box(aspect: float) -> Outline:
    """The rectangle of a known height over width."""
    return Outline("rectangle", _BOX, aspect, _OBLONG)
