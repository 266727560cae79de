"""The cutting list: which patches to cut for the foundations, how many, and how much fabric that takes."""

import csv
import io
import math
from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from attrs import frozen

from seamsurvey.geometry import counter_clockwise
from seamsurvey.model import Array, Block, FoundationPlan, SectionPiece, TemplateSet
from seamsurvey.sheets.colours import natural
from seamsurvey.sheets.fabrics import Fabric, pieces_at
from seamsurvey.sheets.seams import TOUCH_MM, first_seam
from seamsurvey.sheets.section_figure import allowance_outline
from seamsurvey.sheets.trade import rule, triangles
from seamsurvey.sheets.words import cut_up, size_text
from seamsurvey.units import INCH, fraction_text, round_up

# A patch must reach 1/4 in beyond its area; 1/2 in on every side forgives a crooked start.
OVERSIZE_MM = INCH / 2
USABLE_MM = {"inch": 40 * INCH, "mm": 1020.0}  # of fabric 42 to 44 in (107 to 112 cm) wide
YARD = 36 * INCH


@frozen(kw_only=True)
class CuttingRow:
    """One line of the cutting list: equal patches of one fabric and template."""

    fabric: Fabric
    template: str
    part: bool  # of a piece that an added seam divides
    per_block: int
    total: int
    width_mm: float  # the patch to cut, along its first seam
    height_mm: float
    patch: str  # the same in the person's units
    halved: str  # the same patches as triangles of a square, oversize included; "" for other shapes
    exact: str  # the bounding rectangle of the finished shape with its allowance, for cutting to shape
    rule: str  # the trade's way to cut it with a ruler and a rotary cutter, "" if there is none
    strips: int  # across the usable width of the fabric
    length_mm: float  # of fabric these strips use


@frozen
class FabricNeed:
    """How much of one fabric to have: length at the usable width, rounded up."""

    fabric: Fabric
    patches: int
    strips: int
    length_mm: float  # used
    buy_mm: float
    buy: str


@frozen
class CuttingList:
    """What to cut for a number of blocks, and how much of each fabric that takes."""

    rows: tuple[CuttingRow, ...]
    needs: tuple[FabricNeed, ...]
    oversize_mm: float


def cutting_list(
    plan: FoundationPlan, block: Block, templates: TemplateSet | None, fabrics: Mapping[str, Fabric], *, units: str,
    blocks: int, allowance_mm: float, oversize_mm: float = OVERSIZE_MM,
) -> CuttingList:  # fmt: skip
    """The patches of ``blocks`` blocks by fabric, then by template, in the inventory's order or by name.

    Each patch is a rectangle: the piece's own extent along and across the seam it is sewn on first,
    ``oversize_mm`` more on every side (never less than the allowance), rounded up to 1/8 in or 5 mm. Equal patches
    of one fabric and template are one row. ``fabrics`` is by piece; ``units`` is "inch" or "mm".
    """
    counts: Counter[_Key] = Counter()
    shapes: dict[_Key, Array] = {}
    oversize = max(oversize_mm, allowance_mm)
    for section in plan.sections:
        at_places = pieces_at(section, block)
        for k, piece in enumerate(section.pieces):
            if piece.unit is not None:
                continue  # sewn before: nothing is cut for it
            whole = block.piece(piece.piece)
            part = shapely.Polygon(piece.drawn).area < 0.999 * shapely.Polygon(whole.drawn).area
            shape = _along_first_seam(section.pieces, k)
            width, height = (
                cut_up(float(extent) + 2 * oversize, units, metric_step_mm=5.0) for extent in np.ptp(shape, axis=0)
            )
            for ids in at_places:
                key = (fabrics[ids[k]], whole.template, part, round(width, 3), round(height, 3))
                counts[key] += 1
                shapes.setdefault(key, shape)
    order = {template.name: k for k, template in enumerate(templates.templates if templates else ())}
    inventory = {key: (order.get(key[1], len(order)), natural(key[1])) for key in counts}
    first = {fabric: min(place for key, place in inventory.items() if key[0] == fabric) for fabric, *_ in counts}
    on_border = _long_side_on_border(block)
    rows = []
    for key in sorted(counts, key=lambda key: (first[key[0]], key[0].name, inventory[key], key[2:])):
        fabric, template, part, width, height = key
        total = counts[key] * blocks
        number, length = strips(total, width, height, USABLE_MM[units])
        cut = np.ptp(allowance_outline(shapes[key], allowance_mm), axis=0)
        outer = template in on_border
        rows.append(
            CuttingRow(
                fabric=fabric, template=template, part=part, per_block=counts[key], total=total, width_mm=width,
                height_mm=height, patch=size_text(width, height, units),
                halved=triangles(shapes[key], oversize, units, long_side_on_border=outer, metric_step_mm=5.0),
                exact=size_text(float(cut[0]), float(cut[1]), units),
                rule="" if part else rule(shapes[key], allowance_mm, units, long_side_on_border=outer),
                strips=number, length_mm=length,
            )
        )  # fmt: skip
    return CuttingList(tuple(rows), _needs(rows, units), oversize)


_Key = tuple[Fabric, str, bool, float, float]


def _needs(rows: Sequence[CuttingRow], units: str) -> tuple[FabricNeed, ...]:
    needs = []
    for fabric in dict.fromkeys(row.fabric for row in rows):
        own = [row for row in rows if row.fabric == fabric]
        length = sum(row.length_mm for row in own)
        buy = fabric_length(length, units)
        patches, number = sum(row.total for row in own), sum(row.strips for row in own)
        needs.append(FabricNeed(fabric, patches, number, length, buy, _fabric_text(buy, units)))
    return tuple(needs)


def cutting_list_csv(cutting: CuttingList) -> str:
    """The rows as CSV (RFC 4180) with a line of headings; lengths in mm beside the person's units.

    What to buy stands in the first row of each fabric, for all its rows together.
    """
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(
        ["fabric", "colour", "template", "part of a piece", "patches in one block", "patches in all", "cut",
         "cut width mm", "cut height mm", "or as triangles", "exact size with allowance", "rotary cutting",
         "strips", "strips use mm", "fabric to buy", "fabric to buy mm"]
    )  # fmt: skip
    needs = {need.fabric: need for need in cutting.needs}
    for row in cutting.rows:
        need = needs.pop(row.fabric, None)
        writer.writerow(
            [row.fabric.name, row.fabric.colour, row.template, "yes" if row.part else "no", row.per_block,
             row.total, row.patch, f"{row.width_mm:.2f}", f"{row.height_mm:.2f}", row.halved, row.exact, row.rule,
             row.strips, f"{row.length_mm:.1f}", need.buy if need else "", f"{need.buy_mm:.1f}" if need else ""]
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
    outline = counter_clockwise(pieces[k].drawn)
    seam = first_seam(pieces, k)
    if seam is None:
        corners = counter_clockwise(pieces[k].outline)
        edges = np.roll(corners, -1, axis=0) - corners
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
