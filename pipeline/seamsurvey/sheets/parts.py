"""What is larger than a page, printed in parts that overlap and are glued along lines."""

import math
from collections.abc import Iterator, Sequence

import attrs
import numpy as np
import shapely
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.geometry import rotation
from seamsurvey.model import Array
from seamsurvey.sheets.drawing import QUIET, Line, Mark, Pen, Text, segment
from seamsurvey.sheets.motif import Figure, Motif, Spot, assembled
from seamsurvey.sheets.page import Region
from seamsurvey.sheets.type import cap_mm, width_mm

OVERLAP_MM = 10.0
CROSS_MM = 2.5  # half a registration cross
WAYS = 12  # partings offered to the laying, at most
QUARTERS = (0, 90, 180, 270)

_GLUE = Pen(0.25, QUIET, (6.0, 1.2, 1.0, 1.2))
_CROSS = Pen(0.18)
_WORDS_PT = 7.0
_SHARES = (1.0, 0.0, 0.5, 0.75, 0.25)  # of the way from all cuts as early as possible to all as late as possible


@frozen
class Glue:
    """A line on which two parts are glued, in the turned frame, and the parts' numbers, from 1."""

    start: tuple[float, float]
    end: tuple[float, float]
    parts: tuple[int, int]


@frozen
class Parting:
    """One way to part an outline: turned by ``turn_deg``, seen through upright windows that overlap."""

    turn_deg: float
    windows: tuple[shapely.Polygon, ...]
    shapes: tuple[BaseGeometry, ...]  # what each window shows of the outline
    glue: tuple[Glue, ...]


def base_turns(outline: Array) -> list[float]:
    """Up to three turns, 0 <= t < 90, that lay long edges of an outline level: as it is, then the longest."""
    edges = np.roll(outline, -1, axis=0) - outline
    lengths, angles = np.hypot(edges[:, 0], edges[:, 1]), np.degrees(np.arctan2(edges[:, 1], edges[:, 0]))
    found = [0.0]
    for k in np.argsort(-lengths, kind="stable"):
        turn = float(-angles[k]) % 90
        if all(min(abs(turn - other), 90 - abs(turn - other)) > 1 for other in found):
            found.append(turn)
    return found[:3]


def partings(cut: Array, region: Region) -> list[Parting]:
    """Ways to part an outline for a region: those with the fewest parts, the least area in all first."""
    found = []
    for turn in base_turns(cut):
        for more in (0, 90):
            shape = shapely.Polygon(cut @ rotation(turn + more).T)
            x0, y0, x1, y1 = shape.bounds
            seen = set()
            for share in _SHARES:
                xs, ys = _cuts(x0, x1, region.width, share), _cuts(y0, y1, region.height, share)
                key = (tuple(np.round(xs, 3)), tuple(np.round(ys, 3)))
                if key not in seen:
                    seen.add(key)
                    found.append(_parting(shape, turn + more, xs, ys))
    fewest = min(len(parting.windows) for parting in found)
    found = [parting for parting in found if len(parting.windows) == fewest]
    return sorted(found, key=lambda p: round(sum(shape.area for shape in p.shapes)))[:WAYS]


def _cuts(low: float, high: float, room: float, share: float) -> list[float]:
    """Where an extent is cut so that every part with its overlap has room: both ends included."""
    number = max(1, math.ceil((high - low - OVERLAP_MM) / (room - OVERLAP_MM) - 1e-9))
    inner = [room - OVERLAP_MM / 2 + k * (room - OVERLAP_MM) for k in range(number - 1)]
    early = [high - step for step in reversed(inner)]
    late = [low + step for step in inner]
    return [low, *(share * b + (1 - share) * a for a, b in zip(early, late, strict=True)), high]


def _parting(shape: shapely.Polygon, turn: float, xs: Sequence[float], ys: Sequence[float]) -> Parting:
    half = OVERLAP_MM / 2
    columns, rows = len(xs) - 1, len(ys) - 1
    windows, shapes, numbers = [], [], {}
    for row in reversed(range(rows)):
        for column in range(columns):
            window = shapely.box(
                xs[column] - half * (column > 0), ys[row] - half * (row > 0),
                xs[column + 1] + half * (column < columns - 1), ys[row + 1] + half * (row < rows - 1),
            )  # fmt: skip
            seen = shape.intersection(window)
            # A window with nothing but overlap in it (an L's empty corner) is no part.
            core = shape.intersection(shapely.box(xs[column], ys[row], xs[column + 1], ys[row + 1]))
            if core.area > 1.0:
                windows.append(window)
                shapes.append(seen)
                numbers[row, column] = len(windows)
    glue = []
    for (row, column), number in numbers.items():
        right, above = numbers.get((row, column + 1)), numbers.get((row + 1, column))
        if right:
            x = xs[column + 1]
            glue += _glued(shape, (x, ys[row] - half), (x, ys[row + 1] + half), (number, right))
        if above:
            y = ys[row + 1]
            glue += _glued(shape, (xs[column] - half, y), (xs[column + 1] + half, y), (number, above))
    return Parting(turn, tuple(windows), tuple(shapes), tuple(glue))


def _glued(
    shape: shapely.Polygon, start: tuple[float, float], end: tuple[float, float], parts: tuple[int, int]
) -> list[Glue]:
    met = shape.intersection(shapely.LineString([start, end]))
    found = []
    for line in getattr(met, "geoms", [met]):
        if line.geom_type == "LineString" and line.length > 1.0:
            (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
            found.append(Glue((x0, y0), (x1, y1), parts))
    return found


def part_figure(motif: Motif, parting: Parting, number: int, quarter: float, largest: Sequence[int]) -> Figure:
    """One part (``number`` from 0) of a motif, the parting turned by ``quarter`` degrees more.

    ``largest`` are the motif's ``largest_parts`` in this parting.
    """
    matrix = rotation(quarter).T
    whole = motif.turned(parting.turn_deg).turned(quarter)

    def turned(shape: BaseGeometry) -> BaseGeometry:
        return shapely.transform(shape, lambda points: points @ matrix)

    window, footprint = turned(parting.windows[number]), turned(parting.shapes[number])
    total = len(parting.windows)
    lines = [part for line in whole.lines for part in clipped(line, window)]
    # Labels and captions stay clear of the overlap, which is glued under or over.
    core = turned(parting.windows[number])
    glue = [(_turned_line(g, matrix), g) for g in parting.glue if number + 1 in g.parts]
    for line, _ in glue:
        core = core.difference(shapely.LineString(line).buffer(OVERLAP_MM / 2 + 0.5, cap_style="square"))
    extra: list[Mark] = []
    rooms: list[BaseGeometry] = []
    inks = shapely.union_all([shapely.LineString(_path(line)).buffer(0.5) for line in lines])
    middle = np.array(footprint.centroid.coords[0])
    for line, g in glue:
        other = g.parts[0] if g.parts[1] == number + 1 else g.parts[1]
        marks, room = _glue_marks(line, f"{motif.name} {other}/{total}", middle, inks)
        extra += marks
        rooms += room
    spots = [
        (spot, outline)
        for k, spot in enumerate(whole.spots)
        for outline in _label_outlines(spot, core, footprint, best=largest[k] == number)
    ]
    words = [(*texts[:-1], f"{texts[-1]} · part {number + 1} of {total}") for texts in motif.captions]
    named = attrs.evolve(whole, captions=(*words, (f"{motif.name} {number + 1}/{total}",)))
    return assembled(named, lines, _whole(footprint), spots, extra=extra, rooms=rooms, within=core)


def _turned_line(glue: Glue, matrix: Array) -> Array:
    return np.array([glue.start, glue.end]) @ matrix


def _path(line: Line) -> Array:
    return np.vstack([line.points, line.points[:1]]) if line.closed else line.points


def _whole(shape: BaseGeometry) -> shapely.Polygon:
    return _polygons(shape)[0]


def largest_parts(motif: Motif, parting: Parting) -> list[int]:
    """For each spot the part (from 0) that shows most of it, where its label must stand if nowhere else."""
    windows = np.array(parting.windows)
    outlines = [shapely.Polygon(spot.outline @ rotation(parting.turn_deg).T) for spot in motif.spots]
    return [int(np.argmax(shapely.area(shapely.intersection(outline, windows)))) for outline in outlines]


def _label_outlines(spot: Spot, core: BaseGeometry, footprint: BaseGeometry, *, best: bool) -> list[Array]:
    """What of a piece a part can carry a label in: what is clear of overlaps, where it is large enough.

    In the part that shows most of it, something must do, if only to lead a label to.
    """
    piece = shapely.Polygon(spot.outline)
    shown = _polygons(piece.intersection(core))
    width, height = spot.label.size(9, "bare")
    roomy = [part for part in shown if part.area > 2.5 * width * height]
    if not roomy and best:
        roomy = shown[:1] or _polygons(piece.intersection(footprint))[:1]
    kept = []
    for part in roomy:
        outline = np.asarray(part.exterior.coords)[:-1]
        x0, y0, x1, y1 = part.buffer(-1.0).bounds if not part.buffer(-1.0).is_empty else (0, 0, 0, 0)
        if best or (x1 - x0 > width and y1 - y0 > height):
            kept.append(outline)
    return kept[:1]


def _polygons(shape: BaseGeometry) -> list[shapely.Polygon]:
    parts = [part for part in getattr(shape, "geoms", [shape]) if part.geom_type == "Polygon" and not part.is_empty]
    return sorted(parts, key=lambda part: -part.area)


def clipped(line: Line, pane: BaseGeometry) -> list[Line]:
    """The parts of a line inside a window, as open lines; a closed line wholly inside stays closed."""
    path = shapely.LineString(_path(line))
    if pane.contains(path):
        return [line]
    cut = path.intersection(pane)
    parts = shapely.line_merge(cut) if cut.geom_type == "MultiLineString" else cut
    return [
        attrs.evolve(line, points=np.asarray(part.coords), closed=False)
        for part in getattr(parts, "geoms", [parts])
        if part.geom_type == "LineString" and not part.is_empty
    ]


def _beside(line: Array, away: Array, turn: float, neighbour: str) -> Iterator[tuple[Array, str, shapely.Polygon]]:
    """Places for the neighbour's name, the best first: (middle, words, room)."""
    start, end = line
    length = float(np.hypot(*(end - start)))
    unit, height = (end - start) / length, cap_mm(_WORDS_PT)
    for words in (f"meets {neighbour}", neighbour):
        width = width_mm(words, _WORDS_PT)
        box = shapely.affinity.rotate(
            shapely.box(-width / 2, -height / 2, width / 2, height / 2), turn, origin=(0, 0)
        )
        slides = [0.0, *(sign * k * 2.0 for k in range(1, int(length / 4) + 1) for sign in (-1, 1))]
        for side in (1, -1):
            for slide in slides:
                at = start + unit * (length / 2 + slide) + side * away * (OVERLAP_MM / 4)
                yield at, words, shapely.affinity.translate(box, float(at[0]), float(at[1]))


def _glue_marks(
    line: Array, neighbour: str, middle: Array, inks: BaseGeometry
) -> tuple[list[Mark], list[BaseGeometry]]:
    """The line, two crosses on it, and the neighbour's name beside it, on the far side, clear of other lines."""
    start, end = line
    length = float(np.hypot(*(end - start)))
    unit = (end - start) / length
    away = np.array([-unit[1], unit[0]])
    if (middle - start) @ away > 0:
        away = -away
    marks: list[Mark] = [segment(start, end, _GLUE, "glue")]
    for share in (0.2, 0.8):
        x, y = start + unit * length * share
        marks += [
            segment((x - CROSS_MM, y), (x + CROSS_MM, y), _CROSS, "glue"),
            segment((x, y - CROSS_MM), (x, y + CROSS_MM), _CROSS, "glue"),
        ]
    turn = (math.degrees(math.atan2(unit[1], unit[0])) + 90) % 180 - 90
    turn = 90.0 if turn == -90 else turn
    height = cap_mm(_WORDS_PT)
    crosses = [shapely.Point(start + unit * length * share).buffer(CROSS_MM + 0.4) for share in (0.2, 0.8)]
    others = shapely.union_all([inks, *crosses])
    shapely.prepare(others)
    free = (place for place in _beside(line, away, turn, neighbour) if not others.intersects(place[2]))
    first = next(free, None)
    if first is None:
        return marks, []  # too short a line for words; the picture in the guide tells
    at, words, room = first
    down = rotation(turn) @ np.array([0.0, -height / 2])
    where = (float(at[0] + down[0]), float(at[1] + down[1]))
    marks.append(
        Text(at=where, text=words, size_pt=_WORDS_PT, anchor="middle", turn_deg=turn, colour=QUIET, layer="glue")
    )
    return marks, [room, shapely.LineString(line).buffer(0.5)]
