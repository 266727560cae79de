"""Layouts that all fit, side by side at one scale, for a person to choose from: what differs is marked."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from attrs import frozen

from seamsurvey.model import Array, Block
from seamsurvey.sheets.block_figure import BORDER, SEAM
from seamsurvey.sheets.colours import mixed, natural, readable_on
from seamsurvey.sheets.drawing import QUIET, Drawing, Mark, Pen, Text, placed, polygon
from seamsurvey.sheets.labels import Label, inside, led
from seamsurvey.sheets.seams import straightened
from seamsurvey.sheets.svg import write_svg
from seamsurvey.sheets.type import broken, line_mm
from seamsurvey.sheets.words import SAME_MM, count_text, size_text

ACROSS = 4  # pictures in a row
SIDE_MM = 60.0  # of the longest side of the largest layout
GAP_MM = 12.0
_ROUND_MM = 8.0  # white round a picture for the labels of pieces too small to hold one
_HEAD_PT, _SIZE_PT, _TEXT_PT = 11.0, 8.0, 7.5
LIGHTEST, DARKEST = "#f6efdc", "#2f4a63"
DIFFERENT = Pen(1.1, "#b3261e")


def choices_svg(blocks: Sequence[Block], *, title: str, colours: Mapping[str, str], units: str) -> str:
    """The layouts as one SVG, numbered from 1 as ``--layout`` counts them; ``units`` is "inch" or "mm".

    Pieces are light where their template lies at the blocks' borders and dark where it lies within, so that stars
    and pinwheels stand out, unless ``colours`` says otherwise. Pieces that the layout before has not are outlined.
    """
    fills = values(blocks, colours)
    columns = min(ACROSS, len(blocks))
    scale = SIDE_MM / max(max(block.width, block.height) for block in blocks)
    cells = [_cell(blocks, k, fills, scale, units) for k in range(len(blocks))]
    rows = [cells[k : k + columns] for k in range(0, len(cells), columns)]
    height = GAP_MM + sum(max(cell.height for cell in row) + GAP_MM for row in rows)
    marks: list[Mark] = []
    top = height - GAP_MM
    for row in rows:
        for k, cell in enumerate(row):
            marks += placed(cell.marks, 0, (GAP_MM + k * (SIDE_MM + GAP_MM), top - cell.height))
        top -= max(cell.height for cell in row) + GAP_MM
    return write_svg(Drawing(columns * (SIDE_MM + GAP_MM) + GAP_MM, height, tuple(marks)), title)


@frozen
class _Cell:
    marks: tuple[Mark, ...]  # from the lower left
    height: float


def _cell(blocks: Sequence[Block], k: int, fills: Mapping[str, str], scale: float, units: str) -> _Cell:
    """One layout with its words below it, broken to the picture's width."""
    block = blocks[k]
    new = differing(blocks[k - 1], block) if k else None
    outlined = new if new and len(new) <= len(block.pieces) / 2 else ()
    lines = [
        (line, size, weight)
        for text, size, weight in _words(k + 1, block, new, units)
        for line in broken(text, size, SIDE_MM, weight)
    ]
    drawn = _block(block, fills, scale, outlined)
    led_under = _ROUND_MM - 2.0 if any(isinstance(mark, Text) and mark.at[1] < 0 for mark in drawn) else 0.0
    below = sum(line_mm(size) for _, size, _ in lines) + 3.0 + led_under
    marks = list(placed(drawn, 0, (0.0, below)))
    y = below - 2.0 - led_under
    for n, (text, size, weight) in enumerate(lines):
        y -= line_mm(size)
        marks.append(Text(at=(0.0, y), text=text, size_pt=size, weight=weight, colour=QUIET if n else "#1a1a1a"))
    return _Cell(tuple(marks), below + block.height * scale)


def _block(block: Block, fills: Mapping[str, str], scale: float, new: Sequence[str]) -> list[Mark]:
    marks: list[Mark] = [
        polygon(piece.drawn * scale, fill=fills[piece.template], pen=SEAM, layer="pieces") for piece in block.pieces
    ]
    marks += [polygon(block.piece(name).drawn * scale, pen=DIFFERENT, layer="different") for name in new]
    marks.append(polygon(straightened(block.outline) * scale, pen=BORDER, layer="outline"))
    taken: list[shapely.Polygon] = []
    labelled = set()
    for piece in block.pieces:
        found = inside(piece.drawn * scale, Label(piece.template, "", 9.0), readable_on(fills[piece.template]))
        if found:
            marks += found[0]
            taken.append(found[1])
            labelled.add(piece.template)
    # A template none of whose pieces holds its name is led to once, from beside the block.
    shape = shapely.Polygon(block.outline * scale)
    around = shape.buffer(_ROUND_MM, join_style="mitre").difference(shape.buffer(0.8))
    for piece in block.pieces:
        if piece.template not in labelled:
            beside = led(piece.drawn * scale, Label(piece.template), around, taken)
            if beside:
                marks += beside[0]
                taken.append(beside[1])
                labelled.add(piece.template)
    return marks


def values(blocks: Sequence[Block], colours: Mapping[str, str]) -> dict[str, str]:
    """A colour for each template from light to dark, by how much of its edges lies on the blocks' borders."""
    on_border: dict[str, float] = defaultdict(float)
    around: dict[str, float] = defaultdict(float)
    for block in blocks:
        rim = shapely.LinearRing(block.outline).buffer(0.05)
        for piece in block.pieces:
            ring = shapely.LinearRing(piece.drawn)
            on_border[piece.template] += ring.intersection(rim).length
            around[piece.template] += ring.length
    order = sorted(around, key=lambda name: (-on_border[name] / around[name], natural(name)))
    steps = max(1, len(order) - 1)
    return {
        name: colours.get(name) or mixed(LIGHTEST, DARKEST, k / steps) for k, name in enumerate(order)
    }  # fmt: skip


def differing(before: Block, block: Block) -> tuple[str, ...] | None:
    """The pieces of a layout that the one before has not in the same place, however it is turned or turned over.

    None where the two have not the same size: everything differs then.
    """
    if abs(before.width - block.width) > SAME_MM or abs(before.height - block.height) > SAME_MM:
        return None
    return min((_unmatched(seen, block) for seen in _turned(before)), key=len)


def _turned(block: Block) -> list[list[tuple[str, Array]]]:
    """The pieces of a block at every quarter turn, face up and over, its lower left at the origin."""
    found = []
    for flip in (1.0, -1.0):
        for quarter in range(4):
            turn = np.linalg.matrix_power(np.array([[0.0, 1.0], [-1.0, 0.0]]), quarter) * np.array([flip, 1.0])
            corner = (block.outline @ turn).min(axis=0)
            found.append([(piece.template, piece.drawn @ turn - corner) for piece in block.pieces])
    return found


def _unmatched(seen: Sequence[tuple[str, Array]], block: Block) -> tuple[str, ...]:
    places: dict[str, list[shapely.Polygon]] = {}
    for template, outline in seen:
        places.setdefault(template, []).append(shapely.Polygon(outline))
    corner = block.outline.min(axis=0)
    return tuple(
        piece.id for piece in block.pieces if not _among(places.get(piece.template, []), piece.drawn - corner)
    )


def _among(shapes: Sequence[shapely.Polygon], outline: Array) -> bool:
    shape = shapely.Polygon(outline)
    middle = shape.centroid
    return any(
        other.centroid.distance(middle) < SAME_MM
        and shape.symmetric_difference(other).area < SAME_MM * shape.length
        for other in shapes
    )


_TURNS = {
    "none": "no symmetry",
    "half-turn": "the same after a half turn",
    "quarter-turn": "the same after a quarter turn",
    "third-turn": "the same after a third of a turn",
    "sixth-turn": "the same after a sixth of a turn",
    "mirror": "its own mirror image",
    "mirror-diagonal": "its own mirror image across a diagonal",
    "both": "its own mirror image both ways",
}


def _words(number: int, block: Block, new: Sequence[str] | None, units: str) -> list[tuple[str, float, str]]:
    counts = Counter(piece.template for piece in block.pieces)
    listed = [f"{counts[name]} of {name}" for name in sorted(counts, key=natural) if counts[name] > 1]
    single = [name for name in sorted(counts, key=natural) if counts[name] == 1]
    if single:
        listed.append(f"one{' each' if len(single) > 1 else ''} of {', '.join(single)}")
    size = size_text(block.width, block.height, units)
    words = [
        (f"Layout {number}", _HEAD_PT, "bold"),
        (f"{size}, {_TURNS.get(block.symmetry, block.symmetry)}", _SIZE_PT, "regular"),
        (", ".join(listed), _TEXT_PT, "regular"),
    ]
    if number > 1:
        words.append((_difference(number - 1, block, new), _TEXT_PT, "regular"))
    return words


def _difference(before: int, block: Block, new: Sequence[str] | None) -> str:
    """What makes a layout another than the one before it."""
    if new is None:
        return f"Another size than layout {before}."
    if not new:
        return f"The same pieces in the same places as layout {before}."
    if len(new) > len(block.pieces) / 2:
        return f"Most pieces lie elsewhere than in layout {before}."
    lie = "lies" if len(new) == 1 else "lie"
    return f"Outlined in red: {count_text(len(new), 'piece', 'pieces')} that {lie} otherwise in layout {before}."
