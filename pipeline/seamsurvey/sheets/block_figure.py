"""The block as seen from the finished side: colours or bare lines, seams, sections in place, labels."""

from collections.abc import Iterable, Mapping

import numpy as np

from seamsurvey.arcs import drawn_run
from seamsurvey.model import Array, Block, FoundationPlan, Join
from seamsurvey.sheets.colours import readable_on
from seamsurvey.sheets.drawing import INK, Line, Mark, Pen, polygon, segment
from seamsurvey.sheets.fabrics import Fabric, pieces_at
from seamsurvey.sheets.labels import Label, inside
from seamsurvey.sheets.seams import at_place, border, straightened

SEAM = Pen(0.25)
BORDER = Pen(0.7)
ADDED = Pen(0.35, INK, (1.2, 0.8))
SET_IN = Pen(0.7, "#9b1c1c", (2.2, 1.1))
PARTIAL = Pen(0.9, "#1f5a99", (3.0, 1.2))
DOT_MM = 0.9  # half of the diamond that marks where a set-in seam turns, or a partial seam stops


def block_marks(
    block: Block, plan: FoundationPlan | None, colours: Mapping[str, str], *, scale: float, largest_pt: float = 11.0
) -> list[Mark]:
    """The block with its lower left at the origin, ``scale`` mm for each mm of the block.

    ``colours`` are "#rrggbb" by piece. Labels are those of the plan (A1, A2, ...), or the templates' names without
    one; a piece too small for a 7 pt label has none.
    """
    outlines = [(piece.id, piece.drawn * scale) for piece in block.pieces]
    marks: list[Mark] = [polygon(o, fill=colours.get(name, "#ffffff"), layer="pieces") for name, o in outlines]
    marks += [polygon(o, pen=SEAM, layer="seams") for _, o in outlines]
    if plan is None:
        labelled = [
            (Label(piece.template, "", largest_pt), piece.drawn * scale, colours.get(piece.id, "#ffffff"))
            for piece in block.pieces
        ]
    else:
        labelled = []
        for section in plan.sections:
            for place, ids in zip(section.places, pieces_at(section, block), strict=True):
                around = at_place(border(section), place) * scale
                marks.append(polygon(around, pen=BORDER, layer="sections"))
                for piece, at in zip(section.pieces, ids, strict=True):
                    if piece.unit is not None:
                        continue  # a pieced start shows the patches it is joined from
                    fill = colours.get(at, "#ffffff")
                    labelled.append(
                        (Label(piece.label, "", largest_pt), at_place(piece.drawn, place) * scale, fill)
                    )
        marks += [
            segment(np.multiply(cut.start, scale), np.multiply(cut.end, scale), ADDED, "added seams")
            for cut in plan.added_seams
        ]
        marks += odd_seam_marks(plan.joins, scale)
    marks.append(polygon(straightened(block.outline) * scale, pen=BORDER, layer="outline"))
    for label, outline, fill in labelled:
        found = inside(outline, label, readable_on(fill))
        marks += found[0] if found else []
    return marks


def piece_colours(fabrics: Mapping[str, Fabric]) -> dict[str, str]:
    """The colour of each piece by its id."""
    return {name: fabric.colour for name, fabric in fabrics.items()}


def line_marks(block: Block, plan: FoundationPlan, *, scale: float) -> list[Mark]:
    """The block as a drawing in lines alone, to colour in by hand: seams, added seams, and the outline."""
    marks: list[Mark] = [polygon(piece.drawn * scale, pen=SEAM, layer="seams") for piece in block.pieces]
    marks += [
        segment(np.multiply(cut.start, scale), np.multiply(cut.end, scale), ADDED, "added seams")
        for cut in plan.added_seams
    ]
    return [*marks, polygon(straightened(block.outline) * scale, pen=Pen(0.5), layer="outline")]


def odd_seam_marks(joins: Iterable[Join], scale: float) -> list[Mark]:
    """Set-in seams as heavy dashes with a diamond at each corner; partial seams with one where sewing stops."""
    marks: list[Mark] = []
    diamond = np.array([[1, 0], [0, 1], [-1, 0], [0, -1]]) * DOT_MM
    for join in joins:
        if join.kind == "set-in":
            marks.append(Line(points=join_run(join) * scale, pen=SET_IN, layer="set-in seams"))
            marks += [
                polygon(np.multiply(corner, scale) + diamond, fill=SET_IN.colour, layer="set-in seams")
                for corner in join.corners or (join.start, join.end)
            ]
        if join.kind == "partial":
            marks.append(Line(points=join_run(join) * scale, pen=PARTIAL, layer="partial seams"))
            if join.stop is not None:
                stop = np.multiply(join.stop, scale)
                marks.append(polygon(stop + diamond, fill=PARTIAL.colour, layer="partial seams"))
    return marks


def join_run(join: Join) -> Array:
    """(n, 2) block: the seam of a join from end to end, bends included, arcs as fine chords."""
    return drawn_run(np.array(join.corners or (join.start, join.end), dtype=float), join.bulges)


def places_of(plan: FoundationPlan) -> dict[str, Array]:
    """The outline of every placed section by the place's name, block frame."""
    return {place.name: at_place(border(section), place) for section in plan.sections for place in section.places}
