"""The same block in another finished size."""

from attrs import evolve

from seamsurvey.model import Block


def resized(block: Block, width_mm: float) -> Block:
    """The block brought to a width, its shape kept; how well it closed and what it was measured to be stay."""
    factor = width_mm / block.width
    return evolve(
        block,
        outline=block.outline * factor,
        size_u_mm=block.size_u_mm * factor,
        pieces=tuple(evolve(piece, outline=piece.outline * factor) for piece in block.pieces),
        seams=tuple(
            evolve(
                seam,
                start=(seam.start[0] * factor, seam.start[1] * factor),
                end=(seam.end[0] * factor, seam.end[1] * factor),
            )
            for seam in block.seams
        ),
    )
