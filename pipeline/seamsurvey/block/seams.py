"""The seams of a closed layout: every straight stretch along which two pieces meet."""

import itertools

import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Piece, Seam

Array = NDArray[np.float64]

# Vertices of a closed layout are on an edge to within rounding or off it by many times this.
_ON_EDGE_MM = 1e-6


def seams_of(pieces: tuple[Piece, ...]) -> tuple[Seam, ...]:
    """All seams; each runs from its start to its end with the first of its pieces on its left."""
    vertices = np.unique(np.vstack([piece.outline for piece in pieces]), axis=0)
    owner: dict[tuple[tuple[float, float], tuple[float, float]], str] = {}
    for piece in pieces:
        for start, end in _stretches(piece.outline, vertices):
            owner[start, end] = piece.id
    return tuple(
        Seam(start, end, (first, owner[end, start]))
        for (start, end), first in owner.items()
        if (end, start) in owner and (start, end) < (end, start)
    )


def _stretches(outline: Array, vertices: Array) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """The outline's edges, broken at every vertex of the layout that lies on them."""
    result = []
    for k, start in enumerate(outline):
        end = outline[(k + 1) % len(outline)]
        along = end - start
        length = float(np.hypot(*along))
        along = along / length
        offset = vertices - start
        ahead = offset @ along
        aside = np.abs(offset[:, 0] * along[1] - offset[:, 1] * along[0])
        on_edge = vertices[(aside < _ON_EDGE_MM) & (ahead > _ON_EDGE_MM) & (ahead < length - _ON_EDGE_MM)]
        on_edge = on_edge[np.argsort((on_edge - start) @ along)]
        stops = [_pair(p) for p in (start, *on_edge, end)]
        result += list(itertools.pairwise(stops))
    return result


def _pair(point: Array) -> tuple[float, float]:
    return float(point[0]), float(point[1])
