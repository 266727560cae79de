"""What to try, in which order: the counts and the symmetry of the block, from the simple to the involved.

A template's pieces fall into *orbits* under a symmetry: a full orbit has as many pieces as the symmetry has images;
a piece that is its own image (at the middle of the block, or on the axis of a mirror) is an orbit of one. With the
counts unknown, the *level* of a hypothesis is the number of orbits beyond one for each template.
"""

import itertools
from collections.abc import Iterator

from seamsurvey.block.outlines import SQUARE, Outline
from seamsurvey.block.search import Task
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.symmetry import MIRRORED, ORDER

_BALANCE = 0.01  # share of the block's area by which arcs that bow out may miss those that bow in

Known = tuple[tuple[int | None, int | None], ...]
"""For each template how many are face up and how many reversed, None where not known."""


def tasks(shapes: Shapes, known: Known, symmetry: str, level: int, outlines: tuple[Outline, ...]) -> Iterator[Task]:
    """The tasks of one symmetry and level, outline after outline, faces up before either face."""
    seen: set[tuple[object, ...]] = set()
    for counts in _counts(shapes, known, symmetry, level):
        if not _arcs_balance(shapes, counts):
            continue
        area = sum(c * a for c, a in zip(counts, shapes.areas, strict=True))
        for over in _faces(shapes, known, counts, symmetry):
            for outline in outlines:
                if symmetry in outline.symmetries and (counts, over, outline.name) not in seen:
                    seen.add((counts, over, outline.name))
                    yield Task(counts, over, symmetry, outline, area)


def whole_block(shapes: Shapes, known: Known, symmetry: str) -> Known:
    """The counts of the whole block where those given make only the part that its symmetry repeats.

    It is so when the counts can't fall into orbits, and a symmetry was asked for: a quarter's templates, say.
    """
    if symmetry == "auto" or any(up is None for up, _ in known) or possible(shapes, known, symmetry):
        return known
    order = ORDER[symmetry]
    if symmetry in MIRRORED:
        return tuple((((up or 0) + (over or 0)) * order // 2,) * 2 for up, over in known)
    return tuple(((up or 0) * order, (over or 0) * order) for up, over in known)


def possible(shapes: Shapes, known: Known, symmetry: str) -> bool:
    """Whether the known counts can fall into orbits of this symmetry."""
    order = ORDER[symmetry]
    middle = 0
    for t, (up, over) in enumerate(known):
        if up is None:
            continue
        total = up + (over or 0)
        alone = _alone(shapes, t, symmetry)
        if symmetry in MIRRORED:
            if not shapes.mirrored[t] and over is not None and up != over:
                return False
            if total % 2 and not alone:
                return False
        elif total % order:
            if total % order != 1 or not alone:
                return False
            middle += 1
    return middle <= 1


def _alone(shapes: Shapes, t: int, symmetry: str) -> bool:
    """Whether a piece of the template can be its own image."""
    if symmetry in MIRRORED:
        return shapes.mirrored[t]
    return shapes.turns[t] % ORDER[symmetry] == 0


def _counts(shapes: Shapes, known: Known, symmetry: str, level: int) -> Iterator[tuple[int, ...]]:
    order = ORDER[symmetry]
    free = [t for t, (up, _) in enumerate(known) if up is None]
    fixed = [0 if up is None else up + (over or 0) for up, over in known]
    if not free:
        if level == 0:
            yield tuple(fixed)
        return
    in_turn = symmetry not in MIRRORED and order > 1
    for extra in _spread(level, len(free)):
        orbits = [1 + e for e in extra]
        # How many of each template's orbits are single pieces.
        singles = [
            range(o + 1 if not in_turn else 2) if order > 1 and _alone(shapes, t, symmetry) else range(1)
            for t, o in zip(free, orbits, strict=True)
        ]
        for alone in itertools.product(*singles):
            if in_turn and sum(alone) > 1:
                continue
            counts = fixed[:]
            for t, o, s in zip(free, orbits, alone, strict=True):
                counts[t] = order * (o - s) + s
            yield tuple(counts)


def _arcs_balance(shapes: Shapes, counts: tuple[int, ...]) -> bool:
    """Whether as much bows in as bows out, to within what areas are measured: every arc meets its like."""
    bows = [c * (a - shapes.face(t, False).area) for t, (c, a) in enumerate(zip(counts, shapes.areas, strict=True))]
    return abs(sum(bows)) <= _BALANCE * sum(c * a for c, a in zip(counts, shapes.areas, strict=True))


def _spread(total: int, places: int) -> Iterator[tuple[int, ...]]:
    """All ways to spread a total over so many places, the even ones first."""
    ways = [
        tuple(b - a - 1 for a, b in itertools.pairwise((-1, *bars, total + places - 1)))
        for bars in itertools.combinations(range(total + places - 1), places - 1)
    ]
    yield from sorted(ways, key=lambda way: (max(way), way))


def _faces(
    shapes: Shapes, known: Known, counts: tuple[int, ...], symmetry: str
) -> Iterator[tuple[int | None, ...]]:
    """How many of each are reversed: as told; else by the mirror; else none, then any."""
    chiral = [not m for m in shapes.mirrored]
    if symmetry in MIRRORED:
        yield tuple(
            c // 2 if lop and over is None else (over or 0)
            for c, lop, (_, over) in zip(counts, chiral, known, strict=True)
        )
        return
    told = [over for _, over in known]
    yield tuple(over or 0 for over in told)
    if any(over is None and lop for over, lop in zip(told, chiral, strict=True)):
        yield tuple(
            over if over is not None else (None if lop else 0) for over, lop in zip(told, chiral, strict=True)
        )


# Two blocks are of one size when their areas differ by less than this share: half of it for the width.
_SAME_AREA = 0.006


def same_area(shapes: Shapes, known: Known, symmetry: str, area: float) -> Iterator[Task]:
    """Every task of a symmetry under turns whose pieces have that area together, whatever its level."""
    order = ORDER[symmetry]
    free = [t for t, (up, _) in enumerate(known) if up is None]
    fixed = {t: (up or 0) + (over or 0) for t, (up, over) in enumerate(known) if up is not None}
    start = sum(shapes.areas[t] * c for t, c in fixed.items())
    seen: set[tuple[int, ...]] = set()

    def spread(k: int, counts: dict[int, int], total: float, middle: bool) -> Iterator[dict[int, int]]:
        if k == len(free):
            if abs(total - area) <= _SAME_AREA * area:
                yield counts
            return
        t = free[k]
        for alone in (0, 1) if not middle and _alone(shapes, t, symmetry) else (0,):
            orbits = 0 if alone else 1
            while total + (order * orbits + alone) * shapes.areas[t] <= area * (1 + _SAME_AREA):
                more = {**counts, t: order * orbits + alone}
                yield from spread(k + 1, more, total + more[t] * shapes.areas[t], middle or bool(alone))
                orbits += 1

    for counts in spread(0, fixed, start, False):
        line = tuple(counts[t] for t in range(len(known)))
        if line not in seen and _arcs_balance(shapes, line):
            seen.add(line)
            exact = sum(c * a for c, a in zip(line, shapes.areas, strict=True))
            for over in _faces(shapes, known, line, symmetry):
                yield Task(line, over, symmetry, SQUARE, exact)
