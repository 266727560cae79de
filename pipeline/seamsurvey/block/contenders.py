"""The layouts that fit, put in the order in which the trade would mean them."""

import heapq
import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.every import Filled
from seamsurvey.block.groups import group_of, isometries
from seamsurvey.block.meaning import score, score_across
from seamsurvey.block.parted import falls_apart
from seamsurvey.block.rank import Ranked, kept_moves, same_layout
from seamsurvey.block.recognised import Recognised
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.symmetry import named
from seamsurvey.block.traits import Traits, traits_of
from seamsurvey.model import Reason

_BEHIND = 1.5
_SHARED, _MOST_VARIED = 1.5, 24  # what all pieces in common say against the later one; of how many it is asked
_STRAIGHT, _MOST_PARTED = 1.0, 60  # what straight seams say for a layout; how many of the likeliest are tried
_MEETING, _MOVES = 4.0, 2.4  # about the weights of what ``_promise`` looks at
_MOST_LOOKED_AT = 600


@dataclass(frozen=True, eq=False)
class Contender:
    """A layout that fits, what is seen of it, and the logarithm of its odds."""

    layout: Layout
    traits: Traits
    own_points: float  # what its traits say
    symmetry: str  # what a person calls it
    extra: tuple[Reason, ...] = ()  # what else speaks for or against it

    @property
    def points(self) -> float:
        """The logarithm of its odds."""
        return self.own_points + sum(reason.points for reason in self.extra)


def contenders(
    shapes: Shapes,
    layouts: Sequence[Filled],
    recognised: Recognised | None = None,
    most: int = _MOST_LOOKED_AT,
) -> list[Contender]:
    """Layouts of regular shapes, the likeliest first; with what their being known blocks says.

    Of more than ``most`` those are looked at that have the most symmetry and the fewest meeting points.
    """
    able = layouts if len(layouts) <= most else sorted(layouts, key=_promise)[:most]
    found = []
    for filled in able:
        layout = filled.layout
        if layout is not None:
            traits = traits_of(shapes, layout, filled.kept, filled.near)
            symmetry = group_of(filled.kept).name
            found.append(Contender(layout, traits, score(traits), symmetry, _known(recognised, layout)))
    return in_order(found)


def with_straight_seams(line: Sequence[Contender], near: float) -> list[Contender]:
    """Layouts in order, the likeliest with what being sewn in straight seams says for them, in order again."""
    reason = Reason("straight seams", "it is sewn in straight seams", _STRAIGHT)
    return in_order([
        replace(one, extra=(*one.extra, reason)) if k < _MOST_PARTED and falls_apart(one.layout, 2 * near) else one
        for k, one in enumerate(line)
    ])  # fmt: skip


def _promise(filled: Filled) -> float:
    """What is seen of a layout most cheaply, and weighs most; smaller is likelier."""
    corners = np.array([corner for tile in filled.tiles for corner in tile.corners]) / (4 * filled.near)
    points = len(np.unique(np.round(corners)))
    return _MEETING * math.log(points / len(filled.tiles)) - _MOVES * math.log2(len(filled.kept))


def _known(recognised: Recognised | None, layout: Layout) -> tuple[Reason, ...]:
    reason = recognised.reason(layout) if recognised else None
    return (reason,) if reason else ()


def drawn(shapes: Shapes, layouts: Iterable[Layout], near: float, recognised: Recognised) -> Iterator[Contender]:
    """Layouts that are laid as the drawings of known blocks say."""
    for layout in layouts:
        kept = kept_moves(shapes, layout)
        traits = traits_of(shapes, layout, kept, near)
        yield Contender(layout, traits, score(traits), named(kept), _known(recognised, layout))


def contender_of(shapes: Shapes, ranked: Ranked, near: float) -> Contender:
    """A layout that was found by its measured shapes."""
    traits = traits_of(shapes, ranked.layout, kept_moves(shapes, ranked.layout), near)
    return Contender(ranked.layout, traits, score(traits), ranked.symmetry)


def different(shapes: Shapes, found: Sequence[Contender]) -> list[Contender]:
    """Each layout once, the likeliest of those where it was met by several ways: to sizes a hair apart."""
    by_traits: dict[Traits, list[Contender]] = {}
    for contender in in_order(found):
        like = by_traits.setdefault(replace(contender.traits, width=0.0, height=0.0), [])
        if not any(same_layout(shapes, contender.layout, other.layout) for other in like):
            like.append(contender)
    return [contender for like in by_traits.values() for contender in like]


def in_order(found: Sequence[Contender]) -> list[Contender]:
    """The likeliest first; of equals the one found first."""
    return sorted(found, key=lambda contender: -contender.points)


def weighed(found: Sequence[Contender], against: float) -> list[Contender]:
    """Layouts of one count in order, as far ahead as the likeliest of them is among those of other counts.

    ``against``: what speaks against these counts, ``guesses``.
    """
    line = in_order(found)
    if not line:
        return []
    first = max(line, key=lambda contender: contender.own_points)
    off = score_across(first.traits, against) - first.own_points
    reason = Reason("other counts", "set off against layouts of other counts", off)
    return [replace(contender, extra=(*contender.extra, reason)) for contender in line]


def weighed_by_counts(
    found: Sequence[Contender], against: Callable[[tuple[int, ...], str], float]
) -> list[Contender]:
    """Layouts of several counts in order, those of each ``weighed``; ``against``: what speaks against counts."""
    by_counts: dict[tuple[tuple[int, ...], str], list[Contender]] = {}
    for one in found:
        by_counts.setdefault((one.traits.counts, one.traits.outline), []).append(one)
    return in_order([one for key, some in by_counts.items() for one in weighed(some, against(*key))])


def varied(line: Sequence[Contender], near: float) -> list[Contender]:
    """Layouts in order, each set back by what it shares with one before it: so many are offered, of many kinds.

    What differs from the likeliest by a unit turned where it lies is shown by it already. The first stays first.
    """
    waiting = [(-one.points, k) for k, one in enumerate(line)]
    heapq.heapify(waiting)
    shares = [(0.0, 0)] * len(line)  # the largest so far, and with how many of the chosen it was compared
    chosen: list[_Images] = []
    while waiting and len(chosen) < _MOST_VARIED:
        _, k = heapq.heappop(waiting)
        share, compared = shares[k]
        if compared == len(chosen):
            chosen.append(_Images.of(line[k].layout, near))
            shares[k] = share, len(chosen)
            continue
        share = max(share, *(images.shared(line[k].layout) for images in chosen[compared:]))
        shares[k] = share, len(chosen)
        heapq.heappush(waiting, (_SHARED * share - line[k].points, k))
    reasons = [Reason("much alike", "one much like it stands before it", -_SHARED * share) for share, _ in shares]
    return in_order([
        replace(one, extra=(*one.extra, reason)) if reason.points else one
        for one, reason in zip(line, reasons, strict=True)
    ])  # fmt: skip


@dataclass(frozen=True, eq=False)
class _Images:
    """The middles of a layout's pieces of each template (moves, pieces), where the outline's moves bring them."""

    layout: Layout
    near: float
    middles: dict[int, NDArray[np.complex128]]

    @classmethod
    def of(cls, layout: Layout, near: float) -> "_Images":
        moves = isometries(layout.outline.at(*layout.size), near)
        turns, by = (np.array([[getattr(move, part)] for move in moves]) for part in ("turn", "by"))
        over = np.array([[move.mirrored] for move in moves])
        there = {t: turns * np.where(over, z.conj(), z) + by for t, z in _middles(layout).items()}
        return cls(layout, near, there)

    def shared(self, other: Layout) -> float:
        """The share of pieces that lie alike in another layout, turned or mirrored so that it is largest."""
        mine = self.layout
        apart = max(abs(a - b) for a, b in zip(mine.size, other.size, strict=True))
        if mine.outline.name != other.outline.name or apart > 4 * self.near:
            return 0.0
        alike = np.zeros(1, np.int64)
        for t, z in _middles(other).items():
            if t in self.middles:
                away = np.abs(self.middles[t][:, :, None] - z)
                alike = alike + (away <= 4 * self.near).any(axis=2).sum(axis=1)
        return float(alike.max()) / len(mine.pieces)


def _middles(layout: Layout) -> dict[int, NDArray[np.complex128]]:
    """The middles of the pieces of each template."""
    found: dict[int, list[complex]] = {}
    for t, _, ring in layout.pieces:
        found.setdefault(t, []).append(sum(layout.at[v] for v in ring) / len(ring))
    return {t: np.array(some) for t, some in found.items()}


def spread(found: Sequence[Contender]) -> list[Contender]:
    """In order, those of one count of pieces further and further behind their first.

    Where counts are guessed, a count whose pieces can be laid in many ways is no likelier for that.
    """
    seen: Counter[tuple[int, ...]] = Counter()
    line = []
    for contender in in_order(found):
        behind = seen[contender.traits.counts]
        seen[contender.traits.counts] += 1
        reason = Reason("same pieces", "others of the same pieces stand before it", -_BEHIND * behind)
        line.append(replace(contender, extra=(*contender.extra, reason)) if behind else contender)
    return in_order(line)
