"""The cutting list: patches for the foundations, cutting without paper, and how much fabric it takes."""

from collections.abc import Mapping, Sequence

import numpy as np
from attrs import evolve, frozen

from seamsurvey.geometry import counter_clockwise
from seamsurvey.model import Array, Block, FoundationPlan, SectionPiece, TemplateSet
from seamsurvey.sheets.colours import natural
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.needs import FabricNeed, Widths, fabric_needs
from seamsurvey.sheets.part_names import is_part, part_names
from seamsurvey.sheets.prints import Print, prints_of
from seamsurvey.sheets.rotary import RotaryRow, long_side_on_border, rotary_rows
from seamsurvey.sheets.seams import first_seam
from seamsurvey.sheets.strips import Cut, StripPlan, on_strips
from seamsurvey.sheets.trade import Rule, rule_of
from seamsurvey.sheets.words import cut_up, length_text, size_text
from seamsurvey.units import INCH

# A patch must reach 1/4 in beyond its area; 1/2 in on every side forgives a crooked start.
OVERSIZE_MM = INCH / 2
# Squares are cut into triangles where that is less fabric by area than a rectangle for each.
_FROM_A_SQUARE = {"halves": 2, "quarters": 4}


@frozen(kw_only=True)
class PatchRow:
    """Equal patches of one fabric, as they are cut for the foundations."""

    fabric: Fabric
    patches: tuple[str, ...]  # what stands on the papers: "A1", "B2 (colouring 2)"
    templates: tuple[str, ...]  # the templates they are, or parts of them: "T1", "T2a"
    per_block: int
    total: int
    sides_mm: tuple[float, float]  # of what is cut, the longer first
    from_each: int = 1  # patches that each cut gives: triangles of a square, or 1

    @property
    def cuts(self) -> int:
        """How many rectangles or squares are cut."""
        return -(-self.total // self.from_each)

    def text(self, units: str) -> str:
        """The size in the person's units, and how it is cut again."""
        if self.from_each == 1:
            return size_text(*self.sides_mm, units)
        times, size = ("once", "twice")[self.from_each // 4], length_text(self.sides_mm[0], units)
        return f"square {size}, cut {times} corner to corner: {self.from_each} triangles"


@frozen
class FabricCuts:
    """All patches of one fabric and the strips they are cut from, the widest strip first."""

    fabric: Fabric
    rows: tuple[PatchRow, ...]
    strips: StripPlan  # its indices are of ``rows``


@frozen
class CuttingList:
    """What to cut for a number of blocks, and how much of each fabric that takes."""

    fabrics: tuple[FabricCuts, ...]
    rotary: tuple[RotaryRow, ...]  # for sewing without paper
    needs: tuple[FabricNeed, ...]
    oversize_mm: float
    blocks: int
    widths: Widths

    @property
    def rows(self) -> tuple[PatchRow, ...]:
        """The patches of all fabrics."""
        return tuple(row for cuts in self.fabrics for row in cuts.rows)


def cutting_list(
    plan: FoundationPlan, block: Block, templates: TemplateSet | None, fabrics: Mapping[str, Fabric], *, units: str,
    blocks: int, allowance_mm: float, oversize_mm: float = OVERSIZE_MM, widths: Widths | None = None,
) -> CuttingList:  # fmt: skip
    """What to cut for ``blocks`` blocks, by fabric in the order of the inventory, or of the templates' names.

    For the foundations each patch is a rectangle: the piece's own extent along and across the seam it is sewn on
    first, ``oversize_mm`` more on every side (never less than the allowance), rounded up to 1/8 in or 5 mm; or a
    triangle of a square as much larger, where that takes less fabric. Equal patches of one fabric are one row.
    ``fabrics`` is by piece; ``units`` is "inch" or "mm".
    """
    widths = widths or Widths.usual(units)
    oversize = max(oversize_mm, allowance_mm)
    order = {template.name: k for k, template in enumerate(templates.templates if templates else ())}

    def place(template: str) -> tuple[int, tuple[object, ...]]:
        return order.get(template, len(order)), natural(template)

    first: dict[Fabric, tuple[int, tuple[object, ...]]] = {}
    for piece in block.pieces:
        fabric = fabrics[piece.id]
        first[fabric] = min(first.get(fabric, place(piece.template)), place(piece.template))
    found = _patches(plan, block, fabrics, oversize=oversize, units=units)
    cuts = []
    for fabric in sorted(first, key=lambda fabric: (first[fabric], fabric.name)):
        rows = [evolve(row, total=row.per_block * blocks) for row in found if row.fabric == fabric]
        if rows:
            cuts.append(_in_cutting_order(fabric, rows, widths))
    rotary = rotary_rows(block, fabrics, [one.fabric for one in cuts], allowance_mm=allowance_mm, units=units)
    needs = tuple(
        fabric_needs(
            one.fabric,
            [Cut(row.cuts, row.sides_mm) for row in one.rows],
            one.strips,
            widths,
            units,
            patches=sum(row.total for row in one.rows),
        )
        for one in cuts
    )
    return CuttingList(tuple(cuts), rotary, needs, oversize, blocks, widths)


def _in_cutting_order(fabric: Fabric, rows: Sequence[PatchRow], widths: Widths) -> FabricCuts:
    """The rows in the order of the strips they are cut from, the widest strip first, on it the longest patch."""
    strips = on_strips([Cut(row.cuts, row.sides_mm) for row in rows], widths.usable_mm)
    order = list(dict.fromkeys(k for group in strips.groups() for k in group.cuts))
    ordered = [rows[k] for k in order]
    return FabricCuts(
        fabric, tuple(ordered), on_strips([Cut(row.cuts, row.sides_mm) for row in ordered], widths.usable_mm)
    )


@frozen
class _Patch:
    """One patch of a print: its fabric, its name on the paper, and what is cut for it."""

    fabric: Fabric
    label: str
    template: str
    number: int  # in one block
    sides: tuple[float, float]  # of its rectangle, the longer first
    square: tuple[float, int] | None  # side, and how many triangles it gives


def _patches(
    plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric], *, oversize: float, units: str
) -> list[PatchRow]:
    """The patches of one block, equal ones of one fabric together."""
    parts = part_names(plan, block)
    on_border = long_side_on_border(block)
    patches = [
        _patch(one, k, block, parts, on_border, oversize=oversize, units=units)
        for one in prints_of(plan, block, fabrics)
        for k, piece in enumerate(one.section.pieces)
        if piece.unit is None  # a unit is sewn before: nothing is cut for it
    ]
    cut: dict[tuple[Fabric, tuple[float, float], int], list[_Patch]] = {}
    for (fabric, _), group in _by_square(patches).items():
        square = group[0].square
        count = sum(patch.number for patch in group)
        rectangles = sum(patch.number * patch.sides[0] * patch.sides[1] for patch in group)
        if square and -(-count // square[1]) * square[0] ** 2 < rectangles:
            cut.setdefault((fabric, (square[0], square[0]), square[1]), []).extend(group)
            continue
        for patch in group:
            cut.setdefault((fabric, patch.sides, 1), []).append(patch)
    return [
        PatchRow(
            fabric=fabric,
            sides_mm=sides,
            from_each=number,
            per_block=sum(patch.number for patch in group),
            total=0,
            patches=tuple(sorted({patch.label for patch in group}, key=natural)),
            templates=tuple(sorted({patch.template for patch in group}, key=natural)),
        )
        for (fabric, sides, number), group in cut.items()
    ]


def _by_square(patches: Sequence[_Patch]) -> dict[tuple[Fabric, object], list[_Patch]]:
    """Patches of one fabric that can be cut from the same square together; others by their rectangle."""
    groups: dict[tuple[Fabric, object], list[_Patch]] = {}
    for patch in patches:
        groups.setdefault((patch.fabric, patch.square or patch.sides), []).append(patch)
    return groups


def _patch(
    one: Print, k: int, block: Block, parts: Mapping[str, str], on_border: set[str], *, oversize: float, units: str
) -> _Patch:
    piece = one.section.pieces[k]
    template = block.piece(piece.piece).template
    shape = _along_first_seam(one.section.pieces, k)
    wide, high = (
        round(cut_up(float(extent) + 2 * oversize, units, metric_step_mm=5.0), 3)
        for extent in np.ptp(shape, axis=0)
    )
    square = None
    if not any(piece.bulges):
        rule = rule_of(shape, oversize, long_side_on_border=template in on_border and not is_part(piece, block))
        square = _square(rule, units)
    label = piece.label + one.suffix
    name = parts.get(piece.label, template)
    return _Patch(one.fabrics[k], label, name, len(one.places), (max(wide, high), min(wide, high)), square)


def _square(rule: Rule | None, units: str) -> tuple[float, int] | None:
    """The square that gives a right triangle, and how many of it; None for other shapes."""
    if rule is None or rule.kind not in _FROM_A_SQUARE:
        return None
    ((lengths, added),) = rule.sizes
    side = cut_up(max(lengths) + added, units, metric_step_mm=5.0)
    return round(side, 3), _FROM_A_SQUARE[rule.kind]


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
