"""How a closed layout is laid before the reader: turned the same way every time, its pieces named in order."""

import numpy as np
from attrs import evolve
from numpy.typing import NDArray

from seamsurvey.block.close import Closed
from seamsurvey.block.outlines import SQUARE
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.symmetry import isometries
from seamsurvey.geometry import centroid
from seamsurvey.model import Piece

Array = NDArray[np.float64]

_SAME_MM = 0.5  # places nearer than this count as equal when turns are compared, so that noise doesn't choose


def oriented(shapes: Shapes, layout: Layout, closed: Closed) -> tuple[Array, tuple[Piece, ...]]:
    """The block's outline (m, 2) and its pieces, block frame, origin at the lower left.

    Of the outline's turns (a rectangle may also lie on its side, unless its shape was asked for) that one is taken
    that brings the first template's pieces lowest, then furthest left, then the next template's. Pieces of a
    template are numbered from the lowest, then furthest left.
    """
    vertices, (width, height) = min(_turns(layout, closed), key=lambda turn: _sight(layout, turn[0]))
    outline = np.array([[corner.real, corner.imag] for corner in layout.outline.at(width, height)])
    pieces: list[Piece] = []
    for t, name in enumerate(shapes.names):
        mine = [(over, vertices[list(corners)]) for u, over, corners in layout.pieces if u == t]
        mine.sort(key=lambda piece: _place(centroid(piece[1])))
        pieces += [
            Piece(id=f"{name}-{k}", template=name, reversed=over, outline=place, bulges=closed.bows.of(t, over))
            for k, (over, place) in enumerate(mine, start=1)
        ]
    return outline, tuple(pieces)


def scaled(outline: Array, pieces: tuple[Piece, ...], scale: float) -> tuple[Array, tuple[Piece, ...]]:
    """Everything made so many times larger; shared vertices stay identical."""
    return outline * scale, tuple(evolve(piece, outline=piece.outline * scale) for piece in pieces)


def _turns(layout: Layout, closed: Closed) -> list[tuple[Array, tuple[float, float]]]:
    """(vertices, size) for every turn that lays the outline on itself, a rectangle also on its side."""
    if len(layout.outline.corners) == len(SQUARE.corners):
        given = layout.outline.aspect not in {None, 1.0}  # width and height were asked for: it stays upright
        return [_turned(closed.vertices, closed.size, quarter) for quarter in range(0, 4, 2 if given else 1)]
    found = []
    for move in isometries(layout.outline, closed.size, _SAME_MM):
        if not move.mirrored:
            moved = [move.to(complex(x, y), closed.size) for x, y in closed.vertices]
            found.append((np.array([[z.real, z.imag] for z in moved]), closed.size))
    return found


def _turned(vertices: Array, size: tuple[float, float], quarters: int) -> tuple[Array, tuple[float, float]]:
    """Quarter turns counter-clockwise, exact: corners stay on the block's sides to the last bit."""
    width, height = size
    for _ in range(quarters):
        vertices = np.column_stack([height - vertices[:, 1], vertices[:, 0]])
        width, height = height, width
    return vertices, (width, height)


def _sight(layout: Layout, vertices: Array) -> list[tuple[int, list[tuple[int, int]]]]:
    """What a turn looks like, for comparison: by template, the pieces' places from the lowest on."""
    places: dict[int, list[tuple[int, int]]] = {}
    for t, _, corners in layout.pieces:
        places.setdefault(t, []).append(_place(vertices[list(corners)].mean(axis=0)))
    return [(t, sorted(places[t])) for t in sorted(places)]


def _place(point: Array) -> tuple[int, int]:
    return round(float(point[1]) / _SAME_MM), round(float(point[0]) / _SAME_MM)
