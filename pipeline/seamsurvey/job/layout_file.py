"""layout.json: the block with its pieces in place (format seamsurvey.layout/1).

A file written by hand needs no more than ``format`` and ``pieces[]`` {id, outline_mm}, and ``bulges`` where a piece
has curved edges.
"""

from collections import Counter
from collections.abc import Sequence

import numpy as np
from attrs import evolve, field, frozen
from shapely import Polygon, get_parts, union_all

from seamsurvey import geometry
from seamsurvey.arcs import drawn_out, turned_back, with_middles
from seamsurvey.errors import InputError
from seamsurvey.job.conversion import SELDOM, from_json, to_json
from seamsurvey.job.fitting import check_tiles, closed_once
from seamsurvey.model import (
    Array,
    Block,
    Closure,
    EdgeFit,
    LayoutProof,
    Match,
    Piece,
    Prior,
    Reason,
    Seam,
    Snapped,
    SuspectEdge,
)
from seamsurvey.units import fraction_text, mm_text

FORMAT = "seamsurvey.layout/1"
# Pieces drawn elsewhere may be rounded to a few decimals; a gap or overlap above this is a mistake.
ROUNDING_MM = 0.01


@frozen
class BlockEntry:
    """The block as a whole."""

    outline_mm: Array
    width_mm: float
    height_mm: float
    size_text: str
    symmetry: str
    area_mm2: float
    size_u_mm: float = 0.0


@frozen
class PieceEntry:
    """One placed copy of a template."""

    id: str
    outline_mm: Array
    template: str | None = None
    reversed: bool = False
    bulges: tuple[float, ...] = field(default=(), metadata={SELDOM: True})


@frozen
class SeamEntry:
    """A straight stretch, or an arc, where two pieces meet."""

    from_mm: tuple[float, float]
    to_mm: tuple[float, float]
    pieces: tuple[str, str]
    bulge: float = field(default=0.0, metadata={SELDOM: True})


@frozen
class ClosureEntry:
    """How far the measured pieces were from fitting."""

    worst_gap_mm: float
    rms_mm: float
    sigma0: float
    suspect_edges: list[SuspectEdge]
    p_value: float = 1.0
    conditions: int = 0
    edges: list[EdgeFit] = field(factory=list)


@frozen
class LayoutFile:
    """The whole file."""

    format: str
    pieces: list[PieceEntry]
    block: BlockEntry | None = None
    seams: list[SeamEntry] = field(factory=list)
    closure: ClosureEntry | None = None
    proof: LayoutProof | None = None
    warnings: list[str] = field(factory=list)
    prior: Prior | None = None
    reasons: list[Reason] = field(factory=list)
    matches: list[Match] = field(factory=list)
    snapped: list[Snapped] = field(factory=list)


def size_text(width_mm: float, height_mm: float, units: str) -> str:
    """``8 in × 8 in`` or ``203.2 mm × 203.2 mm``."""
    if units == "inch":
        return f"{fraction_text(width_mm, 32)} × {fraction_text(height_mm, 32)}"
    return f"{mm_text(width_mm)} × {mm_text(height_mm)}"


def write_layout(block: Block, units: str) -> bytes:
    """Return layout.json as bytes; ``units`` ("inch" or "mm") is what the size is written in."""
    closure = block.closure
    return to_json(
        LayoutFile(
            format=FORMAT,
            block=BlockEntry(
                outline_mm=block.outline,
                width_mm=block.width,
                height_mm=block.height,
                size_text=size_text(block.width, block.height, units),
                symmetry=block.symmetry,
                area_mm2=geometry.signed_area(block.outline),
                size_u_mm=block.size_u_mm,
            ),
            pieces=[PieceEntry(p.id, p.outline, p.template, p.reversed, p.bulges) for p in block.pieces],
            seams=[SeamEntry(seam.start, seam.end, seam.pieces, seam.bulge) for seam in block.seams],
            closure=ClosureEntry(
                closure.worst_gap_mm,
                closure.rms_mm,
                closure.sigma0,
                list(closure.suspect_edges),
                closure.p_value,
                closure.conditions,
                list(closure.edges),
            ),
            proof=block.proof,
            warnings=list(block.warnings),
            prior=block.prior,
            reasons=list(block.reasons),
            matches=list(block.matches),
            snapped=list(block.snapped),
        )
    )


def read_layout(text: bytes, file: str = "layout.json") -> Block:
    """Return the block of a layout.json; InputError ``file-unreadable`` says what is wrong with it."""
    entries = from_json(text, LayoutFile, file, FORMAT)
    pieces = _with_templates([_piece(entry, file) for entry in entries.pieces])
    _check_ids(pieces, file)
    if not pieces:
        raise InputError("file-unreadable", f"{file} has no pieces.", where=file, todo="Add some, or delete it.")
    outline = closed_once(entries.block.outline_mm) if entries.block else _outline_of(pieces, file)
    if entries.block:
        check_tiles(pieces, outline, file)
    closure = entries.closure
    return Block(
        outline=outline,
        size_u_mm=entries.block.size_u_mm if entries.block else 0.0,
        symmetry=entries.block.symmetry if entries.block else "none",
        pieces=pieces,
        seams=tuple(Seam(seam.from_mm, seam.to_mm, seam.pieces, seam.bulge) for seam in entries.seams),
        closure=Closure(
            closure.worst_gap_mm,
            closure.rms_mm,
            closure.sigma0,
            tuple(closure.suspect_edges),
            closure.p_value,
            closure.conditions,
            tuple(closure.edges),
        )
        if closure
        else Closure(0.0, 0.0, 1.0),
        proof=entries.proof or LayoutProof(searched_all=False, layouts_found=0),
        warnings=tuple(entries.warnings),
        prior=entries.prior,
        reasons=tuple(entries.reasons),
        matches=tuple(entries.matches),
        snapped=tuple(entries.snapped),
    )


def _with_templates(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Pieces without a template's name take that of the first piece of their shape, turned over or not."""
    first: list[Piece] = []
    named: list[Piece] = []
    for piece in pieces:
        if piece.template:
            named.append(piece)
            continue
        shape = with_middles(piece.outline, piece.bulges)
        for like in first:
            turned = with_middles(geometry.reversed_face(like.outline), like.bulges[::-1])
            if geometry.same_shape(shape, with_middles(like.outline, like.bulges), 2 * ROUNDING_MM):
                named.append(evolve(piece, template=like.id))
                break
            if geometry.same_shape(shape, turned, 2 * ROUNDING_MM):
                named.append(evolve(piece, template=like.id, reversed=True))
                break
        else:
            first.append(piece)
            named.append(evolve(piece, template=piece.id))
    return tuple(named)


def _check_ids(pieces: Sequence[Piece], file: str) -> None:
    twice = sorted(name for name, count in Counter(piece.id for piece in pieces).items() if count > 1)
    if twice:
        raise InputError(
            "file-unreadable",
            f"In {file} more than one piece is called {', '.join(twice)}.",
            where=file,
            todo="Give every piece an id of its own.",
        )


def _piece(entry: PieceEntry, file: str) -> Piece:
    outline = closed_once(entry.outline_mm)
    if outline.ndim != 2 or outline.shape[1:] != (2,) or len(outline) < 3 or not Polygon(outline).is_valid:
        raise InputError(
            "file-unreadable",
            f"In {file} the outline of piece {entry.id} is not a polygon that keeps clear of itself.",
            where=file,
            todo="Give at least three corners [x, y] in order round the piece.",
        )
    bulges = _bulges(entry, file)
    if geometry.signed_area(outline) < 0:
        bulges = turned_back(bulges)
    return Piece(
        id=entry.id,
        template=entry.template or "",
        reversed=entry.reversed,
        outline=geometry.counter_clockwise(outline),
        bulges=bulges,
    )


def _bulges(entry: PieceEntry, file: str) -> tuple[float, ...]:
    """The bulges as they are given, empty where every edge is straight."""
    bulges = entry.bulges if any(entry.bulges) else ()
    outline = closed_once(entry.outline_mm)
    if bulges and len(bulges) != len(outline):
        raise InputError(
            "file-unreadable",
            f"In {file} piece {entry.id} has {len(bulges)} bulges, but {len(outline)} edges.",
            where=file,
            todo="Give one for every edge, 0 where it is straight.",
        )
    if bulges and not Polygon(drawn_out(outline, bulges)).is_valid:
        raise InputError(
            "file-unreadable",
            f"In {file} the arcs of piece {entry.id} run into one another or into its straight edges.",
            where=file,
            likely="A bulge has the wrong sign: on an outline that runs counter-clockwise a positive one bows out.",
            todo="Mend its bulges: the tangent of a quarter of each arc's angle, 0.4142 for a quarter circle.",
        )
    return bulges


def _outline_of(pieces: tuple[Piece, ...], file: str) -> Array:
    """(m, 2): the outline of all pieces together, without corners of 180°."""
    # Grown a little and shrunk again, the seams of rounded coordinates close.
    shapes = [Polygon(drawn_out(piece.outline, piece.bulges)) for piece in pieces]
    grown = [shape.buffer(ROUNDING_MM, join_style="mitre") for shape in shapes]
    whole = union_all(grown).buffer(-ROUNDING_MM, join_style="mitre")
    if not isinstance(whole, Polygon) or whole.interiors:
        gap = (
            Polygon(whole.interiors[0])
            if isinstance(whole, Polygon)
            else min(get_parts(whole), key=lambda part: float(part.area))
        )
        near = [
            piece.id for piece, shape in zip(pieces, shapes, strict=True) if shape.distance(gap) <= 3 * ROUNDING_MM
        ]
        raise InputError(
            "pieces-do-not-tile",
            f"The pieces of {file} do not make one whole block: "
            + (
                f"there is a gap between {', '.join(near)}."
                if isinstance(whole, Polygon)
                else f"{', '.join(near)} lie apart from the rest."
            ),
            where=file,
            todo="Mend the outlines so that neighbours share their corners.",
        )
    ring = np.asarray(whole.exterior.simplify(2 * ROUNDING_MM).coords[:-1])
    return geometry.counter_clockwise(ring)
