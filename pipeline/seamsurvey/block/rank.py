"""Which layouts are the same, and which of those that fit is the likeliest.

The prior, most weighty first:

1. the more of the block's own turns and mirrors carry the layout to itself, the likelier it is;
2. then the fewer meeting points it has: in a planned block corners meet corners;
3. then the fewer ways its pieces are turned: a row of like pieces lies alike;
4. then the closure, and the order of finding.

Two layouts are *close* (a person must choose) unless one is clearly better. With the same counts it is so only if
its symmetry is larger. Meeting points put layouts in order but prove nothing: in a ladder of triangles point to
point has fewer of them than all the same way up; round a square, four pieces and four corner triangles whirl in two
ways, one with four meeting points fewer; and either may be meant. With other counts a layout is clearly better only
if it has more symmetry and no more pieces.
"""

import cmath
import math
from dataclasses import dataclass

from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.symmetry import Move, isometries, named

Marks = list[tuple[int, bool, complex]]

# Two pieces of one template never lie nearer to one another than a good part of their size.
_SAME_PLACE = 0.1


@dataclass(frozen=True)
class Ranked:
    """A layout with what speaks for it: the order of its symmetry group, its meeting points, its ways of lying."""

    layout: Layout
    symmetry: str
    order: int
    meeting_points: int
    ways: int
    counts: tuple[int, ...]

    @property
    def key(self) -> tuple[float, ...]:
        """Smaller is likelier."""
        return (-self.order, self.meeting_points, self.ways, round(self.layout.misfit, 3))


def ranked(shapes: Shapes, layouts: list[Layout]) -> list[Ranked]:
    """The different ones among the layouts, the likeliest first."""
    different: list[Ranked] = []
    for layout in layouts:
        if not any(same_layout(shapes, layout, other.layout) for other in different):
            different.append(_judge(shapes, layout))
    return sorted(different, key=lambda r: r.key)


def close_rivals(best: Ranked, others: list[Ranked]) -> list[Ranked]:
    """Those of the others that the prior can't tell from the best."""
    return [other for other in others if not _clearly_better(best, other)]


def _clearly_better(a: Ranked, b: Ranked) -> bool:
    if a.counts != b.counts:
        return a.order > b.order and sum(a.counts) <= sum(b.counts)
    return a.order > b.order


def same_layout(shapes: Shapes, a: Layout, b: Layout) -> bool:
    """Whether two layouts have the same pieces at the same places, up to the moves of the block's outline."""
    if _counts(shapes, a) != _counts(shapes, b) or len(a.outline.corners) != len(b.outline.corners):
        return False
    near = _near(shapes)
    marks_a, marks_b = _marks(shapes, a), _marks(shapes, b)
    sizes = sorted(a.size), sorted(b.size)
    if any(abs(p - q) > near for p, q in zip(*sizes, strict=True)):
        return False
    if abs(a.size[0] - b.size[0]) > near:  # the one lies on its side
        marks_a = [(t, r, 1j * z + a.size[1]) for t, r, z in marks_a]
    moves = isometries(b.outline, b.size, near)
    return any(_carries(shapes, marks_a, b, marks_b, move) for move in moves)


def _near(shapes: Shapes) -> float:
    return _SAME_PLACE * math.sqrt(min(shapes.areas))


def _counts(shapes: Shapes, layout: Layout) -> tuple[int, ...]:
    counts = [0] * len(shapes.names)
    for t, _, _ in layout.pieces:
        counts[t] += 1
    return tuple(counts)


def _marks(shapes: Shapes, layout: Layout) -> Marks:
    """Each piece as its template, its face and the mean of its corners."""
    return [
        (t, over and not shapes.mirrored[t], sum(layout.at[v] for v in corners) / len(corners))
        for t, over, corners in layout.pieces
    ]


def _carries(shapes: Shapes, marks: Marks, layout: Layout, onto: Marks, move: Move) -> bool:
    """Whether a move of the layout's outline carries marks onto those of the layout."""
    near = _near(shapes)
    for t, over, z in marks:
        image = move.to(z, layout.size)
        face = over != move.mirrored and not shapes.mirrored[t]
        if not any(u == t and other == face and abs(image - w) <= near for u, other, w in onto):
            return False
    return True


def kept_moves(shapes: Shapes, layout: Layout) -> list[Move]:
    """The moves of the block's outline that carry the layout to itself, standing still among them."""
    marks = _marks(shapes, layout)
    moves = isometries(layout.outline, layout.size, _near(shapes))
    return [move for move in moves if _carries(shapes, marks, layout, marks, move)]


def _judge(shapes: Shapes, layout: Layout) -> Ranked:
    kept = kept_moves(shapes, layout)
    return Ranked(
        layout=layout,
        symmetry=named(kept),
        order=len(kept),
        meeting_points=len({v for _, _, corners in layout.pieces for v in corners}),
        ways=_ways(shapes, layout),
        counts=_counts(shapes, layout),
    )


def _ways(shapes: Shapes, layout: Layout) -> int:
    """How many different (template, face, turn to 5 degrees) the layout has."""
    seen = set()
    for t, over, corners in layout.pieces:
        face = shapes.face(t, over)
        along = layout.at[corners[1]] - layout.at[corners[0]]
        turn = math.degrees(cmath.phase(along / (face.corners[1] - face.corners[0])))
        period = 360 / shapes.turns[t]
        seen.add((t, over, round(turn / 5) * 5 % period))
    return len(seen)
