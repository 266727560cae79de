"""All layouts of a set of straight cards: of the counts that are known, else of the likeliest counts.

The shapes are made regular first (``classes``), so that places can be compared; every layout is looked for, in
every outline; what is found is put in order and nothing is dropped.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from seamsurvey.block.classes import Regular, regular
from seamsurvey.block.contenders import (
    Contender,
    contenders,
    different,
    drawn,
    in_order,
    spread,
    varied,
    weighed,
    with_straight_seams,
)
from seamsurvey.block.every import SWEEPS, Counts, Every, Filled, Say, every_layout, silent
from seamsurvey.block.groups import Group, group_of
from seamsurvey.block.guesses import Guess, Guesses
from seamsurvey.block.hypotheses import Known
from seamsurvey.block.outlines import OUTLINES, Outline
from seamsurvey.block.recognised import Recognised, recognised
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.work import Work
from seamsurvey.model import KNOWN_BLOCK, TemplateSet

# How far what meets may lie apart: in standard deviations of an edge's length, or as shares of the shortest edge.
# Wider costs nothing while places lie much farther apart: what does not close is found out by adjusting it.
_NEAR_SIGMAS, _LEAST_NEAR_MM, _LEAST_OF_SHORTEST, _MOST_OF_SHORTEST = 6.0, 0.8, 0.02, 0.2
# Where nobody says the counts: pieces laid in each group of a guess; when to stop guessing, in seconds of work.
_GUESS_STEPS = (400,)
_ENOUGH_S, _AFTER_FIRST_S, _LONGEST_S = 3.0, 2.0, 6.0
_MOST_LOOKED_AT, _MOST_OF_GUESS = 60, 24  # layouts of one guess
_OF_GUESS_S, _LEAST_OF_GUESS_S = 6.0, 0.3  # the likeliest guess; others by their odds squared, but so much each
_RECOGNISED_S = 0.5  # the same where the cards are those of a known block, which is laid without a search
_NO_PLAN_STEPS, _NO_PLAN_S = (
    (600,),
    2.0,
)  # of a set that follows no plan, which the search by measured shapes is better at


@dataclass
class Surveyed:
    """What was found, the likeliest first; ``all``: none can have been missed; ``found``: how many there are.

    ``planned``: the cards follow a plan (``classes``).
    """

    contenders: list[Contender] = field(default_factory=list)
    all: bool = False
    found: int = 0
    planned: bool = False
    shapes: Shapes | None = None
    every: Every | None = None


def is_straight(shapes: Shapes) -> bool:
    """Whether no card has a curved edge: only such are surveyed."""
    return not any(any(face.bulges) for face in shapes.faces)


def nearness(shapes: Shapes) -> float:
    """The tolerance, mm, within which corners of regular shapes are one."""
    shortest = shapes.shortest_edge
    least = max(_LEAST_NEAR_MM, _NEAR_SIGMAS * shapes.sigma, _LEAST_OF_SHORTEST * shortest)
    return min(least, _MOST_OF_SHORTEST * shortest)


def surveyed(
    templates: TemplateSet,
    shapes: Shapes,
    known: Known,
    outlines: Sequence[Outline],
    symmetry: str,
    work: Work,
    finish: tuple[float, float] | None = None,
    say: Say = silent,
) -> Surveyed:
    """Look for all layouts. ``finish``: the width and height asked for, mm, where counts are guessed.

    ``say`` hears how many were found so far.
    """
    if not is_straight(shapes):
        return Surveyed()
    plain = regular(templates, shapes)
    near = nearness(plain.shapes)

    known_blocks = recognised(plain.shapes, known, near)

    def wanted(group: Group) -> bool:
        return symmetry == "auto" or group.has(symmetry)

    if all(up is not None for up, _ in known):
        sweeps, limit_s = (SWEEPS, work.limit_s) if plain.planned else (_NO_PLAN_STEPS, _NO_PLAN_S)
        # A known block is laid as it is drawn: nothing more is looked for than shows its rivals.
        drawn_so = any(one.as_drawn for one in known_blocks.may_be)
        with work.at_most(limit_s):
            every = every_layout(
                plain.shapes,
                _counts(known),
                outlines,
                near,
                work,
                wanted=wanted,
                units=not drawn_so,
                sweeps=sweeps,
                say=say,
            )
        layouts = _asked(every, symmetry)
        found = with_straight_seams(contenders(plain.shapes, layouts, known_blocks), near)
        missed = _drawn(known_blocks, known, outlines, symmetry, found)
        return Surveyed(
            varied(in_order([*found, *missed]), near),
            every.all,
            len(layouts) + len(missed),
            plain.planned,
            plain.shapes,
            every,
        )
    return _guessed(plain, known, outlines, near, work, symmetry, finish, known_blocks, say)


def _drawn(
    known_blocks: Recognised,
    known: Known,
    outlines: Sequence[Outline],
    symmetry: str,
    found: Sequence[Contender] = (),
) -> list[Contender]:
    """The known blocks that the cards may be, as their drawings say, but for those that were ``found``."""
    if symmetry != "auto":
        return []
    shapes, near = known_blocks.shapes, known_blocks.near
    names = {outline.name for outline in outlines if outline.name in OUTLINES}
    there = {reason.text for c in found for reason in c.extra if reason.name == KNOWN_BLOCK}
    added = []
    for one in drawn(shapes, known_blocks.laid(known), near, known_blocks):
        said = {reason.text for reason in one.extra}
        if one.layout.outline.name in names and said and not said & there:
            added.append(one)
            there |= said
    return added


def _asked(every: Every, symmetry: str) -> list[Filled]:
    """The layouts with the symmetry that is asked for: rounds and equal cells are found without asking."""
    return [one for one in every.layouts if symmetry == "auto" or group_of(one.kept).has(symmetry)]


def _counts(known: Known) -> Counts:
    return tuple(((up or 0) + (over or 0), over) for up, over in known)


def _guessed(
    plain: Regular,
    known: Known,
    outlines: Sequence[Outline],
    near: float,
    work: Work,
    symmetry: str,
    finish: tuple[float, float] | None,
    known_blocks: Recognised,
    say: Say,
) -> Surveyed:
    """The layouts of the likeliest counts, until some are found and a little longer, or the time is up."""
    shapes = plain.shapes
    result = Surveyed(planned=plain.planned, shapes=shapes)
    counts_that = Guesses.of(shapes, known, outlines, finish, planned=plain.planned)
    for one in _drawn(known_blocks, known, outlines, symmetry):
        result.contenders += weighed([one], counts_that.against(one.traits.counts, one.traits.outline))
    result.found = len(result.contenders)
    by_name = {outline.name: outline for outline in outlines}
    began = first = work.done_s
    likeliest = math.inf
    enough_s = _RECOGNISED_S if any(one.as_drawn for one in known_blocks.may_be) else _ENOUGH_S
    for guess in counts_that.in_order(known_blocks.may_be):
        spent = work.done_s - began
        enough = result.found and (spent > enough_s and work.done_s - first > min(enough_s, _AFTER_FIRST_S))
        if work.over() or enough or spent > _LONGEST_S:
            break
        say(f"{' + '.join(str(n) for n in guess.counts)} pieces; {len(result.contenders)} layouts so far")
        counts, least = _with_faces(shapes, known, guess), min(guess.folds, 4)
        likeliest = min(likeliest, guess.cost)
        with work.at_most(max(_OF_GUESS_S * math.exp(2 * (likeliest - guess.cost)), _LEAST_OF_GUESS_S)):
            every = every_layout(
                shapes, counts, (by_name[guess.outline],), near, work,
                wanted=lambda group: group.order >= least and (symmetry == "auto" or group.has(symmetry)),  # noqa: B023
                sweeps=_GUESS_STEPS,
            )  # fmt: skip
        if every.layouts and not result.found:
            first = work.done_s
        against = counts_that.against(guess.counts, guess.outline)
        found = weighed(contenders(shapes, _asked(every, symmetry), known_blocks, _MOST_LOOKED_AT), against)
        result.contenders += found[:_MOST_OF_GUESS]
        result.found = len(result.contenders)
    result.contenders = spread(with_straight_seams(in_order(different(shapes, result.contenders)), near))
    result.found = len(result.contenders)
    return result


def _with_faces(shapes: Shapes, known: Known, guess: Guess) -> Counts:
    """The counts, and how many are reversed where a person says it, or where none need be."""
    return tuple(
        (count, over if up is not None else (0 if shapes.mirrored[t] else None))
        for t, (count, (up, over)) in enumerate(zip(guess.counts, known, strict=True))
    )
