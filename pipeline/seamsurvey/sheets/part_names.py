"""Names for the parts of pieces that added seams divide: equal parts share one, T1a, T1b, or kite a, kite b."""

from collections.abc import Iterator

import shapely

from seamsurvey.geometry import counter_clockwise, same_shape
from seamsurvey.model import Array, Block, FoundationPlan, SectionPiece
from seamsurvey.sheets.colours import natural

# Parts come from adjusted pieces, equal to rounding; any two that a needle could tell apart differ by far more.
EQUAL_MM = 0.05


def part_names(plan: FoundationPlan, block: Block) -> dict[str, str]:
    """The name of every part by the label of its patch: the template's with a letter, the same for equal parts.

    Parts that are each other's mirror images have two: they are cut from templates that differ.
    """
    shapes: dict[str, list[Array]] = {}
    names = {}
    parted = ((piece, block.piece(piece.piece).template) for piece in _parts(plan, block))
    for piece, template in sorted(parted, key=lambda one: (natural(one[1]), natural(one[0].label))):
        known = shapes.setdefault(template, [])
        outline = counter_clockwise(piece.outline)
        number = next((k for k, other in enumerate(known) if same_shape(outline, other, EQUAL_MM)), len(known))
        if number == len(known):
            known.append(outline)
        names[piece.label] = f"{template}{'' if template[-1:].isdigit() else ' '}{_letter(number)}"
    return names


def is_part(piece: SectionPiece, block: Block) -> bool:
    """Whether a patch is less than a whole piece of the block."""
    whole = shapely.Polygon(block.piece(piece.piece).drawn).area
    return piece.unit is None and shapely.Polygon(piece.drawn).area < 0.999 * whole


def _parts(plan: FoundationPlan, block: Block) -> Iterator[SectionPiece]:
    for section in plan.sections:
        for piece in section.pieces:
            if is_part(piece, block):
                yield piece


def _letter(number: int) -> str:
    """a, b, ... z, aa, ab, ..."""
    name = ""
    number += 1
    while number:
        number, letter = divmod(number - 1, 26)
        name = chr(ord("a") + letter) + name
    return name
