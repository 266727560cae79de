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
_RESTARTS = 16
_LOOSE_ATTEMPTS = 6
# Directions to pack towards, (column, row): whole numbers, so that ties fall the same way on every machine.
_CORNERS = ((10, 6), (-6, 10), (-10, -6), (6, -10), (10, -6), (6, 10), (-10, 6), (-6, -10))

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
        # Loose at first, as things are laid down by hand; packed into a corner if that is what it takes.
        corner = None if attempt < _LOOSE_ATTEMPTS else _CORNERS[int(rng.integers(len(_CORNERS)))]
        placed = _one_attempt([shapes[k] for k in order], room, rng, corner)
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
    shapes: Sequence[Points], room: Room, rng: np.random.Generator, corner: tuple[int, int] | None
) -> list[Matrix] | None:
    columns, rows = (int(side / _GRID_MM) for side in room.size)
    blocked = np.ones((rows, columns), np.uint8)
    edge = math.ceil(room.border / _GRID_MM)
    blocked[edge : rows - edge, edge : columns - edge] = 0
    for outline in room.taken:
        _block(blocked, outline, room.gap)
    placed: list[Matrix] = []
    for shape in shapes:
        matrix = _find_place(shape, blocked, rng, corner)
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


def _find_place(
    shape: Points, blocked: Mask, rng: np.random.Generator, corner: tuple[int, int] | None
) -> Matrix | None:
    """A free place: any one, or out of many turns the one that reaches least far away from the corner."""
    seen = np.fft.rfft2(blocked)
    best: tuple[int, Matrix] | None = None
    for _ in range(_TURNS_TRIED):
        turn = float(rng.uniform(0.0, 360.0)) if corner is None else _flush_turn(shape, rng)
        turned = move(placement(turn, (0.0, 0.0), centroid(shape)), shape)
        low = turned.min(axis=0)
        own = _mask(turned - low)
        free = _free_places(own, blocked, seen)
        if len(free) == 0:
            continue
        if corner is None:
            pick, reach = free[int(rng.integers(len(free)))], 0
        else:
            heading = np.array(corner)
            middle = 2 * free + np.array(own.shape[::-1])
            reaches = middle @ heading + np.abs(heading) @ np.array(own.shape[::-1])
            pick, reach = free[int(np.argmin(reaches))], int(reaches.min())
        if best is None or reach < best[0]:
            jitter = rng.uniform(-0.4, 0.4, 2) * _GRID_MM
            best = reach, placement(turn, pick * _GRID_MM - low + jitter, centroid(shape))
        if corner is None:
            break
    return best[1] if best else None


def _flush_turn(shape: Points, rng: np.random.Generator) -> float:
    """A turn that brings one edge of the shape nearly along a side of the room, degrees."""
    k = int(rng.integers(len(shape)))
    along = shape[(k + 1) % len(shape)] - shape[k]
    quarter = 90.0 * float(rng.integers(4))
    return quarter - math.degrees(math.atan2(along[1], along[0])) + float(rng.uniform(-4.0, 4.0))


def _mask(shape: Points) -> Mask:
    size = np.ceil(shape.max(axis=0) / _GRID_MM).astype(int) + 1
    own = np.zeros((size[1], size[0]), np.uint8)
    cv2.fillPoly(own, [np.round(shape / _GRID_MM).astype(np.int32)], 1)
    return own


def _free_places(own: Mask, blocked: Mask, seen: NDArray[np.complex128]) -> NDArray[np.int_]:
    """(m, 2) grid places (column, row) for the mask's lower left corner where it touches nothing blocked.

    By correlation; `seen` is the transform of `blocked`.
    """
    rows, columns = (room - mine + 1 for room, mine in zip(blocked.shape, own.shape, strict=True))
    if rows <= 0 or columns <= 0:
        return np.zeros((0, 2), dtype=int)
    overlaps = np.fft.irfft2(seen * np.conj(np.fft.rfft2(own, blocked.shape)), blocked.shape)
    row, column = np.nonzero(overlaps[:rows, :columns] < 0.5)
    return np.column_stack([column, row])
