"""The partial layout held together like sheets of springy card: re-adjusted after every piece.

Sequential snapping lets errors pile up until true layouts are lost. Here each piece pulls on its vertices with
the shape that was measured, a T-meeting holds its vertex on the line, and the block's sides hold theirs; the
vertices settle where the pull is least. Each piece's turn is linearised where it was laid: it moves by tenths of a
degree at most, so that one linear system, grown piece by piece, serves the whole search.
"""

import functools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.frontier import Frontier, Laid
from seamsurvey.block.outlines import Outline

Array = NDArray[np.float64]

_STIFF = 25.0  # a T-meeting and the block's side count as five times as certain as a corner
_ANCHOR = 1e-6  # holds what nothing holds yet at its place
_GROW = 40  # vertices added at a time, so that the arrays are rarely copied


@functools.cache
def _still(n: int) -> Array:
    """(2n, 2n): what is left of moves of n corners when moves of all as one are taken out."""
    return np.asarray(np.eye(2 * n) - np.kron(np.full((n, n), 1 / n), np.eye(2)))


class Spring:
    """Normal equations of all vertices and the block's width and height; unknowns are (W, H, x0, y0, x1, ...)."""

    def __init__(self, outline: Outline) -> None:
        self.outline = outline
        self.normal: Array = np.zeros((0, 0))
        self.pull: Array = np.zeros(0)
        self.rest = 0.0
        self.size = [0.0, 0.0]  # W and H, mm, as they stand
        self._sided: list[int] = []

    def copy(self) -> "Spring":
        """An independent copy."""
        other = Spring.__new__(Spring)
        other.normal, other.pull, other.rest = self.normal.copy(), self.pull.copy(), self.rest
        other.size, other._sided, other.outline = self.size[:], self._sided[:], self.outline
        return other

    def add(self, frontier: Frontier, laid: Laid, corners: Sequence[complex]) -> None:
        """Let a piece that was laid in at ``corners`` (complex mm) pull on its vertices."""
        self._room(len(frontier.at))
        n = len(corners)
        middle = sum(corners) / n
        local = np.array([part for c in corners for part in ((c - middle).real, (c - middle).imag)])
        spin = np.empty(2 * n)
        spin[0::2], spin[1::2] = -local[1::2], local[0::2]
        reach = float(local @ local)
        # The force is the shape itself: moves as a whole, and turns, cost nothing: they are not in the stiffness.
        stiff = _still(n) - np.outer(spin, spin / reach)
        index = np.array([i for v in laid.corners for i in (2 + 2 * v, 3 + 2 * v)])
        self.normal[index[:, None], index] += stiff
        self.pull[index] += local
        self.rest += reach

    def hold(self, frontier: Frontier, laid: Laid) -> None:
        """Hold the T-meetings of a piece on their lines."""
        self._room(len(frontier.at))
        at = frontier.at
        for v, a, b in laid.meetings:
            along = at[b] - at[a]
            length = abs(along)
            share = ((at[v] - at[a]) * along.conjugate()).real / length**2
            normal = np.array([-along.imag, along.real]) / length
            self._row(
                (2 + 2 * v, 3 + 2 * v, 2 + 2 * a, 3 + 2 * a, 2 + 2 * b, 3 + 2 * b),
                np.concatenate([normal, -(1 - share) * normal, -share * normal]),
            )

    def sides(self, frontier: Frontier) -> None:
        """Hold every vertex on the sides of the block it lies on."""
        self._room(len(frontier.at))
        self._sided += [0] * (len(frontier.at) - len(self._sided))
        for v, flags in enumerate(frontier.sides):
            new = flags & ~self._sided[v]
            if not new:
                continue
            self._sided[v] = flags
            for side, (a, b, w, h) in enumerate(self.outline.sides):
                if new & 1 << side:
                    self._row((2 + 2 * v, 3 + 2 * v, 0, 1), np.array([a, b, -w, -h]))

    def hold_shape(self) -> None:
        """Hold the height at its share of the width."""
        self._room(0)
        if self.outline.aspect:
            self._row((0, 1), np.array([self.outline.aspect, -1.0]))

    def settle(self, frontier: Frontier) -> float:
        """Move the vertices to where the pull is least; returns the misfit left, mm², summed over coordinates."""
        self._room(len(frontier.at))
        count = 2 + 2 * len(frontier.at)
        here = np.empty(count)
        here[:2] = self.size
        here[2::2] = [p.real for p in frontier.at]
        here[3::2] = [p.imag for p in frontier.at]
        system = self.normal[:count, :count].copy()
        system.flat[:: count + 1] += _ANCHOR
        x = np.linalg.solve(system, self.pull[:count] + _ANCHOR * here)
        self.size = [float(x[0]), float(x[1])]
        frontier.at = [complex(a, b) for a, b in x[2:].reshape(-1, 2).tolist()]
        misfit = self.rest + float(x @ (self.normal[:count, :count] @ x - 2 * self.pull[:count]))
        return max(misfit, 0.0)

    def _row(self, index: Sequence[int], row: Array) -> None:
        at = np.array(index)
        self.normal[at[:, None], at] += _STIFF * np.outer(row, row)

    def _room(self, vertices: int) -> None:
        need = 2 + 2 * vertices
        if need > len(self.pull):
            size = need + 2 * _GROW
            normal = np.zeros((size, size))
            old = len(self.pull)
            normal[:old, :old] = self.normal
            pull = np.zeros(size)
            pull[:old] = self.pull
            self.normal, self.pull = normal, pull
