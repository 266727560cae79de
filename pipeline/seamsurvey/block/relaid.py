"""From a block of few sewn parts to the layout of all its pieces.

The parts fill the block as pieces do, by the same search. Then every piece is laid where its part has it, one
after the other from a corner on, so that it meets the vertices and edges of those that lie there already.
"""

import itertools
import math
from collections.abc import Iterator, Sequence

import numpy as np

from seamsurvey.block.frontier import Frontier
from seamsurvey.block.hypotheses import Known
from seamsurvey.block.joined import Joined, Moved, Placed, single
from seamsurvey.block.joining import Joining, Parts
from seamsurvey.block.outlines import RECTANGLE, Outline
from seamsurvey.block.search import Budget, Layout, Partial, Search, Task
from seamsurvey.block.shapes import Face, Shapes
from seamsurvey.block.spring import Spring
from seamsurvey.block.work import Work

_FEW = 7  # pieces that the search lays in no time
_STEPS = 400  # for each set of parts
_EACH_S = 5.0  # of work for each way to fold the block
_LONGER, _RIVALS_S = 2.0, 0.5  # rivals are looked for in so many times the work that the first took, and so much
_MOST_COARSE = 4  # ways to lay one set of parts in one outline
_TRUE = 5.0  # standard deviations of chi-square by which a layout may fit worse than it was measured
# Snaps, in standard deviations of an edge's length, and at least mm; pieces laid between one settling and the next.
_Way = tuple[float, float, int]
_WAYS: tuple[_Way, ...] = ((6.0, 0.4, 6), (9.0, 0.4, 6))
# Of parts sewn together all places are well known, and half a block that settles may hinge on a corner. The narrow
# snap is for cuts that end on a line a little apart, from two sides.
_OF_PARTS: tuple[_Way, ...] = ((6.0, 0.4, 0), (9.0, 0.4, 0), (3.0, 0.2, 0), (6.0, 0.4, 6))
_SNAP_OF_SHORTEST = 0.2


def sewn_layouts(shapes: Shapes, known: Known, outlines: tuple[Outline, ...], work: Work) -> Iterator[Layout]:
    """Layouts of a block whose counts are known, found by sewing parts together; none where it can't be done.

    Only for pieces that are convex and straight. More layouts may fit.
    """
    for orbits in _foldings(known):
        parts = [single(shapes, t, count, over) for t, count, over, _ in orbits]
        if any(part is None for part in parts):
            return
        with work.at_most(_EACH_S):
            found = False
            began = work.done_s
            enough_s = math.inf
            joining = Joining([part for part in parts if part], [copies for *_, copies in orbits], _FEW, work)
            for state in joining.run():
                for layout in _filled(shapes, known, state, outlines, work):
                    enough_s = min(enough_s, _LONGER * (work.done_s - began) + _RIVALS_S)
                    found = True
                    yield layout
                if work.over() or work.done_s - began > enough_s:
                    break
        if found:
            return


_Orbits = tuple[int, int, int | None, int]
"""A template, how many of its pieces are images of one, how many of those reversed, and how many such there are."""


def _foldings(known: Known) -> Iterator[list[_Orbits]]:
    """Ways to see the pieces as images of fewer, the most symmetric first; one piece may lie in the middle."""
    yet: list[list[_Orbits]] = []
    for order, mirrored in ((6, False), (4, False), (2, True), (2, False), (1, False)):
        orbits = _folded(known, order, mirrored=mirrored)
        if orbits and orbits not in yet:
            yet.append(orbits)
            yield orbits


def _folded(known: Known, order: int, *, mirrored: bool) -> list[_Orbits]:
    """The pieces as images of fewer under one kind of symmetry; empty where the counts don't allow it."""
    orbits: list[_Orbits] = []
    alone = 0
    for t, (up, over) in enumerate(known):
        faces = up or 0, over or 0
        if sum(faces) == 1:
            alone += 1
            orbits.append((t, 1, over, 1))
        elif mirrored and faces[0] == faces[1]:
            orbits.append((t, 2, 1, faces[0]))
        elif any(n % order for n in faces):
            return []
        else:
            sides = ((0, faces[0]), (order, faces[1]))
            orbits += [(t, order, None if over is None else side, n // order) for side, n in sides if n]
    return orbits if alone <= 1 or order == 1 else []


def _filled(
    shapes: Shapes, known: Known, state: Parts, outlines: tuple[Outline, ...], work: Work
) -> Iterator[Layout]:
    """Layouts of all pieces from those of a few parts."""
    large = _shapes(state)
    counts = tuple(part.count for part in state.parts)
    area = sum(count * a for count, a in zip(counts, large.areas, strict=True))
    over = tuple(part.over for part in state.parts)
    sigmas, least, _ = _WAYS[0]
    snap = min(max(sigmas * large.sigma, least), _SNAP_OF_SHORTEST * large.shortest_edge)
    stock = tuple((up or 0) + (o or 0) for up, o in known), tuple(o for _, o in known)
    square = False
    for outline in outlines:
        if outline is RECTANGLE and square:
            continue
        search = Search(large, Task(counts, over, "none", outline, area), snap, Budget(work, _STEPS))
        for coarse in itertools.islice(search.run(), _MOST_COARSE):
            task = Task(*stock, "none", outline, area)
            placed = _placed(shapes, state, coarse)
            layout = relaid(shapes, task, coarse.size, placed, work, ways=_OF_PARTS)
            if layout:
                square = square or outline.aspect == 1.0
                yield layout


def _shapes(state: Parts) -> Shapes:
    """Parts as the search sees pieces: both faces, no symmetry of their own."""
    faces: list[Face] = []
    for p, part in enumerate(state.parts):
        for reversed_, side in ((False, part), (True, part.turned_over())):
            corners = tuple(side.corners.tolist())
            faces.append(Face(len(faces), p, reversed_, corners, (0.0,) * len(corners)))
    number = len(state.parts)
    sigmas = [math.sqrt(float(part.known[:, 0, 0].max())) for part in state.parts]
    return Shapes(
        names=tuple(str(p) for p in range(number)),
        faces=tuple(faces),
        sigma=max(sigmas),
        turns=(1,) * number,
        mirrored=(False,) * number,
        flips=(0,) * number,
        areas=tuple(face.area for face in faces if not face.reversed),
    )


def _placed(shapes: Shapes, state: Parts, coarse: Layout) -> list[Placed]:
    """Where every piece lies in the block, by the parts' layout."""
    placed: list[Placed] = []
    for p, reversed_, corners in coarse.pieces:
        part: Joined = state.parts[p].turned_over() if reversed_ else state.parts[p]
        place = Moved(part.corners, np.array([coarse.at[v] for v in corners]))
        for t, over, spots in part.pieces:
            shift = shapes.flips[t] if over and shapes.mirrored[t] else 0
            n = len(spots)
            there = tuple(place(spots[(k - shift) % n]) for k in range(n))
            placed.append((t, over and not shapes.mirrored[t], there))
    return placed


def relaid(
    shapes: Shapes,
    task: Task,
    size: tuple[float, float],
    placed: list[Placed],
    work: Work,
    *,
    ways: Sequence[_Way] = _WAYS,
) -> Layout | None:
    """The layout of pieces that lie about where ``placed`` has them; None where they don't fill the block so.

    ``ways`` are tried one after the other.
    """
    for sigmas, least, every in ways:
        snap = min(max(sigmas * shapes.sigma, least), _SNAP_OF_SHORTEST * shapes.shortest_edge)
        search = Search(shapes, task, snap, Budget(work, 1))
        full = _laid(search, size, placed, every)
        if full and _fits(search, full):
            return search.layout(full)
    return None


def _fits(search: Search, full: Partial) -> bool:
    """Whether the misfit is about what the measurements have; copies of a template have one error in common."""
    sides = sum(flags.bit_count() for flags in full.frontier.sides)
    seen = {v for _, _, corners in full.pieces for v in corners}
    spare = 2 * full.corners + len(full.meetings) + sides - 2 * len(seen) - 3 * len(full.pieces) - 2
    chi_square = full.misfit / (search.shapes.sigma**2 / 2)
    return chi_square <= spare + _TRUE * math.sqrt(2 * max(spare, 1) * max(search.task.counts))


def _laid(search: Search, size: tuple[float, float], placed: list[Placed], every: int) -> Partial | None:
    outline = search.task.outline
    spring = Spring(outline)
    spring.size = list(size)
    spring.hold_shape()
    frontier = Frontier(outline.at(*size), outline.flags(), [list(range(len(outline.corners)))])
    partial = Partial(frontier, spring, list(search.task.counts), list(search.task.reversed_counts), sized=True)
    spring.sides(frontier)
    waiting = sorted(placed, key=lambda piece: sum((c.real + c.imag) for c in piece[2]) / len(piece[2]))
    while waiting:
        before = len(waiting)
        later: list[Placed] = []
        for piece in waiting:
            t, over, spots = piece
            child = search.copied(partial)
            if search.lay_face(child, search.shapes.face(t, over), list(spots)):
                partial = child
                if every and len(partial.pieces) % every == 0:
                    search.settles(partial)
            else:
                later.append(piece)
        waiting = later
        if len(waiting) == before:
            return None
    return partial if not partial.frontier.loops and search.settles(partial) else None
