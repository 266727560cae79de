"""The layouts that fit, put in the order in which the trade would mean them."""

from collections.abc import Sequence
from dataclasses import dataclass

from seamsurvey.block.every import Filled
from seamsurvey.block.groups import group_of
from seamsurvey.block.meaning import score
from seamsurvey.block.rank import Ranked, kept_moves
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.traits import Traits, traits_of

_MOST_LOOKED_AT = 600  # layouts; of more, those with the most symmetry are


@dataclass(frozen=True, eq=False)
class Contender:
    """A layout that fits, what is seen of it, and the logarithm of its odds."""

    layout: Layout
    traits: Traits
    points: float
    symmetry: str  # what a person calls it


def contenders(shapes: Shapes, layouts: Sequence[Filled]) -> list[Contender]:
    """Layouts of regular shapes, the likeliest first."""
    able = sorted(layouts, key=lambda filled: -len(filled.kept))[:_MOST_LOOKED_AT]
    found = []
    for filled in able:
        layout = filled.layout
        if layout is not None:
            traits = traits_of(shapes, layout, filled.kept, filled.near)
            symmetry = group_of(filled.kept).name
            found.append(Contender(layout, traits, score(traits), symmetry))
    return in_order(found)


def contender_of(shapes: Shapes, ranked: Ranked, near: float) -> Contender:
    """A layout that was found by its measured shapes."""
    traits = traits_of(shapes, ranked.layout, kept_moves(shapes, ranked.layout), near)
    return Contender(ranked.layout, traits, score(traits), ranked.symmetry)


def in_order(found: Sequence[Contender]) -> list[Contender]:
    """The likeliest first; of equals the one found first."""
    return sorted(found, key=lambda contender: -contender.points)
