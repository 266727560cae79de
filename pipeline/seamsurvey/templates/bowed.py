"""From a card's edges to its finished outline, and how that moves with every error, whether straight or arcs.

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
from seamsurvey.templates.fitted import FittedEdge, corners_of

Floats = NDArray[np.float64]

_STEP_MM = 1e-4  # of the difference quotients; outlines are nearly linear in their errors over this


@frozen(kw_only=True)
class Bowed:
    """An outline: ``corners`` (n, 2) mm, ``bulges`` of its edges, as in ``arcs``, 0 where one is straight."""

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

    def finished(self, allowances: Floats) -> "Bowed":
        """The outline with an allowance (n,) off each edge; ValueError where an edge has no room for it.

        Arcs stay concentric.
        """
        corners, bulges = offset_outline(self.corners, self.bulges, -allowances)
        return Bowed(corners=corners, bulges=bulges or self.bulges).with_three_corners()


def row_moves(edges: Sequence[FittedEdge], cut: Bowed) -> list[Floats]:
    """For each edge (m, 2 or 3): how the cut row moves with the numbers of its error."""

    def row(changed: Sequence[FittedEdge]) -> Floats:
        corners = corners_of(changed, cut.corners)
        ends = zip(changed, corners, np.roll(corners, -1, axis=0), strict=True)
        return Bowed(corners=corners, bulges=tuple(bulge_between(e.curve, *both) for e, *both in ends)).row

    result = []
    for k, edge in enumerate(edges):
        half = max(1.0, float(np.abs(edge.places).max()))
        columns = []
        for number in range(3 if edge.bend else 2):
            step = _STEP_MM / half**number
            error = step * np.eye(3)[number]
            ahead, behind = (row([*edges[:k], edge.moved(by), *edges[k + 1 :]]) for by in (error, -error))
            columns.append((ahead - behind) / (2 * step))
        result.append(np.column_stack(columns))
    return result


def finishing(cut: Bowed, allowances: Floats) -> Floats:
    """(m', m): how the finished row moves with the cut one."""
    return _quotients(lambda row: cut.with_row(row).finished(allowances).row, cut.row)


def moves_with_plane(cut: Bowed, plane: Plane) -> Floats:
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
