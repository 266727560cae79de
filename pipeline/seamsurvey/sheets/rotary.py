"""Cutting without paper: each template's exact size where a ruler has it, else the template itself."""

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from attrs import frozen

from seamsurvey.geometry import counter_clockwise
from seamsurvey.model import Block
from seamsurvey.sheets.colours import natural
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.seams import TOUCH_MM, straightened
from seamsurvey.sheets.trade import Rule, exact, on_ruler, roomy, rule_of
from seamsurvey.sheets.trimmed import Unit, units_of_triangles
from seamsurvey.sheets.words import length_text, size_text

_OF_A_SQUARE = {"halves": 2, "quarters": 4}


@frozen(kw_only=True)
class RotaryRow:
    """All patches of one template and fabric, cut to be sewn without paper."""

    fabric: Fabric
    template: str
    per_block: int
    reversed: int  # of those, how many are turned over
    text: str
    sizes_mm: tuple[float, ...]  # set on the ruler: exact, or with room where the unit is trimmed; () by template
    trimmed_mm: tuple[float, float] | None = None  # the sewn unit they are trimmed in, allowance included


def rotary_rows(
    block: Block, fabrics: Mapping[str, Fabric], order: Sequence[Fabric], *, allowance_mm: float, units: str
) -> tuple[RotaryRow, ...]:
    """One row for each template of each fabric, in the order of the fabrics.

    A size is told only if the patches sewn from it make the block that is drawn: see ``trade.on_ruler``. Triangles,
    whose sizes a ruler hardly ever has, are cut with room where all of them are sewn into squares or rectangles
    that are then trimmed to an exact size; else by template.
    """
    on_border = long_side_on_border(block)
    rules: dict[str, Rule | None] = {}
    for piece in block.pieces:
        outer = piece.template in on_border
        outline = counter_clockwise(straightened(piece.outline))
        rules[piece.id] = None if any(piece.bulges) else rule_of(outline, allowance_mm, long_side_on_border=outer)
    units_of = units_of_triangles(block, rules)
    whole = max(block.width, block.height)
    groups: dict[tuple[Fabric, str], list[str]] = {}
    for piece in block.pieces:
        groups.setdefault((fabrics[piece.id], piece.template), []).append(piece.id)
    turned = Counter((fabrics[p.id], p.template) for p in block.pieces if p.reversed)
    rows = []
    for fabric, template in sorted(groups, key=lambda key: (order.index(key[0]), natural(key[1]))):
        ids = groups[fabric, template]
        pieces = [(rules[one], units_of.get(one)) for one in ids]
        text, sizes, trimmed = _told(pieces, template, allowance_mm, units, whole)
        rows.append(
            RotaryRow(
                fabric=fabric, template=template, per_block=len(ids), reversed=turned[fabric, template],
                text=text, sizes_mm=sizes, trimmed_mm=trimmed,
            )
        )  # fmt: skip
    return tuple(rows)


def _told(
    pieces: Sequence[tuple[Rule | None, Unit | None]], template: str, s: float, units: str, whole: float
) -> tuple[str, tuple[float, ...], tuple[float, float] | None]:
    """How the pieces of one template are cut: in words, the sizes named, and what the unit is trimmed to."""
    by_template = f"cut by template {template}"
    rules = [rule for rule, _ in pieces if rule is not None]
    if len(rules) < len(pieces):
        return by_template, (), None
    told = [exact(rule, units, whole) for rule in rules]
    if all(one is not None and one == told[0] for one in told) and told[0] is not None:
        return told[0].text, told[0].sizes_mm, None
    if any(rule.kind not in _OF_A_SQUARE for rule in rules):
        return by_template, (), None
    rough = roomy(max(rules, key=lambda rule: max(rule.sizes[0][0])), units)
    sizes = {_trimmed(unit, s, units, whole) for _, unit in pieces}
    if len(sizes) == 1 and (size := sizes.pop()) is not None:
        trim = size_text(*size, units) if size[0] > size[1] else f"{length_text(size[0], units)} square"
        numbers = {len(unit.pieces) for _, unit in pieces if unit}
        of = f" of {numbers.pop()}" if len(numbers) == 1 else ""
        return f"{rough.text}; trim the sewn unit{of} to {trim}", rough.sizes_mm, size
    number_of = _OF_A_SQUARE[rules[0].kind]
    return f"{by_template}: {number_of} from a square {length_text(rough.sizes_mm[0], units)}", (), None


def _trimmed(unit: Unit | None, s: float, units: str, whole: float) -> tuple[float, float] | None:
    """What a unit of triangles is trimmed to with its allowance; None where no ruler has that."""
    if unit is None:
        return None
    longer, shorter = (on_ruler((side,), 2 * s, units, whole) for side in unit.sides)
    return None if longer is None or shorter is None else (longer, shorter)


def long_side_on_border(block: Block) -> set[str]:
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
