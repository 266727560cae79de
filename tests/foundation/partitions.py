"""All partitions of a grid of cells into rectangles, by exhaustion."""

from collections.abc import Callable, Iterator

from seamsurvey.model import Block, Piece
from tests.foundation.blocks import rectangle

Box = tuple[int, int, int, int]  # column, row, columns, rows
Cell = tuple[int, int]


def partitions(columns: int, rows: int) -> Iterator[tuple[Box, ...]]:
    """Every partition: fill the first free cell with each rectangle that has it as its corner."""
    yield from _filled(frozenset(), columns, rows, (), lambda _: True)


def diagonal_partitions(count: int) -> Iterator[tuple[Box, ...]]:
    """Partitions of a square into rectangles by count - 1 segments, each kind once.

    Each kind has exactly one drawing on a count x count grid in which every rectangle holds one cell of the
    diagonal (S. Law and N. Reading, The Hopf algebra of diagonal rectangulations, 2012; from memory).
    """
    yield from _filled(frozenset(), count, count, (), lambda cells: sum(x == y for x, y in cells) == 1)


def _filled(
    taken: frozenset[Cell], columns: int, rows: int, boxes: tuple[Box, ...], fits: Callable[[set[Cell]], bool]
) -> Iterator[tuple[Box, ...]]:
    free = next(((x, y) for y in range(rows) for x in range(columns) if (x, y) not in taken), None)
    if free is None:
        yield boxes
        return
    x, y = free
    for width in range(1, columns - x + 1):
        if (x + width - 1, y) in taken:
            break
        for height in range(1, rows - y + 1):
            cells = {(x + i, y + j) for i in range(width) for j in range(height)}
            if fits(cells):
                yield from _filled(taken | cells, columns, rows, (*boxes, (x, y, width, height)), fits)


def as_block(boxes: tuple[Box, ...]) -> Block:
    """A partition drawn with cells of 30 mm."""
    outlines = [rectangle(30 * x, 30 * y, 30 * w, 30 * h) for x, y, w, h in boxes]
    return Block(
        outline=rectangle(0, 0, 30 * max(x + w for x, _, w, _ in boxes), 30 * max(y + h for _, y, _, h in boxes)),
        pieces=tuple(
            Piece(id=str(k), template=str(k), reversed=False, outline=outline) for k, outline in enumerate(outlines)
        ),
    )
