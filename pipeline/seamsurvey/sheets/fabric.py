"""The cutting list: which patches to cut for the foundations, how many, and how much fabric that takes."""

import csv
import io
import math
from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely
from attrs import frozen

from seamsurvey.geometry import counter_clockwise
from seamsurvey.model import Array, Block, FoundationPlan, SectionPiece, TemplateSet
from seamsurvey.sheets.colours import natural
from seamsurvey.sheets.seams import TOUCH_MM, first_seam
from seamsurvey.sheets.section_figure import allowance_outline
from seamsurvey.sheets.trade import rule
from seamsurvey.sheets.words import cut_up, size_text
from seamsurvey.units import INCH, fraction_text, round_up

# A patch must reach 1/4 in beyond its area; 1/2 in on every side forgives a crooked start.
OVERSIZE_MM = INCH / 2
USABLE_MM = {"inch": 40 * INCH, "mm": 1020.0}  # of fabric 42 to 44 in (107 to 112 cm) wide
YARD = 36 * INCH


@frozen(kw_only=True)
class CuttingRow:
    """One line of the cutting list: equal patches of one template."""

    template: str
    part: bool  # of a piece that an added seam divides
    per_block: int
    total: int
    width_mm: float  # the patch to cut, along its first seam
    height_mm: float
    patch: str  # the same in the person's units
    exact: str  # the bounding rectangle of the finished shape with its allowance, for cutting to shape
    rule: str  # the trade's way to cut it with a ruler and a rotary cutter, "" if there is none
    strips: int  # across the usable width of the fabric
    fabric_mm: float  # length of fabric to buy, rounded up
    fabric: str


def cutting_list(
    plan: FoundationPlan,
    block: Block,
    templates: TemplateSet | None,
    *,
    units: str,
    blocks: int,
    allowance_mm: float,
) -> tuple[CuttingRow, ...]:
    """The patches of ``blocks`` blocks by template, in the inventory's order or else by name.

    Each patch is a rectangle: the piece's own extent along and across the seam it is sewn on first, half an
    inch more on every side, rounded up to 1/8 in or 5 mm. Equal patches of one template are one row.
    ``units`` is "inch" or "mm".
    """
    counts: Counter[tuple[str, bool, float, float]] = Counter()
    shapes: dict[tuple[str, bool, float, float], Array] = {}
    for section in plan.sections:
        for k, piece in enumerate(section.pieces):
            if piece.unit is not None:
                continue  # a pieced start: its patches are cut for the sections it is joined from
            whole = block.piece(piece.piece)
            part = shapely.Polygon(piece.outline).area < 0.999 * shapely.Polygon(whole.outline).area
            shape = _along_first_seam(section.pieces, k)
            oversize = max(OVERSIZE_MM, allowance_mm)
            width, height = (
                cut_up(float(extent) + 2 * oversize, units, metric_step_mm=5.0) for extent in np.ptp(shape, axis=0)
            )
            key = (whole.template, part, round(width, 3), round(height, 3))
            counts[key] += section.copies
            shapes.setdefault(key, shape)
    order = {template.name: k for k, template in enumerate(templates.templates if templates else ())}
    on_border = _long_side_on_border(block)
    rows = []
    for key in sorted(counts, key=lambda key: (order.get(key[0], len(order)), natural(key[0]), key[1:])):
        template, part, width, height = key
        total = counts[key] * blocks
        number, length = strips(total, width, height, USABLE_MM[units])
        cut = np.ptp(allowance_outline(shapes[key], allowance_mm), axis=0)
        rows.append(
            CuttingRow(
                template=template,
                part=part,
                per_block=counts[key],
                total=total,
                width_mm=width,
                height_mm=height,
                patch=size_text(width, height, units),
                exact=size_text(float(cut[0]), float(cut[1]), units),
                rule=""
                if part
                else rule(shapes[key], allowance_mm, units, long_side_on_border=template in on_border),
                strips=number,
                fabric_mm=fabric_length(length, units),
                fabric=_fabric_text(fabric_length(length, units), units),
            )
        )
    return tuple(rows)


def cutting_list_csv(rows: Sequence[CuttingRow]) -> str:
    """The rows as CSV (RFC 4180) with a line of headings; lengths in mm beside the person's units."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(
        ["template", "part of a piece", "patches in one block", "patches in all", "cut", "cut width mm",
         "cut height mm", "exact size with allowance", "rotary cutting", "strips", "fabric", "fabric mm"]
    )  # fmt: skip
    for row in rows:
        writer.writerow(
            [row.template, "yes" if row.part else "no", row.per_block, row.total, row.patch, f"{row.width_mm:.2f}",
             f"{row.height_mm:.2f}", row.exact, row.rule, row.strips, row.fabric, f"{row.fabric_mm:.1f}"]
        )  # fmt: skip
    return out.getvalue()


def strips(count: int, width_mm: float, height_mm: float, usable_mm: float) -> tuple[int, float]:
    """How many strips across the fabric hold ``count`` patches, and the length they use, mm.

    The strip is as high as the patch is one way; the way that uses less fabric is taken. Patches in a strip
    round down, strips round up. A patch wider than the fabric both ways takes a strip each.
    """
    ways = []
    for along, across in ((width_mm, height_mm), (height_mm, width_mm)):
        number = math.ceil(count / max(1, math.floor((usable_mm + 1e-6) / along)))
        ways.append((number * across + (1e6 if along > usable_mm else 0), number, number * across))
    _, number, length = min(ways)
    return number, length


def fabric_length(length_mm: float, units: str) -> float:
    """Fabric to buy for a length to use, mm: rounded up to an eighth of a yard or to 10 cm."""
    return round_up(length_mm, YARD / 8 if units == "inch" else 100.0)


def _fabric_text(length_mm: float, units: str) -> str:
    if units == "inch":
        return fraction_text(length_mm / 36, 8).removesuffix(" in") + " yd"
    return f"{length_mm / 10:.0f} cm"


def _along_first_seam(pieces: Sequence[SectionPiece], k: int) -> Array:
    """(n, 2): the finished outline of a piece, turned so that its first seam lies along x.

    A piece with no seam in its section is turned along its longest edge.
    """
    outline = counter_clockwise(pieces[k].outline)
    seam = first_seam(pieces, k)
    if seam is None:
        edges = np.roll(outline, -1, axis=0) - outline
        along = edges[int(np.argmax(np.hypot(edges[:, 0], edges[:, 1])))]
    else:
        along = seam[1] - seam[0]
    x, y = along / np.hypot(*along)
    return np.asarray(outline @ np.array([[x, -y], [y, x]]))


def _long_side_on_border(block: Block) -> set[str]:
    """Templates of which some copy has its longest edge on the block's border."""
    border = shapely.LinearRing(block.outline)
    found = set()
    for piece in block.pieces:
        ends = np.roll(piece.outline, -1, axis=0)
        lengths = np.hypot(*(ends - piece.outline).T)
        k = int(np.argmax(lengths))
        if all(
            border.distance(shapely.Point(p)) < TOUCH_MM
            for p in (piece.outline[k], (piece.outline[k] + ends[k]) / 2, ends[k])
        ):
            found.add(piece.template)
    return found
