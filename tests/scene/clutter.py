"""What lies beside the templates and is none: a coin, a pencil, a hand that reaches in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .geometry import Points, move, placement, polygon
from .light import Colour, colour

_TRIES = 40


@dataclass(frozen=True)
class Thing:
    """Something on the table that is no template: its outline (table, mm) and what is painted on its face.

    `faces`: outlines (table, mm) and their colours, drawn in this order on the top, `thickness` mm up.
    """

    name: str
    outline: Points
    thickness: float
    faces: tuple[tuple[Points, Colour], ...]

    @property
    def base(self) -> Colour:
        """The colour of what lies lowest, and of the side."""
        return self.faces[0][1]


def lay_clutter(
    names: Sequence[str], room: tuple[float, float], taken: Sequence[Points], gap: float, rng: np.random.Generator
) -> tuple[Thing, ...]:
    """The things of those names (of THINGS), each where nothing lies yet; one that finds no place stays away."""
    laid: list[Thing] = []
    for name in names:
        for _ in range(_TRIES):
            thing = THINGS[name](room, rng)
            others = [*taken, *(other.outline for other in laid)]
            if all(_apart(thing.outline, other) > gap for other in others):
                laid.append(thing)
                break
    return tuple(laid)


def _apart(a: Points, b: Points) -> float:
    """About the distance of two convex outlines: the widest gap that a side's direction shows, below 0 if none."""
    widest = -math.inf
    for outline in (a, b):
        along = np.roll(outline, -1, axis=0) - outline
        lengths = np.hypot(*along.T)
        normals = (np.column_stack([along[:, 1], -along[:, 0]]) / lengths[:, None])[lengths > 1e-9]
        one, other = normals @ a.T, normals @ b.T
        widest = max(
            widest,
            float((other.min(axis=1) - one.max(axis=1)).max()),
            float((one.min(axis=1) - other.max(axis=1)).max()),
        )
    return widest


def _ring(radius: float, count: int = 96) -> Points:
    angles = np.arange(count) * (2.0 * math.pi / count)
    return radius * np.column_stack([np.cos(angles), np.sin(angles)])


def coin(room: tuple[float, float], rng: np.random.Generator) -> Thing:
    """A round of copper or nickel with a raised rim, anywhere in the room."""
    radius = float(rng.uniform(9.0, 13.5))
    at = rng.uniform((radius, radius), (room[0] - radius, room[1] - radius))
    metal = colour(str(rng.choice(["#a9763f", "#9b9a94", "#c2a14c"])))
    dark: Colour = (0.75 * metal[0], 0.75 * metal[1], 0.75 * metal[2])
    faces = ((_ring(radius) + at, metal), (_ring(radius - 1.0) + at, dark), (_ring(radius - 1.6) + at, metal))
    return Thing("coin", faces[0][0], 1.8, faces)


def _from_border(shape: Points, room: tuple[float, float], rng: np.random.Generator, slant: float) -> Points:
    """(2, 3) a place for a shape that points along x from its origin: reaching in over a side of the room."""
    side = int(rng.integers(4))
    share = float(rng.uniform(0.1, 0.9))
    at = [(0.0, share * room[1]), (share * room[0], 0.0), (room[0], share * room[1]), (share * room[0], room[1])]
    out = float(shape[:, 0].max()) * 0.5
    turn = 90.0 * side + float(rng.uniform(-slant, slant))
    back = np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
    return placement(turn, np.array(at[side]) - out * back)


def pencil(room: tuple[float, float], rng: np.random.Generator) -> Thing:
    """A pencil that lies over the border of the room, its point inside."""
    shape = polygon([(0, -3.6), (120, -3.6), (139, 0), (120, 3.6), (0, 3.6)])
    to_table = _from_border(shape, room, rng, 35.0)
    coat = colour(str(rng.choice(["#d9a514", "#a3262a", "#2d5c9e"])))
    light: Colour = (min(1.0, 1.4 * coat[0]), min(1.0, 1.4 * coat[1]), min(1.0, 1.4 * coat[2]))
    shapes = (
        (shape, colour("#cfa77a")),
        (polygon([(0, -3.6), (119, -3.6), (119, 3.6), (0, 3.6)]), coat),
        (polygon([(0, -1.2), (121, -1.2), (121, 1.2), (0, 1.2)]), light),
        (polygon([(134, -1.0), (139, 0), (134, 1.0)]), colour("#26262a")),
    )
    faces = tuple((move(to_table, outline), tone) for outline, tone in shapes)
    return Thing("pencil", faces[0][0], 5.0, faces)


def hand(room: tuple[float, float], rng: np.random.Generator) -> Thing:
    """A hand, its fingers together, that reaches in from beyond the border."""
    shape = polygon([(0, -42), (70, -38), (118, -9), (131, -7), (135, 0), (131, 8), (118, 11), (70, 30), (0, 34)])
    to_table = _from_border(shape, room, rng, 25.0)
    skin = colour(str(rng.choice(["#c68e6f", "#8d5a3c", "#e2b798"])))
    outline = move(to_table, shape)
    return Thing("hand", outline, 3.0, ((outline, skin),))


THINGS = {"coin": coin, "pencil": pencil, "hand": hand}
