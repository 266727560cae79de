"""Layouts that all fit, side by side, for a person to choose from."""

from collections import Counter
from collections.abc import Mapping, Sequence

from seamsurvey.model import Block
from seamsurvey.sheets.block_figure import block_marks
from seamsurvey.sheets.colours import natural, template_colours
from seamsurvey.sheets.drawing import QUIET, Drawing, Mark, Text, placed
from seamsurvey.sheets.svg import write_svg
from seamsurvey.units import fraction_text, mm_text

ACROSS = 4  # pictures in a row
SIDE_MM = 60.0  # of the longer side of each
GAP_MM = 10.0
LINE_MM = 5.0  # from line to line of the words under a picture


def choices_svg(blocks: Sequence[Block], *, title: str, colours: Mapping[str, str], units: str) -> str:
    """The layouts as one SVG, numbered from 1 as ``--layout`` counts them; ``units`` is "inch" or "mm"."""
    names = sorted({piece.template for block in blocks for piece in block.pieces}, key=natural)
    by_template = template_colours(names, colours)
    rows = -(-len(blocks) // ACROSS)
    cell = SIDE_MM + GAP_MM, SIDE_MM + GAP_MM + 3 * LINE_MM
    columns = min(ACROSS, len(blocks))
    height = rows * cell[1] + GAP_MM
    marks: list[Mark] = []
    for k, block in enumerate(blocks):
        left = GAP_MM + (k % ACROSS) * cell[0]
        bottom = height - GAP_MM - SIDE_MM - (k // ACROSS) * cell[1]
        scale = SIDE_MM / max(block.width, block.height)
        fills = {piece.id: by_template[piece.template] for piece in block.pieces}
        marks += placed(block_marks(block, None, fills, scale=scale), 0, (left, bottom))
        for line, (text, size, weight) in enumerate(_words(k + 1, block, units)):
            at = (left, bottom - (line + 1) * LINE_MM)
            marks.append(
                Text(at=at, text=text, size_pt=size, weight=weight, colour="#1a1a1a" if not line else QUIET)
            )
    return write_svg(Drawing(columns * cell[0] + GAP_MM, height, tuple(marks)), title)


def _words(number: int, block: Block, units: str) -> list[tuple[str, float, str]]:
    write = fraction_text if units == "inch" else mm_text
    counts = Counter(piece.template for piece in block.pieces)
    listed = ", ".join(
        f"{name} ×{count}" if count > 1 else name
        for name, count in sorted(counts.items(), key=lambda item: natural(item[0]))
    )
    return [
        (f"Layout {number}", 11.0, "bold"),
        (f"{write(block.width)} × {write(block.height)}, symmetry: {block.symmetry}", 8.0, "regular"),
        (listed, 7.0, "regular"),
    ]
