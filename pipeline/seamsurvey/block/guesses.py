"""How many of each template a block may take, where nobody says: the likeliest counts first.

A side of the block is a sum of edges, which gives its area, and the area is a sum of the pieces'. Blocks of the
trade repeat themselves by quarter turns or by mirrors, so that pieces come in fours, or in pairs, but for one that
lies in the middle.
"""

import heapq
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from seamsurvey.block.hypotheses import Known
from seamsurvey.block.meaning import off_usual_number
from seamsurvey.block.outlines import Outline
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.sizes import side_sums
from seamsurvey.block.tradition import Likeness
from seamsurvey.units import usual_size

_MOST_PIECES = 80
_FEW_SUMS, _USUAL = 150, 0.6
_MOST_SIDES = 30  # that are tried of one outline
_AREA_OFF = 0.004  # share by which areas may miss each other
_MOST_OF_SIZE = 60  # counts of one size
_EVEN = 1.0  # what it speaks for counts that they are as even as a symmetry makes them
_ONE_OF_EACH = 4.0  # or that no template is used twice: cards are often all of a block
_KNOWN, _UNLIKE = -4.0, 4.0  # a known block's counts, and what it says against them that the cards differ
_STEPS = 3_000  # of the search for them


@dataclass(frozen=True, order=True)
class Guess:
    """Counts to try in an outline; smaller ``cost`` is likelier. ``folds``: 4 where quarter turns are likely."""

    cost: float
    counts: tuple[int, ...]
    folds: int
    outline: str
    area: float


def guesses(
    shapes: Shapes,
    known: Known,
    outlines: Sequence[Outline],
    finish: tuple[float, float] | None = None,
    *,
    planned: bool = True,
    known_blocks: Sequence[Likeness] = (),
) -> Iterator[Guess]:
    """Guesses, the likeliest first. ``finish``: the width and height asked for, mm, where they are.

    The counts of ``known_blocks`` whose manner the cards have come before all others, the more like the sooner.

    Edges of cards that follow no plan (``planned``) add up to anything: then only even counts are guessed.
    """
    found = [*_known(shapes, known_blocks)]
    for outline in outlines:
        found += _even(shapes, known, outline)
        if not planned:
            continue
        for area, usual in _areas(shapes, outline, finish):
            for folds in (4, 2, 1):
                found += [
                    Guess(_cost(counts, folds, outline, usual), counts, folds, outline.name, area)
                    for counts in _counts(shapes, known, area, folds)
                ]
    heapq.heapify(found)
    least: dict[tuple[tuple[int, ...], str], int] = {}
    while found:
        guess = heapq.heappop(found)
        key = guess.counts, guess.outline
        # What was looked through for layouts of little symmetry was so for those of more.
        if min(guess.folds, 4) < least.get(key, 5):
            least[key] = min(guess.folds, 4)
            yield guess


def _known(shapes: Shapes, known_blocks: Sequence[Likeness]) -> Iterator[Guess]:
    for one in known_blocks:
        if not one.as_drawn:
            area = sum(n * a for n, a in zip(one.counts, shapes.areas, strict=True))
            yield Guess(_KNOWN + _UNLIKE * one.off, one.counts, 1, one.known.outline, area)


def _even(shapes: Shapes, known: Known, outline: Outline) -> Iterator[Guess]:
    """As many of each template as a symmetry has images, or one of one in the middle; any size will do."""
    for folds in (1, 2, 3, 4, 6, 8):
        for middle in (None, *range(len(shapes.names))):
            if middle is not None and (folds == 1 or shapes.turns[middle] % folds):
                continue
            counts = [1 if t == middle else folds for t in range(len(shapes.names))]
            counts = [n if up is None else up + (over or 0) for n, (up, over) in zip(counts, known, strict=True)]
            area = sum(n * a for n, a in zip(counts, shapes.areas, strict=True))
            usual = usual_size(outline.width(area)) if outline.aspect else 0.0
            if sum(counts) <= _MOST_PIECES:
                cost = _cost(tuple(counts), folds, outline, usual) - (_EVEN if folds > 1 else _ONE_OF_EACH)
                yield Guess(cost, tuple(counts), folds, outline.name, area)


def _cost(counts: tuple[int, ...], folds: int, outline: Outline, usual: float) -> float:
    """How unlikely the counts are: many pieces, no symmetry, an odd size, another outline than a square."""
    total = sum(counts)
    uneven = sum(c % folds != 0 for c in counts)
    return (
        0.6 * off_usual_number(total)
        + 0.5 * math.log(total)
        + {1: 3.0, 2: 1.5, 3: 1.5}.get(folds, 0.0)
        + 0.3 * uneven
        - 2.0 * usual
        + {"square": 0.0, "rectangle": 2.0, "octagon": 2.0, "hexagon": 1.5}.get(outline.name, 2.5)
    )


def _areas(shapes: Shapes, outline: Outline, finish: tuple[float, float] | None) -> Iterator[tuple[float, float]]:
    """Areas, mm², that the outline may have, and how usual the size is."""
    most = _MOST_PIECES * min(shapes.areas)
    least = sum(shapes.areas)
    each = [16] * len(shapes.names)
    if outline.aspect is None:
        sums, _ = side_sums(shapes, each, math.sqrt(most) * 2)
        # Of many sums those of a usual size alone: two sides of any length make any area.
        sums = sums if len(sums) <= _FEW_SUMS else [s for s in sums if usual_size(s) >= _USUAL][:_FEW_SUMS]
        sizes = [(w * h, min(usual_size(w), usual_size(h))) for w in sums for h in sums if w / 4 <= h < w * 0.98]
    else:
        # The first side of every outline of known shape is a sum of edges.
        share = abs(complex(*outline.corners[1]) - complex(*outline.corners[0]))
        sums, _ = side_sums(shapes, each, math.sqrt(most) * 2)
        unit = outline.width(1.0)
        sizes = [((s / share / unit) ** 2, usual_size(s / share)) for s in sums]
    if finish:
        wanted = finish[0] * finish[1]
        sizes = [(a, u) for a, u in sizes if abs(a - wanted) <= 0.05 * wanted] or sizes
    able = sorted({(round(a, 1), u) for a, u in sizes if least * 0.995 <= a <= _MOST_PIECES * max(shapes.areas)})
    able.sort(key=lambda one: 1.5 * math.log(one[0]) / 2 - 2 * one[1])
    yield from able[:_MOST_SIDES]


def _counts(shapes: Shapes, known: Known, area: float, folds: int) -> Iterator[tuple[int, ...]]:
    """Counts that make the area; those not known are multiples of ``folds``, but for one that may be one more."""
    areas = shapes.areas
    order = sorted(range(len(areas)), key=lambda t: -areas[t])
    fixed = {t: up + (over or 0) for t, (up, over) in enumerate(known) if up is not None}
    off = _AREA_OFF * area
    least = [0.0] * (len(order) + 1)
    for k in range(len(order) - 1, -1, -1):
        t = order[k]
        least[k] = least[k + 1] + fixed.get(t, 1) * areas[t]
    found = 0
    steps = 0

    def spread(k: int, left: float, counts: tuple[int, ...], middle: bool) -> Iterator[tuple[int, ...]]:
        nonlocal found, steps
        steps += 1
        if steps > _STEPS or found >= _MOST_OF_SIZE:
            return
        if k == len(order):
            if abs(left) <= off and sum(counts) <= _MOST_PIECES:
                found += 1
                by_template = dict(zip(order, counts, strict=True))
                yield tuple(by_template[t] for t in range(len(areas)))
            return
        t = order[k]
        choices: Iterable[int]
        if t in fixed:
            choices = (fixed[t],)
        else:
            most = int((left - least[k + 1] + off) / areas[t])
            if k == len(order) - 1:
                exact = round(left / areas[t])
                choices = (exact,) if 1 <= exact <= most else ()
            else:
                choices = range(1, most + 1)
            choices = [c for c in choices if c % folds == 0 or (c % folds == 1 and not middle)]
        for c in choices:
            yield from spread(k + 1, left - c * areas[t], (*counts, c), middle or c % folds == 1)

    yield from spread(0, area, (), False)
