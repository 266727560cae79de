"""A set of cards laid as the drawing of a known block says."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from seamsurvey.block.laid_out import laid_out
from seamsurvey.block.outlines import OUTLINES
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Face, Shapes
from seamsurvey.block.tradition import Likeness, ways_of_lying


@dataclass(frozen=True)
class _Placed:
    """A face and where its corners lie, complex mm, in its own order."""

    face: Face
    corners: tuple[complex, ...]


def laid_as_drawn(
    shapes: Shapes, likeness: Likeness, reversed_counts: Sequence[int | None], near: float
) -> Layout | None:
    """The layout of cards that are a known block's, ``Likeness.as_drawn``, at the scale that the cards say.

    ``reversed_counts`` are kept where they are known: a drawing can be turned over. None where they can't be, or
    where corners can't be told apart.
    """
    known = likeness.known
    every = np.concatenate([corners for _, corners in known.pieces])
    width = float(np.ptp(every.real)) * likeness.scale
    height = float(np.ptp(every.imag)) * likeness.scale
    low = complex(every.real.min(), every.imag.min())
    card_of = {shape: card for card, shape in enumerate(likeness.shape_of)}
    for over in (False, True):
        placed = []
        for shape, corners in known.pieces:
            there = (corners - low) * likeness.scale
            if over:
                there = np.roll((width - there.conjugate())[::-1], 1)
            _, reversed_, ring = min(ways_of_lying(shapes, card_of[shape], there), key=lambda way: way[0])
            placed.append(_Placed(shapes.face(card_of[shape], reversed_), ring))
        if _as_many(placed, reversed_counts, shapes):
            return laid_out(placed, OUTLINES[known.outline], (width, height), near)
    return None


def _as_many(placed: Sequence[_Placed], wanted: Sequence[int | None], shapes: Shapes) -> bool:
    over = [0] * len(wanted)
    for one in placed:
        over[one.face.template] += one.face.reversed
    return all(w is None or shapes.mirrored[t] or over[t] == w for t, w in enumerate(wanted))
