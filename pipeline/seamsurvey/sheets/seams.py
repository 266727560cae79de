"""The lines of a section: where its pieces meet in the order of sewing, and where seams reach its border."""

from collections.abc import Iterator, Sequence

import numpy as np

from seamsurvey.arcs import along_arc, arc_length, centre_of, heading, middle_of_run, shares_of, sweep_of
from seamsurvey.geometry import counter_clockwise, edge_vectors, moved, rotation
from seamsurvey.model import Array, Block, Join, Place, Section, SectionPiece

# Adjusted layouts tile exactly; corners that should be one point differ by rounding, far below this.
TOUCH_MM = 0.01
SMOOTH_DEG = 1.0  # two arcs that meet within this run on as one curve: no corner shows where


def straightened(outline: Array) -> Array:
    """(m, 2): the counter-clockwise outline without the vertices at which it runs straight on."""
    outline = counter_clockwise(outline)
    before, after = np.roll(outline, 1, axis=0), np.roll(outline, -1, axis=0)
    chord = after - before
    off = np.abs(
        (outline[:, 0] - before[:, 0]) * chord[:, 1] - (outline[:, 1] - before[:, 1]) * chord[:, 0]
    ) / np.hypot(chord[:, 0], chord[:, 1])
    return np.asarray(outline[off > TOUCH_MM])


def border(section: Section) -> Array:
    """(m, 2) block: the section's outline as it is drawn, its arcs as fine chords."""
    return section.drawn if section.bulges else straightened(section.outline)


def contacts(outline: Array, others: Sequence[Array]) -> list[Array]:
    """[(2, 2), ...] block: the straight stretches in which an outline touches any of the others.

    Each stretch runs along an edge of ``outline``, in its direction; touching stretches on one edge are one.
    """
    if not others:
        return []
    found: list[Array] = []
    starts, ends = np.vstack(others), np.vstack([np.roll(other, -1, axis=0) for other in others])
    for start, along in zip(outline, edge_vectors(outline), strict=True):
        length = float(np.hypot(*along))
        unit = along / length
        normal = np.array([-unit[1], unit[0]])
        off = np.maximum(np.abs((starts - start) @ normal), np.abs((ends - start) @ normal))
        # Neighbours on a seam run against each other.
        high = np.minimum((starts - start) @ unit, length)
        low = np.maximum((ends - start) @ unit, 0.0)
        touching = (off < TOUCH_MM) & (high - low > TOUCH_MM)
        spans = list(zip(low[touching].tolist(), high[touching].tolist(), strict=True))
        found += [np.array([start + unit * low, start + unit * high]) for low, high in _merged(spans)]
    return found


def _merged(spans: list[tuple[float, float]]) -> Iterator[tuple[float, float]]:
    """The union of intervals on a line, gaps under the tolerance closed."""
    spans = sorted(spans)
    while spans:
        low, high = spans.pop(0)
        while spans and spans[0][0] <= high + TOUCH_MM:
            high = max(high, spans.pop(0)[1])
        yield low, high


def sewing_lines(pieces: Sequence[SectionPiece], *, added: bool | None = None) -> list[Array]:
    """[(2, 2), ...] block: the lines to sew on, in sewing order: each piece against all sewn before it.

    ``added`` True is only those between parts of one piece, which an added seam divides; False only the others.
    """
    outlines = [counter_clockwise(piece.outline) for piece in pieces]
    found = []
    for k in range(1, len(outlines)):
        same = [_are_parts(pieces[k], other) for other in pieces[:k]]
        before = [outline for outline, part in zip(outlines, same, strict=False) if added is None or part == added]
        found += contacts(outlines[k], before)
    return found


def _are_parts(one: SectionPiece, other: SectionPiece) -> bool:
    """Whether two patches are parts of one piece."""
    return one.piece == other.piece and one.unit is None and other.unit is None


def first_seam(pieces: Sequence[SectionPiece], k: int) -> Array | None:
    """(2, 2) block: the seam piece k is sewn on with; for the first piece the seam to its first neighbour.

    The longest where there are several; None for a section of one piece.
    """
    outlines = [counter_clockwise(piece.outline) for piece in pieces]
    groups = [outlines[:k]] if k else [[other] for other in outlines[1:]]
    for group in groups:
        lines = contacts(outlines[k], group)
        if lines:
            return max(lines, key=lambda line: float(np.hypot(*(line[1] - line[0]))))
    return None


def on_border(section: Section, block: Block, joins: Sequence[Join] = ()) -> list[tuple[Array, Array]]:
    """(point, outward unit vector), block frame at the first place: where seams reach the section's border.

    Seams of the section itself, and those of its neighbours that reach the border at every place of the
    section, so that the mark is right for each copy; on a curve its middle, too, which is pinned first. The
    section's own corners need no mark.
    """
    own = np.vstack([piece.outline for piece in section.pieces])
    corners = np.vstack(
        [
            *(piece.outline for piece in block.pieces),
            *(middle_of_run(np.array(join.corners), join.bulges)[None] for join in joins if any(join.bulges)),
        ]
    )
    seen = [placed_back(corners, place) for place in section.places]
    if section.bulges:
        return _on_curved_border(section, own, seen)
    found: list[tuple[Array, Array]] = []
    outline = straightened(section.outline)
    for start, along in zip(outline, edge_vectors(outline), strict=True):
        length = float(np.hypot(*along))
        unit = along / length
        outward = np.array([unit[1], -unit[0]])
        kept = _for_every_copy(
            _on_edge(own, start, unit, length), [_on_edge(points, start, unit, length) for points in seen]
        )
        found += [(np.asarray(start + unit * t), outward) for t in kept]
    return found


def _for_every_copy(own: Array, others: Sequence[Array]) -> Array:
    """(k,): marks of one edge, as distances from its start: the section's own, and others' there for every copy."""
    marks = own
    for t in others[0] if others else ():
        if all(np.abs(there - t).min(initial=np.inf) < TOUCH_MM for there in others[1:]):
            marks = np.append(marks, t)
    marks = np.sort(marks)
    return np.asarray(marks[np.diff(marks, prepend=-np.inf) > TOUCH_MM])


def _on_curved_border(section: Section, own: Array, seen: Sequence[Array]) -> list[tuple[Array, Array]]:
    """As ``on_border``, for an outline with arcs; where an arc runs smoothly on, a mark says where it ends."""
    found: list[tuple[Array, Array]] = []
    outline, bulges = section.outline, section.bulges
    count = len(outline)
    for k, bulge in enumerate(bulges):
        start, end = outline[k], outline[(k + 1) % count]
        chord = float(np.hypot(*(end - start)))
        unit = (end - start) / chord
        before = heading(outline[k - 1], start, bulges[k - 1]) + sweep_of(bulges[k - 1])
        bend = (heading(start, end, bulge) - before + 180) % 360 - 180
        if (bulge or bulges[k - 1]) and abs(bend) < SMOOTH_DEG:
            angle = np.radians(heading(start, end, bulge))
            found.append((start, np.array([np.sin(angle), -np.cos(angle)])))
        if not bulge:
            outward = np.array([unit[1], -unit[0]])
            kept = _for_every_copy(
                _on_edge(own, start, unit, chord), [_on_edge(points, start, unit, chord) for points in seen]
            )
            found += [(np.asarray(start + unit * t), outward) for t in kept]
            continue
        length, centre = arc_length(chord, bulge), centre_of(start, end, bulge)
        kept = _for_every_copy(
            _on_arc(own, start, end, bulge, length), [_on_arc(points, start, end, bulge, length) for points in seen]
        )
        for point in along_arc(start, end, bulge, kept / length):
            away = (point - centre) / np.hypot(*(point - centre))
            found.append((point, away if bulge > 0 else -away))
    return found


def _on_arc(points: Array, start: Array, end: Array, bulge: float, length: float) -> Array:
    """(k,): lengths along an arc, from its start, of those points that lie on it, its ends left out."""
    shares, off = shares_of(points, start, end, bulge)
    along = shares * length
    return np.asarray(along[(off < TOUCH_MM) & (along > TOUCH_MM) & (along < length - TOUCH_MM)])


def _on_edge(points: Array, start: Array, unit: Array, length: float) -> Array:
    """(k,): distances from an edge's start of those points that lie on it, its ends left out."""
    along, off = (points - start) @ unit, (points - start) @ np.array([unit[1], -unit[0]])
    return np.asarray(along[(np.abs(off) < TOUCH_MM) & (along > TOUCH_MM) & (along < length - TOUCH_MM)])


def placed_back(points: Array, place: Place) -> Array:
    """(n, 2): block points as seen from a section's first place: the place's motion undone."""
    return np.asarray((points - np.asarray(place.shift_mm)) @ rotation(place.turn_deg))


def at_place(points: Array, place: Place) -> Array:
    """(n, 2) block: outlines of the first place where another copy of the section lies."""
    return moved(points, place.turn_deg, place.shift_mm)
