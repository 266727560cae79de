"""The other layouts that fit: what is said of them, and their small pictures."""

from collections.abc import Mapping, Sequence

from attrs import frozen

from seamsurvey.claims import layout_claim
from seamsurvey.model import Block, Reason
from seamsurvey.sheets.block_figure import block_marks
from seamsurvey.sheets.choices import values
from seamsurvey.sheets.drawing import INK, Mark, Text, placed
from seamsurvey.sheets.type import line_mm
from seamsurvey.sheets.words import count_text

_NUMBER_PT = 8.0
# Of a logarithm of odds: e to the power of 0.7 is two to one, of 2.3 ten to one.
_A_LITTLE, _STRONGLY = 0.7, 2.3


@frozen
class Rivals:
    """All layouts that are shown, in the order of ``--layout``; ``number``, from 1, is the one that is drawn."""

    layouts: tuple[Block, ...]
    number: int
    by_person: bool = False  # whether somebody took it, or it is only the likeliest

    @property
    def others(self) -> list[int]:
        """The numbers of the other ones."""
        return [number for number in range(1, len(self.layouts) + 1) if number != self.number]

    @property
    def claim(self) -> str:
        """What the search can claim of the one that is drawn."""
        proof, shown = self.layouts[self.number - 1].proof, len(self.layouts)
        more = f" The first {shown} are shown." if proof.layouts_found > shown else ""
        return layout_claim(proof, self.number) + more


def how_to_take(rivals: Rivals) -> str:
    """One sentence: what to do if another layout is the block that is meant."""
    again = f"run the same command again with its number: --layout {rivals.others[0]}"
    if rivals.by_person:
        return f"You took it. To take another, {again}."
    return f"If it is not your block, find yours among {_listed(rivals.others)} and {again}."


def _listed(numbers: Sequence[int]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"layouts {numbers[0]} to {numbers[-1]}"
    *most, last = map(str, numbers)
    return f"layouts {', '.join(most)} and {last}" if most else f"layout {last}"


def rival_pictures(
    rivals: Rivals, colours: Mapping[str, str], side_mm: float
) -> list[tuple[int, list[Mark], float, float]]:
    """Of each other layout its number, its marks from the origin up, and their width and height, mm.

    All are drawn at one scale, light to dark as in layouts.svg, or in the ``colours`` ("#rrggbb" by template or
    piece) that the person gave. Under each stands its number.
    """
    by_template = values(rivals.layouts, colours)
    scale = side_mm / max(max(block.width, block.height) for block in rivals.layouts)
    below = line_mm(_NUMBER_PT) + 0.8
    found = []
    for number in rivals.others:
        block = rivals.layouts[number - 1]
        fills = {piece.id: by_template[piece.template] for piece in block.pieces}
        # Letters would only be in the way: the shapes and colours tell.
        drawn = [m for m in block_marks(block, None, fills, scale=scale) if not isinstance(m, Text)]
        marks = [
            *placed(drawn, 0, (0.0, below)),
            Text(at=(0.0, 0.8), text=f"Layout {number}", size_pt=_NUMBER_PT, weight="bold", colour=INK),
        ]
        found.append((number, marks, block.width * scale, below + block.height * scale))
    return found


def against(rivals: Rivals, number: int) -> str:
    """What speaks most for the layout that is drawn and less for this one, in half a sentence; "" where nothing."""
    drawn = {reason.name: reason.points for reason in rivals.layouts[rivals.number - 1].reasons}
    reasons = rivals.layouts[number - 1].reasons
    if not reasons:
        return ""
    most = min(reasons, key=lambda reason: reason.points - drawn.get(reason.name, 0.0))
    return f"{most.name}: {most.text}" if most.points < drawn.get(most.name, 0.0) else ""


def counts_for(reason: Reason) -> str:
    """How much a reason counts, in words."""
    size = abs(reason.points)
    if size < 0.05:
        return "neither for nor against it"
    strength = "a little " if size < _A_LITTLE else "strongly " if size >= _STRONGLY else ""
    return f"{strength}{'for' if reason.points > 0 else 'against'} it"


def others_fit(rivals: Rivals) -> str:
    """``4 other layouts fit``, as many as the search knows of."""
    proof = rivals.layouts[rivals.number - 1].proof
    others = max(proof.layouts_found, len(rivals.layouts)) - 1
    text = f"{count_text(others, 'other layout fits', 'other layouts fit')}"
    return text if proof.searched_all else f"At least {text}"
