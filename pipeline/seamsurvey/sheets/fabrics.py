"""Which fabric each piece is cut from, its colour, and a pattern that tells it apart in a grey print."""

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from attrs import frozen

from seamsurvey.model import Block, Section
from seamsurvey.sheets.colours import natural, template_colours
from seamsurvey.sheets.drawing import INK, Line, Mark, Pen, box, polygon, segment
from seamsurvey.sheets.seams import at_place

_STROKE = Pen(0.18)
_BORDER = Pen(0.25)


@frozen
class Fabric:
    """One fabric of the quilt."""

    name: str
    colour: str  # "#rrggbb"
    pattern: int  # 0 to 8, see ``swatch_marks``


def fabrics_of(block: Block, colours: Mapping[str, str], names: Mapping[str, str]) -> dict[str, Fabric]:
    """The fabric of every piece by its id.

    ``names`` gives fabrics and ``colours`` "#rrggbb", both by piece or by template (colours by fabric, too); a
    piece comes before its template. A template with no fabric named is a fabric of its own; a piece with a colour
    of its own and no fabric is one apart. Fabrics without a colour take the default scheme's, in the order of
    their names.
    """
    called: dict[str, str] = {}
    wished: dict[str, str] = {}
    for piece in sorted(block.pieces, key=lambda piece: (natural(piece.template), natural(piece.id))):
        name = names.get(piece.id) or names.get(piece.template) or piece.template
        colour = colours.get(piece.id) or colours.get(piece.template) or colours.get(name)
        if colour and wished.get(name, colour) != colour:
            name = f"{name} {colour}"
        elif piece.id in colours and piece.id not in names and piece.template not in names:
            name = f"{piece.template} {colour}"
        if colour:
            wished[name] = colour
        called[piece.id] = name
    order = list(dict.fromkeys(called.values()))
    filled = template_colours(order, wished)
    made = {name: Fabric(name, filled[name], k % PATTERNS) for k, name in enumerate(order)}
    return {piece.id: made[called[piece.id]] for piece in block.pieces}


def pieces_at(section: Section, block: Block) -> list[tuple[str, ...]]:
    """For each place of a section the ids of the block's pieces that its patches lie on, in sewing order."""
    tree = shapely.STRtree([shapely.Polygon(piece.drawn) for piece in block.pieces])
    inner = [np.asarray(shapely.Polygon(p.drawn).representative_point().coords) for p in section.pieces]
    found = []
    for k, place in enumerate(section.places):
        ids = []
        for piece, point in zip(section.pieces, inner, strict=True):
            hits = tree.query(shapely.Point(at_place(point, place)[0]), predicate="within")
            ids.append(block.pieces[int(hits[0])].id if k and len(hits) else piece.piece)
        found.append(tuple(ids))
    return found


PATTERNS = 9


def swatch_marks(fabric: Fabric, size: float) -> list[Mark]:
    """A square of the fabric's colour from the origin, ``size`` mm, with the strokes of its pattern.

    Plain, rising, falling, crossed, lying, upright, gridded, dotted, framed: told apart without colour.
    """
    s, third = size, size / 3
    marks: list[Mark] = [polygon(box(0, 0, s, s), fill=fabric.colour, layer="swatches")]

    def strokes(lines: Sequence[tuple[float, float, float, float]]) -> None:
        marks.extend(segment((x0, y0), (x1, y1), _STROKE, "swatches") for x0, y0, x1, y1 in lines)

    rising = [(0, third, 2 * third, s), (0, 0, s, s), (third, 0, s, 2 * third)]
    falling = [(s - x0, y0, s - x1, y1) for x0, y0, x1, y1 in rising]
    lying = [(0.0, k * s / 4, s, k * s / 4) for k in (1, 2, 3)]
    upright = [(y0, x0, y1, x1) for x0, y0, x1, y1 in lying]
    strokes(
        {1: rising, 2: falling, 3: [*rising, *falling], 4: lying, 5: upright, 6: [*lying, *upright]}.get(
            fabric.pattern, []
        )
    )
    if fabric.pattern == 7:
        dot = s / 9
        marks += [
            polygon(box(x * s - dot, y * s - dot, 2 * dot, 2 * dot), fill=INK, layer="swatches")
            for x, y in ((0.25, 0.25), (0.75, 0.25), (0.5, 0.5), (0.25, 0.75), (0.75, 0.75))
        ]
    if fabric.pattern == 8:
        marks.append(polygon(box(s / 4, s / 4, s / 2, s / 2), fill=INK, layer="swatches"))
    border = Line(points=box(0, 0, s, s), closed=True, pen=_BORDER, layer="swatches")
    return [*marks, border]
