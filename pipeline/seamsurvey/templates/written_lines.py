"""Where lines are written on a card: boxes that a network finds, brought to the strokes that belong together.

Frame: *card*, as in ``ink``.
"""

import math
from collections.abc import Mapping, Sequence

import cv2
import numpy as np
from attrs import evolve, field, frozen
from numpy.typing import NDArray

from seamsurvey import ocr
from seamsurvey.templates.ink import PAPER, PX_PER_MM, CardInk

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]
Strokes = Mapping[int, Floats]  # (n, 2) card px of each stroke, by its number in ``CardInk.strokes``

# Small letters are found at the first, letters as large as the card at the second, px per mm.
_SCALES = (4.0, 2.5)
_OVERLAP = 0.3  # of the smaller one: a line found at both
_MOSTLY = 0.5  # of a stroke lies in a line that it belongs to
_LONG = 1.7  # times as long as high is a line of several letters
_GAP, _ASIDE, _TALLER = 1.3, 0.6, 1.8  # in line heights: what follows in a line is no further off, aside, taller
_SPECK = 0.2  # of the line's height: smaller is dust, but for a dot
_TALL = 0.5  # of the line's height: no dot, comma, hyphen
_PAD = 0.3  # of the line's height, round it
_NEAR_PX = 5  # a stroke's soft edge
_DUST_MM = 1.0  # smaller are specks and dots


@frozen(eq=False)
class Line:
    """Strokes in a row: their box's ``middle`` (2,) px, ``way`` (2,) unit vector along it, and its extents, px."""

    middle: Floats = field()
    way: Floats = field()
    long: float
    high: float
    strokes: frozenset[int]

    @property
    def is_long(self) -> bool:
        """Whether it is a line of several letters, whose direction its strokes tell, up to a half turn."""
        return self.long > _LONG * self.high

    @property
    def corners(self) -> Floats:
        """(4, 2) px of the box."""
        along, across = self.way * self.long / 2, _square_to(self.way) * self.high / 2
        return np.asarray(self.middle + np.array([-along - across, along - across, along + across, across - along]))


def strokes_of(ink: CardInk) -> Strokes:
    """The points of every stroke."""
    y, x = np.nonzero(ink.strokes)
    of = ink.strokes[y, x]
    order = np.argsort(of, kind="stable")
    points = np.column_stack([x, y])[order].astype(float)
    numbers, starts = np.unique(of[order], return_index=True)
    return dict(zip((int(n) for n in numbers), np.split(points, starts[1:]), strict=True))


def find_written(ink: CardInk, strokes: Strokes) -> list[Line]:
    """The lines on the card, each with the strokes that belong to it, none with two."""
    boxes: list[Floats] = []
    for scale in _SCALES:
        size = (round(ink.grey.shape[1] * scale / PX_PER_MM), round(ink.grey.shape[0] * scale / PX_PER_MM))
        small = np.asarray(cv2.resize(ink.grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        found = [each.corners * PX_PER_MM / scale for each in ocr.find_lines(small)]
        boxes += [each for each in found if all(_overlap(each, other) < _OVERLAP for other in boxes)]
    lines = [line for line in (_line_in(box, strokes) for box in boxes) if line is not None]
    lines.sort(key=lambda each: -each.long)
    kept: list[Line] = []
    while lines:
        line = lines.pop(0)
        if line.is_long:
            taken = {n for other in (*kept, *lines) if not _alike(other, line) for n in other.strokes}
            line = _prolonged(line, {n: at for n, at in strokes.items() if n not in taken - line.strokes})
        lines = [other for other in lines if not other.strokes & line.strokes]
        kept.append(line)
    return kept


def is_print(lines: Sequence[Line], strokes: Strokes) -> bool:
    """Whether most strokes, dust aside, lie in no line: not even the greater part of what is drawn is writing."""
    drawn = {n for n, at in strokes.items() if np.ptp(at, axis=0).max() > _DUST_MM * PX_PER_MM}
    return 2 * len(drawn & {n for line in lines for n in line.strokes}) <= len(drawn)


def along(line: Line, way: Floats, strokes: Strokes) -> Line:
    """The line with its box along another way."""
    return _line_of(line.strokes, way, strokes)


def letters_apart(line: Line, strokes: Strokes) -> int:
    """How many letters stand apart from their neighbours, at least: tall strokes with a gap along the line."""
    axes = np.column_stack([line.way, _square_to(line.way)])
    ends = [(at.min(axis=0), at.max(axis=0)) for at in (strokes[n] @ axes for n in line.strokes)]
    tall = sorted((low[0], high[0]) for low, high in ends if high[1] - low[1] > _TALL * line.high)
    count, reached = 0, -math.inf
    for start, end in tall:
        count += start > reached
        reached = max(reached, end)
    return count


def is_crossed(ink: CardInk, line: Line) -> bool:
    """Whether some of the seam line was rubbed out in the line or beside its ends: a letter may be gone too."""
    longer = evolve(line, long=line.long + 2 * line.high)
    inside = np.zeros(ink.rubbed_out.shape, np.uint8)
    cv2.fillPoly(inside, [np.round(longer.corners).astype(np.int32)], [1.0])
    return bool(np.any(ink.rubbed_out & (inside > 0)))


def picture_of(ink: CardInk, line: Line, way: Floats, turn_deg: float = 0.0, stretch: float = 1.0) -> Grey:
    """The line alone, text that runs along ``way`` (along the line, either way) to the right; turned, stretched."""
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    right = np.array([way[0] * c - way[1] * s, way[0] * s + way[1] * c])
    pad = _PAD * min(line.long, line.high)
    width, height = (line.long + 2 * pad) * stretch, line.high + 2 * pad + abs(s) * line.long
    to_card = np.column_stack([right / stretch, _square_to(right)])
    origin = line.middle - to_card @ np.array([width / 2, height / 2])
    own = np.isin(ink.strokes, list(line.strokes)).astype(np.uint8)
    near = cv2.dilate(own, np.ones((_NEAR_PX, _NEAR_PX), np.uint8)) > 0
    seen = cv2.warpAffine(
        np.where(near, ink.grey, np.uint8(PAPER)),
        np.column_stack([to_card, origin]),
        (max(int(width), 4), max(int(height), 4)),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=[float(PAPER)],
    )
    return np.asarray(seen, dtype=np.uint8)


def _alike(other: Line, line: Line) -> bool:
    """Whether another may be a bit of the line: a letter or two of its height."""
    return other.long < _TALLER * line.high and other.high < _TALLER * line.high


def _line_in(box: Floats, strokes: Strokes) -> Line | None:
    """The line whose strokes lie in a box ((4, 2) px)."""
    sides = sorted((box[1] - box[0], box[2] - box[1]), key=lambda side: -float(np.hypot(*side)))
    half = np.array([np.hypot(*side) for side in sides]) / 2
    way = sides[0] / (2 * half[0])
    way = way if way[0] > 0 or (way[0] == 0 and way[1] > 0) else -way
    axes = np.column_stack([way, _square_to(way)])
    inside = [
        n
        for n, points in strokes.items()
        if np.mean(np.all(np.abs((points - box.mean(axis=0)) @ axes) <= half, axis=1)) >= _MOSTLY
    ]
    return _line_of(inside, way, strokes) if inside else None


def _line_of(numbers: Sequence[int] | frozenset[int], way: Floats, strokes: Strokes) -> Line:
    axes = np.column_stack([way, _square_to(way)])
    low, high = _extent([strokes[n] @ axes for n in numbers])
    size = np.maximum(high - low, 1.0)  # the thinnest stroke, seen end on, is a pixel wide
    return Line(axes @ ((low + high) / 2), way, float(size[0]), float(size[1]), frozenset(numbers))


def _prolonged(line: Line, strokes: Strokes) -> Line:
    """The line with what follows, or goes before, among these strokes."""
    axes = np.column_stack([line.way, _square_to(line.way)])
    local = {n: points @ axes for n, points in strokes.items()}
    ends = {n: (at.min(axis=0), at.max(axis=0)) for n, at in local.items()}
    numbers = set(line.strokes)
    while True:
        low, high = _extent([local[n] for n in numbers])
        more = {n for n, at in ends.items() if n not in numbers and _follows(*at, low, high)}
        if not more:
            return _line_of(frozenset(numbers), line.way, strokes)
        numbers |= more


def _extent(strokes: Sequence[Floats]) -> tuple[Floats, Floats]:
    """The least and the greatest coordinates, specks left out."""
    sizes = [float(np.ptp(at, axis=0).max()) for at in strokes]
    points = np.concatenate([at for at, size in zip(strokes, sizes, strict=True) if size >= _SPECK * max(sizes)])
    return points.min(axis=0), points.max(axis=0)


def _follows(low: Floats, high: Floats, line_low: Floats, line_high: Floats) -> bool:
    """Whether a stroke (its extent along and across a line) goes on with the line."""
    tall = float(line_high[1] - line_low[1])
    gap = max(low[0] - line_high[0], line_low[0] - high[0])
    aside = abs((low[1] + high[1]) / 2 - (line_low[1] + line_high[1]) / 2)
    size = float((high - low).max())
    return bool(gap < _GAP * tall and aside < _ASIDE * tall and _SPECK * tall < size < _TALLER * tall)


def _square_to(way: Floats) -> Floats:
    """A quarter turn clockwise as seen, y down."""
    return np.array([-way[1], way[0]])


def _overlap(one: Floats, other: Floats) -> float:
    """Of two boxes, as a share of the smaller."""
    first, second = one.astype(np.float32), other.astype(np.float32)
    shared, _ = cv2.intersectConvexConvex(first, second)
    return float(shared) / max(min(cv2.contourArea(first), cv2.contourArea(second)), 1e-9)
