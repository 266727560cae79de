"""What lies on the glass or on the table: the cards of a family and a ruler, each in its place."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np

from .cards import Card, Cutting, cut_card
from .clutter import Thing, lay_clutter
from .families import Family
from .geometry import Matrix, Points, mirrored, move, placement, with_steps
from .grounds import Mat
from .rulers import RulerKind, outline_of
from .scatter import DoesNotFitError, Room, scatter

_REFLECT = np.diag([-1.0, 1.0])
_RULER_TRIES = 60


@dataclass(frozen=True)
class LaidCard:
    """A card on the table.

    `to_table`: (2, 3) from the template's own frame to the table, with a reflection in it where the card
    lies face down; `thickness`: mm; `stock`: a name of `looks.CARDS`.
    """

    card: Card
    face_down: bool
    thickness: float
    stock: str
    to_table: Matrix


@dataclass(frozen=True)
class LaidRuler:
    """A ruler on the table; `to_table` (2, 3) leads from the ruler's own frame to the table.

    `bow`: how far the middle of a tape lies sideways of its ends, mm, along a parabola.
    """

    kind: RulerKind
    to_table: Matrix
    bow: float = 0.0

    def place(self, points: Points) -> Points:
        """(n, 2) points of the ruler's own frame on the table, mm."""
        off = points[:, 0] / self.kind.length * 2.0 - 1.0
        return move(self.to_table, np.column_stack([points[:, 0], points[:, 1] + self.bow * (1.0 - off**2)]))

    @property
    def outline(self) -> Points:
        """The ruler's outline on the table, mm."""
        outline = outline_of(self.kind)
        return self.place(with_steps(outline, 5.0) if self.bow else outline)


@dataclass(frozen=True)
class LaidMat:
    """A cutting mat on the table, its face the table's z = 0; `to_table` (2, 3) leads from its own frame."""

    mat: Mat
    to_table: Matrix


@dataclass(frozen=True)
class LaidSheet:
    """A printed sheet on the table, its face the table's z = 0.

    `outline` and `inks`: the paper and what is printed on it in this order, each with its share of the paper's
    light, polygons in the sheet's own frame (mm);
    `to_table` (2, 3) leads from there, with what the printer did to the size in it.
    """

    outline: Points
    inks: tuple[tuple[Points, float], ...]
    to_table: Matrix


@dataclass(frozen=True)
class Scene:
    """Everything in the picture but the light and the camera.

    `room`: (width, height) in mm of the part of the table that counts, origin at its lower left.
    """

    name: str
    seed: int
    family: Family
    cutting: Cutting
    room: tuple[float, float]
    cards: tuple[LaidCard, ...]
    rulers: tuple[LaidRuler, ...]
    mat: LaidMat | None = None
    sheet: LaidSheet | None = None
    covers: tuple[LaidCard, ...] = ()  # cards that lie on a ruler
    things: tuple[Thing, ...] = ()


@dataclass(frozen=True)
class Layout:
    """How things are to be laid down.

    `ruler_turn`: degrees counter-clockwise, None for nearly along a side; `ruler_at`: where the ruler's
    middle lies as shares of the room, None to be chosen; `face_down`: names of templates turned over;
    `gap`, `border`: mm between things and to the room's sides; `copies`: by template, one unless named;
    `mat`: a cutting mat under it all; `things`: names of `clutter.THINGS` that lie there too; `hand`: in which
    of `hands.HANDS` the cards are written on, `lines`: what on each template's, unless name and count.
    """

    rulers: tuple[RulerKind, ...]
    ruler_turn: float | None = None
    ruler_at: tuple[float, float] | None = None
    face_down: tuple[str, ...] = ()
    thickness: float = 0.5
    stock: str = "cream"
    gap: float = 7.0
    border: float = 5.0
    copies: dict[str, int] = field(default_factory=dict)
    mat: Mat | None = None
    things: tuple[str, ...] = ()
    hand: str = ""
    lines: dict[str, tuple[str, ...]] = field(default_factory=dict)


def lay_out(
    family: Family, cutting: Cutting, layout: Layout, room: tuple[float, float], *, name: str, seed: int
) -> Scene:
    """The family's templates, one of each (or as many as `layout.copies` says), scattered beside the rulers.

    Raises DoesNotFitError when the room is too small for them.
    """
    rng = np.random.default_rng([seed, 1])
    rulers = _lay_rulers(layout, room, rng)
    cards: list[tuple[Card, bool]] = []
    for template in family.templates:
        note = f"cut {template.count}" + (f" + {template.reversed_count} R" if template.reversed_count else "")
        for _ in range(layout.copies.get(template.name, 1)):
            card = cut_card(template.name, template.finished, cutting, note, rng)
            if layout.hand:
                lines = layout.lines.get(template.name, (template.name, note))
                card = replace(card, hand=layout.hand, lines=lines)
            cards.append((card, template.name in layout.face_down))
    shapes = [mirrored(card.as_cut) if down else card.as_cut for card, down in cards]
    taken = [ruler.outline for ruler in rulers]
    things = lay_clutter(layout.things, room, taken, layout.gap, np.random.default_rng([seed, 6]))
    taken += [thing.outline for thing in things]
    places = scatter(shapes, Room(room, tuple(taken), layout.gap, layout.border), rng)
    laid = []
    for (card, down), place in zip(cards, places, strict=True):
        to_table = np.column_stack([place[:, :2] @ _REFLECT, place[:, 2]]) if down else place
        thickness = layout.thickness * float(rng.uniform(0.95, 1.05))
        laid.append(LaidCard(card, down, thickness, layout.stock, to_table))
    mat = _lay_mat(layout.mat, room, rng) if layout.mat is not None else None
    return Scene(name, seed, family, cutting, room, tuple(laid), tuple(rulers), mat, things=things)


def _lay_mat(mat: Mat, room: tuple[float, float], rng: np.random.Generator) -> LaidMat:
    """Under everything, nearly square to the room and about in its middle."""
    middle = np.array(room) / 2.0 + rng.uniform(-15.0, 15.0, 2)
    return LaidMat(mat, placement(float(rng.uniform(-4.0, 4.0)), middle, np.array(mat.size) / 2.0))


def _lay_rulers(layout: Layout, room: tuple[float, float], rng: np.random.Generator) -> list[LaidRuler]:
    """The first ruler where the layout wants it, the next at a right angle to it, clear of it."""
    laid: list[LaidRuler] = []
    turn = layout.ruler_turn
    for number, kind in enumerate(layout.rulers):
        if turn is None:
            along = 90.0 if kind.length > room[0] - 2.0 * layout.border or rng.random() < 0.3 else 0.0
            turn = along + float(rng.choice([0.0, 180.0])) + float(rng.uniform(-2.0, 2.0))
        elif number > 0:
            turn += 90.0 + float(rng.uniform(-2.0, 2.0))
        at = layout.ruler_at if number == 0 else None
        laid.append(_lay_ruler(kind, turn, at, others=laid, layout=layout, room=room, rng=rng))
    return laid


def _lay_ruler(
    kind: RulerKind,
    turn: float,
    at: tuple[float, float] | None,
    *,
    others: list[LaidRuler],
    layout: Layout,
    room: tuple[float, float],
    rng: np.random.Generator,
) -> LaidRuler:
    inward = 0.06 if len(layout.rulers) == 1 else 0.0  # two rulers leave each other what room there is
    for _ in range(_RULER_TRIES):
        middle = (
            np.array(at) * room
            if at is not None
            else _beside(kind, turn, room, layout.border, inward=inward, rng=rng)
        )
        ruler = LaidRuler(kind, placement(turn, middle, (kind.length / 2.0, kind.width / 2.0)))
        if all(_gap(ruler.outline, other.outline) > layout.gap for other in others):
            return ruler
    raise DoesNotFitError(f"the {kind.name} ruler does not fit beside the other one")


def _gap(a: Points, b: Points) -> float:
    """The distance between two long outlines that are not inside one another, to about 0.1 mm."""
    dense = [with_steps(outline, 2.0) for outline in (a, b)]
    apart = dense[0][:, None, :] - dense[1][None, :, :]
    return float(np.hypot(apart[..., 0], apart[..., 1]).min())


def _beside(
    kind: RulerKind,
    turn: float,
    room: tuple[float, float],
    border: float,
    *,
    inward: float,
    rng: np.random.Generator,
) -> Points:
    """A middle for the ruler that keeps it in the room, near one of the room's sides.

    `inward`: how far towards the other side, as a share of the way. A ruler too long for the room runs off
    it at both ends, one end farther than the other.
    """
    c, s = abs(math.cos(math.radians(turn))), abs(math.sin(math.radians(turn)))
    half = np.array([kind.length * c + kind.width * s, kind.length * s + kind.width * c]) / 2.0
    middle = np.empty(2)
    near_low = rng.random() < 0.5
    for axis in (0, 1):
        low, high = half[axis] + border, room[axis] - half[axis] - border
        if low > high:
            middle[axis] = room[axis] / 2.0 + float(rng.uniform(-8.0, 8.0))
        elif half[axis] < half[1 - axis]:
            middle[axis] = low + inward * (high - low) if near_low else high - inward * (high - low)
        else:
            middle[axis] = float(rng.uniform(low, high))
    return middle
