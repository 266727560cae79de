"""What gives a picture its size: rulers, clear plates, a tape, cutting mats; drawn with their true marks.

Graduations as the trade has them (common practice, no source): inches in eighths or sixteenths, centimetres in
millimetres; clear plates and mats ruled in inches with eighths along their lines.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import Any

from numpy.random import Generator

from .print import Colour, Plate

INCH = 25.4
BLACK, WHITE = (22, 22, 24), (240, 240, 238)
# Lengths of the marks by what part of a unit they stand for, mm.
INCH_MARKS = {1: 9.5, 2: 7.0, 4: 5.4, 8: 4.0, 16: 2.8}
CM_MARKS = {1: 7.5, 2: 5.8, 10: 4.0}


@dataclass(frozen=True)
class Reference:
    """One reference: its body and printed face in its own frame (mm, origin at its lower left corner)."""

    kind: str
    unit: str
    length: float
    width: float
    thickness: float
    body: str  # wood, steel, plastic, clear, cloth, mat
    face: Plate
    marks: tuple[tuple[Any, tuple[float, float]], ...]  # value, place

    @property
    def clear(self) -> bool:
        """Whether one sees the table through it."""
        return self.body == "clear"


def _scale(
    plate: Plate, zero: float, count: int, unit: str, parts: int, top: bool, ink: Colour, room: float
) -> list[Any]:
    """A graduated edge `room` mm high; the lower one is read from the other side. Values with their places."""
    length, width = plate.size
    step = INCH if unit == "in" else 10.0
    kinds = INCH_MARKS if unit == "in" else CM_MARKS
    marks: list[Any] = []
    for n in range(count * parts + 1):
        part = next(p for p in kinds if n * p % parts == 0)
        tall = kinds[part] * min(1.0, room / 16)
        x = zero + n * step / parts
        x = x if top else length - x
        thick = 0.17 if part > 1 else 0.24
        plate.box((x - thick / 2, x + thick / 2), (width - tall, width) if top else (0, tall), ink)
        if part == 1:
            marks.append((n // parts, (x, width if top else 0.0)))
            size = min(4.2, room * 0.27) if unit == "in" else min(3.0, room * 0.22)
            if zero > 2.5 or 0 < n < count * parts:
                y = tall + size * 0.5 + 0.07 * room
                plate.text(str(n // parts), (x, width - y if top else y), size, ink, 0 if top else 180)
    return marks


def _rule(kind: str, body: str, rng: Generator, unit: str, count: int, parts: int, width: float, thickness: float,
          zero: float, ground: Colour, other: tuple[str, int, int] | None = None,
          ink: Colour = BLACK) -> Reference:  # fmt: skip
    """A straight rule; `other`: unit, count and parts of the lower edge's graduation."""
    length = count * (INCH if unit == "in" else 10.0) + 2 * zero
    shade = int(rng.integers(-10, 8))
    plate = Plate(length, width, 20.0, tuple(c + shade for c in ground))  # type: ignore[arg-type]
    room = width * (0.5 if other else 0.8)
    marks = _scale(plate, zero, count, unit, parts, True, ink, room)
    if other is not None:
        there = other[1] * (INCH if other[0] == "in" else 10.0)
        _scale(plate, (length - there) / 2, other[1], other[0], other[2], False, ink, room)
    if other is None and width > 20:
        plate.text("inches" if unit == "in" else "cm", (length * 0.5, width * 0.14), 2.2, ink)
    return Reference(kind, unit, length, width, thickness, body, plate, tuple(marks))


def wooden_12in(rng: Generator) -> Reference:
    """A school ruler of wood."""
    parts = int(rng.choice([8, 16]))
    other = ("cm", 30, 10) if rng.random() < 0.5 else None
    return _rule("wooden-12in", "wood", rng, "in", 12, parts, 30.0, 3.8, 4.0, (222, 186, 128), other, (40, 26, 16))


def steel(rng: Generator, count: int) -> Reference:
    """A steel rule, sixteenths on one edge, millimetres on the other."""
    other = ("cm", 15 if count == 6 else 30, 10)
    width = 19.0 if count == 6 else 25.0
    return _rule(f"steel-{count}in", "steel", rng, "in", count, 16, width, 0.9, 3.0, (176, 178, 180), other)


def plastic(rng: Generator, count: int) -> Reference:
    """A plastic ruler in millimetres."""
    ground = [(243, 243, 240), (236, 214, 92), (196, 222, 236)][int(rng.integers(3))]
    return _rule(f"plastic-{count}cm", "plastic", rng, "cm", count, 10, 30.0, 2.2, 5.0, ground)


def tape(rng: Generator) -> Reference:
    """The first 14 inches of a tailor's tape; it goes on as far, unmarked here for what lies out of sight."""
    ground = [(243, 224, 120), (240, 240, 236), (238, 190, 200)][int(rng.integers(3))]
    return _rule("tape-14in", "cloth", rng, "in", 14, 8, 16.0, 0.45, 3.0, ground)


def _ruled(
    plate: Plate, corner: float, columns: int, rows: int, ink: Colour, heavy: float, eighths: bool
) -> list[Any]:
    """Inch lines with numbers, eighths along the outer lines; the crossings with their values."""
    right, up = corner + columns * INCH, corner + rows * INCH
    for n in range(columns + 1):
        x = corner + n * INCH
        plate.box((x - heavy / 2, x + heavy / 2), (corner, up), ink)
    for n in range(rows + 1):
        y = corner + n * INCH
        plate.box((corner, right), (y - heavy / 2, y + heavy / 2), ink)
    if eighths:
        for n in range(columns * 8 + 1):
            x, tall = corner + n * INCH / 8, 2.2 if n % 2 else 3.4
            for base in (corner, up):
                plate.box((x - heavy / 3, x + heavy / 3), (base - tall / 2, base + tall / 2), ink)
        for n in range(rows * 8 + 1):
            y, tall = corner + n * INCH / 8, 2.2 if n % 2 else 3.4
            for base in (corner, right):
                plate.box((base - tall / 2, base + tall / 2), (y - heavy / 3, y + heavy / 3), ink)
    return [
        ((i, j), (corner + i * INCH, corner + j * INCH)) for i, j in product(range(columns + 1), range(rows + 1))
    ]


def clear_plate(rng: Generator, columns: int, rows: int, whole: float = 0.0) -> Reference:
    """A clear acrylic ruler, ruled in inches; `whole` is what it has beyond whole inches (a half on squares)."""
    width, height = (columns + whole) * INCH, (rows + whole) * INCH
    ink = [BLACK, (150, 24, 40), (20, 60, 120)][int(rng.integers(3))]
    plate = Plate(width, height, 14.0, ink)
    marks = _ruled(plate, 0.0, columns, rows, ink, 0.32, False)
    for i, j in product(range(columns + 1), range(rows + 1)):
        x, y = i * INCH, j * INCH
        for n in range(1, 8):
            tall = 1.1 if n % 2 else 1.9
            if j:
                plate.box((x + n * INCH / 8 - 0.1, x + n * INCH / 8 + 0.1), (y - tall, y + tall), ink)
            if i:
                plate.box((x - tall, x + tall), (y + n * INCH / 8 - 0.1, y + n * INCH / 8 + 0.1), ink)
    for i in range(1, columns):
        plate.text(str(i), (i * INCH + 2.6, 3.4), 3.2, ink)
        plate.text(str(i), (i * INCH + 2.6, height - 3.4), 3.2, ink)
    for j in range(1, rows):
        plate.text(str(j), (3.0, j * INCH + 3.4), 3.2, ink)
        plate.text(str(j), (width - 3.0, j * INCH + 3.4), 3.2, ink)
    side = min(width, height)
    plate.line((0, 0), (side, side), 0.25, ink)
    return Reference(f"clear-{columns}x{rows}in", "in", width, height, 2.8, "clear", plate, tuple(marks))


MAT_COLOURS = {
    "green": ((34, 84, 62), (190, 206, 150)),
    "grey": ((98, 100, 104), (226, 226, 226)),
    "blue": ((38, 66, 112), (206, 214, 226)),
}


def mat(rng: Generator, across: float, up: float) -> Reference:
    """A cutting mat that has room for so many mm: an inch grid with eighths, or a centimetre grid."""
    name = str(rng.choice(sorted(MAT_COLOURS)))
    ground, ink = MAT_COLOURS[name]
    if rng.random() < 0.6:
        columns, rows, corner = int(across // INCH) + 1, int(up // INCH) + 1, 16.0
        plate = Plate(columns * INCH + 2 * corner, rows * INCH + 2 * corner, 9.0, ground)
        marks = _ruled(plate, corner, columns, rows, ink, 0.5, True)
        step, unit = INCH, "in"
    else:
        columns, rows, corner = int(across // 10) + 1, int(up // 10) + 1, 16.0
        plate = Plate(columns * 10.0 + 2 * corner, rows * 10.0 + 2 * corner, 9.0, ground)
        marks = _centimetres(plate, corner, columns, rows, ink)
        step, unit = 10.0, "cm"
    width, height = plate.size
    for n in range(columns + 1):
        for y in (corner - 6.0, height - corner + 6.0):
            plate.text(str(n), (corner + n * step, y), 3.6 if unit == "in" else 2.6, ink)
    for n in range(rows + 1):
        for x in (corner - 7.0, width - corner + 7.0):
            plate.text(str(n), (x, corner + n * step), 3.6 if unit == "in" else 2.6, ink)
    if rng.random() < 0.5:
        side = min(width, height) - 2 * corner
        plate.line((corner, corner), (corner + side, corner + side), 0.4, ink)
    return Reference(f"mat-{name}-{unit}", unit, width, height, 2.0, "mat", plate, tuple(marks))


def _centimetres(plate: Plate, corner: float, columns: int, rows: int, ink: Colour) -> list[Any]:
    right, up = corner + columns * 10.0, corner + rows * 10.0
    for n in range(columns + 1):
        x, heavy = corner + n * 10.0, 0.45 if n % 5 == 0 else 0.28
        plate.box((x - heavy / 2, x + heavy / 2), (corner, up), ink)
    for n in range(rows + 1):
        y, heavy = corner + n * 10.0, 0.45 if n % 5 == 0 else 0.28
        plate.box((corner, right), (y - heavy / 2, y + heavy / 2), ink)
    for n in range(columns * 10 + 1):
        x, tall = corner + n, 2.4 if n % 5 else 3.6
        for base in (corner - tall, up):
            plate.box((x - 0.1, x + 0.1), (base, base + tall), ink)
    for n in range(rows * 10 + 1):
        y, tall = corner + n, 2.4 if n % 5 else 3.6
        for base in (corner - tall, right):
            plate.box((base, base + tall), (y - 0.1, y + 0.1), ink)
    return [
        ((i, j), (corner + i * 10.0, corner + j * 10.0)) for i, j in product(range(columns + 1), range(rows + 1))
    ]


ON_TABLE: tuple[Callable[[Generator], Reference], ...] = (
    wooden_12in,
    lambda rng: steel(rng, 12),
    lambda rng: steel(rng, 6),
    lambda rng: plastic(rng, 30),
    lambda rng: plastic(rng, 15),
    lambda rng: clear_plate(rng, 12, 6),
    lambda rng: clear_plate(rng, 6, 6, 0.5),
    tape,
)
ON_SCANNER: tuple[Callable[[Generator], Reference], ...] = (
    lambda rng: steel(rng, 6),
    lambda rng: plastic(rng, 15),
    lambda rng: clear_plate(rng, 6, 6, 0.5),
)
