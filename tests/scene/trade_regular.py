"""Plain regular blocks for the catalogue: bricks, coins, units in rows and grids, units framed.

Where the trade has no name for one, or none that comes to mind, what is drawn is said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from .geometry import polygon
from .trade_block import TradeBlock, drafted
from .trade_cells import in_cells
from .trade_units import (
    Pieces,
    box,
    boxed,
    goose,
    halves,
    kite,
    moved_by,
    nine_patch,
    on_point,
    quarters,
)

Unit = Callable[[int, int], Pieces]
_PINWHEEL = ("\\/", "/\\")


def regular_blocks() -> Iterator[TradeBlock]:
    """Bricks and coins, then grids, geese, frames, and those on 60 degrees."""
    yield from _courses()
    yield from _grids()
    yield from _geese()
    yield from _framed()
    yield from _slanted()


def _drawn(name: str, pieces: Pieces, w: float, h: float, size: float = 9) -> TradeBlock:
    return drafted(name, "square" if abs(w - h) < 1e-9 else "rectangle", boxed(pieces, w, h), size)


def bricks(rows: int, across: int) -> Pieces:
    """A running bond: bricks twice as long as high, every other row shifted by half of one."""
    pieces: Pieces = []
    for y in range(rows):
        shift = y % 2
        pieces += [box(2 * k + shift, y, 2, 1) for k in range(across - shift)]
        pieces += [box(0, y, 1), box(2 * across - 1, y, 1)] * shift
    return pieces


def _courses() -> Iterator[TradeBlock]:
    for rows, across in ((3, 2), (4, 2), (5, 2), (6, 2), (3, 3), (4, 3), (5, 3), (6, 3)):
        yield _drawn(f"running bond, {rows} by {across}", bricks(rows, across), 2 * across, rows)
    for many in (4, 5, 6, 7, 8):
        strips = [box(0, k, 3, 1) for k in range(many)]
        yield _drawn(f"coins and a bar, {many}", [*strips, box(3, 0, 1, many)], 4, many)
        bars = [box(-1, 0, 1, many), box(3, 0, 1, many)]
        yield _drawn(f"coins between bars, {many}", moved_by([*strips, *bars], 1, 0), 5, many)


def _grid(unit: Unit, across: int, down: int, side: float) -> Pieces:
    return [piece for i in range(across) for j in range(down) for piece in moved_by(unit(i, j), side * i, side * j)]


def _by_turns(one: Pieces, other: Pieces) -> Unit:
    return lambda i, j: other if (i + j) % 2 else one


def _grids() -> Iterator[TradeBlock]:
    """A unit again and again, or by turns with a plain square."""
    pinwheel, plain = in_cells(*_PINWHEEL), [box(0, 0, 2)]
    for across, down in ((3, 3), (2, 3), (2, 1), (3, 1)):
        yield _drawn(
            f"pinwheels, {across} by {down}", _grid(lambda _i, _j: pinwheel, across, down, 2), 2 * across, 2 * down
        )
        hourglasses = _grid(lambda _i, _j: quarters(0, 0, 1), across, down, 1)
        yield _drawn(f"hourglasses, {across} by {down}", hourglasses, across, down)
    for across in (2, 3):
        yield _drawn(
            f"pinwheels by turns, {across}",
            _grid(_by_turns(pinwheel, plain), across, across, 2),
            2 * across,
            2 * across,
        )
    square = [box(0, 0, 1)]
    for across in (4, 5):
        chequer = _grid(_by_turns(square, quarters(0, 0, 1)), across, across, 1)
        yield _drawn(f"hourglasses by turns, {across}", chequer, across, across)
        chequer = _grid(_by_turns(square, halves(0, 0, 1, rising=True)), across, across, 1)
        yield _drawn(f"halves by turns, {across}", chequer, across, across)
    yield _drawn("nine patches by turns", _grid(_by_turns(nine_patch(0, 0, 3), [box(0, 0, 3)]), 2, 2, 3), 6, 6)
    for high in (4, 6):
        yield _drawn(
            f"hourglasses in a row, {high}", _grid(lambda _i, _j: quarters(0, 0, 1), 1, high, 1), 1, high, 3
        )


def _geese() -> Iterator[TradeBlock]:
    """Columns of geese, with bars."""
    for many in (3, 4, 5, 6):
        column = [piece for k in range(many) for piece in goose(0, k, 2, 1, "N")]
        back = [piece for k in range(many) for piece in goose(0, k, 2, 1, "S")]
        yield _drawn(
            f"geese between bars, {many}",
            [*moved_by(column, 1, 0), box(0, 0, 1, many), box(3, 0, 1, many)],
            4,
            many,
        )
        yield _drawn(f"geese there and back, {many}", [*column, *moved_by(back, 2, 0)], 4, many)
        yield _drawn(
            f"geese on both sides of a bar, {many}", [*column, box(2, 0, 1, many), *moved_by(column, 3, 0)], 5, many
        )
    geese = [*goose(1, 3, 2, 1, "N"), *goose(1, 0, 2, 1, "S"), *goose(0, 1, 1, 2, "W"), *goose(3, 1, 1, 2, "E")]
    corners = in_cells(".  .", "    ", "    ", ".  .")
    for name, middle in (("a square", [box(1, 1, 2)]), ("a square on point", on_point(1, 1, 2))):
        yield _drawn(f"geese flying out from {name}", [*corners, *geese, *middle], 4, 4)


def _frame(side: float, *, cornered: bool) -> Pieces:
    """A frame 1 wide about a square from the origin; butted, or with squares in its corners."""
    if cornered:
        squares = [box(x, y, 1) for x in (-1, side) for y in (-1, side)]
        return [*squares, box(0, -1, side, 1), box(0, side, side, 1), box(-1, 0, 1, side), box(side, 0, 1, side)]
    return [box(0, -1, side, 1), box(0, side, side, 1), box(-1, -1, 1, side + 2), box(side, -1, 1, side + 2)]


def _framed() -> Iterator[TradeBlock]:
    """Units in a frame."""
    units: dict[str, tuple[Pieces, float]] = {
        "a four patch": (in_cells("..", ".."), 2),
        "a nine patch": (in_cells("...", "...", "..."), 3),
        "an hourglass": (quarters(0, 0, 2), 2),
        "a pinwheel": (in_cells(*_PINWHEEL), 2),
        "a square on point": (on_point(0, 0, 4), 4),
        "a friendship star": (in_cells("./.", "\\.\\", "./."), 3),
        "a churn dash": (in_cells("/=\\", "|.|", "\\=/"), 3),
        "an Ohio star": (in_cells(".X.", "X.X", ".X."), 3),
    }
    for name, (pieces, side) in units.items():
        for cornered in (False, True):
            framed = moved_by([*pieces, *_frame(side, cornered=cornered)], 1, 1)
            ending = " with cornerstones" if cornered else ""
            yield _drawn(f"{name} in a frame{ending}", framed, side + 2, side + 2)
    once = moved_by([box(0, 0, 2), *_frame(2, cornered=True)], 1, 1)
    twice = moved_by([*once, *_frame(4, cornered=True)], 1, 1)
    yield _drawn("a square in two frames with cornerstones", twice, 6, 6)


def _slanted() -> Iterator[TradeBlock]:
    """Kites and pyramids."""
    for name, corners in (("out", (0, 1, 2, 3)), ("in", (2, 3, 0, 1))):
        places = ((1, 1), (0, 1), (0, 0), (1, 0))
        kites = [p for corner, (x, y) in zip(corners, places, strict=True) for p in kite(x, y, 1, corner, 0.4)]
        yield _drawn(f"four kites, tips {name}", kites, 2, 2)
    high = math.sqrt(3) / 2
    for rows in (2, 4, 6):
        for across in (2, 3, 4):
            pieces = [piece for row in range(rows) for piece in moved_by(_pyramids(across, row % 2), 0, row * high)]
            yield _drawn(f"pyramids, {rows} by {across}", pieces, across, rows * high)


def _pyramids(across: int, down: int) -> Pieces:
    """A row of equilateral triangles of side 1, halved at its ends; pointing down first where ``down``."""
    high = math.sqrt(3) / 2
    foot, top = (high, 0.0) if down else (0.0, high)
    found = [[(k, foot), (k + 1, foot), (k + 0.5, top)] for k in range(across)]
    found += [[(k + 0.5, top), (k + 1, foot), (k + 1.5, top)] for k in range(across - 1)]
    found += [[(0, foot), (0.5, top), (0, top)], [(across, foot), (across, top), (across - 0.5, top)]]
    return [polygon(corners[::-1] if _clockwise(corners) else corners) for corners in found]


def _clockwise(corners: list[tuple[float, float]]) -> bool:
    (ax, ay), (bx, by), (cx, cy) = corners
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax) < 0
