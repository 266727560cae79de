"""A section as it is printed: mirrored, with its allowance, sewing lines, matching marks, and its pieces' labels.

Frame of the motif: *page* mm, mirrored in x against the block frame; its turn and place on a sheet come later.
"""

import math
from collections.abc import Mapping, Sequence

import numpy as np
import shapely

from seamsurvey.model import Array, Block, FoundationPlan, Section, SectionPiece
from seamsurvey.sheets.drawing import ALLOWANCE, OUTLINE, SEWING, TICK, Line, polygon
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.labels import Label
from seamsurvey.sheets.motif import Motif, Spot
from seamsurvey.sheets.seams import border, on_border, sewing_lines

# A tip sharper than 60° is blunted at twice the allowance: the paper beyond serves nothing, and takes room.
MITRE_LIMIT = 2.0
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
    captions: Sequence[str], parts: Mapping[str, str],
) -> Motif:  # fmt: skip
    """The printed side of a section; ``fabrics`` are those of its pieces, ``parts`` the names of parts by label."""
    outline = printed(border(section))
    cut = section_cut(section, allowance_mm)
    steps = {join.result: f"= step {join.step}" for join in plan.joins}
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
        *(Line(points=printed(line), pen=SEWING, layer="seams") for line in sewing_lines(section.pieces)),
        *hashes,
    )
    spots = tuple(
        Spot(
            outline=printed(piece.drawn),
            label=_label(piece, fabric, steps, parts, block.piece(piece.piece).template),
            grain=_grain(piece),
        )
        for piece, fabric in zip(section.pieces, fabrics, strict=True)
    )
    return Motif(name=section.name, captions=tuple(captions), outline=outline, cut=cut, lines=lines, spots=spots)


def _label(
    piece: SectionPiece, fabric: Fabric, steps: Mapping[str, str], parts: Mapping[str, str], template: str
) -> Label:
    """A piece's place in the order, and under it what it is: its fabric, or the unit sewn before."""
    if piece.unit is not None:
        return Label(piece.label, steps.get(piece.unit, piece.unit))
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
