"""From a card's edges to its finished outline where some are arcs, and how that moves with every error.

An outline is here one row of numbers: its corners x0, y0, x1, ... and then, for each arc in turn, its rise, how far
its middle lies outwards of its chord (mm). Two corners and the rise are an arc's radius, sweep and length.
"""

import math
from collections.abc import Callable, Sequence

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.arcs import along_arc, sweep_of
from seamsurvey.curves import bulge_between, offset_outline
from seamsurvey.geometry import edge_lengths, edge_vectors
from seamsurvey.model import Plane
from seamsurvey.templates.fitted import FittedEdge, bulges_of, corner_of
from seamsurvey.templates.wobble import Wobble

Floats = NDArray[np.float64]

_STEP_MM = 1e-4  # of the difference quotients; outlines are nearly linear in their errors over this


@frozen(kw_only=True)
class Bowed:
    """An outline with arcs: ``corners`` (n, 2) mm, ``bulges`` of its edges, as in ``arcs``."""

    corners: Floats = field(eq=False)
    bulges: tuple[float, ...]

    @property
    def row(self) -> Floats:
        """The corners, and the rise of each arc."""
        rises = edge_lengths(self.corners) * np.array(self.bulges) / 2
        return np.concatenate([self.corners.ravel(), rises[np.array(self.bulges) != 0]])

    def with_row(self, row: Floats) -> "Bowed":
        """The outline of another row, with the same edges curved."""
        corners = row[: self.corners.size].reshape(-1, 2)
        rises = iter(row[self.corners.size :])
        chords = edge_lengths(corners)
        bulges = [2 * float(next(rises)) / chords[k] if bulge else 0.0 for k, bulge in enumerate(self.bulges)]
        return Bowed(corners=corners, bulges=tuple(bulges))

    def with_three_corners(self) -> "Bowed":
        """An outline of two edges with the middles of its arcs for corners, too; any other as it is."""
        if len(self.corners) > 2:
            return self
        corners: list[Floats] = []
        bulges: list[float] = []
        for k, bulge in enumerate(self.bulges):
            start, end = self.corners[k], self.corners[1 - k]
            corners.append(start)
            if bulge:
                corners.append(along_arc(start, end, bulge, np.array([0.5]))[0])
            bulges += [math.tan(math.radians(sweep_of(bulge)) / 8)] * 2 if bulge else [0.0]
        return Bowed(corners=np.array(corners), bulges=tuple(bulges))


def finished_bowed(edges: Sequence[FittedEdge], corners: Floats, allowances: Sequence[float]) -> Bowed:
    """The outline with an allowance off each edge; ``corners`` (n, 2) are the cut ones.

    Arcs stay concentric. ValueError where an edge has no room for its allowance.
    """
    count = len(edges)
    cut = Bowed(corners=corners, bulges=bulges_of(edges, corners))
    near, _ = offset_outline(corners, cut.bulges, -np.asarray(allowances))
    return _met(edges, near, [float(by) for by in allowances], count)


def _met(edges: Sequence[FittedEdge], near: Floats, allowances: Sequence[float], count: int) -> Bowed:
    corners = np.array(
        [corner_of(edges[k - 1], edges[k], near[k], (allowances[k - 1], allowances[k])) for k in range(count)]
    )
    curves = [edge.curve.parallel(-by) for edge, by in zip(edges, allowances, strict=True)]
    bulges = tuple(bulge_between(curves[k], corners[k], corners[(k + 1) % count]) for k in range(count))
    return Bowed(corners=corners, bulges=bulges)


def moves_with_edges(edges: Sequence[FittedEdge], finished: Bowed, allowances: Sequence[float]) -> list[Floats]:
    """For each edge (m, 2 or 3): how the finished row moves with the numbers of its error."""
    count = len(edges)
    result = []
    for k, edge in enumerate(edges):
        half = max(1.0, float(np.abs(edge.places).max()))
        columns = []
        for number in range(3 if edge.bend else 2):
            step = _STEP_MM / half**number
            rows = []
            for side in (step, -step):
                error = np.zeros(3)
                error[number] = side
                changed = [*edges[:k], edge.moved(error), *edges[k + 1 :]]
                rows.append(_met(changed, finished.corners, allowances, count).with_three_corners().row)
            columns.append((rows[0] - rows[1]) / (2 * step))
        result.append(np.column_stack(columns))
    return result


def own_row_covariance(edges: Sequence[FittedEdge], moves: Sequence[Floats], wobble: Wobble) -> Floats:
    """(m, m) of the row, from the errors of the card's own edges."""
    return np.asarray(
        sum(move @ edge.covariance(wobble) @ move.T for edge, move in zip(edges, moves, strict=True)), dtype=float
    )


def shared_row_sensitivity(
    moves: Sequence[Floats], cut: Bowed, allowances: Sequence[float], plane: Plane
) -> Floats:
    """(m, p + 1): how the finished row moves with the plane's p parameters and the edge bias (mm)."""

    def finished(row: Floats) -> Floats:
        outline = cut.with_row(row)
        corners, bulges = offset_outline(outline.corners, outline.bulges, -np.asarray(allowances))
        return Bowed(corners=corners, bulges=bulges).with_three_corners().row

    bias = np.sum([move[:, 0] for move in moves], axis=0)
    return np.column_stack([_quotients(finished, cut.row) @ _row_of_plane(cut, plane), bias])


def _row_of_plane(cut: Bowed, plane: Plane) -> Floats:
    """(m, p): how the cut row moves with the plane's parameters; an arc's rise by its middle and its ends."""
    count = len(cut.corners)
    of_corners = plane.sensitivity(plane.to_px(cut.corners))
    ways = edge_vectors(cut.corners) / edge_lengths(cut.corners)[:, None]
    rows = [of_corners.reshape(cut.corners.size, -1)]
    for k, bulge in enumerate(cut.bulges):
        if bulge:
            after = (k + 1) % count
            middle = along_arc(cut.corners[k], cut.corners[after], bulge, np.array([0.5]))
            of_middle = plane.sensitivity(plane.to_px(middle))[0]
            outward = np.array([ways[k, 1], -ways[k, 0]])
            rows.append((outward @ (of_middle - (of_corners[k] + of_corners[after]) / 2))[None])
    return np.vstack(rows)


def _quotients(function: Callable[[Floats], Floats], at: Floats) -> Floats:
    steps = _STEP_MM * np.eye(len(at))
    return np.column_stack([(function(at + step) - function(at - step)) / (2 * _STEP_MM) for step in steps])
