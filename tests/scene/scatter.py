"""Laying shapes out at random so that none comes nearer to another, or to the border, than it may."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from .geometry import Matrix, Points, centroid, edge_lengths, move, placement, signed_area

# Shapes are tried on a grid of this size; the gap asked for is widened by it, so that the grid's coarseness
# never eats into the gap.
_GRID_MM = 1.0
_TURNS_TRIED = 24
_RESTARTS = 30

Mask = NDArray[np.uint8]


class DoesNotFitError(ValueError):
    """The shapes don't fit in the room given, with the gap asked for."""


@dataclass(frozen=True)
class Room:
    """Where shapes may lie.

    `size`: width and height in mm, origin lower left; `taken`: outlines of what lies there already;
    `gap`: mm between shapes and to what is taken; `border`: mm kept free along the room's sides.
    """

    size: tuple[float, float]
    taken: tuple[Points, ...]
    gap: float
    border: float


def scatter(shapes: Sequence[Points], room: Room, rng: np.random.Generator) -> list[Matrix]:
    """For each shape (mm, its own frame) a turn and a shift into the room.

    Raises DoesNotFitError when no arrangement was found.
    """
    wanted = sum(_area_with_gap(shape, room.gap) for shape in shapes)
    if wanted > math.prod(side - 2.0 * room.border + room.gap for side in room.size):
        raise DoesNotFitError(_complaint(len(shapes), room))
    order = sorted(range(len(shapes)), key=lambda k: -_spread(shapes[k]))
    for attempt in range(_RESTARTS):
        # Loose at first, as things are laid down by hand; pressed towards a side if that is what it takes.
        placed = _one_attempt([shapes[k] for k in order], room, rng, tight=attempt >= 6)
        if placed is not None:
            found = dict(zip(order, placed, strict=True))
            return [found[k] for k in range(len(shapes))]
    raise DoesNotFitError(_complaint(len(shapes), room))


def _complaint(count: int, room: Room) -> str:
    width, height = room.size
    return f"{count} shapes do not fit into {width:.0f} x {height:.0f} mm with {room.gap:.0f} mm between them"


def _area_with_gap(shape: Points, gap: float) -> float:
    """At least what a convex shape takes up with half the gap round it."""
    return abs(signed_area(shape)) + float(edge_lengths(shape).sum()) * gap / 2.0


def _spread(shape: Points) -> float:
    return float(np.hypot(*(shape - centroid(shape)).T).max())


def _one_attempt(
    shapes: Sequence[Points], room: Room, rng: np.random.Generator, tight: bool
) -> list[Matrix] | None:
    columns, rows = (int(side / _GRID_MM) for side in room.size)
    blocked = np.ones((rows, columns), np.uint8)
    edge = math.ceil(room.border / _GRID_MM)
    blocked[edge : rows - edge, edge : columns - edge] = 0
    for outline in room.taken:
        _block(blocked, outline, room.gap)
    placed: list[Matrix] = []
    for shape in shapes:
        matrix = _find_place(shape, blocked, rng, tight)
        if matrix is None:
            return None
        _block(blocked, move(matrix, shape), room.gap)
        placed.append(matrix)
    return placed


def _block(blocked: Mask, outline: Points, gap: float) -> None:
    own = np.zeros_like(blocked)
    cv2.fillPoly(own, [np.round(outline / _GRID_MM).astype(np.int32)], 1)
    reach = math.ceil(gap / _GRID_MM) + 2
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    np.maximum(blocked, cv2.dilate(own, disc), out=blocked)


def _find_place(shape: Points, blocked: Mask, rng: np.random.Generator, tight: bool) -> Matrix | None:
    best: tuple[float, Matrix] | None = None
    side = float(rng.integers(4)) * np.pi / 2.0
    for _ in range(_TURNS_TRIED):
        turn = float(rng.uniform(0.0, 360.0))
        turned = move(placement(turn, (0.0, 0.0), centroid(shape)), shape)
        corner = turned.min(axis=0)
        free = _free_places(turned - corner, blocked)
        if len(free) == 0:
            continue
        if tight:
            pick = free[int(np.argmin(free @ np.array([np.cos(side), 0.6 * np.sin(side)])))]
            cost = float(pick @ np.array([np.cos(side), 0.6 * np.sin(side)]))
        else:
            pick, cost = free[int(rng.integers(len(free)))], float(rng.random())
        if best is None or cost < best[0]:
            jitter = rng.uniform(-0.4, 0.4, 2) * _GRID_MM
            best = cost, placement(turn, pick * _GRID_MM - corner + jitter, centroid(shape))
        if not tight:
            break
    return best[1] if best else None


def _free_places(shape: Points, blocked: Mask) -> NDArray[np.int_]:
    """(m, 2) grid places (column, row) for the shape's lower left corner where it touches nothing blocked."""
    size = np.ceil(shape.max(axis=0) / _GRID_MM).astype(int) + 1
    if size[0] > blocked.shape[1] or size[1] > blocked.shape[0]:
        return np.zeros((0, 2), dtype=int)
    own = np.zeros((size[1], size[0]), np.uint8)
    cv2.fillPoly(own, [np.round(shape / _GRID_MM).astype(np.int32)], 1)
    hits = _overlaps(blocked, own)
    rows, columns = np.nonzero(hits < 0.5)
    return np.column_stack([columns, rows])


def _overlaps(blocked: Mask, own: Mask) -> NDArray[np.float64]:
    """How many blocked cells the shape would lie on, for every place where it is wholly in the room."""
    shape = blocked.shape
    product = np.fft.rfft2(blocked) * np.conj(np.fft.rfft2(own, shape))
    return np.asarray(np.fft.irfft2(product, shape)[: shape[0] - own.shape[0] + 1, : shape[1] - own.shape[1] + 1])
