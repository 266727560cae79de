"""Which known blocks a set of cards may be, and which known block a layout is."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from seamsurvey.block.as_drawn import laid_as_drawn
from seamsurvey.block.gap import missing_card
from seamsurvey.block.hypotheses import Known as Counts
from seamsurvey.block.pattern import patterns_of
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.tradition import Known, Likeness, lacking, likenesses, tradition, valences_of
from seamsurvey.model import KNOWN_AS, KNOWN_BLOCK, Reason

# The logarithm of the odds for a known block: in the drawing's proportions, in others, known by name to everyone.
# The first two were 5 and 3 while half as many blocks were known: a lesser-known one is the less likely, the longer
# the list of them, by the logarithm of its length. What a block known to everyone has in all stayed as it was.
_AS_DRAWN, _IN_ITS_MANNER, _FAMOUS = 4.25, 2.25, 2.75


@dataclass(frozen=True, eq=False)
class Recognised:
    """``may_be`` are the blocks that the cards may be cut for, those most like their drawings first."""

    shapes: Shapes
    near: float
    may_be: tuple[Likeness, ...]
    catalogue: Sequence[Known]

    @cached_property
    def _by_points(self) -> dict[tuple[str, tuple[int, ...]], list[Known]]:
        """The catalogue by outline and valences."""
        found: dict[tuple[str, tuple[int, ...]], list[Known]] = {}
        for known in self.catalogue:
            found.setdefault((known.outline, known.valences), []).append(known)
        return found

    def reason(self, layout: Layout) -> Reason | None:
        """What a layout's being a known block says for it; None where it is none."""
        valences = valences_of(ring for _, _, ring in layout.pieces)
        # Two layouts of one pattern have points alike: that is soon seen, and rules out most.
        able = self._by_points.get((layout.outline.name, valences), [])
        mine = patterns_of(self.shapes, layout, self.near)
        number = 0
        while able and (mark := next(mine, None)) is not None:
            able = [known for known in able if known.patterns[number] == mark]
            number += 1
        if not able:
            return None
        found = able[0]
        counts = Counter(t for t, _, _ in layout.pieces)
        as_drawn = any(
            one.known is found and one.as_drawn and all(counts[t] == n for t, n in enumerate(one.counts))
            for one in self.may_be
        )
        points = (_AS_DRAWN if as_drawn else _IN_ITS_MANNER) + _FAMOUS * found.famous
        if as_drawn:
            return Reason(KNOWN_BLOCK, f"{KNOWN_AS}{found.name}", points)
        return Reason("like a known block", f"in the manner of a known block: {found.name}", points)

    def laid(self, known_counts: Counts) -> Iterator[Layout]:
        """The layouts that drawings give as they are."""
        for one in self.may_be:
            if one.as_drawn:
                layout = laid_as_drawn(self.shapes, one, [over for _, over in known_counts], self.near)
                if layout is not None:
                    yield layout


def lacks(shapes: Shapes, counts: Counts, near: float) -> str:
    """Which card is missing from those of a known block, in words; "" where that can't be said."""
    said = [None if up is None else up + (over or 0) for up, over in counts]
    found = lacking(shapes, said, near, [known for known in tradition() if known.famous])
    return missing_card([complex(z) for z in found.corners], found.count, found.known.name) if found else ""


def recognised(shapes: Shapes, counts: Counts, near: float, catalogue: Sequence[Known] | None = None) -> Recognised:
    """Look a set of cards up in the catalogue: the trade's own, or another."""
    said = [None if up is None else up + (over or 0) for up, over in counts]
    known = tradition() if catalogue is None else catalogue
    found = likenesses(shapes, said, near, known)
    return Recognised(shapes, near, tuple(sorted(found, key=lambda one: one.off)), known)
