"""Do the pieces fill the block? What overlaps and what is missing is named, with its place and size."""

import numpy as np
import shapely

from seamsurvey.arcs import drawn_out
from seamsurvey.errors import InputError
from seamsurvey.foundation.corners import SNAP_MM
from seamsurvey.foundation.words import listed
from seamsurvey.model import Block
from seamsurvey.unions import united

# An overlap or gap this narrow is the rounding of a drawing's coordinates: each side may be off by a snap.
NARROW_MM = 2 * SNAP_MM


def check_tiling(block: Block) -> None:
    """InputError ``pieces-overlap`` or ``pieces-gap`` where the pieces don't fill the block's outline."""
    pieces = [shapely.Polygon(drawn_out(piece.outline, piece.bulges)) for piece in block.pieces]
    if not pieces:
        return
    names = [piece.id for piece in block.pieces]
    one, other = shapely.STRtree(pieces).query(pieces, predicate="intersects")
    for a, b in sorted((int(a), int(b)) for a, b in zip(one, other, strict=True) if a < b):
        common = _wide_parts(pieces[a].intersection(pieces[b]))
        if common:
            raise InputError(
                "pieces-overlap",
                f"The pieces {names[a]} and {names[b]} lie on one another: {_size(common[0])}.",
                where=_place(common[0]),
                todo="Assemble the block again, or mend the outlines of these two pieces.",
            )
    whole = shapely.Polygon(block.outline)
    together = united(pieces)
    for missing in _wide_parts(whole.difference(together)):
        near = _near(missing, pieces, names)
        raise InputError(
            "pieces-gap",
            f"There is a gap in the block, {_size(missing)}, beside {listed(near)}.",
            where=_place(missing),
            likely="A piece is missing, or one beside the gap is drawn too small.",
            todo="Assemble the block again, or mend the outlines so that the pieces fill it exactly.",
        )
    for beyond in _wide_parts(together.difference(whole)):
        raise InputError(
            "pieces-gap",
            f"{listed(_near(beyond, pieces, names))} reaches over the block's outline: {_size(beyond)}.",
            where=_place(beyond),
            todo="Mend the block's outline_mm or that piece, or leave the block's outline out to have it found.",
        )


def _wide_parts(shape: shapely.Geometry) -> list[shapely.Polygon]:
    """The parts of a shape that are more than rounding, the largest first."""
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, shapely.Polygon)]
    wide = [part for part in parts if not part.buffer(-NARROW_MM / 2).is_empty]
    return sorted(wide, key=lambda part: -part.area)


def _near(shape: shapely.Polygon, pieces: list[shapely.Polygon], names: list[str]) -> list[str]:
    return [name for name, piece in zip(names, pieces, strict=True) if piece.distance(shape) <= NARROW_MM and
            piece.buffer(NARROW_MM).intersection(shape.buffer(NARROW_MM)).length > 1.0]  # fmt: skip


def _size(shape: shapely.Polygon) -> str:
    low_x, low_y, high_x, high_y = shape.bounds
    return f"{high_x - low_x:.2f} × {high_y - low_y:.2f} mm"


def _place(shape: shapely.Polygon) -> str:
    x, y = np.asarray(shapely.point_on_surface(shape).coords[0])
    return f"round ({x:.2f}, {y:.2f}) mm in the block, from its lower left corner"
