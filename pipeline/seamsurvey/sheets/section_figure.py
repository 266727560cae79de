"""A section as it is printed: mirrored, with its allowance, its sewing lines, matching marks and labels.

Frame of the figure: *page* mm, mirrored in x against the block frame; its place on a sheet comes later.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from attrs import frozen
from shapely.geometry.base import BaseGeometry

from seamsurvey.geometry import rotation
from seamsurvey.model import Array, Block, Section, SectionPiece
from seamsurvey.sheets.drawing import ALLOWANCE, OUTLINE, SEWING, TICK, Line, Mark, centred, polygon
from seamsurvey.sheets.labels import Label, inside, outside
from seamsurvey.sheets.seams import on_border, sewing_lines, straightened
from seamsurvey.sheets.type import cap_mm, width_mm

# A sharper corner than about 29° would send its mitre far out; the paper is trimmed there anyway.
MITRE_LIMIT = 4.0
HASH_MM = 3.0  # length of a matching mark, outwards from the section's outline
CAPTION_PT = 8.0


@frozen(kw_only=True)
class Figure:
    """Everything printed for one copy of one section, in the frame of the figure."""

    name: str
    marks: tuple[Mark, ...]
    footprint: BaseGeometry  # what no other figure may touch
    cut: Array  # (n, 2): the allowance line


def printed(points: Array, turn_deg: float) -> Array:
    """(n, 2): block-frame points as the printed side shows them, x to -x, then turned by ``turn_deg``.

    The order is reversed, so that outlines stay counter-clockwise.
    """
    return np.asarray((points * np.array([-1.0, 1.0]))[::-1] @ rotation(turn_deg).T)


def allowance_outline(outline: Array, allowance_mm: float) -> Array:
    """(n, 2): the outline moved outwards with mitred corners; very sharp corners are blunted."""
    grown = shapely.Polygon(outline).buffer(allowance_mm, join_style="mitre", mitre_limit=MITRE_LIMIT)
    return np.asarray(shapely.orient_polygons(grown).exterior.coords)[:-1]


def section_figure(section: Section, block: Block, *, turn_deg: float, allowance_mm: float, caption: str) -> Figure:
    """The printed figure of a section, turned by ``turn_deg`` on the sheet; labels stay upright."""
    outline = printed(straightened(section.outline), turn_deg)
    cut = allowance_outline(outline, allowance_mm)
    marks: list[Mark] = [
        polygon(cut, pen=ALLOWANCE, layer="allowance"),
        polygon(outline, pen=OUTLINE, layer="outlines"),
    ]
    marks += [
        Line(points=printed(line, turn_deg), pen=SEWING, layer="seams") for line in sewing_lines(section.pieces)
    ]
    marks += _hash_marks(section, block, turn_deg, min(HASH_MM, allowance_mm))
    texts, rooms = _labels(section.pieces, block, turn_deg, shapely.Polygon(cut))
    marks += texts
    title, room = _caption(caption, cut, rooms)
    marks.append(title)
    footprint = shapely.union_all([shapely.Polygon(cut), room, *rooms])
    return Figure(name=section.name, marks=tuple(marks), footprint=footprint, cut=cut)


def _hash_marks(section: Section, block: Block, turn_deg: float, length: float) -> list[Mark]:
    """Short strokes across the allowance where a seam meets the outline: they are pinned to their partners."""
    marks: list[Mark] = []
    for point, outward in on_border(section, block):
        stroke = printed(np.array([point, point + outward * length]), turn_deg)
        marks.append(Line(points=stroke, pen=TICK, layer="matching"))
    return marks


def piece_label(piece: SectionPiece, block: Block, *, largest_pt: float = 14.0) -> Label:
    """The label of a sewn piece: its place in the order, and under it the template it is cut from.

    Of a pieced start: the unit that is pinned there.
    """
    if piece.unit is not None:
        return Label(piece.label, f"joined: {piece.unit}", largest_pt)
    whole = block.piece(piece.piece)
    return Label(piece.label, whole.template + (" reversed" if whole.reversed else ""), largest_pt)


def _labels(
    pieces: Sequence[SectionPiece], block: Block, turn_deg: float, around: shapely.Polygon
) -> tuple[list[Mark], list[shapely.Polygon]]:
    marks: list[Mark] = []
    rooms: list[shapely.Polygon] = []
    for piece in pieces:
        outline, label = printed(piece.outline, turn_deg), piece_label(piece, block)
        texts = inside(outline, label)
        if texts is None:
            led, room = outside(outline, label, around, rooms)
            marks += led
            rooms.append(room)
        else:
            marks += texts
    return marks, rooms


def _caption(caption: str, cut: Array, rooms: Sequence[BaseGeometry]) -> tuple[Mark, shapely.Polygon]:
    """The section's name under its lowest edge, below any label that hangs there."""
    low = cut[:, 1].min()
    lowest = cut[cut[:, 1] < low + 1.0]
    width, height = width_mm(caption, CAPTION_PT, "bold"), cap_mm(CAPTION_PT)
    x, y = lowest[:, 0].mean(), low - 1.2 - height / 2
    room = shapely.box(x - width / 2, y - height / 2, x + width / 2, low)
    while any(room.intersects(other) for other in rooms):
        y -= 1.0
        room = shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
    return centred((x, y), caption, CAPTION_PT, weight="bold"), room
