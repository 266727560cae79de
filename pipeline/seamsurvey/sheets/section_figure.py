"""A section as it is printed: mirrored, with its allowance, sewing lines, matching marks, and its pieces' labels.

Frame of the motif: *page* mm, mirrored in x against the block frame; its turn and place on a sheet come later.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
import shapely

from seamsurvey.model import Array, Block, FoundationPlan, Section, SectionPiece
from seamsurvey.sheets.drawing import ALLOWANCE, OUTLINE, SEWING, TICK, Line, Pen, polygon
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.labels import Label
from seamsurvey.sheets.motif import Motif, Note, Spot
from seamsurvey.sheets.neighbours import Meeting
from seamsurvey.sheets.seams import TOUCH_MM, border, on_border, sewing_lines

# A tip sharper than 60° is blunted at twice the allowance: the paper beyond serves nothing, and takes room.
MITRE_LIMIT = 2.0
ADDED = Pen(0.5, "#1a1a1a", (5.0, 1.5))  # a sewing line, too: as heavy, in long dashes
HASH_MM = 3.0  # length of a matching mark, outwards from the section's outline


def printed(points: Array) -> Array:
    """(n, 2): block-frame points as the printed side shows them, x to -x.

    The order is reversed, so that outlines stay counter-clockwise.
    """
    return np.asarray((points * np.array([-1.0, 1.0]))[::-1])


def allowance_outline(outline: Array, allowance_mm: float) -> Array:
    """(n, 2): the outline moved outwards with mitred corners; very sharp corners are blunted."""
    grown = shapely.Polygon(outline).buffer(allowance_mm, join_style="mitre", mitre_limit=MITRE_LIMIT)
    return np.asarray(shapely.orient_polygons(grown).exterior.coords)[:-1]


def section_cut(section: Section, allowance_mm: float) -> Array:
    """(n, 2): the section's outline with its allowance, as the printed side shows it."""
    return allowance_outline(printed(border(section)), allowance_mm)


def section_motif(
    section: Section, block: Block, plan: FoundationPlan, fabrics: Sequence[Fabric], *, allowance_mm: float,
    captions: Sequence[tuple[str, ...]], parts: Mapping[str, str], made: Mapping[str, str],
    meets: Sequence[Meeting] = (),
) -> Motif:  # fmt: skip
    """The printed side of a section; ``fabrics`` are those of its pieces, ``parts`` the names of parts by label.

    ``made`` is what the results of joins are called; ``meets`` are the stretches of its border that meet the same
    section in every copy.
    """
    outline = printed(border(section))
    cut = section_cut(section, allowance_mm)
    hashes = [
        Line(
            points=printed(np.array([point, point + outward * min(HASH_MM, allowance_mm)])),
            pen=TICK,
            layer="matching",
        )
        for point, outward in on_border(section, block, plan.joins)
    ]
    lines = (
        polygon(cut, pen=ALLOWANCE, layer="allowance"),
        polygon(outline, pen=OUTLINE, layer="outlines"),
        *(
            Line(points=printed(line), pen=SEWING, layer="seams")
            for line in sewing_lines(section.pieces, added=False)
        ),
        *(
            Line(points=printed(line), pen=ADDED, layer="added seams")
            for line in sewing_lines(section.pieces, added=True)
        ),
        *hashes,
    )
    spots = tuple(
        Spot(
            outline=printed(piece.drawn),
            label=_label(piece, fabric, made, parts, block.piece(piece.piece).template),
            grain=_grain(piece),
        )
        for piece, fabric in zip(section.pieces, fabrics, strict=True)
    )
    notes = (*_added_on_border(section, plan), *(_note(one.start, one.end, f"to {one.section}") for one in meets))
    return Motif(
        name=section.name, captions=tuple(captions), outline=outline, cut=cut, lines=lines, spots=spots, notes=notes
    )


def _note(start: tuple[float, float], end: tuple[float, float], words: str) -> Note:
    points = [tuple(float(v) for v in point) for point in printed(np.array([start, end]))]
    return Note((points[0][0], points[0][1]), (points[1][0], points[1][1]), words)


def _added_on_border(section: Section, plan: FoundationPlan) -> list[Note]:
    """Where the section's border runs along added seams at its first place."""
    outline = border(section)
    ring = shapely.LinearRing(outline).buffer(TOUCH_MM)
    found = []
    for cut in plan.added_seams:
        if ring.contains(shapely.LineString([cut.start, cut.end])):
            k = int(np.argmin(_distances(outline, (np.array(cut.start) + cut.end) / 2)))
            along = outline[(k + 1) % len(outline)] - outline[k]
            forward = float((np.array(cut.end) - cut.start) @ along) > 0
            found.append(_note(*((cut.start, cut.end) if forward else (cut.end, cut.start)), "added seam"))
    return found


def _distances(outline: Array, point: Array) -> Array:
    """(n,): how far a point is from each edge of an outline."""
    edges = np.stack([outline, np.roll(outline, -1, axis=0)], axis=1)
    return np.asarray(shapely.distance(shapely.linestrings(edges), shapely.Point(point)))


def _label(
    piece: SectionPiece, fabric: Fabric, made: Mapping[str, str], parts: Mapping[str, str], template: str
) -> Label:
    """A piece's place in the order, and under it what it is: its fabric, or the unit sewn before."""
    if piece.unit is not None:
        return Label(piece.label, f"= {made.get(piece.unit, piece.unit)}")
    part = parts.get(piece.label, "")
    # A fabric with no name of its own is called by its template, which the part's name says too.
    own = fabric.name == template
    under = part if part and own else f"{fabric.name}, {part}" if part else fabric.name
    return Label(piece.label, under, fabric=fabric)


def _grain(piece: SectionPiece) -> tuple[float, float] | None:
    """The grain's direction as printed: mirrored in x."""
    if piece.grain_deg is None:
        return None
    angle = math.radians(piece.grain_deg)
    return (-math.cos(angle), math.sin(angle))
