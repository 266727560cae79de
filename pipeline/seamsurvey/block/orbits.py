"""A symmetric layout folded up: of vertices that are one another's images only one is an unknown.

The image of a vertex at (x, y) lies at turn · (x + iy) + shift (mirrored: turn · (x - iy) + shift), where each part
of the shift is 0 or a whole side of the block.
"""

from dataclasses import dataclass

from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.symmetry import isometries

_NEAR_MM = (
    2.0  # an image this near a vertex is that vertex: layouts settle to far less, corners lie far wider apart
)


@dataclass(frozen=True)
class Image:
    """Vertex = image of ``of``. ``wide`` and ``high``: whether the shift has the block's width, its height."""

    of: int
    mirrored: bool = False
    turn: complex = 1 + 0j
    wide: bool = False
    high: bool = False


@dataclass(frozen=True)
class Orbits:
    """``vertex``: each used vertex as the image of one that is kept; ``fixed``: kept ones that are their own image.

    ``pieces`` and ``meetings`` index those of the layout that are kept: the rest are their images. ``order`` is the
    number of moves that carry the layout to itself.
    """

    vertex: dict[int, Image]
    fixed: tuple[Image, ...]
    pieces: tuple[int, ...]
    meetings: tuple[int, ...]
    order: int

    @property
    def kept(self) -> list[int]:
        """The vertices that are unknowns."""
        return sorted(v for v, image in self.vertex.items() if image.of == v)


def orbits_of(shapes: Shapes, layout: Layout) -> Orbits:
    """Fold a layout by all its symmetry."""
    used = sorted({v for _, _, corners in layout.pieces for v in corners})
    moves = _moves(shapes, layout, used)
    vertex: dict[int, Image] = {}
    fixed: list[Image] = []
    for v in used:
        if v in vertex:
            continue
        vertex[v] = Image(v)
        for pairs, flip, turn, shift in moves:
            image = Image(v, flip, turn, shift.real != 0, shift.imag != 0)
            if pairs[v] == v:
                fixed.append(image)
            else:
                vertex.setdefault(pairs[v], image)
    tables = [pairs for pairs, *_ in moves]
    return Orbits(
        vertex=vertex,
        fixed=tuple(fixed),
        pieces=_kept([frozenset(corners) for _, _, corners in layout.pieces], tables),
        meetings=_kept([frozenset(meeting) for meeting in layout.meetings], tables),
        order=1 + len(moves),
    )


def _moves(shapes: Shapes, layout: Layout, used: list[int]) -> list[tuple[dict[int, int], bool, complex, complex]]:
    """The moves, but for standing still, that carry every vertex to a vertex and every piece to a piece."""
    found = []
    for _, flip, turn, shift in isometries(layout.size, _NEAR_MM):
        if not flip and turn == 1:
            continue
        pairs: dict[int, int] = {}
        for v in used:
            z = layout.at[v]
            moved = turn * (z.conjugate() if flip else z) + shift
            u = min(used, key=lambda k: abs(layout.at[k] - moved))
            if abs(layout.at[u] - moved) > _NEAR_MM:
                break
            pairs[v] = u
        else:
            if _carries_pieces(shapes, layout, pairs, flip):
                found.append((pairs, flip, turn, shift))
    return found


def _carries_pieces(shapes: Shapes, layout: Layout, image: dict[int, int], flip: bool) -> bool:
    pieces = {(t, over and not shapes.mirrored[t], frozenset(corners)) for t, over, corners in layout.pieces}
    return all(
        (t, (over != flip) and not shapes.mirrored[t], frozenset(image[v] for v in corners)) in pieces
        for t, over, corners in layout.pieces
    )


def _kept(groups: list[frozenset[int]], tables: list[dict[int, int]]) -> tuple[int, ...]:
    """Of groups of vertices that are one another's images, the first."""
    seen: set[frozenset[int]] = set()
    kept = []
    for k, group in enumerate(groups):
        if group in seen:
            continue
        kept.append(k)
        seen.add(group)
        seen.update(frozenset(table.get(v, -1) for v in group) for table in tables)
    return tuple(kept)
