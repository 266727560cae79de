"""What is printed of a section or a template, before it is turned, laid on a page or parted; and its figure.

A motif stands in the *page* frame (mm, x right, y up) at some place of its own. Its figure is the motif turned,
with everything that must stay upright set afresh: labels in their pieces, small pieces' labels on the margin with a
leader, the caption along an edge of the margin, so that it stays on the paper when that is cut out.
"""

import math
from collections.abc import Iterator, Sequence

import attrs
import numpy as np
import shapely
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.geometry import edge_vectors, rotation
from seamsurvey.model import Array, array_field
from seamsurvey.sheets.drawing import QUIET, Line, Mark, Pen, Text, placed, segment
from seamsurvey.sheets.labels import CLEAR_MM, Label, inside, led
from seamsurvey.sheets.type import SMALLEST_PT, cap_mm, width_mm

CAPTION_PT = 8.0
_SLIDE_MM = 2.0  # from one place tried for a caption to the next
_GRAIN = Pen(0.18, QUIET)
_GRAIN_MM = (12.0, 9.0, 6.5)  # lengths tried for a grain arrow
_HEAD_MM = 1.3
_NEAR_MM = 16.0  # from a label to its grain arrow, at most


_Caption = tuple[Sequence[Mark], shapely.Polygon]  # a text set, and its room


@frozen(kw_only=True)
class Spot:
    """One piece of a motif: where its label goes, and the direction of the straight grain."""

    outline: Array = array_field()  # (n, 2)
    label: Label
    grain: tuple[float, float] | None = None  # a unit vector


@frozen
class Note:
    """A word for a stretch of the border, set in the margin beside it where there is room."""

    start: tuple[float, float]
    end: tuple[float, float]
    words: str


@frozen(kw_only=True)
class Motif:
    """One thing to print at true size: its lines, its pieces, its margin, and its name in ever fewer words."""

    name: str
    captions: tuple[tuple[str, ...], ...]  # ever fewer words; the texts of each may stand along several edges
    outline: Array = array_field()  # (n, 2): where the margin begins
    cut: Array = array_field()  # (n, 2): where it ends
    lines: tuple[Line, ...] = ()
    spots: tuple[Spot, ...] = ()
    notes: tuple[Note, ...] = ()

    def turned(self, turn_deg: float) -> "Motif":
        """The motif turned about the origin."""
        matrix = rotation(turn_deg).T
        return attrs.evolve(
            self,
            outline=self.outline @ matrix,
            cut=self.cut @ matrix,
            lines=tuple(attrs.evolve(line, points=line.points @ matrix) for line in self.lines),
            spots=tuple(
                attrs.evolve(
                    spot,
                    outline=spot.outline @ matrix,
                    grain=None if spot.grain is None else tuple(np.asarray(spot.grain) @ matrix),
                )
                for spot in self.spots
            ),
            notes=tuple(
                Note(tuple(np.asarray(note.start) @ matrix), tuple(np.asarray(note.end) @ matrix), note.words)
                for note in self.notes
            ),
        )


@frozen(kw_only=True)
class Figure:
    """Everything printed for one motif, turned as it will lie."""

    name: str
    marks: tuple[Mark, ...]
    footprint: BaseGeometry  # what no other figure may touch


def figure(motif: Motif, turn_deg: float) -> Figure:
    """The whole motif at this turn."""
    motif = motif.turned(turn_deg)
    return assembled(motif, motif.lines, shapely.Polygon(motif.cut), [(spot, spot.outline) for spot in motif.spots])


def assembled(
    motif: Motif, lines: Sequence[Line], footprint: shapely.Polygon, spots: Sequence[tuple[Spot, Array]],
    *, extra: Sequence[Mark] = (), rooms: Sequence[BaseGeometry] = (), within: BaseGeometry | None = None,
) -> Figure:  # fmt: skip
    """Lines with caption and labels set; ``spots`` are given with the outline each label must stay inside.

    ``extra`` marks are there already, and ``rooms`` are theirs. Captions and led labels go where the margin is,
    inside ``within``; where that has no room, beside the figure, which then takes more.
    """
    taken: list[BaseGeometry] = [
        *rooms,
        *(shapely.LineString(_path(line)).buffer(CLEAR_MM / 2) for line in lines if line.layer == "matching"),
    ]
    inner = footprint if within is None else within
    margin = inner.intersection(footprint.buffer(-CLEAR_MM / 2))
    margin = margin.difference(shapely.Polygon(motif.outline).buffer(CLEAR_MM / 2))
    marks: list[Mark] = [*lines, *extra]
    grown: list[BaseGeometry] = [footprint]

    def put(found: tuple[Sequence[Mark], shapely.Polygon]) -> None:
        marks.extend(found[0])
        taken.append(found[1])
        if not footprint.buffer(0.1).contains(found[1]):
            grown.append(found[1])

    captions = _captions_in(motif, margin, taken)
    for caption in captions:
        put(caption)
    crowded = []
    for spot, outline in spots:
        label = inside(outline, spot.label)
        if label is None:
            crowded.append((spot, outline))
            continue
        put(label)
        marks += _grain(spot, outline, label[1])
    # What has no place of its own goes to the margin, a part's to any white in it, else beside the figure.
    white: BaseGeometry = shapely.Polygon()
    if within is not None:
        white = inner.difference(
            shapely.union_all([shapely.LineString(_path(one)) for one in lines]).buffer(CLEAR_MM)
        )
    for spot, outline in crowded:
        ring = footprint.buffer(14.0, join_style="mitre").difference(shapely.union_all(grown).buffer(CLEAR_MM))
        found = next(filter(None, (led(outline, spot.label, free, taken) for free in (margin, white, ring))), None)
        if found is None:
            raise AssertionError(f"a label of {motif.name} finds no place round it")
        put(found)
    if not captions:
        put(_caption_on(motif, white, taken) or _caption_under(motif, footprint, taken))
    for note in motif.notes:
        noted = _note(motif, note, margin, taken)
        if noted:
            put(noted)
    return Figure(name=motif.name, marks=tuple(marks), footprint=shapely.union_all(grown))


def _path(line: Line) -> Array:
    return np.vstack([line.points, line.points[:1]]) if line.closed else line.points


def _captions_in(motif: Motif, margin: BaseGeometry, taken: Sequence[BaseGeometry]) -> list[_Caption]:
    """The name along edges of the margin, the lowest and levellest with room, in as many words as they have."""
    if margin.is_empty:
        return []
    shapely.prepare(margin)
    for texts in motif.captions:
        for size in (CAPTION_PT, SMALLEST_PT):
            found: list[_Caption] = []
            for words in texts:
                others = shapely.union_all([*taken, *(room for _, room in found)])
                shapely.prepare(others)
                places = _along_edges(motif, width_mm(words, size, "bold"), cap_mm(size))
                free = ((a, t, r) for a, t, r in places if margin.contains(r) and not others.intersects(r))
                place = next(free, None)
                if place is None:
                    break
                found.append(([_set(words, size, place[0], place[1])], place[2]))
            if len(found) == len(texts):
                return found
    return []


def _note(
    motif: Motif, note: Note, margin: BaseGeometry, taken: Sequence[BaseGeometry]
) -> tuple[list[Mark], shapely.Polygon] | None:
    """A note beside its stretch of the border, as near its middle as has room; None where none has."""
    width = width_mm(note.words, SMALLEST_PT)
    start, along = np.array(note.start), np.array(note.end) - np.array(note.start)
    others = shapely.union_all([*taken]) if taken else shapely.Polygon()
    shapely.prepare(others)
    for at, turn, room in _beside_edge(motif, start, along, width, cap_mm(SMALLEST_PT)):
        if margin.contains(room) and not others.intersects(room):
            text = attrs.evolve(_set(note.words, SMALLEST_PT, at, turn), weight="regular", layer="notes")
            return [text], room
    return None


def _caption_on(motif: Motif, white: BaseGeometry, taken: Sequence[BaseGeometry]) -> _Caption | None:
    """The name where a part has white, for one that shows nothing of the margin."""
    free = white.difference(shapely.union_all([*taken]).buffer(CLEAR_MM)) if taken else white
    for words in (" · ".join(texts) for texts in motif.captions):
        w, h = width_mm(words, SMALLEST_PT, "bold") / 2, cap_mm(SMALLEST_PT) / 2
        for part in sorted(getattr(free, "geoms", [free]), key=lambda part: -part.area):
            if part.geom_type != "Polygon" or part.area < 4 * w * h:
                continue
            x0, y0, x1, y1 = part.bounds
            x, y = (v.ravel() for v in np.meshgrid(np.arange(x0 + w, x1 - w, 1.0), np.arange(y0 + h, y1 - h, 1.0)))
            rooms = shapely.box(x - w, y - h, x + w, y + h)
            fitting = np.flatnonzero(shapely.contains(part, rooms))
            if len(fitting):
                k = int(fitting[0])
                return [_set(words, SMALLEST_PT, np.array([x[k], y[k]]), 0.0)], rooms[k]
    return None


def _caption_under(motif: Motif, footprint: shapely.Polygon, taken: Sequence[BaseGeometry]) -> _Caption:
    """The name under the figure, below any label that hangs there."""
    words = " · ".join(motif.captions[0])
    x0, y0, x1, _ = footprint.bounds
    width, height = width_mm(words, CAPTION_PT, "bold"), cap_mm(CAPTION_PT)
    low = min((shape.bounds[1] for shape in taken if not shape.is_empty), default=y0)
    x, y = (x0 + x1) / 2, min(y0, low) - 1.2 - height / 2
    room = shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
    return [_set(words, CAPTION_PT, np.array([x, y]), 0.0)], room


def _set(words: str, size: float, at: Array, turn: float) -> Text:
    down = rotation(turn) @ np.array([0.0, -cap_mm(size) / 2])
    return Text(
        at=(float(at[0] + down[0]), float(at[1] + down[1])), text=words, size_pt=size, anchor="middle",
        weight="bold", turn_deg=turn, layer="captions",
    )  # fmt: skip


def _along_edges(motif: Motif, width: float, height: float) -> Iterator[tuple[Array, float, shapely.Polygon]]:
    """Middles, turns and rooms of a text in the margin along its edges, reading from the left."""
    edges = []
    for start, along in zip(motif.outline, edge_vectors(motif.outline), strict=True):
        steep = abs(_reading_turn(along)) > 45
        edges.append((steep, round(float(start[1] + along[1] / 2), 3), start, along))
    for _, _, start, along in sorted(edges, key=lambda edge: edge[:2]):
        yield from _beside_edge(motif, start, along, width, height)


def _reading_turn(along: Array) -> float:
    """The turn of a text along a direction, degrees, never upside down."""
    turn = (math.degrees(math.atan2(along[1], along[0])) + 90) % 180 - 90
    return 90.0 if turn == -90 else turn


def _beside_edge(
    motif: Motif, start: Array, along: Array, width: float, height: float
) -> Iterator[tuple[Array, float, shapely.Polygon]]:
    """Middles, turns and rooms of a text in the margin beside a stretch of the border, from its middle outwards."""
    length, turn = float(np.hypot(*along)), _reading_turn(along)
    unit = along / length
    outward = np.array([unit[1], -unit[0]])
    depth = _margin_depth(motif, start + unit * length / 2, outward)
    box = shapely.box(-width / 2 - 0.4, -height / 2 - 0.3, width / 2 + 0.4, height / 2 + 0.3)
    room = shapely.affinity.rotate(box, turn, origin=(0, 0))
    for slide in _from_middle(length - width):
        at = start + unit * (length / 2 + slide) + outward * depth / 2
        yield at, turn, shapely.affinity.translate(room, float(at[0]), float(at[1]))


def _margin_depth(motif: Motif, middle: Array, outward: Array) -> float:
    """How wide the margin is at an edge's middle."""
    ray = shapely.LineString([middle + outward * 1e-3, middle + outward * 60])
    met = ray.intersection(shapely.LinearRing(motif.cut))
    return float(shapely.Point(middle).distance(met)) if not met.is_empty else 0.0


def _from_middle(free: float) -> Iterator[float]:
    """Shifts along an edge with ``free`` mm to spare: none, then left and right by turns."""
    if free < 0:
        return
    yield 0.0
    for k in range(1, int(free / 2 / _SLIDE_MM) + 1):
        yield -k * _SLIDE_MM
        yield k * _SLIDE_MM


def _grain(spot: Spot, outline: Array, label: shapely.Polygon) -> list[Mark]:
    """A thin double arrow along the grain, as long as has room beside the label; nothing where there is none."""
    if spot.grain is None:
        return []
    along = np.asarray(spot.grain)
    free = (
        shapely.Polygon(outline).buffer(-CLEAR_MM - _HEAD_MM / 2).difference(label.buffer(CLEAR_MM + _HEAD_MM / 2))
    )
    if free.is_empty:
        return []
    shapely.prepare(free)
    heart = np.array(label.centroid.coords[0])
    x0, y0, x1, y1 = free.intersection(label.buffer(_NEAR_MM)).bounds
    x, y = (v.ravel() for v in np.meshgrid(np.arange(x0, x1, _SLIDE_MM), np.arange(y0, y1, _SLIDE_MM)))
    centres = np.column_stack([x, y])
    for length in _GRAIN_MM:
        ends = np.stack([centres - along * length / 2, centres + along * length / 2], axis=1)
        kept = np.flatnonzero(shapely.contains(free, shapely.linestrings(ends))) if len(ends) else np.zeros(0, int)
        if len(kept):
            k = int(kept[np.argmin(np.hypot(*(centres[kept] - heart).T))])
            return arrow(ends[k, 0], ends[k, 1])
    return []


def arrow(start: Array, end: Array) -> list[Mark]:
    """A thin stroke with an open head at both ends."""
    unit = (end - start) / np.hypot(*(end - start))
    side = np.array([-unit[1], unit[0]]) * _HEAD_MM / 2
    heads = [
        Line(
            points=np.array([tip + back * _HEAD_MM + side, tip, tip + back * _HEAD_MM - side]),
            pen=_GRAIN,
            layer="grain",
        )
        for tip, back in ((start, unit), (end, -unit))
    ]
    return [segment(start, end, _GRAIN, "grain"), *heads]


def shifted(marks: Sequence[Mark], shift: tuple[float, float]) -> tuple[Mark, ...]:
    """The marks of a figure where it was laid."""
    return placed(marks, 0, shift)
