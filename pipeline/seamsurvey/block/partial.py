"""The fullest partial layout, to be looked at where no layout was found."""

from collections import Counter

import numpy as np

from seamsurvey.block.search import Best
from seamsurvey.block.shapes import Shapes
from seamsurvey.model import Block, LayoutProof, Piece


def partial_block(shapes: Shapes, best: Best) -> Block | None:
    """The pieces as they were laid, not adjusted, in the outline that was tried; None where none could be laid.

    Where the outline's size was still open, it is that of the pieces.
    """
    if not best.pieces:
        return None
    numbers: Counter[str] = Counter()
    pieces = []
    for t, over, corners in best.pieces:
        name = shapes.names[t]
        numbers[name] += 1
        outline = np.array([[z.real, z.imag] for z in corners])
        bulges = shapes.face(t, over).bulges
        bulges = bulges if any(bulges) else ()
        pieces.append(
            Piece(id=f"{name}-{numbers[name]}", template=name, reversed=over, outline=outline, bulges=bulges)
        )
    ring = best.outline or _around(pieces)
    return Block(
        outline=np.array([[z.real, z.imag] for z in ring]),
        pieces=tuple(pieces),
        proof=LayoutProof(searched_all=False, layouts_found=0),
    )


def _around(pieces: list[Piece]) -> tuple[complex, ...]:
    width, height = np.vstack([piece.outline for piece in pieces]).max(axis=0)
    return 0j, complex(width, 0), complex(width, height), complex(0, height)
