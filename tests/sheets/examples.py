"""Invented blocks with their plans, written by hand: what the sheets are tried on.

The plans are given as lists of pieces in sewing order; nothing here uses the pipeline's own search or sectioning.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from seamsurvey.geometry import counter_clockwise, edge_lengths, moved
from seamsurvey.model import (
    Advice,
    Block,
    Closure,
    Edge,
    FoundationPlan,
    Join,
    LayoutProof,
    PhotoReport,
    Piece,
    Place,
    PlanProof,
    Reference,
    ScanPlane,
    Seam,
    Section,
    SectionPiece,
    Template,
    TemplateSet,
)
from seamsurvey.units import INCH

Points = NDArray[np.float64]


def block_of(pieces: Mapping[str, Points], reversed_ids: Sequence[str] = ()) -> Block:
    """A block from outlines by piece id ("T1-2"), whose union is its outline."""
    placed = tuple(
        Piece(
            id=name, template=name.split("-")[0], reversed=name in reversed_ids, outline=counter_clockwise(outline)
        )
        for name, outline in pieces.items()
    )
    whole = shapely.union_all([shapely.Polygon(piece.outline) for piece in placed], grid_size=1e-6)
    seams = []
    for k, one in enumerate(placed):
        for other in placed[k + 1 :]:
            shared = shapely.Polygon(one.outline).intersection(shapely.Polygon(other.outline))
            if shared.geom_type == "LineString":
                (x0, y0), (x1, y1) = shared.coords[0], shared.coords[-1]
                seams.append(Seam((x0, y0), (x1, y1), (one.id, other.id)))
    return Block(
        outline=outline_of(whole), size_u_mm=0.12, symmetry="none", pieces=placed, seams=tuple(seams),
        closure=Closure(0.31, 0.12, 1.1), proof=LayoutProof(searched_all=True, layouts_found=1),
    )  # fmt: skip


def outline_of(shape: BaseGeometry) -> Points:
    """The outer ring without repeated or straight-on vertices, counter-clockwise."""
    whole = shapely.orient_polygons(shape.simplify(1e-4))
    return np.asarray(shapely.get_coordinates(shapely.get_exterior_ring(whole)))[:-1]


def section_of(
    block: Block,
    name: str,
    ids: Sequence[str],
    places: Sequence[tuple[float, tuple[float, float]]] = ((0.0, (0.0, 0.0)),),
) -> Section:
    """A section of whole pieces in sewing order, with its places as (turn, shift)."""
    outlines = [block.piece(one).outline for one in ids]
    whole = shapely.union_all([shapely.Polygon(outline) for outline in outlines], grid_size=1e-6)
    single = len(places) == 1
    return Section(
        name=name,
        outline=outline_of(whole),
        pieces=tuple(
            SectionPiece(label=f"{name}{k}", piece=one, outline=outline)
            for k, (one, outline) in enumerate(zip(ids, outlines, strict=True), start=1)
        ),
        places=tuple(
            Place(name if single else f"{name}-{k}", turn, shift) for k, (turn, shift) in enumerate(places, start=1)
        ),
    )


def plan_of(sections: Sequence[Section], joins: Sequence[Join], advice: Sequence[Advice] = ()) -> FoundationPlan:
    """A plan that claims nothing it did not prove."""
    count = sum(section.copies for section in sections)
    return FoundationPlan(
        tuple(sections), tuple(joins), (), tuple(advice), PlanProof(count, count, searched_all=True)
    )


def templates_for(block: Block) -> TemplateSet:
    """A template for each name in the block, in the plane of an invented 200 dpi scan with one ruler."""
    scale = 25.4 / 200
    plane = ScanPlane(
        kind="scan", matrix=np.array([[scale, 0, 0], [0, -scale, 304.0]]), covariance=np.eye(6) * 1e-12,
        axis=np.array([1.0, 0.0]), references=(_ruler(scale),),
    )  # fmt: skip
    templates, x, y, row = [], 12.0, 250.0, 0.0
    for name in dict.fromkeys(piece.template for piece in block.pieces):
        copies = [piece for piece in block.pieces if piece.template == name]
        face_up = next((piece for piece in copies if not piece.reversed), None)
        outline = face_up.outline if face_up else counter_clockwise(copies[0].outline * np.array([-1.0, 1.0]))
        size = np.ptp(outline, axis=0)
        if x + size[0] > 360:
            x, y, row = 12.0, y - row - 8, 0.0
        outline = outline - outline.min(axis=0) + np.array([x, y - size[1]])
        x, row = x + size[0] + 8, max(row, size[1])
        corners = len(outline)
        templates.append(
            Template(
                name=name, photo=0, cut_outline=outline, finished_outline=outline, corners_px=plane.to_px(outline),
                edges=tuple(
                    Edge(float(length), 0.06 + 0.0004 * float(length), 90.0 * (k % 2), "scale across the ruler")
                    for k, length in enumerate(edge_lengths(outline))
                ),
                own_covariance=np.eye(2 * corners) * 1e-4, sensitivity=np.zeros((2 * corners, 0)),
                allowance_from="open", count=sum(not piece.reversed for piece in copies),
                reversed_count=sum(piece.reversed for piece in copies),
            )
        )  # fmt: skip
    report = PhotoReport("bench-scan.png", "0" * 64, (3100, 2400), plane, ())
    return TemplateSet(photos=(report,), templates=tuple(templates), shared_covariance=np.zeros((0, 0)))


def _ruler(scale: float) -> Reference:
    count = 97
    marks = np.arange(count) * INCH / 16
    at = np.column_stack([150 + marks / scale, np.full(count, 120.0)])
    reach = np.where(np.arange(count) % 16 == 0, 70.0, np.where(np.arange(count) % 8 == 0, 50.0, 28.0))
    return Reference(
        kind="ruler", graduation="inch, 1/16", unit="inch", step_mm=INCH / 16, marks_px=at, marks_mm=marks,
        mark_ends_px=at - np.column_stack([np.zeros(count), reach]), px_per_mm=1 / scale,
        residuals_px=0.3 * np.sin(np.arange(count) * 1.7),
        outline_px=np.array([[90.0, 20.0], [2100.0, 20.0], [2100.0, 120.0], [90.0, 120.0]]),
    )  # fmt: skip


def goose_rungs(width: float = 4 * INCH, rungs: int = 3) -> tuple[Block, FoundationPlan]:
    """Geese up a ladder between two sills: one section, sewn from the bottom up."""
    half, sill = width / 2, 0.3125 * width
    pieces = {"T1-1": np.array([[0, 0], [width, 0], [width, sill], [0, sill]])}
    order, y = ["T1-1"], sill
    for k in range(1, rungs + 1):
        pieces[f"T2-{k}"] = np.array([[0, y], [width, y], [half, y + half]])
        pieces[f"T3-{2 * k - 1}"] = np.array([[0, y], [half, y + half], [0, y + half]])
        pieces[f"T3-{2 * k}"] = np.array([[width, y], [width, y + half], [half, y + half]])
        order += [f"T2-{k}", f"T3-{2 * k - 1}", f"T3-{2 * k}"]
        y += half
    pieces["T1-2"] = np.array([[0, y], [width, y], [width, y + sill], [0, y + sill]])
    block = block_of({name: outline.astype(float) for name, outline in pieces.items()})
    return block, plan_of([section_of(block, "A", [*order, "T1-2"])], [])


def leaning_sails(side: float = 8 * INCH) -> tuple[Block, FoundationPlan]:
    """Four equal quarters turned round the middle, each a leaning sail among three pieces of sky."""
    q = side / 2
    cell = {
        "T1": np.array([[0, 0], [q, 0], [q, 0.4 * q]]),
        "T2": np.array([[0, 0], [q, 0.4 * q], [q, 0.7 * q], [0.6 * q, q], [0.35 * q, q]]),
        "T3": np.array([[q, 0.7 * q], [q, q], [0.6 * q, q]]),
        "T4": np.array([[0, 0], [0.35 * q, q], [0, q]]),
    }
    pieces, places = {}, []
    for k in range(4):
        shift = np.array([q, q])
        for name, outline in cell.items():
            pieces[f"{name}-{k + 1}"] = moved(outline, 90 * k, (0, 0)) + shift
        centre = np.array([q, q])
        move = centre - moved(centre[None], 90 * k, (0, 0))[0]
        places.append((90.0 * k, (float(move[0]), float(move[1]))))
    block = block_of(pieces)
    section = section_of(block, "A", ["T2-1", "T1-1", "T4-1", "T3-1"], places)
    joins = [
        Join(1, ("A-1", "A-2"), "AA", (q, q), (q, side), "straight"),
        Join(2, ("A-3", "A-4"), "AB", (q, q), (q, 0), "straight"),
        Join(3, ("AA", "AB"), "AC", (0, q), (side, q), "straight"),
    ]
    return block, plan_of(
        [section], joins, [Advice("crossing", "Eight points meet in the middle: pin there first.", (q, q))]
    )


def harbour_rows(unit: float = INCH) -> tuple[Block, FoundationPlan]:
    """Three rows of slanted cuts, no two of nine pieces alike; one piece lies reversed."""
    c = {
        "a": (0, 0), "b": (2.25, 0), "c": (3.5, 0), "d": (6, 0), "e": (0, 1.5), "f": (2.25, 1.5), "g": (3.5, 1.5),
        "h": (5.25, 1.5), "i": (6, 1.5), "j": (0, 4), "k": (2.25, 4), "l": (4.25, 4), "m": (6, 4), "n": (1, 4),
        "o": (5, 4), "p": (0, 7), "q": (2.75, 7), "r": (6, 7),
    }  # fmt: skip
    words = ["abfe", "bcgf", "cdig", "ekj", "ehlk", "himl", "jnqp", "noq", "omrq"]
    pieces = {f"T{k}-1": np.array([c[x] for x in word], dtype=float) * unit for k, word in enumerate(words, 1)}
    block = block_of(pieces, ["T6-1"])
    sections = [
        section_of(block, name, [f"T{k}-1" for k in ids])
        for name, ids in (("A", (1, 2, 3)), ("B", (4, 5, 6)), ("C", (7, 8, 9)))
    ]
    joins = [
        Join(1, ("A", "B"), "AB", (0, 1.5 * unit), (6 * unit, 1.5 * unit), "straight"),
        Join(2, ("AB", "C"), "AC", (0, 4 * unit), (6 * unit, 4 * unit), "straight"),
    ]
    return block, plan_of(sections, joins)


def coiled_path(unit: float = INCH) -> tuple[Block, FoundationPlan]:
    """Strips round a square: one section whose pieces get long and thin."""
    low, high = np.array([0.0, 0.0]), np.array([1.5, 1.5])
    boxes = [(*low, *high)]
    for turn in range(8):
        thin, thick = 0.75, 1.125
        if turn % 4 == 0:
            boxes.append((low[0], high[1], high[0], high[1] + thin))
            high = high + np.array([0, thin])
        elif turn % 4 == 1:
            boxes.append((high[0], low[1], high[0] + thick, high[1]))
            high = high + np.array([thick, 0])
        elif turn % 4 == 2:
            boxes.append((low[0], low[1] - thin, high[0], low[1]))
            low = low - np.array([0, thin])
        else:
            boxes.append((low[0] - thick, low[1], low[0], high[1]))
            low = low - np.array([thick, 0])
    outlines = [np.array([(a, b), (c, b), (c, d), (a, d)]) - low for a, b, c, d in boxes]
    pieces = {f"T{k}-1": outline * unit for k, outline in enumerate(outlines, start=1)}
    block = block_of(pieces)
    return block, plan_of([section_of(block, "A", list(pieces))], [])


def forked_road(side: float = 6 * INCH) -> tuple[Block, FoundationPlan]:
    """Three pieces round one point, no two of them in a straight run: the third is set in."""
    fork = np.array([0.45, 0.4]) * side
    corners = {"a": (0, 0), "b": (0.6, 0), "c": (1, 0), "d": (1, 0.7), "e": (1, 1), "f": (0, 1), "g": (0, 0.55)}
    c = {key: np.array(value, dtype=float) * side for key, value in corners.items()} | {"o": fork}
    pieces = {
        f"T{k}-1": np.array([c[x] for x in word]) for k, word in enumerate(("abog", "bcdo", "defgo"), start=1)
    }
    block = block_of(pieces)
    sections = [section_of(block, name, [f"T{k}-1"]) for k, name in enumerate("ABC", start=1)]

    def at(letter: str) -> tuple[float, float]:
        return (float(c[letter][0]), float(c[letter][1]))

    joins = [
        Join(1, ("A", "B"), "AB", at("b"), at("o"), "straight"),
        Join(2, ("AB", "C"), "AC", at("g"), at("d"), "set-in", (at("g"), at("o"), at("d"))),
    ]
    return block, plan_of(sections, joins, [Advice("set-in", "One seam turns a corner and is set in.", at("o"))])
