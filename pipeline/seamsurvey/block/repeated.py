"""Blocks of equal cells in rows and columns: one cell is filled, then laid again and again.

A block that repeats itself by shifts has none of its outline's symmetries to be searched by; but all its counts can
be divided by the number of cells, and a cell is small. Cells may lie all alike, or every second one turned or
mirrored, by column, by row, or like the squares of a chessboard.
"""

from collections.abc import Callable, Iterator, Sequence

from seamsurvey.block.fill import Budget, Filling
from seamsurvey.block.groups import Shift, groups, isometries
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.tiles import Places
from seamsurvey.block.work import Work

_MOST_ACROSS = 9
_STEPS = 400  # pieces laid for each group of one cell
_MOST_FILLINGS = 30  # of one cell, and of each group
_MOST_KEPT = 40  # fillings of one cell that are laid again and again


def repeated_layouts(
    shapes: Shapes, places: Places, stock: Sequence[int], width: float, height: float, work: Work
) -> Iterator[tuple[int, ...]]:
    """Layouts of a rectangle, each as the numbers of its tiles in ``places``."""
    for across in range(1, _MOST_ACROSS + 1):
        for down in range(1, _MOST_ACROSS + 1):
            cells = across * down
            if cells > 1 and all(n % cells == 0 for n in stock) and not work.over():
                for numbers in _of_cells(
                    shapes, places, [n // cells for n in stock], (width, height), (across, down), work
                ):
                    # Cells that are mirrored show other faces, of which there may not be so many.
                    if _uses(places, numbers) == list(stock):
                        yield numbers


def _of_cells(
    shapes: Shapes,
    places: Places,
    stock: Sequence[int],
    size: tuple[float, float],
    grid: tuple[int, int],
    work: Work,
) -> Iterator[tuple[int, ...]]:
    across, down = grid
    wide, tall = size[0] / across, size[1] / down
    ring = (0j, complex(wide, 0), complex(wide, tall), complex(0, tall))
    used = sorted({face.template for face in places.faces})
    by_face = [False] * len(shapes.names)
    for t, over in places.kinds:
        by_face[t] = by_face[t] or over
    cell = Places(shapes, used, ring, places.near, by_face=by_face)
    moves = isometries(ring, places.near)
    known: set[tuple[int, ...]] = set()
    for group in groups(moves):
        filling = Filling(cell, group, _in_order_of(cell, places, stock), Budget(_STEPS), work)
        for number, numbers in enumerate(filling.run()):
            if numbers is None or number >= _MOST_FILLINGS or len(known) >= _MOST_KEPT:
                break
            mark = cell.canonical(numbers, moves)
            if mark not in known:
                known.add(mark)
                for way in _ways(moves):
                    yield _laid(cell, places, numbers, way, grid, (wide, tall))


def _uses(places: Places, numbers: Sequence[int]) -> list[int]:
    uses = [0] * len(places.kinds)
    for number in numbers:
        uses[places.kind[places.tiles[number].face.index]] += 1
    return uses


def _in_order_of(cell: Places, places: Places, stock: Sequence[int]) -> tuple[int, ...]:
    by_kind = dict(zip(places.kinds, stock, strict=True))
    return tuple(by_kind.get(kind, 0) for kind in cell.kinds)


def _ways(moves: Sequence[Shift]) -> Iterator[Callable[[int, int], Shift]]:
    """Which move of the cell onto itself the cell in column i and row j is laid with."""
    still, *others = moves
    yield lambda _i, _j: still
    for move in others:
        if abs(move.turn - 1) < 1e-6 and not move.mirrored:
            continue
        yield lambda i, _j, m=move: m if i % 2 else still  # type: ignore[misc]
        yield lambda _i, j, m=move: m if j % 2 else still  # type: ignore[misc]
        yield lambda i, j, m=move: m if (i + j) % 2 else still  # type: ignore[misc]


def _laid(
    cell: Places,
    places: Places,
    numbers: Sequence[int],
    way: Callable[[int, int], Shift],
    grid: tuple[int, int],
    size: tuple[float, float],
) -> tuple[int, ...]:
    found = []
    for i in range(grid[0]):
        for j in range(grid[1]):
            move, by = way(i, j), complex(i * size[0], j * size[1])
            for number in numbers:
                tile = cell.image(cell.tiles[number], move)
                found.append(places.tile(tile.face, [z + by for z in tile.corners]).number)
    return tuple(found)
