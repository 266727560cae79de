"""Which pieces of a block are cut with the same template, face up or turned over."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .geometry import Matrix, Points, centroid, corner_angles, edge_lengths, mirrored, signed_area

# Exact drawings differ by rounding only; real differences between shapes are 1 mm and more.
SAME_SHAPE_MM = 1e-6


@dataclass(frozen=True)
class PlacedCopy:
    """One piece of the block as a placed copy of a template.

    `template_to_block` is the (2, 3) map from the template's own frame; it reflects where `reversed`.
    """

    piece: int
    reversed: bool
    template_to_block: Matrix


@dataclass(frozen=True)
class Template:
    """One cut shape: its finished outline (mm, own frame, origin at the centre of area) and its copies."""

    name: str
    finished: Points
    copies: tuple[PlacedCopy, ...]

    @property
    def count(self) -> int:
        """Copies used face up."""
        return sum(not copy.reversed for copy in self.copies)

    @property
    def reversed_count(self) -> int:
        """Copies used turned over."""
        return sum(copy.reversed for copy in self.copies)


def rigid_map(source: Points, target: Points) -> Matrix | None:
    """The turn and shift that lays `source` on `target` (corners in any cyclic order), or None."""
    if len(source) != len(target):
        return None
    # Corners that are off by so little at most change the area by at most this; most pairs end here.
    if abs(signed_area(source) - signed_area(target)) > SAME_SHAPE_MM * edge_lengths(source).sum():
        return None
    for shift in range(len(source)):
        candidate = np.roll(target, -shift, axis=0)
        if not np.allclose(edge_lengths(source), edge_lengths(candidate), atol=SAME_SHAPE_MM, rtol=0.0):
            continue
        matrix = _best_turn(source, candidate)
        if np.abs(source @ matrix[:, :2].T + matrix[:, 2] - candidate).max() < SAME_SHAPE_MM:
            return matrix
    return None


def _best_turn(source: Points, target: Points) -> Matrix:
    """Least-squares turn and shift in the plane (complex form of the orthogonal Procrustes problem)."""
    a = (source - source.mean(axis=0)) @ np.array([1.0, 1j])
    b = (target - target.mean(axis=0)) @ np.array([1.0, 1j])
    turn = np.vdot(a, b)
    turn /= abs(turn)
    linear = np.array([[turn.real, -turn.imag], [turn.imag, turn.real]])
    return np.column_stack([linear, target.mean(axis=0) - linear @ source.mean(axis=0)])


def templates_of(pieces: tuple[Points, ...]) -> tuple[Template, ...]:
    """The templates of a block, named A, B, C, ... in the order in which its pieces first need them."""
    shapes: list[Points] = []
    copies: list[list[PlacedCopy]] = []
    for number, piece in enumerate(pieces):
        for shape, group in zip(shapes, copies, strict=True):
            found = _as_copy(number, piece, shape)
            if found is not None:
                group.append(found)
                break
        else:
            centre = centroid(piece)
            shapes.append(piece - centre)
            copies.append([PlacedCopy(number, False, np.column_stack([np.eye(2), centre]))])
    return tuple(
        Template(chr(ord("A") + k), shape, tuple(group))
        for k, (shape, group) in enumerate(zip(shapes, copies, strict=True))
    )


def _as_copy(number: int, piece: Points, shape: Points) -> PlacedCopy | None:
    matrix = rigid_map(shape, piece)
    if matrix is not None:
        return PlacedCopy(number, False, matrix)
    matrix = rigid_map(mirrored(shape), piece)
    if matrix is not None:
        reflect = matrix.copy()
        reflect[:, 0] = -reflect[:, 0]
        return PlacedCopy(number, True, reflect)
    return None


def difference(a: Points, b: Points) -> tuple[float, float]:
    """How far apart two templates are: the largest difference of an edge (mm) and of an angle (degrees).

    Taken in the turn, face up or turned over, in which the two are most alike; infinite for unequal
    numbers of corners.
    """
    if len(a) != len(b):
        return float("inf"), float("inf")
    best = (float("inf"), float("inf"))
    for other in (b, mirrored(b)):
        for shift in range(len(a)):
            turned = np.roll(other, -shift, axis=0)
            lengths = float(np.abs(edge_lengths(a) - edge_lengths(turned)).max())
            angles = float(np.abs(corner_angles(a) - corner_angles(turned)).max())
            best = min(best, (lengths, angles))
    return best
