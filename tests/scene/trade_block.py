"""A block of the trade as an exact drawing, and whether a layout that was found is that block.

Unlike a `Family` it may have any of the outlines that blocks have: a triangle, a hexagon, an octagon too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from .congruence import Template, templates_of
from .geometry import Points, centroid, mirrored

MM_PER_INCH = 25.4
# A found piece lies where it should when each of its corners does: pieces of two layouts that differ lie much
# further apart than this, and the size of a block measured to tenths is off by less.
NEAR_MM = 3.0


@dataclass(frozen=True)
class Sketch:
    """A drawing in units of its own: its outline and pieces, counter-clockwise, y up."""

    outline: Points
    pieces: tuple[Points, ...]


@dataclass(frozen=True)
class TradeBlock:
    """A block with its outline and its pieces (mm, block frame, counter-clockwise).

    Cards of one shape and size are one template, from whatever fabrics they are cut: `templates` has each once.
    """

    name: str
    kind: str  # of outline: "square", "rectangle", "triangle", "hexagon", "octagon"
    outline: Points
    pieces: tuple[Points, ...]
    set_in: bool = False  # some region of it has no straight cut from edge to edge
    notes: str = ""

    @cached_property
    def templates(self) -> tuple[Template, ...]:
        """The templates that cut all the pieces, with their copies face up and reversed."""
        return templates_of(self.pieces)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, mm."""
        width, height = np.ptp(self.outline, axis=0)
        return float(width), float(height)


def drafted(
    name: str, kind: str, sketch: Sketch, width: float, *, unit: str = "in", set_in: bool = False, notes: str = ""
) -> TradeBlock:
    """The sketch as a block `width` inches (or mm) wide, its lower left corner at the origin."""
    low = sketch.outline.min(axis=0)
    scale = width * (MM_PER_INCH if unit == "in" else 1.0) / float(np.ptp(sketch.outline[:, 0]))
    pieces = tuple((piece - low) * scale for piece in sketch.pieces)
    return TradeBlock(name, kind, (sketch.outline - low) * scale, pieces, set_in, notes)


class FoundPiece(Protocol):
    """What is asked of a piece of a found layout: `seamsurvey.model.Piece` has it."""

    @property
    def template(self) -> str:
        """The template's name."""

    @property
    def outline(self) -> Points:
        """(n, 2) mm, counter-clockwise."""


class FoundBlock(Protocol):
    """What is asked of a found layout: `seamsurvey.model.Block` has it."""

    @property
    def outline(self) -> Points:
        """(m, 2) mm, counter-clockwise."""

    @property
    def pieces(self) -> Sequence[FoundPiece]:
        """The pieces in place."""


def is_right_block(trade: TradeBlock, block: FoundBlock, near: float = NEAR_MM) -> bool:
    """Whether a found layout is the drawn one, up to turns and mirror images of the whole.

    The same pieces of the same templates must lie at the same places, corner on corner to `near` mm, in one of
    the ways in which the found outline lies on the drawn one. No two templates of a `TradeBlock` are congruent,
    so that a template's name stands for its class; which copy lies where makes no difference. Whether a piece is
    reversed follows from its corners.
    """
    if len(block.pieces) != len(trade.pieces):
        return False
    wanted = [(t.name, trade.pieces[copy.piece]) for t in trade.templates for copy in t.copies]
    for way in _ways(block.outline, trade.outline, near):
        laid = [(piece.template, way.carried(piece.outline)) for piece in block.pieces]
        if _same_pieces(laid, wanted, near):
            return True
    return False


@dataclass(frozen=True)
class _Way:
    """An isometry: mirrored or not, then turned, then shifted."""

    over: bool
    turn: complex
    shift: complex

    def carried(self, outline: Points) -> Points:
        points = mirrored(outline) if self.over else outline
        z = points @ np.array([1.0, 1j]) * self.turn + self.shift
        return np.column_stack([z.real, z.imag])


def _ways(found: Points, drawn: Points, near: float) -> Iterator[_Way]:
    """The isometries that lay an outline on another, centre of area on centre of area, corners to `near`."""
    if len(found) != len(drawn):
        return
    to = complex(*centroid(drawn))
    target = drawn @ np.array([1.0, 1j])
    for over in (False, True):
        ring = mirrored(found) if over else found
        about = complex(*centroid(ring))
        source = ring @ np.array([1.0, 1j])
        for shift in range(len(drawn)):
            onto = np.roll(target, shift)
            turn = complex(np.vdot(source - about, onto - to))
            turn /= abs(turn)
            if np.abs((source - about) * turn + to - onto).max() < near:
                yield _Way(over, turn, to - about * turn)


def _same_pieces(laid: Sequence[tuple[str, Points]], wanted: Sequence[tuple[str, Points]], near: float) -> bool:
    left = list(wanted)
    for name, outline in laid:
        k = next((k for k, (other, place) in enumerate(left) if other == name and _on(outline, place, near)), None)
        if k is None:
            return False
        del left[k]
    return not left


def _on(outline: Points, place: Points, near: float) -> bool:
    if len(outline) != len(place):
        return False
    return any(np.hypot(*(np.roll(outline, shift, axis=0) - place).T).max() < near for shift in range(len(place)))
