"""Whether what stands in a job's files fits together: pieces that tile their block, sections that cover it."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon

from seamsurvey.arcs import drawn_out
from seamsurvey.errors import InputError
from seamsurvey.geometry import moved
from seamsurvey.model import Array, Block, FoundationPlan, Piece

# Places are rounded where a person writes them; two outlines that are off by more along their length are a mistake.
_ROUNDED_MM = 0.05
_CLEARLY_OFF_MM = 1.0


def closed_once(outline: Array) -> Array:
    """(n, 2): an outline without the first corner repeated at its end, as other programs write rings."""
    if outline.ndim == 2 and len(outline) > 3 and np.allclose(outline[0], outline[-1], atol=1e-6):
        return outline[:-1]
    return outline


def check_tiles(pieces: Sequence[Piece], outline: Array, file: str) -> None:
    """InputError ``pieces-do-not-tile`` where pieces lie outside a block's outline, or leave some of it bare."""
    if any(piece.bulges for piece in pieces) or len(outline) < 3:
        return  # an outline may follow arcs, which it does not tell
    block = Polygon(outline)
    shapes = [Polygon(piece.outline) for piece in pieces]
    room = block.buffer(_ROUNDED_MM, join_style="mitre")
    for piece, shape in zip(pieces, shapes, strict=True):
        if not room.covers(shape):
            away = shapely.hausdorff_distance(shapely.union(block, shape), block)
            raise _does_not(
                f"In {file} piece {piece.id} lies {away:.1f} mm outside the block's outline.",
                file,
                f"Mend its outline_mm, or take out “block” to have the outline found anew: {file}.",
            )
    bare = block.difference(shapely.union_all([s.buffer(_ROUNDED_MM, join_style="mitre") for s in shapes]))
    if not bare.is_empty and bare.area > _ROUNDED_MM * block.length:
        x, y = bare.representative_point().coords[0]
        raise _does_not(
            f"In {file} the pieces leave a part of the block bare, round {x:.1f}, {y:.1f} mm.",
            file,
            "Mend the outlines so that neighbours share their corners.",
        )


def check_plan(plan: FoundationPlan, block: Block, file: str) -> None:
    """InputError ``plan-does-not-fit`` where a plan is not one of this block."""
    known = {piece.id for piece in block.pieces}
    outline = Polygon(drawn_out(block.outline, ()))
    room = None if any(piece.bulges for piece in block.pieces) else outline.buffer(_CLEARLY_OFF_MM)
    parts = {place.name for section in plan.sections for place in section.places}
    for section in plan.sections:
        if not section.places:
            raise _not_of_this(f"section {section.name} has no places", file)
        for piece in section.pieces:
            if piece.piece not in known:
                raise _not_of_this(f"{piece.label} is made of {piece.piece}, which the block does not have", file)
            for place in section.places:
                at = Polygon(moved(piece.outline, place.turn_deg, place.shift_mm))
                if room is not None and not room.covers(at):
                    away = shapely.hausdorff_distance(shapely.union(outline, at), outline)
                    raise _not_of_this(f"{piece.label} in {place.name} lies {away:.0f} mm outside the block", file)
    for join in plan.joins:
        for part in join.parts:
            if part not in parts:
                raise _not_of_this(f"step {join.step} joins {part}, which is no section and no earlier step", file)
        parts.add(join.result)


def _does_not(what: str, file: str, todo: str) -> InputError:
    return InputError("pieces-do-not-tile", what, where=file, todo=todo)


def _not_of_this(what: str, file: str) -> InputError:
    return InputError(
        "plan-does-not-fit",
        f"{file} does not fit the block: {what}.",
        where=file,
        likely="It was written by hand, or belongs to another layout.",
        todo="Mend it, or delete it to have it made anew.",
    )
