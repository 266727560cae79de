"""The block as seen from the finished side: colours, seams, sections in place, labels."""

from collections.abc import Iterable, Mapping

import numpy as np
import shapely

from seamsurvey.model import Array, Block, FoundationPlan, Join
from seamsurvey.sheets.colours import readable_on
from seamsurvey.sheets.drawing import INK, Line, Mark, Pen, polygon, segment
from seamsurvey.sheets.labels import Label, inside
from seamsurvey.sheets.seams import at_place, straightened

SEAM = Pen(0.25)
BORDER = Pen(0.7)
ADDED = Pen(0.35, INK, (1.2, 0.8))
SET_IN = Pen(0.7, "#9b1c1c", (2.2, 1.1))
DOT_MM = 0.9  # half of the diamond that marks where a set-in seam turns or stops


def block_marks(
    block: Block, plan: FoundationPlan | None, colours: Mapping[str, str], *, scale: float, largest_pt: float = 11.0
) -> list[Mark]:
    """The block with its lower left at the origin, ``scale`` mm for each mm of the block.

    Labels are those of the plan (A1, A2, ...), or the templates' names without one; a piece too small for a
    7 pt label has none.
    """
    outlines = [(piece.template, piece.outline * scale) for piece in block.pieces]
    marks: list[Mark] = [polygon(o, fill=colours.get(name, "#ffffff"), layer="pieces") for name, o in outlines]
    marks += [polygon(o, pen=SEAM, layer="seams") for _, o in outlines]
    if plan is None:
        labelled = [(Label(name, "", largest_pt), o, colours.get(name, "#ffffff")) for name, o in outlines]
    else:
        labelled = []
        for section in plan.sections:
            for place in section.places:
                border = at_place(straightened(section.outline), place) * scale
                marks.append(polygon(border, pen=BORDER, layer="sections"))
                for piece in section.pieces:
                    if piece.unit is not None:
                        continue  # a pieced start shows the patches it is joined from
                    fill = colours.get(block.piece(piece.piece).template, "#ffffff")
                    labelled.append(
                        (Label(piece.label, "", largest_pt), at_place(piece.outline, place) * scale, fill)
                    )
        marks += [
            segment(np.multiply(cut.start, scale), np.multiply(cut.end, scale), ADDED, "added seams")
            for cut in plan.added_seams
        ]
        marks += set_in_marks(plan.joins, scale)
    marks.append(polygon(straightened(block.outline) * scale, pen=BORDER, layer="outline"))
    for label, outline, fill in labelled:
        marks += inside(outline, label, readable_on(fill)) or []
    return marks


def set_in_marks(joins: Iterable[Join], scale: float) -> list[Mark]:
    """The set-in seams as heavy dashed lines with a diamond at each corner."""
    marks: list[Mark] = []
    for join in joins:
        if join.kind != "set-in":
            continue
        run = join_run(join) * scale
        marks.append(Line(points=run, pen=SET_IN, layer="set-in seams"))
        diamond = np.array([[1, 0], [0, 1], [-1, 0], [0, -1]]) * DOT_MM
        marks += [polygon(corner + diamond, fill=SET_IN.colour, layer="set-in seams") for corner in run]
    return marks


def join_run(join: Join) -> Array:
    """(n, 2) block: the seam of a join from end to end, bends included."""
    return np.array(join.corners or (join.start, join.end), dtype=float)


def places_of(plan: FoundationPlan) -> dict[str, Array]:
    """The outline of every placed section by the place's name, block frame."""
    return {
        place.name: at_place(straightened(section.outline), place)
        for section in plan.sections
        for place in section.places
    }


def step_marks(plan: FoundationPlan, step: int, scale: float) -> list[Mark]:
    """A small picture of one join: its two parts in two greys, the seam heavy, the rest in outline.

    ``step`` is an index into ``plan.joins``; parts are places' names or results of earlier steps.
    """
    outlines = places_of(plan)
    members = {name: [name] for name in outlines}
    for join in plan.joins[:step]:
        members[join.result] = [name for part in join.parts for name in members.get(part, [])]
    join = plan.joins[step]
    marks: list[Mark] = [polygon(o * scale, pen=Pen(0.13, "#9aa0a6"), layer="step") for o in outlines.values()]
    for part, fill in zip(join.parts, ("#c9d3dc", "#e9dfc9"), strict=True):
        shape = shapely.union_all(
            [shapely.Polygon(outlines[name]) for name in members.get(part, [])], grid_size=1e-3
        )
        for body in getattr(shape, "geoms", [shape]):
            if not body.is_empty:
                points = np.asarray(body.exterior.coords)[:-1] * scale
                marks.append(polygon(points, fill=fill, pen=Pen(0.25), layer="step"))
    pen = SET_IN if join.kind == "set-in" else Pen(0.9, INK)
    marks.append(Line(points=join_run(join) * scale, pen=pen, layer="step"))
    return marks
