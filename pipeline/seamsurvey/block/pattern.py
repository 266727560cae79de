"""How the pieces of a layout lie to one another, whatever their proportions: what makes it the block it is.

Two layouts have one pattern when their pieces can be paired so that paired pieces have like corners, meet like
pieces along like edges, and meet them at like corners. It is found as for graphs (refinement of colours, by
B. Weisfeiler and A. Leman, 1968): every piece starts as its corners, and takes up what its neighbours are, round
after round. A mirror image or a turn of the whole changes nothing; a wider strip in a log cabin neither.
"""

import hashlib
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.classes import DRAWN_DEG
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Face, Shapes

Complexes = NDArray[np.complex128]

_DRAWN_OFF_DEG = 2.0  # a corner nearer than this to one of a drafting tool's is meant so
_SAME_LENGTH = 0.03  # share by which edges of one length may differ
_ROUNDS = 6
_PARALLEL = 0.05  # sine of the angle under which edges lie along one another
_ACUTE, _OBTUSE, _REFLEX = -1, -2, -3  # corners of no drafting tool's angle


@dataclass(frozen=True)
class Card:
    """A card's corners and edges as its pattern sees them, counter-clockwise.

    ``corners``: degrees of a drafting tool's angle, else a negative number for what kind of angle it is;
    ``equals``: for each edge, how many of the card's have its length.
    """

    corners: tuple[float, ...]
    equals: tuple[int, ...]

    @cached_property
    def kind(self) -> tuple[float, ...]:
        """The corners in a row that is the same wherever one starts, and for the reversed face."""
        n = len(self.corners)
        turned = [self.corners[k:] + self.corners[:k] for k in range(n)]
        return min(row for way in turned for row in (way, way[::-1]))

    def edge(self, k: int) -> tuple[float, float, int]:
        """Edge k: the corners at its ends, and how many are as long."""
        ends = sorted((self.corners[k], self.corners[(k + 1) % len(self.corners)]))
        return ends[0], ends[1], self.equals[k]


def card_of(angles_deg: Sequence[float], lengths: Sequence[float]) -> Card:
    """The card of these corners and edges."""
    corners = []
    for angle in angles_deg:
        drawn = min(DRAWN_DEG, key=lambda one: abs(one - angle))
        other = _REFLEX if angle > 180 else _OBTUSE if angle > 90 else _ACUTE
        corners.append(drawn if abs(drawn - angle) <= _DRAWN_OFF_DEG else other)
    equals = tuple(sum(1 for b in lengths if abs(a - b) <= _SAME_LENGTH * max(a, b)) for a in lengths)
    return Card(tuple(corners), equals)


def card_of_face(face: Face) -> Card:
    """The card of a measured face."""
    return _card_of(face.angles, face.lengths)


@lru_cache(maxsize=1024)  # a face is looked at for every layout it is laid in
def _card_of(angles: tuple[float, ...], lengths: tuple[float, ...]) -> Card:
    return card_of([math.degrees(a) for a in angles], lengths)


@dataclass(frozen=True, eq=False)
class Laid:
    """A piece: its card, and its corners in place (complex), in the card's order."""

    card: Card
    corners: Complexes


def alike(shapes: Shapes, near: float) -> tuple[int, ...]:
    """For each card the first that has its shape, over or not: cards of several colours are one shape."""
    first: list[int] = []
    for t in range(len(shapes.names)):
        mine = sorted(shapes.face(t, False).lengths)
        same = next(
            (
                u
                for u in range(t)
                if first[u] == u
                and len(mine) == len(shapes.face(u, False).lengths)
                and card_of_face(shapes.face(u, False)).kind == card_of_face(shapes.face(t, False)).kind
                and all(
                    abs(a - b) <= near for a, b in zip(mine, sorted(shapes.face(u, False).lengths), strict=True)
                )
            ),
            t,
        )
        first.append(same)
    return tuple(first)


def patterns_of(shapes: Shapes, layout: Layout, near: float) -> Iterator[str]:
    """The pattern of a layout that was found, round after round (``patterns``)."""
    at = np.array(layout.at)
    laid = [Laid(card_of_face(shapes.face(t, over)), at[list(ring)]) for t, over, ring in layout.pieces]
    return patterns(layout.outline.name, laid, 2 * near)


def pattern(outline: str, pieces: Sequence[Laid], near: float) -> str:
    """The pattern of pieces that fill an outline; corners within ``near`` are one, in the unit of the corners."""
    return list(patterns(outline, pieces, near))[-1]


def patterns(outline: str, pieces: Sequence[Laid], near: float) -> Iterator[str]:
    """What is known of the pattern after each round; the last is the pattern.

    Layouts that differ in one round have different patterns, and most that do are told apart by the first.
    """
    edges = [(p, k) for p, piece in enumerate(pieces) for k in range(len(piece.corners))]
    named = [pieces[p].card.edge(k) for p, k in edges]
    contacts, bare = _contacts(pieces, edges, near)
    points = _meeting_points(pieces, near)
    colours = [_mark(piece.card.kind) for piece in pieces]
    for _ in range(_ROUNDS):
        heard: list[list[object]] = [[] for _ in pieces]
        for e, f, full in contacts:
            heard[edges[e][0]].append(("edge", named[e], named[f], full, colours[edges[f][0]]))
        for e in bare:
            heard[edges[e][0]].append(("side", named[e]))
        for point in points:
            there = sorted((pieces[p].card.corners[k], colours[p]) for p, k in point)
            for p, k in point:
                heard[p].append(("point", pieces[p].card.corners[k], there))
        colours = [_mark(colour, sorted(map(repr, all_))) for colour, all_ in zip(colours, heard, strict=True)]
        yield f"{outline} {_mark(sorted(colours))}"


def _contacts(
    pieces: Sequence[Laid], edges: Sequence[tuple[int, int]], near: float
) -> tuple[list[tuple[int, int, tuple[bool, bool]]], list[int]]:
    """Edges that lie on one another and whether over the whole of each; and those that nothing lies against."""
    a = np.concatenate([piece.corners for piece in pieces])
    b = np.concatenate([np.roll(piece.corners, -1) for piece in pieces])
    length = np.abs(b - a)
    turn = ((b - a) / length).conjugate()[:, None]
    start, end = (a[None, :] - a[:, None]) * turn, (b[None, :] - a[:, None]) * turn
    against = (np.abs(start.imag) <= near) & (np.abs(end.imag) <= near)
    against &= (end - start).real < -(1 - _PARALLEL) * length[None, :]
    low, high = np.maximum(end.real, 0.0), np.minimum(start.real, length[:, None])
    shared = np.where(against, np.maximum(high - low, 0.0), 0.0)
    shared[shared <= 2 * near] = 0.0
    whole = shared >= length[:, None] - 2 * near
    contacts = [
        (int(e), int(f), (bool(whole[e, f]), bool(whole[f, e])))
        for e, f in np.argwhere(shared > 0)
        if edges[e][0] != edges[f][0]
    ]
    return contacts, [int(e) for e in np.flatnonzero(shared.sum(axis=1) < length / 2)]


def _meeting_points(pieces: Sequence[Laid], near: float) -> list[list[tuple[int, int]]]:
    """The corners, as (piece, corner), of each point where corners meet."""
    corners = [(p, k) for p, piece in enumerate(pieces) for k in range(len(piece.corners))]
    at = np.concatenate([piece.corners for piece in pieces])
    close = np.abs(at[:, None] - at[None, :]) <= 2 * near
    left = np.ones(len(at), bool)
    points = []
    for k in range(len(at)):
        if left[k]:
            group = np.flatnonzero(close[k] & left)
            left[group] = False
            points.append([corners[g] for g in group])
    return points


def _mark(*what: object) -> str:
    return hashlib.blake2b(repr(what).encode(), digest_size=8).hexdigest()
