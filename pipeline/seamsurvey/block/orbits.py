"""A symmetric layout folded up: of vertices that are one another's images only one is an unknown.

The image of a vertex lies where a move of the block's outline carries it.
"""

from dataclasses import dataclass

from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.symmetry import STILL, Move, isometries

_NEAR_MM = (
    2.0  # an image this near a vertex is that vertex: layouts settle to far less, corners lie far wider apart
)


@dataclass(frozen=True)
class Image:
    """Vertex = image of ``of`` by ``move``."""

    of: int
    move: Move = STILL


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
        for pairs, move in moves:
            image = Image(v, move)
            if pairs[v] == v:
                fixed.append(image)
            else:
                vertex.setdefault(pairs[v], image)
    tables = [pairs for pairs, _ in moves]
    return Orbits(
        vertex=vertex,
        fixed=tuple(fixed),
        pieces=_kept([frozenset(corners) for _, _, corners in layout.pieces], tables),
        meetings=_kept([frozenset(meeting) for meeting in layout.meetings], tables),
        order=1 + len(moves),
    )


def _moves(shapes: Shapes, layout: Layout, used: list[int]) -> list[tuple[dict[int, int], Move]]:
    """The moves, but for standing still, that carry every vertex to a vertex and every piece to a piece."""
    found = []
    for move in isometries(layout.outline, layout.size, _NEAR_MM):
        if move == STILL:
            continue
        pairs: dict[int, int] = {}
        for v in used:
            moved = move.to(layout.at[v], layout.size)
            u = min(used, key=lambda k: abs(layout.at[k] - moved))
            if abs(layout.at[u] - moved) > _NEAR_MM:
                break
            pairs[v] = u
        else:
            if _carries_pieces(shapes, layout, pairs, move.mirrored):
                found.append((pairs, move))
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
