"""Laying things down without overlap, as a person does: the reference along a side, the cards anyhow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from shapely.geometry import Polygon, box

from .shapes import Points, carried, turned

GAP_MM = 7.0
TRIES = 250


class NoRoomError(Exception):
    """Things do not fit the field."""


@dataclass(frozen=True)
class Thing:
    """An outline to lay down, and how."""

    outline: Points
    face_down: bool = False
    aside: bool = False  # along a side, rather than anyhow


def laid_down(things: list[Thing], field: tuple[float, float], rng: Generator) -> list[NDArray[np.float64]]:
    """The (2, 3) map of each thing onto the field, whose lower left corner is the origin."""
    whole = box(0, 0, *field)
    taken: list[Polygon] = []
    found: dict[int, NDArray[np.float64]] = {}
    # Asides first, then the largest.
    order = sorted(range(len(things)), key=lambda k: (not things[k].aside, -Polygon(things[k].outline).area))
    first = int(rng.integers(4))
    for number, k in enumerate(order):
        for _ in range(TRIES):
            matrix = _aside(things[k], field, (first + number) % 4, rng) if things[k].aside else None
            if matrix is None:
                matrix = _anyhow(things[k], field, rng)
            shape = Polygon(carried(matrix, things[k].outline))
            if whole.contains(shape) and all(shape.distance(other) > GAP_MM for other in taken):
                taken.append(shape)
                found[k] = matrix
                break
        else:
            raise NoRoomError
    return [found[k] for k in range(len(things))]


def field_for(things: list[Thing], wide: bool, share: float) -> tuple[float, float]:
    """A 4 : 3 field of which the things with their gaps take the share."""
    area = sum(Polygon(thing.outline).buffer(GAP_MM / 2).area for thing in things) / share
    longest = max(float(np.ptp(thing.outline, axis=0).max()) for thing in things)
    width = max(np.sqrt(area * 4 / 3), longest * 1.04, 200.0)
    return (width, width * 0.75) if wide else (width * 0.75, width)


def _anyhow(thing: Thing, field: tuple[float, float], rng: Generator) -> NDArray[np.float64]:
    angle = rng.uniform(0, 360) if rng.random() < 0.5 else rng.choice([0, 90, 180, 270]) + rng.normal(0, 2.5)
    own = turned(float(angle), (0.0, 0.0), thing.face_down)
    low, high = (np.array(each) for each in _box(carried(own, thing.outline)))
    own[:, 2] = rng.uniform(-low, np.maximum(np.array(field) - high, -low + 1e-6))
    return own


def _aside(thing: Thing, field: tuple[float, float], side: int, rng: Generator) -> NDArray[np.float64] | None:
    own = turned((0.0, 90.0, 0.0, 90.0)[side] + float(rng.normal(0, 1.2)), (0.0, 0.0))
    low, high = (np.array(each) for each in _box(carried(own, thing.outline)))
    room = np.array(field) - (high - low)
    if room.min() < 0:
        return None
    place = rng.uniform(0, room)
    across = 1 if side % 2 == 0 else 0
    place[across] = rng.uniform(0, 6.0) if side in {0, 1} else room[across] - rng.uniform(0, 6.0)
    own[:, 2] = place.clip(0, room) - low
    return own


def _box(outline: Points) -> tuple[tuple[float, float], tuple[float, float]]:
    x, y, right, up = Polygon(outline).bounds
    return (x, y), (right, up)
