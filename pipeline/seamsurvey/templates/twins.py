"""How two templates compare: one shape, mirror images, nearly one shape (which is a trap), or not to be told.

Two outlines are laid on one another by the rigid motion that fits best (Procrustes), which says which corner
belongs to which. Then all distances from corner to corner, edges and diagonals, are compared: they hold the whole
shape, and the errors that both templates share (one scale, one lens, one edge bias) fall out of their differences
as far as they do in truth. Templates of different photos share only what their planes share, which is nothing.
"""

from enum import Enum

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.arcs import bulge_of
from seamsurvey.geometry import edge_lengths, reversed_face
from seamsurvey.model import Template
from seamsurvey.plane import COVERAGE

Floats = NDArray[np.float64]

COPY_MM = 0.6  # two copies cut with scissors round one pattern differ by up to this; common practice, no source
TRAP_MM = 1.0  # and by this or more an old set's templates differ that only look like copies: never taken for such
NEARLY_MM = 3.0  # and two that differ by more than this were meant to differ


class Likeness(Enum):
    """How one template compares with another."""

    EQUAL = "equal"
    MIRRORED = "mirrored"
    UNSURE = "not to be told from equal"
    UNSURE_MIRRORED = "not to be told from mirrored"
    NEARLY_EQUAL = "nearly equal"
    NEARLY_MIRRORED = "nearly mirrored"
    DIFFERENT = "different"


@frozen
class Comparison:
    """The likeness of two templates, and the edge that differs most in that arrangement.

    ``off_mm`` and ``u_mm`` are of the distance, edge or diagonal, that speaks most against likeness.
    """

    likeness: Likeness
    first_edge: int = 0  # of the first template: the edge that differs most, and
    second_edge: int = 0  # its counterpart
    off_mm: float = 0.0
    u_mm: float = 0.0


def compare(first: Template, second: Template, shared: Floats) -> Comparison:
    """How two templates compare; ``shared`` (p, p) is the covariance of the errors that the set shares.

    They are one shape only if every distance differs by less than COPY_MM, and by less than TRAP_MM with its
    uncertainty added. Where the difference lies within its uncertainty but that is too large, nobody can tell.
    """
    if len(first.edges) != len(second.edges):
        return Comparison(Likeness.DIFFERENT)
    upright = _arranged(first, second, shared, mirrored=False)
    turned = _arranged(first, second, shared, mirrored=True)
    for arranged, likeness in ((upright, Likeness.EQUAL), (turned, Likeness.MIRRORED)):
        if arranged.equal:
            return arranged.comparison(likeness)
    for arranged, likeness in ((upright, Likeness.UNSURE), (turned, Likeness.UNSURE_MIRRORED)):
        if arranged.unsure:
            return arranged.comparison(likeness)
    better, likeness = min(
        ((upright, Likeness.NEARLY_EQUAL), (turned, Likeness.NEARLY_MIRRORED)), key=lambda pair: pair[0].worst_edge
    )
    near = better.curved_alike and better.worst_edge <= NEARLY_MM and better.off_shape <= NEARLY_MM
    return better.comparison(likeness if near else Likeness.DIFFERENT)


@frozen(kw_only=True)
class _Arranged:
    """The second outline laid on the first: ``off`` and ``u`` (m,) of all distances, the n edges first."""

    off: Floats
    u: Floats
    off_shape: float
    partners: tuple[int, ...]
    curved_alike: bool  # an arc never meets a straight edge, nor one that bulges the other way

    @property
    def equal(self) -> bool:
        return self.curved_alike and bool(np.all(self.off <= COPY_MM) and np.all(self.off + self.u <= TRAP_MM))

    @property
    def unsure(self) -> bool:
        return self.curved_alike and bool(np.all(self.off <= np.maximum(COPY_MM, self.u)))

    @property
    def worst_edge(self) -> float:
        return float(self.off[: len(self.partners)].max())

    def comparison(self, likeness: Likeness) -> Comparison:
        edge = int(np.argmax(self.off[: len(self.partners)]))
        worst = int(np.argmax(self.off + self.u))
        return Comparison(likeness, edge, self.partners[edge], float(self.off[worst]), float(self.u[worst]))


def _arranged(first: Template, second: Template, shared: Floats, *, mirrored: bool) -> _Arranged:
    """The turn of the second outline that fits the first one best, corner by corner."""
    count = len(first.edges)
    outline = second.finished_outline
    # Corner k of the turned-over outline was corner n - k, its edge k was edge n - 1 - k.
    corners = [-k % count for k in range(count)] if mirrored else list(range(count))
    edges = [count - 1 - k for k in range(count)] if mirrored else list(range(count))
    laid = reversed_face(outline) if mirrored else outline
    turn, off_shape = min(
        ((turn, _procrustes(first.finished_outline, np.roll(laid, -turn, axis=0))) for turn in range(count)),
        key=lambda pair: (
            _bent_otherwise(first, second, [edges[(k + pair[0]) % count] for k in range(count)]),
            pair[1],
        ),
    )
    partners = [corners[(k + turn) % count] for k in range(count)]
    pairs = [(k, (k + 1) % count) for k in range(count)]
    pairs += [(i, j) for i in range(count) for j in range(i + 2, count) if (i, j) != (0, count - 1)]
    one, one_moves = _distances(first.finished_outline, pairs)
    other, other_moves = _distances(outline, [(partners[i], partners[j]) for i, j in pairs])
    of_shared = one_moves @ first.sensitivity - other_moves @ second.sensitivity
    variance = (
        np.einsum("mi,ij,mj->m", one_moves, first.own_covariance, one_moves)
        + np.einsum("mi,ij,mj->m", other_moves, second.own_covariance, other_moves)
        + np.einsum("mi,ij,mj->m", of_shared, shared, of_shared)
    )
    meeting = tuple(edges[(k + turn) % count] for k in range(count))
    rises, u_rises = _rises(first)
    others, u_others = _rises(second)
    return _Arranged(
        off=np.concatenate([np.abs(one - other), np.abs(rises - others[list(meeting)])]),
        u=np.concatenate(
            [COVERAGE * np.sqrt(np.maximum(variance, 0.0)), np.hypot(u_rises, u_others[list(meeting)])]
        ),
        off_shape=off_shape,
        partners=meeting,
        curved_alike=bool(np.array_equal(np.sign(rises), np.sign(others[list(meeting)]))),
    )


def _rises(template: Template) -> tuple[Floats, Floats]:
    """(n,) mm: how far each edge's middle lies outwards of its chord, and U (k = 2) of that; 0 where straight."""
    chords = edge_lengths(template.finished_outline)
    rises, u = np.zeros(len(chords)), np.zeros(len(chords))
    for k, edge in enumerate(template.edges):
        if edge.curve is not None:
            bulge = bulge_of(edge.curve.sweep_deg)
            rises[k] = bulge * chords[k] / 2
            u[k] = chords[k] / 8 * (1 + bulge**2) * np.radians(edge.curve.u_sweep_deg)
    return rises, u


def _bent_otherwise(first: Template, second: Template, partners: list[int]) -> int:
    """How many edges of the first bend another way than their partners of the second."""
    one, other = np.sign(_rises(first)[0]), np.sign(_rises(second)[0])
    return int(np.count_nonzero(one != other[partners]))


def _distances(outline: Floats, pairs: list[tuple[int, int]]) -> tuple[Floats, Floats]:
    """(m,) distances of pairs of corners, and (m, 2n) how they move with the corners (x0, y0, x1, ...)."""
    moves = np.zeros((len(pairs), outline.size))
    lengths = np.zeros(len(pairs))
    for row, (i, j) in enumerate(pairs):
        way = outline[j] - outline[i]
        lengths[row] = np.hypot(*way)
        moves[row, 2 * j : 2 * j + 2] = way / lengths[row]
        moves[row, 2 * i : 2 * i + 2] = -way / lengths[row]
    return lengths, moves


def _procrustes(first: Floats, second: Floats) -> float:
    """The greatest distance of corners, mm, after the rigid motion that fits them best (Kabsch 1976)."""
    a, b = first - first.mean(axis=0), second - second.mean(axis=0)
    u, _, v = np.linalg.svd(b.T @ a)
    turn = u @ np.diag([1.0, np.sign(np.linalg.det(u @ v))]) @ v
    return float(np.hypot(*(b @ turn - a).T).max())
