"""Cards and rulers drawn on a picture, whatever looks at them: a scanner's glass or a phone's lens."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from .canvas import Canvas, Paint
from .cards import Cutting, grain_line, holes_in, seam_dashes, writing_on
from .geometry import Matrix, Points, move
from .light import Colour
from .looks import CARDS, RULER_INKS, Look, card_look, ruler_look
from .rulers import figures_of, grid_of, holes_of, marks_of, word_of
from .scene import LaidCard, LaidRuler, LaidSheet


class View(Protocol):
    """What looks at the table: from the table (mm) and a height above it (mm) to the image (px)."""

    def pixels(self, points: Points, height: float) -> Points:
        """(n, 2) where points of the table, lifted by `height`, are seen."""

    def outline(self, outline: Points, height: float) -> Points:
        """The outline as it is seen; with more points where a lens bends straight edges."""

    def painted(self, look: Look, to_table: Matrix, height: float) -> Paint:
        """A look, given in the frame that `to_table` leads from, as the canvas wants it: by pixel."""


def draw_card(
    canvas: Canvas,
    laid: LaidCard,
    view: View,
    height: float,
    *,
    dashed: bool,
    rng: np.random.Generator,
    cutting: Cutting | None = None,
    behind: Colour = (0.05, 0.05, 0.05),
) -> None:
    """Draw a card's face, `height` mm above the table, its lettering, and its seam line if it has one.

    `cutting` says whether a grain line and holes are on it; `behind`: what shows through these.
    """
    stock = CARDS[laid.stock]

    def seen(outlines: Sequence[Points]) -> list[Points]:
        return [view.outline(move(laid.to_table, outline), height) for outline in outlines]

    canvas.paint(seen([laid.card.as_cut]), view.painted(card_look(laid.stock, rng), laid.to_table, height))
    writing = writing_on(laid.card, rng)
    dashes = seam_dashes(laid.card, rng) if dashed else []
    if not laid.face_down:  # the writing is on the face
        canvas.paint(seen(writing), stock.ink, 0.93)
        canvas.paint(seen(dashes), stock.ink, 0.85)
        if cutting is not None and cutting.grain_line:
            canvas.paint(seen(grain_line(laid.card)), stock.ink, 0.6)
    if cutting is not None and cutting.holes:
        canvas.paint(seen(holes_in(laid.card, cutting.holes)), behind)


def draw_ruler(
    canvas: Canvas,
    laid: LaidRuler,
    view: View,
    height: float,
    *,
    worn: float,
    behind: Colour,
    rng: np.random.Generator,
) -> None:
    """Draw a ruler's face; `worn`: share of its marks that are gone; `behind`: what shows through its holes."""
    kind = laid.kind
    ink = RULER_INKS[kind.look]
    printed = min(height, kind.print_height)

    def seen(outlines: Sequence[Points]) -> list[Points]:
        return [view.outline(laid.place(outline), printed) for outline in outlines]

    face = view.outline(laid.outline, height)
    paint = view.painted(ruler_look(kind.look, rng), laid.to_table, height)
    canvas.paint([face], paint, _TINT if kind.clear else 1.0)
    for lines in grid_of(kind):  # one after the other, for they cross
        canvas.paint(seen(lines), ink, 0.8)
    for scale in kind.scales:
        marks = marks_of(kind, scale)
        # Print is uneven: each mark takes a little more or less ink, some are worn away.
        inking = rng.integers(3, size=len(marks))
        there = rng.random(len(marks)) >= worn
        for choice, strength in enumerate((0.98, 0.93, 0.86)):
            chosen = [m.outline for m, i, t in zip(marks, inking, there, strict=True) if t and i == choice]
            canvas.paint(seen(chosen), ink, strength)
        canvas.paint(seen(figures_of(kind, scale)), ink, 0.95)
    canvas.paint(seen(word_of(kind)), ink, 0.7)
    canvas.paint(seen(holes_of(kind)), behind)


def draw_sheet(canvas: Canvas, laid: LaidSheet, view: View) -> None:
    """Draw a printed sheet: its paper, and what is printed on it in its order."""

    def seen(outline: Points) -> Points:
        return view.outline(move(laid.to_table, outline), 0.0)

    paper = np.array([0.82, 0.82, 0.8])
    canvas.paint([seen(laid.outline)], (0.82, 0.82, 0.8))
    for ink, share in laid.inks:
        red, green, blue = (float(v) for v in 0.03 + share * (paper - 0.03))
        canvas.paint([seen(ink)], (red, green, blue))


# How much of what is below it a clear body's own tint hides.
_TINT = 0.12
