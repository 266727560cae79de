"""The templates again, clean and true, for those who want to cut by them: finished size and with allowance.

Face up, as they lie on the right side of the fabric.
"""

import math
from collections import Counter
from collections.abc import Mapping

import numpy as np
from attrs import frozen

from seamsurvey.geometry import counter_clockwise, edge_lengths, interior_angles
from seamsurvey.model import Array, Block, FoundationPlan, Piece
from seamsurvey.sheets.block_figure import block_marks
from seamsurvey.sheets.colours import natural
from seamsurvey.sheets.drawing import OUTLINE, QUIET, TICK, Drawing, Line, Mark, Pen, Text, placed, polygon, segment
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.labels import Label
from seamsurvey.sheets.motif import Motif, Note, Spot
from seamsurvey.sheets.page import Imprint, Region, body, sheet
from seamsurvey.sheets.seams import straightened
from seamsurvey.sheets.section_figure import allowance_outline
from seamsurvey.sheets.sketches import SIDES_MM, free_place
from seamsurvey.sheets.true_size import MotifPage, pages_of
from seamsurvey.sheets.type import line_mm
from seamsurvey.sheets.words import length_text

# Sharper corners than this leave a tip that overhangs the neighbour; trimming it lets the edges be laid together.
SHARP_DEG = 75.0
_FINISHED = Pen(0.35, "#1a1a1a", (2.0, 1.2))
_POINT_MM = 0.5
NOTE = (
    "Templates, face up: cut on the solid line; sew on the dashed one. Short strokes at tips: trim there, so that "
    "neighbours lie edge to edge."
)


@frozen
class TemplateFacts:
    """What is told of the templates of a block, each by the template's name, in the natural order of names."""

    edges: Mapping[str, tuple[float, ...]]  # finished lengths, mm, in order round the template face up
    counts: Mapping[str, str]  # "cut 4, 2 reversed"
    fabrics: Mapping[str, tuple[str, ...]]
    units: str


def template_facts(block: Block, plan: FoundationPlan, fabrics: Mapping[str, Fabric], units: str) -> TemplateFacts:
    """The facts of every template the block uses; ``fabrics`` is by piece."""
    found = _templates(block, plan)
    cloth: dict[str, dict[str, None]] = {}
    for piece in block.pieces:
        cloth.setdefault(piece.template, {})[fabrics[piece.id].name] = None
    return TemplateFacts(
        {piece.template: tuple(float(e) for e in _lengths(piece)) for piece, _, _ in found},
        {piece.template: count for piece, count, _ in found},
        {piece.template: tuple(cloth[piece.template]) for piece, _, _ in found},
        units,
    )


def _lengths(piece: Piece) -> list[float]:
    outline = _face_up(piece.outline if piece.bulges else straightened(piece.outline), piece)
    return [float(length) for length in edge_lengths(outline)]


def template_sheets(
    block: Block, plan: FoundationPlan, *, imprint: Imprint, allowance_mm: float, facts: TemplateFacts | None = None
) -> list[tuple[Mark, ...]]:
    """The marks of each page of templates; with ``facts`` each tells its fabric and its edges' finished lengths."""
    motifs = [
        (_motif(piece, count, grain, allowance_mm, facts), 1) for piece, count, grain in _templates(block, plan)
    ]
    region = body(imprint.paper, imprint.print_scale)
    pages = pages_of(motifs, region, trials=0).pages
    return [(*page.marks, *_where(block, page, region)) for page in pages]


def _where(block: Block, page: MotifPage, region: Region) -> list[Mark]:
    """The block with its templates' names, in the page's white where it has any."""
    below = line_mm(7.5) + 1.2
    for side in SIDES_MM[:-2]:
        scale = side / max(block.width, block.height)
        at = free_place(page.taken, region, max(block.width * scale, 40.0), block.height * scale + below)
        if at is not None:
            drawn = block_marks(block, None, {}, scale=scale, largest_pt=9.0)
            words = Text(at=(at[0], at[1] + 0.8), text="Where each one goes.", size_pt=7.5, colour=QUIET)
            return [*placed(drawn, 0, (at[0], at[1] + below)), words]
    return []


def template_pages(
    block: Block, plan: FoundationPlan, *, imprint: Imprint, allowance_mm: float, facts: TemplateFacts | None = None
) -> list[Drawing]:
    """Every template of the block once, at its adjusted finished size, with the allowance round it."""
    pages = template_sheets(block, plan, imprint=imprint, allowance_mm=allowance_mm, facts=facts)
    return [sheet(imprint, marks, page=k, pages=len(pages), note=NOTE) for k, marks in enumerate(pages, start=1)]


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


def _motif(
    piece: Piece, count: str, grain_deg: float | None, allowance_mm: float, facts: TemplateFacts | None
) -> Motif:
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
    under = count
    notes: tuple[Note, ...] = ()
    if facts:
        cloth = [name for name in facts.fabrics[piece.template] if name != piece.template]
        under = f"{count} from {' and '.join(cloth)}" if cloth else count
        notes = _edge_notes(piece, facts.units)
    label = Label(piece.template, under, largest_pt=18, under_pt=8.5)
    return Motif(
        name=piece.template, outline=outline, cut=cut,
        captions=((f"Template {piece.template}",), (piece.template,)),
        lines=tuple(lines), spots=(Spot(outline=outline, label=label, grain=grain),), notes=notes,
    )  # fmt: skip


def _edge_notes(piece: Piece, units: str) -> tuple[Note, ...]:
    """The finished length of every straight edge, for the margin beside it."""
    if piece.bulges:
        return ()
    corners = _face_up(straightened(piece.outline), piece)
    ends = np.roll(corners, -1, axis=0)
    return tuple(
        Note((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), length_text(float(np.hypot(*(b - a))), units))
        for a, b in zip(corners, ends, strict=True)
    )


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
