"""What the trade would mean: which of the layouts that fit is the likeliest, and why.

Each rule turns a trait into a number; its weight is a logarithm of odds, fitted on designs of our own in the
trade's usual structures (``python -m tests.benchmarks meaning``). A layout's score is their sum. Nothing is dropped
for a low score.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from seamsurvey.block.traits import Traits
from seamsurvey.model import Reason
from seamsurvey.units import usual_size

_DOZEN = 12
_UNITS = 3  # templates, and pieces of a cell, from which on a cell may be a block itself
_ASKED, _ASKED_OFF = 6.0, 0.02  # weight of the size a person asks for; share by which it may be missed


@dataclass(frozen=True)
class Rule:
    """``value`` of a layout, usually 0 to 4; ``text`` says in plain words what was seen."""

    name: str
    weight: float
    value: Callable[[Traits], float]
    text: Callable[[Traits], str]


def _symmetry(t: Traits) -> str:
    turn = {1: "", 2: "half a turn", 3: "a third of a turn", 4: "a quarter turn", 6: "a sixth of a turn"}.get(
        t.turns, f"1/{t.turns} of a turn"
    )
    parts = [
        *([f"lies on itself after {turn}"] if turn else []),
        *(["is its own mirror image"] if t.mirrored else []),
    ]
    return " and ".join(parts) or "has no symmetry"


def _repeats(t: Traits) -> float:
    """The doublings of one cell, of three pieces or more, that lies the same way everywhere."""
    cells = t.across * t.down
    return math.log2(cells) if t.cells_as_they_lie == 1 and t.pieces >= 3 * cells else 0.0


def _many(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def off_usual_number(pieces: int) -> float:
    """How far a number of pieces is from what blocks have: the square of the logarithm of its ratio to a dozen."""
    return math.log(pieces / _DOZEN) ** 2


def _usual(t: Traits) -> float:
    if t.outline in ("square", "octagon"):
        return usual_size(t.width)
    return min(usual_size(t.width), usual_size(t.height))


def _in_fours(t: Traits) -> float:
    """The share of templates used four times, or a multiple, or once in all."""
    return sum(c % 4 == 0 or c == 1 for c in t.counts if c) / t.templates


RULES = (
    Rule("turns", 3.7, lambda t: math.log2(t.turns), _symmetry),
    Rule("mirror", 1.5, lambda t: float(t.mirrored), _symmetry),
    Rule(
        "corners meet", -3.9, lambda t: math.log(t.vertices / t.pieces),
        lambda t: _many(t.vertices, "meeting point"),
    ),
    Rule(
        "corners on edges", -0.3, lambda t: math.log1p(t.tees),
        lambda t: f"{_many(t.tees, 'corner')} against the middle of an edge",
    ),
    Rule(
        "turned alike", -0.4, lambda t: math.log(t.ways / t.templates),
        lambda t: f"pieces lie in {_many(t.ways, 'way')}",
    ),
    # What is sewn again and again, whichever symmetry the whole has.
    Rule(
        "kinds of seam", -2.2, lambda t: math.log(max(t.kinds_of_seam, 1)),
        lambda t: _many(t.kinds_of_seam, "kind") + " of seam",
    ),
    Rule(
        "long seams", -1.0, lambda t: math.log1p(t.runs) - math.log(t.pieces) / 2,
        lambda t: f"seams lie on {_many(t.runs, 'line')}",
    ),
    Rule(
        "seams run through", -0.1, lambda t: math.log1p(t.through),
        lambda t: f"{_many(t.through, 'seam')} from side to side",
    ),
    Rule("set-in points", 0.6, lambda t: math.log1p(t.wyes), lambda t: _many(t.wyes, "set-in point")),
    Rule("stars", -0.1, lambda t: math.log(max(t.star, 2)), lambda t: f"{_many(t.star, 'point')} meet"),
    Rule("middle", 1.0, lambda t: float(t.centred), lambda t: "the middle is marked" if t.centred else "no middle"),
    Rule(
        "cells alike",
        1.1,
        lambda t: math.log(t.across * t.down / t.kinds_of_cell) if t.kinds_of_cell else 0.0,
        lambda t: _many(t.kinds_of_cell, "kind") + " of cell",
    ),
    Rule(
        "cells turned alike",
        0.9,
        lambda t: math.log(t.across * t.down / t.cells_as_they_lie) if t.cells_as_they_lie else 0.0,
        lambda t: f"cells lie in {_many(t.cells_as_they_lie, 'way')}",
    ),
    Rule(
        "one cell again and again",
        1.6,
        _repeats,
        lambda t: f"one cell {t.across * t.down} times",
    ),
    Rule(
        "round by round", 2.2, lambda t: 2 * t.taken_off / t.pieces,
        lambda t: f"{_many(t.taken_off, 'piece')} laid round a middle" if t.taken_off else "no middle",
    ),
    Rule("spiral", 2.3, lambda t: float(t.spiral), lambda _: "laid round and round"),
    Rule("square", 1.0, lambda t: float(t.outline == "square"), lambda t: f"the block is a {t.outline}"),
    Rule(
        "slim", -1.0, lambda t: abs(math.log(t.width / t.height)) if t.outline == "rectangle" else 0.0,
        lambda t: f"{max(t.width, t.height) / min(t.width, t.height):.2g} times longer than wide",
    ),
    Rule("triangle", -1.0, lambda t: float(t.outline == "triangle"), lambda _: "the block is a triangle"),
    # Among layouts of different counts, or different outlines:
    Rule("usual size", 2.0, _usual, lambda t: "a usual size" if _usual(t) else "no usual size"),
    Rule("pieces", -0.6, lambda t: off_usual_number(t.pieces), lambda t: _many(t.pieces, "piece")),
    Rule("in fours", 1.0, _in_fours, lambda t: f"pieces in fours: {', '.join(str(c) for c in t.counts if c)}"),
)  # fmt: skip


def score(traits: Traits) -> float:
    """The logarithm of the odds for a layout, but for a constant of the set."""
    return sum(rule.weight * rule.value(traits) for rule in RULES)


# What compares layouts of different counts, with weights of their own: the other rules compare those of the same
# pieces, and grow with them.
ACROSS = {
    "turns": 0.4, "mirror": 0.9, "middle": 0.9, "square": 1.2, "slim": -1.3, "triangle": -1.1, "usual size": 1.9,
    "pieces": -0.4,
}  # fmt: skip
_GUESSED = -0.6  # what speaks against the counts themselves
_UNIT = -0.8  # doublings of a cell, of three templates or more, that may be a block itself


def _units(t: Traits) -> float:
    cells = t.across * t.down
    able = t.kinds_of_cell == 1 and t.templates >= _UNITS and t.pieces >= _UNITS * cells
    return math.log2(cells) if able else 0.0


def score_across(traits: Traits, against: float) -> float:
    """The logarithm of the odds for a layout among those of other counts, but for a constant of the cards.

    ``against``: what speaks against its counts, ``guesses.Guesses``.
    """
    by_rules = sum(ACROSS[rule.name] * rule.value(traits) for rule in RULES if rule.name in ACROSS)
    return by_rules + _GUESSED * against + _UNIT * _units(traits)


def reasons(traits: Traits) -> tuple[Reason, ...]:
    """What speaks for a layout and against it, the weightiest first."""
    found = [Reason(rule.name, rule.text(traits), rule.weight * rule.value(traits)) for rule in RULES]
    return tuple(sorted((r for r in found if r.points), key=lambda r: -abs(r.points)))


def asked_size(traits: Traits, width_mm: float | None, height_mm: float | None) -> tuple[Reason, ...]:
    """What a layout's own size says where one was asked for: cards are made for the size that is meant."""
    if not width_mm:
        return ()
    wanted = sorted((width_mm, height_mm)) if height_mm else [width_mm]
    sides = (
        sorted((traits.width, traits.height))
        if height_mm
        else [min((traits.width, traits.height), key=lambda s: abs(s - width_mm))]
    )
    if all(abs(a - b) <= _ASKED_OFF * b for a, b in zip(sides, wanted, strict=True)):
        return (Reason("size asked for", "it measures what you asked for", _ASKED),)
    return ()
