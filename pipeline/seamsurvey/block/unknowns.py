"""The unknowns and observations of the closing adjustment: where each stands in the vector, and its derivatives."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamsurvey.adjustment import NotAdjustedError
from seamsurvey.block.orbits import Image, orbits_of
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import LEAST_SIGMA_MM, Shapes
from seamsurvey.geometry import reversed_face
from seamsurvey.model import TemplateSet

Array = NDArray[np.float64]
Part = dict[int, float]
"""A sum of unknowns: index -> factor."""
Row = tuple[float | None, Part]
"""A value that must be 0 (None: the row applied to the unknowns) and its derivatives."""

_ARM = 50.0  # mm; turns are counted as arcs of this radius, so that all unknowns are lengths of like size
_CORNER_VARIANCE = (LEAST_SIGMA_MM / 5) ** 2  # mm²; keeps a covariance that lacks some error positive definite
_NO_SHARE = 1e-12  # share of the largest variance below which a direction of the shared errors has none


@dataclass(frozen=True)
class Target:
    """A length to be held: edge ``edge`` of a template; of none, the width (0) or the height (1).

    With a ``vertex``, that vertex's distance from the block's left (0) or lower side (1).
    """

    template: int | None
    edge: int
    goal_mm: float
    vertex: int | None = None


@dataclass(frozen=True)
class Equal:
    """Two edges of one template to be made equally long."""

    template: int
    edge: int
    other: int


class Unknowns:
    """Index of the unknowns (u,): template corners, shared errors, vertices, width, height, places of the pieces.

    Shared errors are scaled to unit variance: e = root · z, with z observed as 0 ± 1.
    """

    def __init__(self, templates: TemplateSet, shapes: Shapes, layout: Layout) -> None:
        self.layout, self.shapes = layout, shapes
        self._set = templates
        self.templates = sorted({t for t, _, _ in layout.pieces})
        self.orbits = orbits_of(shapes, layout)
        self._root = _root(templates.shared_covariance)
        at = 0
        self._corner: dict[int, int] = {}
        for t in self.templates:
            self._corner[t] = at
            at += 2 * len(templates.templates[t].finished_outline)
        self.shared = slice(at, at + self._root.shape[1])
        at = self.shared.stop
        self.vertex: dict[int, tuple[int, int]] = {}
        for v in self.orbits.kept:
            self.vertex[v] = (at, at + 1)
            at += 2
        self.size = (at, at + 1)
        self._place = at + 2
        self._turn = {p: self._place + 3 * k for k, p in enumerate(self.orbits.pieces)}
        self.count = self._place + 3 * len(self._turn)
        self.observed, self.covariance, self._design = self._observations()

    def _observations(self) -> tuple[Array, Array, Array]:
        corners = self.shared.start
        n = self.shared.stop
        observed = np.zeros(n)
        covariance = np.eye(n)
        design = np.zeros((n, self.count))
        design[:, :n] = np.eye(n)
        for t in self.templates:
            template = self._set.templates[t]
            part = slice(self._corner[t], self._corner[t] + 2 * len(template.finished_outline))
            observed[part] = template.finished_outline.ravel()
            covariance[part, part] = self._own(t)
            if corners < n:
                design[part, self.shared] = template.sensitivity @ self._root
        return observed, covariance, design

    def _own(self, t: int) -> Array:
        template = self._set.templates[t]
        n = 2 * len(template.finished_outline)
        if template.own_covariance.shape == (n, n):
            return np.asarray(template.own_covariance + _CORNER_VARIANCE * np.eye(n))
        # A set written by hand has only each edge's uncertainty: two corners share it.
        u = np.array([e.u_mm for e in template.edges]) / 2
        return np.diag(np.repeat((u**2 + np.roll(u, 1) ** 2) / 4, 2)) + _CORNER_VARIANCE * np.eye(n)

    def length(self, x: Array, target: Target) -> tuple[float, Array]:
        """A length at x, and its derivatives (u,): an edge of a template, or the block's width or height.

        Raises ``adjustment.NotAdjustedError`` where the ends of the edge are one place: a layout that can't close.
        """
        row = np.zeros(self.count)
        if target.vertex is not None:
            part = self.place(target.vertex)[target.edge]
            for k, factor in part.items():
                row[k] = factor
            return value_of(x, part), row
        if target.template is None:
            row[self.size[target.edge]] = 1.0
            return float(x[self.size[target.edge]]), row
        first = self._corner[target.template]
        n = len(self._set.templates[target.template].finished_outline)
        a, b = first + 2 * target.edge, first + 2 * ((target.edge + 1) % n)
        along = x[b : b + 2] - x[a : a + 2]
        length = float(np.hypot(*along))
        if not length > 0:
            raise NotAdjustedError("the corners at both ends of an edge fell together")
        row[b : b + 2], row[a : a + 2] = along / length, -along / length
        return length, row

    def in_line(self, x: Array, vertex: int, start: int, end: int) -> tuple[float, Part]:
        """How far a vertex lies to the right of the line from one vertex to another, mm, and its derivatives.

        Raises ``adjustment.NotAdjustedError`` where these two are one place: a layout that can't close.
        """
        (vx, vy), (ax, ay), (bx, by) = (self.place(v) for v in (vertex, start, end))
        ux, uy = value_of(x, bx) - value_of(x, ax), value_of(x, by) - value_of(x, ay)
        wx, wy = value_of(x, vx) - value_of(x, ax), value_of(x, vy) - value_of(x, ay)
        length = float(np.hypot(ux, uy))
        if not length > 0:
            raise NotAdjustedError("the corners at both ends of a seam fell together")
        row: dict[int, float] = {}
        for part, factor in ((vx, -uy), (vy, ux), (bx, wy), (by, -wx), (ax, uy - wy), (ay, wx - ux)):
            add_to(row, part, factor / length)
        return (ux * wy - uy * wx) / length, row

    def predict(self, x: Array) -> tuple[Array, Array]:
        """The observations (n,) at x, and their Jacobian: they are linear."""
        return self._design @ x, self._design

    def measured(self, t: int, over: bool) -> NDArray[np.complex128]:
        """(n,) complex mm: the measured corners of a template, of its turned-over face when ``over``."""
        outline = self._set.templates[t].finished_outline
        return np.asarray((reversed_face(outline) if over else outline) @ np.array([1, 1j]))

    def outline(self, t: int) -> Array:
        """(n, 2) the measured corners of a template, plane frame."""
        return self._set.templates[t].finished_outline

    def error(self, t: int, moves: NDArray[np.complex128]) -> Array:
        """(n,) the error of the observations in which template t's corners are off by ``moves`` (complex mm)."""
        error = np.zeros(len(self.observed))
        at = self._corner[t]
        error[at : at + 2 * len(moves)] = np.column_stack([moves.real, moves.imag]).ravel()
        return error

    def start(self) -> Array:
        """(u,) where the iteration begins: measured corners, and the layout as the search left it."""
        x = np.zeros(self.count)
        x[: self.shared.start] = self.observed[: self.shared.start]
        for v in self.orbits.kept:
            x[list(self.vertex[v])] = self.layout.at[v].real, self.layout.at[v].imag
        x[list(self.size)] = self.layout.size
        for p, k in self._turn.items():
            t, over, corners = self.layout.pieces[p]
            measured = self.measured(t, over)
            place = np.array([self.layout.at[v] for v in corners])
            turn = np.vdot(measured - measured.mean(), place - place.mean())
            turn /= abs(turn)
            shift = place.mean() - turn * measured.mean()
            x[k : k + 3] = np.angle(turn) * _ARM, shift.real, shift.imag
        return x

    def place(self, v: int) -> tuple[Part, Part]:
        """Vertex v along x and y as sums of unknowns."""
        return self.image(self.orbits.vertex[v])

    def image(self, image: Image) -> tuple[Part, Part]:
        """An image of a kept vertex along x and y as sums of unknowns."""
        x, y = self.vertex[image.of]
        move = image.move
        c, s = move.turn.real, move.turn.imag
        sign = -1.0 if move.mirrored else 1.0
        u, v = move.about
        width, height = self.size
        along_x: Part = {x: c, y: -s * sign}
        along_y: Part = {x: s, y: c * sign}
        # What stays is (u, v) in shares of width and height: the shift is that point less its own image.
        add_to(along_x, {width: u * (1 - c), height: v * s * sign}, 1.0)
        add_to(along_y, {width: -u * s, height: v * (1 - c * sign)}, 1.0)
        return along_x, along_y

    def corner_on_vertex(self, x: Array, p: int, k: int) -> list[Row]:
        """Piece p's corner k minus its vertex, along x and y, each with its derivatives."""
        t, over, corners = self.layout.pieces[p]
        n = len(self._set.templates[t].finished_outline)
        at = self._corner[t] + 2 * ((n - k) % n if over else k)
        sign = -1.0 if over else 1.0
        local_x, local_y = sign * x[at], x[at + 1]
        turn = self._turn[p]
        c, s = float(np.cos(x[turn] / _ARM)), float(np.sin(x[turn] / _ARM))
        here_x, here_y = c * local_x - s * local_y, s * local_x + c * local_y
        vertex_x, vertex_y = self.place(corners[k])
        row_x: Part = {at: c * sign, at + 1: -s, turn: -here_y / _ARM, turn + 1: 1.0}
        row_y: Part = {at: s * sign, at + 1: c, turn: here_x / _ARM, turn + 2: 1.0}
        add_to(row_x, vertex_x, -1.0)
        add_to(row_y, vertex_y, -1.0)
        return [
            (here_x + x[turn + 1] - value_of(x, vertex_x), row_x),
            (here_y + x[turn + 2] - value_of(x, vertex_y), row_y),
        ]


def _root(covariance: Array) -> Array:
    """(p, r) with root · root' = covariance (p, p); r is its rank, 0 where nothing is shared."""
    if not covariance.size:
        return np.zeros((0, 0))
    values, vectors = np.linalg.eigh(covariance)
    keep = values > max(_NO_SHARE * float(values.max()), 0.0)
    return np.asarray(vectors[:, keep] * np.sqrt(values[keep]))


def value_of(x: Array, part: Part) -> float:
    """The sum that a part stands for, at x."""
    return float(sum(x[k] * factor for k, factor in part.items()))


def add_to(row: Part, part: Part, factor: float) -> None:
    """Add a part, so many times, to a row of derivatives."""
    for k, own in part.items():
        row[k] = row.get(k, 0.0) + own * factor
