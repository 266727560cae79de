"""The trade's known blocks: what a quilter who looks at a set of cards thinks of first.

The catalogue (``tradition.json``) has each block as an exact drawing. A set of cards may be one of them in two
ways. *As drawn*: every card is similar to a shape of the drawing, at one scale; then the drawing says where each
piece lies. *In its manner*: corner for corner the cards are such shapes, in other proportions; then the drawing
says only how many of each there are. A layout that was found is one of them when it has its pattern (``pattern``).
"""

import json
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from importlib.resources import files
from itertools import permutations, product
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from seamsurvey.block.pattern import Card, Laid, alike, card_of, card_of_face, patterns
from seamsurvey.block.shapes import Shapes, area_of

Complexes = NDArray[np.complex128]

_NEAR = 0.004  # of a drawing's width: its corners are one
_MOST_PAIRINGS = 24
_MOST_SHARES = 4
_LEAST_CARDS, _MOSTLY = 2, 0.5  # cards, and share of the area that they fill, to guess what is missing from
_AS_DRAWN = 0.03  # share of its size by which a card may differ from a drawing's shape; closing it says the rest


@dataclass(frozen=True, eq=False)
class Known:
    """A block of the trade; a ``famous`` one every quilter knows by name.

    ``valences``: how many corners meet in each of its points, in order of size. ``pieces``: the number of a shape
    and the corners, complex, counter-clockwise.
    """

    name: str
    famous: bool
    outline: str
    valences: tuple[int, ...]
    pieces: tuple[tuple[int, Complexes], ...]

    @cached_property
    def cards(self) -> tuple[Card, ...]:
        """The card of each shape."""
        return tuple(card_of(*_angles_and_lengths(self.shape(s))) for s in range(len(self.counts)))

    @cached_property
    def corners(self) -> tuple[int, ...]:
        """How many corners each shape has, in order of size: rules most blocks out before their cards are drawn."""
        return tuple(sorted({shape: len(ring) for shape, ring in self.pieces}.values()))

    @cached_property
    def counts(self) -> tuple[int, ...]:
        """How many pieces each shape has."""
        uses = Counter(shape for shape, _ in self.pieces)
        return tuple(uses[s] for s in range(len(uses)))

    def shape(self, number: int) -> Complexes:
        """The corners of the first piece of a shape."""
        return next(corners for shape, corners in self.pieces if shape == number)

    @cached_property
    def area(self) -> float:
        """Of the whole."""
        return sum(_area(corners) for _, corners in self.pieces)

    def without(self, shape: int) -> "Known":
        """All but the pieces of one shape."""
        pieces = tuple((s - (s > shape), corners) for s, corners in self.pieces if s != shape)
        return Known(self.name, self.famous, self.outline, self.valences, pieces)

    @cached_property
    def patterns(self) -> tuple[str, ...]:
        """How its pieces lie to one another, told more closely round by round."""
        laid = [Laid(card_of(*_angles_and_lengths(corners)), corners) for _, corners in self.pieces]
        width = float(np.ptp(np.concatenate([corners for _, corners in self.pieces]).real))
        return tuple(patterns(self.outline, laid, _NEAR * width))

    @property
    def pattern(self) -> str:
        """How its pieces lie to one another."""
        return self.patterns[-1]


@dataclass(frozen=True)
class Likeness:
    """A known block that the cards may be. ``shape_of`` has for each card the number of its shape.

    ``off`` is by how much the cards differ from the drawing, as a share of their size (root mean square);
    ``counts`` the number of each card, ``scale`` mm a unit of the drawing.
    """

    known: Known
    shape_of: tuple[int, ...]
    counts: tuple[int, ...]
    off: float
    scale: float

    @property
    def as_drawn(self) -> bool:
        """Whether the drawing says where each piece lies: no shape is shared by cards, none differs."""
        return self.off <= _AS_DRAWN and len(set(self.shape_of)) == len(self.shape_of)


@cache
def tradition() -> tuple[Known, ...]:
    """All known blocks, in the order of the catalogue."""
    rows = json.loads(files("seamsurvey.block").joinpath("tradition.json").read_text(encoding="utf-8"))
    return tuple(_known(row) for row in rows)


def _known(row: dict[str, Any]) -> Known:
    points = np.array(row["points"]).view(np.complex128)[:, 0]
    rings = [ring for _, *ring in row["pieces"]]
    pieces = tuple((piece[0], points[ring]) for piece, ring in zip(row["pieces"], rings, strict=True))
    return Known(row["name"], row["famous"], row["outline"], valences_of(rings), pieces)


def valences_of(rings: Iterable[Sequence[int]]) -> tuple[int, ...]:
    """How many corners meet in each point, in order of size; ``rings`` are the points of each piece."""
    return tuple(sorted(Counter(v for ring in rings for v in ring).values()))


def likenesses(
    shapes: Shapes, known_counts: Sequence[int | None], near: float, catalogue: Sequence[Known]
) -> Iterator[Likeness]:
    """The blocks of the catalogue that the cards may be; ``known_counts`` are kept where a person said them."""
    first = alike(shapes, near)
    own = [t for t, same in enumerate(first) if same == t]
    cards = [card_of_face(shapes.face(t, False)) for t in own]
    kinds = Counter(card.kind for card in cards)
    corners = tuple(sorted(len(card.corners) for card in cards))
    for known in catalogue:
        if known.corners != corners or Counter(card.kind for card in known.cards) != kinds:
            continue
        found: dict[tuple[int, ...], Likeness] = {}
        for pairing in _pairings(shapes, own, cards, known):
            shape_of = tuple(pairing[own.index(same)] for same in first)
            off, scale = _unlike(shapes, own, pairing, known)
            for counts in _shared(known, shape_of, known_counts):
                if counts not in found or off < found[counts].off:
                    found[counts] = Likeness(known, shape_of, counts, off, scale)
        yield from found.values()


@dataclass(frozen=True, eq=False)
class Lacking:
    """A known block that the cards are but for one: its corners, complex mm, and how many pieces are cut by it."""

    known: Known
    corners: Complexes
    count: int


def lacking(
    shapes: Shapes, known_counts: Sequence[int | None], near: float, catalogue: Sequence[Known]
) -> Lacking | None:
    """The block that the cards are most like if one has been forgotten; None where none is, or of a single card."""
    best: tuple[tuple[bool, float], Lacking] | None = None
    if len(shapes.names) < _LEAST_CARDS:
        return None
    for known in catalogue:
        if len(known.counts) < 2 or len(known.counts) > len(shapes.names) + 1:
            continue
        for shape, count in enumerate(known.counts):
            rest = known.without(shape)
            if rest.area < _MOSTLY * known.area:
                continue
            for one in likenesses(shapes, known_counts, near, [rest]):
                order = not known.famous, one.off
                if one.as_drawn and (best is None or order < best[0]):
                    best = order, Lacking(known, known.shape(shape) * one.scale, count)
    return best[1] if best else None


def _pairings(shapes: Shapes, own: Sequence[int], cards: Sequence[Card], known: Known) -> Iterator[tuple[int, ...]]:
    """For each own card a shape of like corners: in every way, or where those are many, as they fit best."""
    kinds = sorted({card.kind for card in cards})
    groups = [
        (
            [k for k, card in enumerate(cards) if card.kind == kind],
            [s for s, card in enumerate(known.cards) if card.kind == kind],
        )
        for kind in kinds
    ]
    if math.prod(math.factorial(len(mine)) for mine, _ in groups) > _MOST_PAIRINGS:
        scale = _scale(shapes, own, range(len(own)), known)
        best = []
        for mine, theirs in groups:
            costs = [[_misfit(shapes, own[k], known.shape(s) * scale) ** 2 for s in theirs] for k in mine]
            rows, columns = linear_sum_assignment(np.array(costs))
            best.append(([mine[r] for r in rows], [theirs[c] for c in columns]))
        yield _joined(len(own), best)
        return
    for orders in product(*(permutations(theirs) for _, theirs in groups)):
        yield _joined(len(own), [(mine, order) for (mine, _), order in zip(groups, orders, strict=True)])


def _joined(count: int, pairs: Sequence[tuple[Sequence[int], Sequence[int]]]) -> tuple[int, ...]:
    shape_of = [0] * count
    for mine, theirs in pairs:
        for k, s in zip(mine, theirs, strict=True):
            shape_of[k] = s
    return tuple(shape_of)


def _unlike(shapes: Shapes, own: Sequence[int], pairing: Sequence[int], known: Known) -> tuple[float, float]:
    """How far the cards differ from the shapes at the best scale, as a share of their size; and that scale."""
    scale = _scale(shapes, own, pairing, known)
    squares = [
        _misfit(shapes, t, known.shape(s) * scale) ** 2 / shapes.areas[t] for t, s in zip(own, pairing, strict=True)
    ]
    return math.sqrt(sum(squares) / len(squares)), scale


def _scale(shapes: Shapes, own: Sequence[int], pairing: Iterable[int], known: Known) -> float:
    """How much larger cards are than shapes (geometric mean): the same however they are paired."""
    logs = [math.log(shapes.areas[t] / _area(known.shape(s))) for t, s in zip(own, pairing, strict=True)]
    return math.exp(sum(logs) / len(logs) / 2)


def _misfit(shapes: Shapes, template: int, corners: Complexes) -> float:
    """How far a card's corners lie from a shape's, root mean square, in the way that it lies best on it."""
    return min(off for off, _, _ in ways_of_lying(shapes, template, corners))


def ways_of_lying(
    shapes: Shapes, template: int, corners: Complexes
) -> Iterator[tuple[float, bool, tuple[complex, ...]]]:
    """The ways a card lies on corners: how far off, whether reversed, the corners in the order of that face's."""
    for face in shapes.faces:
        if face.template != template or len(face.corners) != len(corners):
            continue
        own = np.array(face.corners)
        own = own - own.mean()
        middle = corners.mean()
        for start in range(len(corners)):
            there = np.roll(corners, -start)
            turn = np.vdot(own, there - middle)
            turn /= abs(turn)
            off = math.sqrt(float(np.mean(np.abs(own * turn - (there - middle)) ** 2)))
            yield off, face.reversed, tuple(complex(z) for z in there)


def _shared(known: Known, shape_of: Sequence[int], said: Sequence[int | None]) -> Iterator[tuple[int, ...]]:
    """The counts of the cards: those of one shape (of several colours) share its pieces, the most even first."""
    ways = [(0,) * len(shape_of)]
    for shape, total in enumerate(known.counts):
        mine = [t for t, s in enumerate(shape_of) if s == shape]
        shares = [
            share
            for share in _shares(total, len(mine))
            if all(said[t] in (None, n) for t, n in zip(mine, share, strict=True))
        ]
        ways = [
            tuple(share[mine.index(t)] if t in mine else n for t, n in enumerate(way))
            for way in ways
            for share in shares[:_MOST_SHARES]
        ][: 4 * _MOST_SHARES]
    yield from ways


def _shares(total: int, parts: int) -> list[tuple[int, ...]]:
    """All ways to share so many pieces between cards, the most even first."""
    if parts == 1:
        return [(total,)]
    if parts > 4 or total > 40:
        even = [total // parts + (k < total % parts) for k in range(parts)]
        return [tuple(even)] if total >= parts else []
    rows = [(n, *rest) for n in range(1, total - parts + 2) for rest in _shares(total - n, parts - 1)]
    return sorted(rows, key=lambda row: (sum((n - total / parts) ** 2 for n in row), row))


def _area(corners: Complexes) -> float:
    return area_of([complex(z) for z in corners])


def _angles_and_lengths(corners: Complexes) -> tuple[list[float], list[float]]:
    ahead, behind = np.roll(corners, -1) - corners, np.roll(corners, 1) - corners
    return [float(a) % 360 for a in np.degrees(np.angle(behind / ahead))], [float(x) for x in np.abs(ahead)]
