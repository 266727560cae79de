"""The templates again, clean and true, for those who want to cut by them: finished size and with allowance.

Face up, as they lie on the right side of the fabric.
"""

import math
from collections import Counter

import numpy as np

from seamsurvey.geometry import counter_clockwise, interior_angles
from seamsurvey.model import Array, Block, FoundationPlan, Piece
from seamsurvey.sheets.colours import natural
from seamsurvey.sheets.drawing import OUTLINE, TICK, Drawing, Line, Pen, polygon, segment
from seamsurvey.sheets.labels import Label
from seamsurvey.sheets.motif import Motif, Spot
from seamsurvey.sheets.page import Imprint, body, sheet
from seamsurvey.sheets.seams import straightened
from seamsurvey.sheets.section_figure import allowance_outline
from seamsurvey.sheets.true_size import pages_of

# Sharper corners than this leave a tip that overhangs the neighbour; trimming it lets the edges be laid together.
SHARP_DEG = 75.0
_FINISHED = Pen(0.35, "#1a1a1a", (2.0, 1.2))
_POINT_MM = 0.5
_NOTE = (
    "Templates, face up: cut on the solid line; sew on the dashed one. Short strokes at tips: trim there, so that "
    "neighbours lie edge to edge."
)


def template_pages(block: Block, plan: FoundationPlan, *, imprint: Imprint, allowance_mm: float) -> list[Drawing]:
    """Every template of the block once, at its adjusted finished size, with the allowance round it."""
    motifs = [(_motif(piece, count, grain, allowance_mm), 1) for piece, count, grain in _templates(block, plan)]
    pages = pages_of(motifs, body(imprint.paper, imprint.print_scale), trials=0).pages
    return [
        sheet(imprint, page.marks, page=k, pages=len(pages), note=_NOTE) for k, page in enumerate(pages, start=1)
    ]


def _templates(block: Block, plan: FoundationPlan) -> list[tuple[Piece, str, float | None]]:
    """One piece for each template, face up where there is one; how many to cut; the grain, when it is known."""
    counts = Counter((piece.template, piece.reversed) for piece in block.pieces)
    grains = {p.piece: p.grain_deg for s in plan.sections for p in s.pieces if p.unit is None and p.part is None}
    found = []
    for name in sorted({piece.template for piece in block.pieces}, key=natural):
        copies = sorted(
            (p for p in block.pieces if p.template == name), key=lambda p: (p.reversed, p.id not in grains)
        )
        face_up, turned = counts[name, False], counts[name, True]
        both = [f"cut {face_up}"] if face_up else []
        both += [f"{'cut ' if not face_up else ''}{turned} reversed"] if turned else []
        found.append((copies[0], ", ".join(both), grains.get(copies[0].id)))
    return found


def template_outline(piece: Piece) -> Array:
    """(n, 2): the template face up, as its piece lies in the block; a reversed piece is turned over again.

    Arcs are drawn out as fine chords.
    """
    return _face_up(piece.drawn if piece.bulges else straightened(piece.outline), piece)


def _face_up(points: Array, piece: Piece) -> Array:
    return counter_clockwise(points * np.array([-1.0, 1.0])) if piece.reversed else points


def _motif(piece: Piece, count: str, grain_deg: float | None, allowance_mm: float) -> Motif:
    outline = template_outline(piece)
    corners = _face_up(piece.outline if piece.bulges else straightened(piece.outline), piece)
    cut = allowance_outline(outline, allowance_mm) if allowance_mm else outline
    dot = np.array([[1, 0], [0, 1], [-1, 0], [0, -1]]) * _POINT_MM
    lines: list[Line] = [polygon(cut, pen=OUTLINE, layer="cutting")]
    if allowance_mm:
        lines.append(polygon(outline, pen=_FINISHED, layer="finished"))
        lines += [polygon(corner + dot, fill="#1a1a1a", layer="points") for corner in corners]
        lines += _tips(outline, allowance_mm)
    grain = None
    if grain_deg is not None:
        angle = math.radians(180 - grain_deg if piece.reversed else grain_deg)
        grain = (math.cos(angle), math.sin(angle))
    label = Label(piece.template, count, largest_pt=18, under_pt=8.5)
    return Motif(
        name=piece.template, outline=outline, cut=cut,
        captions=((f"Template {piece.template}",), (piece.template,)),
        lines=tuple(lines), spots=(Spot(outline=outline, label=label, grain=grain),),
    )  # fmt: skip


def _tips(outline: Array, allowance_mm: float) -> list[Line]:
    """A stroke across each sharp tip, square to the corner's middle line, an allowance beyond the corner.

    Common practice, no source.
    """
    found = []
    for corner, before, after, angle in zip(
        outline, np.roll(outline, 1, axis=0), np.roll(outline, -1, axis=0), interior_angles(outline), strict=True
    ):
        if angle > SHARP_DEG:
            continue
        to_middle = (before - corner) / np.hypot(*(before - corner)) + (after - corner) / np.hypot(
            *(after - corner)
        )
        outward = -to_middle / np.hypot(*to_middle)
        half = math.tan(math.radians(angle / 2)) * (allowance_mm / math.sin(math.radians(angle / 2)) - allowance_mm)
        across = np.array([-outward[1], outward[0]]) * half
        middle = corner + outward * allowance_mm
        found.append(segment(middle - across, middle + across, TICK, "tips"))
    return found
