"""Rulers: every graduation mark, figure, word and hole of a straight ruler, in the ruler's own frame.

The ruler's frame is mm, x along the ruler, y up, origin at its lower left corner. A scale stands on the
`upper` edge (y = width) or on the `lower` edge (y = 0); its marks run from the edge inward. A plate has scales on
its `left` and `right` sides too; those count along y.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from .geometry import Points, polygon
from .lettering import inked, strokes_of, text_width

UNIT_MM = {"inch": 25.4, "cm": 10.0}
# A scale on a short side is one on a long side of the ruler with its x and y exchanged.
_SIDES = {"left": "lower", "right": "upper"}

# Mark lengths in mm from the whole unit down; a mark belongs to the first level whose count divides it.
_SIXTEENTHS = ((1, 9.0), (2, 6.6), (4, 5.2), (8, 3.9), (16, 2.7))
_THIRTYSECONDS = ((1, 8.0), (2, 6.2), (4, 5.0), (8, 4.0), (16, 3.0), (32, 2.1))
_EIGHTHS = ((1, 8.5), (2, 6.0), (4, 4.6), (8, 3.2))
_TENTHS = ((1, 8.0), (2, 6.0), (10, 3.8))
_MILLIMETRES = ((1, 7.0), (2, 5.2), (10, 3.6))
_SHORT_SIXTEENTHS = ((1, 6.4), (2, 5.2), (4, 4.2), (8, 3.2), (16, 2.2))
_SHORT_MILLIMETRES = ((1, 5.2), (2, 3.9), (10, 2.6))


@dataclass(frozen=True)
class Scale:
    """One graduated edge.

    `levels`: (divisions of the unit, mark length in mm), coarse to fine; `zero`: x of the mark 0, mm;
    `backwards`: the values run towards smaller x and the figures stand on their heads; `units`: how many
    whole units there are; `inset`: gap between the edge and the marks, mm.
    """

    unit: str
    levels: tuple[tuple[int, float], ...]
    edge: str
    zero: float
    units: int
    backwards: bool = False
    mark_width: float = 0.22
    inset: float = 0.0
    figure_height: float = 4.0
    figures_beside: bool = False  # beside the mark rather than beyond its end
    figure_zero: bool = False

    def position(self, value: float) -> float:
        """X of the mark with that value, mm."""
        step = UNIT_MM[self.unit] * value
        return self.zero - step if self.backwards else self.zero + step


@dataclass(frozen=True)
class RulerKind:
    """A make of ruler. `look` names a material of `looks.py`; sizes in mm."""

    name: str
    length: float
    width: float
    thickness: float
    look: str
    scales: tuple[Scale, ...]
    word: str = ""
    word_at: tuple[float, float] = (0.62, 0.5)  # of its middle, as shares of length and width
    holes: tuple[float, ...] = ()  # x of their centres, on the middle line
    hole_diameter: float = 5.0
    corner_radius: float = 0.8
    clear: bool = False  # what lies under it shows through
    printed_under: bool = False  # on its underside, so that the print lies on the table
    grid: float = 0.0  # mm between the lines of a grid over the whole face; 0: none

    @property
    def print_height(self) -> float:
        """Of its marks above the table, mm; what a clear body's refraction adds is left out."""
        return 0.0 if self.printed_under else self.thickness


@dataclass(frozen=True)
class Mark:
    """One graduation mark, in the ruler's frame, mm.

    `value`: in the scale's unit; `level`: 0 for whole units, 1 for the next finer, and so on; `foot`: (2,)
    where its axis meets the ruler's edge; `outline`: (4, 2).
    """

    value: float
    level: int
    foot: Points
    outline: Points


def marks_of(kind: RulerKind, scale: Scale) -> list[Mark]:
    """Every mark of the scale that lies on the ruler, in the order of its values."""
    if scale.edge in _SIDES:
        along = marks_of(
            replace(kind, length=kind.width, width=kind.length), replace(scale, edge=_SIDES[scale.edge])
        )
        return [Mark(m.value, m.level, m.foot[::-1].copy(), m.outline[::-1, ::-1].copy()) for m in along]
    finest = scale.levels[-1][0]
    base = kind.width if scale.edge == "upper" else 0.0
    inward = -1.0 if scale.edge == "upper" else 1.0
    half = scale.mark_width / 2.0
    marks = []
    for index in range(scale.units * finest + 1):
        x = scale.position(index / finest)
        if not half <= x <= kind.length - half:
            continue
        level = next(k for k, (parts, _) in enumerate(scale.levels) if index * parts % finest == 0)
        near = base + inward * scale.inset
        far = base + inward * (scale.inset + scale.levels[level][1])
        outline = polygon([(x - half, near), (x + half, near), (x + half, far), (x - half, far)])
        marks.append(Mark(index / finest, level, np.array([x, base]), outline))
    return marks


def figures_of(kind: RulerKind, scale: Scale) -> list[Points]:
    """The outlines of the figures that number the whole units; a scale on a short side has none."""
    outlines: list[Points] = []
    if scale.edge in _SIDES:
        return outlines
    for mark in marks_of(kind, scale):
        if mark.level == 0 and (mark.value > 0.0 or scale.figure_zero):
            outlines += _figure(kind, scale, mark)
    return outlines


def _figure(kind: RulerKind, scale: Scale, mark: Mark) -> list[Points]:
    text = f"{mark.value:.0f}"
    height = scale.figure_height
    wide = text_width(text, height)
    clear = 0.9 + height * 0.1
    if scale.figures_beside:
        # Left of the mark as its reader sees it, level with the mark's inner end.
        along, beyond = -wide - clear, scale.inset + scale.levels[0][1] - height * 0.55
    else:
        along, beyond = -wide / 2.0, scale.inset + scale.levels[0][1] + clear
    lines = strokes_of(text, height)
    flipped = scale.backwards
    placed = []
    for line in lines:
        x, y = line[:, 0] + along, line[:, 1]
        # Upright figures hang below an upper edge and stand above a lower one; flipped ones the reverse.
        depth = beyond + height - y if (scale.edge == "upper") != flipped else beyond + y
        px = mark.foot[0] - x if flipped else mark.foot[0] + x
        py = kind.width - depth if scale.edge == "upper" else depth
        placed.append(np.column_stack([px, py]))
    outlines = inked(placed, 0.11 * height)
    inside = all(p[:, 0].min() >= 0.3 and p[:, 0].max() <= kind.length - 0.3 for p in outlines)
    return outlines if inside else []


def word_of(kind: RulerKind) -> list[Points]:
    """The outlines of the small word printed on the ruler."""
    height = 2.4
    wide = text_width(kind.word, height)
    middle = np.array(kind.word_at) * (kind.length, kind.width)
    at = middle - np.array([wide, height]) / 2.0
    return inked([line + at for line in strokes_of(kind.word, height)], 0.28) if kind.word else []


def grid_of(kind: RulerKind) -> tuple[list[Points], list[Points]]:
    """The outlines of the grid's lines across and along: whole ones at each step, dashed ones halfway between."""
    return _grid_lines(kind.length, kind.width, kind.grid), [
        line[::-1, ::-1].copy() for line in _grid_lines(kind.width, kind.length, kind.grid)
    ]


def _grid_lines(length: float, width: float, step: float) -> list[Points]:
    lines: list[Points] = []
    for half in range(1, math.ceil(2 * length / step) if step else 0):
        at = half * step / 2.0
        for start, end in [(0.0, width)] if half % 2 == 0 else _dashes(width):
            lines.append(polygon([(at - 0.12, start), (at + 0.12, start), (at + 0.12, end), (at - 0.12, end)]))
    return lines


def _dashes(width: float, dash: float = 2.4, gap: float = 2.4) -> list[tuple[float, float]]:
    count = int((width - 8.0) // (dash + gap))
    return [(4.0 + k * (dash + gap), 4.0 + k * (dash + gap) + dash) for k in range(count)]


def outline_of(kind: RulerKind) -> Points:
    """The ruler's outline, corners rounded, counter-clockwise."""
    radius = max(kind.corner_radius, 1e-3)
    corners = [(0.0, 0.0, 180), (kind.length, 0.0, 270), (kind.length, kind.width, 0), (0.0, kind.width, 90)]
    points = []
    for x, y, start in corners:
        cx = radius if x == 0.0 else kind.length - radius
        cy = radius if y == 0.0 else kind.width - radius
        for k in range(7):
            angle = math.radians(start + 15.0 * k)
            points.append((cx + radius * math.cos(angle), cy + radius * math.sin(angle)))
    return polygon(points)


def holes_of(kind: RulerKind) -> list[Points]:
    """The outlines of the hang holes."""
    angles = np.arange(48) * (2.0 * math.pi / 48)
    circle = np.column_stack([np.cos(angles), np.sin(angles)]) * kind.hole_diameter / 2.0
    return [circle + np.array([x, kind.width / 2.0]) for x in kind.holes]


def _wood(name: str, scales: tuple[Scale, ...], word: str = "HARDWOOD") -> RulerKind:
    return RulerKind(
        name,
        314.0,
        28.5,
        3.0,
        "wood",
        scales,
        word,
        holes=(13.0, 157.0, 301.0),
        hole_diameter=5.6,
        corner_radius=0.6,
    )


_INCH_WOOD = Scale(
    "inch", _SIXTEENTHS, "upper", 4.6, 12, mark_width=0.34, figure_height=4.8, figures_beside=True
)  # fmt: skip

RULERS: dict[str, RulerKind] = {
    kind.name: kind
    for kind in (
        _wood(
            "wood-12in-cm",
            (
                _INCH_WOOD,
                Scale("cm", _MILLIMETRES, "lower", 309.4, 30, backwards=True, mark_width=0.24, figure_height=3.4),
            ),
        ),
        _wood("wood-12in", (_INCH_WOOD,)),
        _wood(
            "wood-12in-eighths",
            (Scale("inch", _EIGHTHS, "upper", 4.6, 12, mark_width=0.4, inset=0.5, figure_height=5.0),),
            "SCHOOL",
        ),
        RulerKind(
            "steel-6in",
            158.0,
            19.0,
            0.6,
            "steel",
            (
                Scale(
                    "inch",
                    _SHORT_SIXTEENTHS,
                    "upper",
                    0.2,
                    6,
                    mark_width=0.16,
                    figure_height=3.0,
                    figures_beside=True,
                ),
                Scale("cm", _SHORT_MILLIMETRES, "lower", 0.2, 15, mark_width=0.15, figure_height=2.2),
            ),
            corner_radius=0.6,
        ),
        RulerKind(
            "steel-6in-32nds",
            158.0,
            25.0,
            0.8,
            "steel",
            (
                Scale("inch", _THIRTYSECONDS, "upper", 3.0, 6, mark_width=0.15, figure_height=3.0),
                Scale("inch", _SHORT_SIXTEENTHS, "lower", 3.0, 6, mark_width=0.15, figure_height=2.6),
            ),
        ),
        RulerKind(
            "plastic-6in-eighths",
            166.0,
            25.0,
            1.8,
            "white",
            (Scale("inch", _EIGHTHS, "upper", 6.0, 6, mark_width=0.3, figure_height=4.2, figure_zero=True),),
            "inch",
            (0.8, 0.2),
        ),
        RulerKind(
            "tenths-6in",
            160.0,
            24.0,
            1.2,
            "white",
            (Scale("inch", _TENTHS, "upper", 3.5, 6, mark_width=0.2, figure_height=3.6, figure_zero=True),),
            "tenths",
            (0.5, 0.2),
        ),
        RulerKind(
            "plastic-15cm",
            160.0,
            26.0,
            1.8,
            "white",
            (Scale("cm", _MILLIMETRES, "upper", 5.0, 15, figure_height=3.4, figure_zero=True),),
            "cm",
            holes=(),
        ),
        RulerKind(
            "plastic-20cm",
            211.0,
            30.0,
            2.0,
            "white",
            (
                Scale("cm", _MILLIMETRES, "upper", 5.5, 20, figure_height=3.6, figure_zero=True),
                Scale("inch", _SIXTEENTHS, "lower", 5.5, 7, figure_height=3.2, inset=0.4),
            ),
        ),
        RulerKind(
            "plastic-30cm",
            311.0,
            32.0,
            2.2,
            "yellow",
            (Scale("cm", _MILLIMETRES, "upper", 5.5, 30, mark_width=0.26, figure_height=4.0, figure_zero=True),),
            "cm",
            holes=(306.5,),
            hole_diameter=4.0,
        ),
        RulerKind(
            "dark-15cm",
            162.0,
            28.0,
            1.5,
            "dark",
            (Scale("cm", _MILLIMETRES, "upper", 6.0, 15, mark_width=0.24, figure_height=3.6, figure_zero=True),),
            "cm",
        ),
        RulerKind(
            "dark-6in",
            165.0,
            28.0,
            1.5,
            "dark",
            (Scale("inch", _SIXTEENTHS, "upper", 6.0, 6, mark_width=0.24, figure_height=3.8),),
            "inch",
            (0.62, 0.2),
        ),
    )
}

# What the tool calls a graduation, by unit and divisions of it.
GRADUATIONS = {
    ("inch", 8): "inch, 1/8",
    ("inch", 10): "inch, 1/10",
    ("inch", 16): "inch, 1/16",
    ("inch", 32): "inch, 1/32",
    ("cm", 10): "cm, 1 mm",
}
