"""The seams of a closed layout: every straight stretch, and every arc, along which two pieces meet."""

import itertools

import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Piece, Seam

Array = NDArray[np.float64]

_Stretch = tuple[tuple[float, float], tuple[float, float], float]
"""Start, end and bulge."""

# Vertices of a closed layout are on an edge to within rounding or off it by many times this.
_ON_EDGE_MM = 1e-6


def seams_of(pieces: tuple[Piece, ...]) -> tuple[Seam, ...]:
    """All seams; each runs from its start to its end with the first of its pieces on its left."""
    vertices = np.unique(np.vstack([piece.outline for piece in pieces]), axis=0)
    owner: dict[_Stretch, str] = {}
    for piece in pieces:
        for stretch in _stretches(piece, vertices):
            owner[stretch] = piece.id
    return tuple(
        Seam(start, end, (first, owner[end, start, -bulge]), bulge)
        for (start, end, bulge), first in owner.items()
        if (end, start, -bulge) in owner and (start, end) < (end, start)
    )


def _stretches(piece: Piece, vertices: Array) -> list[_Stretch]:
    """The outline's edges with their bulges, straight ones broken at the layout's vertices that lie on them."""
    outline = piece.outline
    result: list[_Stretch] = []
    for k, start in enumerate(outline):
        end = outline[(k + 1) % len(outline)]
        if piece.bulges and piece.bulges[k]:
            result.append((_pair(start), _pair(end), piece.bulges[k]))
            continue
        along = end - start
        length = float(np.hypot(*along))
        along = along / length
        offset = vertices - start
        ahead = offset @ along
        aside = np.abs(offset[:, 0] * along[1] - offset[:, 1] * along[0])
        on_edge = vertices[(aside < _ON_EDGE_MM) & (ahead > _ON_EDGE_MM) & (ahead < length - _ON_EDGE_MM)]
        on_edge = on_edge[np.argsort((on_edge - start) @ along)]
        stops = [_pair(p) for p in (start, *on_edge, end)]
        result += [(a, b, 0.0) for a, b in itertools.pairwise(stops)]
    return result


def _pair(point: Array) -> tuple[float, float]:
    return float(point[0]), float(point[1])
