"""Which allowance a set of templates carries, where nobody said it: every usual one is tried.

Taking an allowance off shortens an edge by what its two corners make of it, more between sharp corners than between
wide ones. Edges that are sewn to one another therefore agree at the right allowance only, unless they lie between
like corners; and the block closes at it. Both are looked at. Cards of a block that the trade knows have its own
proportions at the right allowance only, and blocks are mostly of whole inches: where several let a block close,
that decides. A set of equal squares fits with any allowance: then the question stays open, and a person answers it.
"""

import math
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from attrs import frozen

from seamsurvey.geometry import interior_angles
from seamsurvey.model import Block, Closure, TemplateSet
from seamsurvey.units import INCH, fraction_text, mm_text, usual_size

# 0 is finished size. In use: 1/4 in everywhere; 3/16 and 1/8 in in old patterns; 6, 7 and 10 mm where inches are
# not used (common practice, no source).
USUAL_MM = (0.0, INCH / 4, INCH * 3 / 16, INCH / 8, 6.0, 7.0, 10.0)

# Two edges between like corners agree at every allowance: their agreement says nothing. 6 and 6.35 mm move edges
# whose corners differ by this (sum of the cotangents of half the corners) apart by 0.05 mm.
_TELLING = 0.15
_SIGMAS = 1.5  # of their joint U (k = 2): three standard deviations
_LEAST_MM, _MOST_MM = 0.15, 0.6  # between edges that agree; cards cut by hand fit to half a millimetre or so
# Agreements by chance: of twenty edges two or three agree at a wrong allowance. Six are no chance where the others
# have a third as many or less.
_MANY, _HOPELESS = 6, 3
_TWICE = 2  # and without a block, as many again as with any other
# Seconds of looking for a block, with each allowance. At a glance the known ones are seen; most others in 2 s.
_GLANCE_S, _ROUNDS_S = 0.2, (2.0, 8.0)
_AGAIN = 3  # allowances that are given the longer time
_BELIEVED = 1e-3  # p-value of the global test, as where a block is doubted
_WELL = 0.05  # the same where nothing else speaks for a block
_CLEARLY = 9.0  # of chi-square: three standard deviations of a single measurement

# Logarithms of odds. Nearly all patterns have one of the first two allowances (common practice, no source); a block
# as the trade knows it, in its own proportions; a finished size of whole inches; and what is sure enough.
_USUALLY = {0.0: 0.0, INCH / 4: 0.0}
_SELDOM = -2.0
_KNOWN, _WHOLE, _SURE = 5.0, 2.0, 4.0
_SIZED = 3  # allowances of which it is told what they make


@frozen
class Closing:
    """How the likeliest block of a set closes; ``known`` names the block of the trade it is, in its proportions.

    ``usual`` is how usual its finished size is, 0 to 1 (``units.usual_size``); ``size_mm`` that size, width first,
    and ``size_u_mm`` its U.
    """

    closure: Closure
    known: str = ""
    usual: float = 0.0
    size_mm: tuple[float, float] | None = None
    size_u_mm: float = 0.0


def closing_of(block: Block) -> Closing:
    """What a block that was found says of the allowance that was taken off its templates."""
    usual = usual_size(block.width) if block.width <= block.height else usual_size(block.height)
    return Closing(block.closure, block.known_as, usual, (block.width, block.height), block.size_u_mm)


def is_of_one_set(closing: Closing | None) -> bool:
    """Whether cards are one set beyond doubt: a block of the trade in its proportions, or one that closes well.

    A card of another set, or what is none, has hardly ever edges that all the others' fit within their errors.
    """
    if closing is None:
        return False
    return closing.closure.p_value >= (_BELIEVED if closing.known else _WELL)


Closes = Callable[[TemplateSet, float], Closing | None]
"""How the block of a set closes, if one is found within so many seconds."""


@frozen
class Tried:
    """One allowance: how many edges of how many agree that it brings together; and the block, if one closes."""

    allowance_mm: float
    templates: TemplateSet
    agreeing: int
    edges: int
    block: Closing | None = None

    @property
    def closure(self) -> Closure | None:
        """How the block closes."""
        return self.block.closure if self.block else None

    @property
    def odds(self) -> float:
        """What the block being one that is known, its size and the allowance say, as a logarithm of odds."""
        return how_usual(self.allowance_mm) + (
            _KNOWN * bool(self.block.known) + _WHOLE * self.block.usual if self.block else 0.0
        )

    @property
    def chi_square(self) -> float:
        """Of the block's misfits; infinite without a block."""
        return self.closure.sigma0**2 * self.closure.conditions if self.closure else float("inf")

    def words(self) -> str:
        """``18 of 23 edges find a partner of their length, and a block closes, its corners 0.10 mm off``."""
        met = f"{self.agreeing} of {self.edges} edges find a partner of their length"
        if self.closure is None:
            return f"{met}, no layout"
        what = f"the trade's {self.block.known}" if self.block and self.block.known else "a block"
        return f"{met}, and {what} closes, its corners {mm_text(self.closure.rms_mm, 2)} off on average"


@frozen
class Decision:
    """The allowance, or None where it stays open; all that were tried, the likeliest first; and both in words."""

    allowance_mm: float | None
    tried: tuple[Tried, ...]
    text: str


def decide(sets: Sequence[tuple[float, TemplateSet]], closes: Closes) -> Decision:
    """Which allowance is right, of the sets finished with each; ``closes`` looks for a block.

    Decided where one allowance alone lets the block close, or closes it clearly better than any other; where all
    that do come to one size within its U, for the usual one; where no block is found, by many agreeing
    edges. Otherwise open.
    """
    tried = [Tried(allowance_mm, templates, *agreeing_edges(templates)) for allowance_mm, templates in sets]
    tried.sort(key=lambda one: -one.agreeing)  # stable: of equals the commoner first
    tried = _with_blocks(tried, closes)
    best, *others = sorted(tried, key=lambda one: (one.chi_square, -one.agreeing))
    order = (best, *others)
    if best.closure is not None and _stands_alone(best, others):
        return Decision(best.allowance_mm, order, _decided(best, others))
    known = _known(order)
    if known is not None:
        others = [one for one in order if one is not known]
        return Decision(known.allowance_mm, (known, *others), _decided(known, others))
    usual = _no_worse(order)
    if usual is not None:
        others = [one for one in order if one is not usual]
        alike = "A block closes with several allowances, of one size within its ±."
        return Decision(usual.allowance_mm, (usual, *others), f"{alike} {_decided(usual, others)}")
    if best.closure is None:
        first, *rest = tried
        if first.agreeing >= _MANY and all(first.agreeing >= _TWICE * one.agreeing for one in rest):
            return Decision(first.allowance_mm, tuple(tried), _decided(first, rest))
    return Decision(None, order, _open(order))


def agreeing_edges(templates: TemplateSet) -> tuple[int, int]:
    """How many edges agree in length with one between other corners, and how many edges there are."""
    lengths, us, moves = [], [], []
    for template in templates.templates:
        cotangents = 1 / np.tan(np.radians(interior_angles(template.finished_outline)) / 2)
        moves += (cotangents + np.roll(cotangents, -1)).tolist()
        lengths += [edge.length_mm for edge in template.edges]
        us += [edge.u_mm for edge in template.edges]
    length, u, move = np.array(lengths), np.array(us), np.array(moves)
    near = np.clip(_SIGMAS * np.hypot(u[:, None], u), _LEAST_MM, _MOST_MM)
    agree = (np.abs(length[:, None] - length) < near) & (np.abs(move[:, None] - move) > _TELLING)
    return int(agree.any(axis=1).sum()), len(length)


def _with_blocks(tried: Sequence[Tried], closes: Closes) -> list[Tried]:
    """The same with their blocks; allowances that bring far fewer edges together than another are not tried."""
    most = tried[0].agreeing
    hopeful = [one for one in tried if most < _MANY or one.agreeing * _HOPELESS > most]
    done = {one.allowance_mm: one for one in tried}
    for seconds, looked_at in zip((_GLANCE_S, *_ROUNDS_S), (hopeful, hopeful, hopeful[:_AGAIN]), strict=True):
        for one in looked_at:
            block = closes(one.templates, seconds)
            done[one.allowance_mm] = Tried(one.allowance_mm, one.templates, one.agreeing, one.edges, block)
        if seconds == _GLANCE_S:
            # A longer look may show blocks at other allowances, of a usual size even, but none that is known; and
            # none that parts two that close equally well.
            if _known(list(done.values()), _WHOLE) is not None or _equal(list(done.values())):
                break
        elif any(one.closure for one in done.values()):
            break
    return [done[one.allowance_mm] for one in tried]


def _stands_alone(best: Tried, others: Sequence[Tried]) -> bool:
    """Whether only this allowance closes a block, and edges do not speak for another by far."""
    if any(one.agreeing >= _MANY and one.agreeing > 2 * best.agreeing for one in others):
        return False
    rivals = [one for one in others if one.closure]
    if best.closure and best.closure.p_value >= _BELIEVED:
        rivals = [one for one in rivals if one.closure and one.closure.p_value >= _BELIEVED]
    return all(one.chi_square - best.chi_square >= _CLEARLY for one in rivals)


def _equal(tried: Sequence[Tried]) -> bool:
    """Whether two allowances let blocks close that are to be believed, neither clearly better."""
    able = sorted(one.chi_square for one in tried if one.closure and one.closure.p_value >= _BELIEVED)
    return len(able) > 1 and able[1] - able[0] < _CLEARLY


def _known(tried: Sequence[Tried], at_least: float = -math.inf) -> Tried | None:
    """The allowance at which the cards are a known block's, where no other is nearly as likely.

    ``at_least`` are the odds that others may have in the end.
    """
    able = [one for one in tried if one.closure and one.closure.p_value >= _BELIEVED]
    able.sort(key=lambda one: -one.odds)
    if not able or not (able[0].block and able[0].block.known):
        return None
    if able[0].odds - max([at_least, *(one.odds for one in able[1:])]) < _SURE:
        return None
    return None if any(one.agreeing >= _MANY and one.agreeing > 2 * able[0].agreeing for one in tried) else able[0]


def _no_worse(tried: Sequence[Tried]) -> Tried | None:
    """The usual one of the allowances that a block closes with, where the blocks are of one size within its U.

    So it is mostly with 1/4 in and 6 mm in a photo: which of them it was can't be told, nor does it matter to what
    is sewn.
    """
    able = [one for one in tried if one.closure and one.closure.p_value >= _BELIEVED]
    first = max(able, key=lambda one: one.odds, default=None)
    if first is None or first.allowance_mm not in _USUALLY or len(able) < 2:
        return None
    if any(one.agreeing >= _MANY and one.agreeing > 2 * first.agreeing for one in tried):
        return None
    return first if all(_same_sizes(first, one) for one in able) else None


def _same_sizes(one: Tried, other: Tried) -> bool:
    """Whether two blocks are as wide and as high as one another, within the U of the first."""
    if not (one.block and other.block and one.block.size_mm and other.block.size_mm):
        return False
    sides = zip(one.block.size_mm, other.block.size_mm, strict=True)
    return all(abs(mine - its) <= one.block.size_u_mm for mine, its in sides)


def how_usual(allowance_mm: float) -> float:
    """How often patterns have an allowance, as a logarithm of odds against the commonest."""
    return _USUALLY.get(allowance_mm, _SELDOM)


def allowance_text(allowance_mm: float) -> str:
    """``none``, ``1/4 in (6.35 mm)``, ``7 mm``, or ``6.8 mm``."""
    if allowance_mm == 0:
        return "none"
    if abs(allowance_mm - round(allowance_mm / INCH * 16) * INCH / 16) < 1e-9:
        return f"{fraction_text(allowance_mm, 16)} ({mm_text(allowance_mm, 2)})"
    return f"{allowance_mm:.4g} mm"


def option_text(allowance_mm: float) -> str:
    """The same as ``--allowance`` takes it: ``none``, ``1/4in``, ``7mm``."""
    if allowance_mm == 0:
        return "none"
    return allowance_text(allowance_mm).partition(" (")[0].replace(" ", "")


def _decided(best: Tried, others: Sequence[Tried]) -> str:
    what = "The templates are finished size" if best.allowance_mm == 0 else (
        f"The templates carry an allowance of {allowance_text(best.allowance_mm)}, which was taken off"
    )  # fmt: skip
    following = min(others, key=lambda one: (one.chi_square, -one.agreeing), default=None)
    but = f" Next best is {allowance_text(following.allowance_mm)}: {following.words()}." if following else ""
    say = f"Confirm it with --allowance {option_text(best.allowance_mm)}, or say what it is instead."
    return f"{what}: {best.words()}.{but} {say}"


def _open(tried: Sequence[Tried]) -> str:
    closing = [one for one in tried if one.closure]
    if not closing:
        first = max(tried, key=lambda one: one.agreeing)
        return (
            "Nobody said whether the templates carry an allowance, and no usual one makes a block of them; "
            f"the likeliest is {allowance_text(first.allowance_mm)}: {first.words()}."
        )
    closing.sort(key=lambda one: (-one.odds, USUAL_MM.index(one.allowance_mm)))
    told = "; with ".join(
        f"{allowance_text(one.allowance_mm)}: {_what_closes(one.block)}" for one in closing[:_SIZED] if one.block
    )
    names = [allowance_text(one.allowance_mm) for one in closing[_SIZED:]]
    rest = f"; and with {', '.join(names)}" if names else ""
    return f"Nobody said whether the templates carry an allowance. A block closes with {told}{rest}."


def _what_closes(block: Closing) -> str:
    """``Ohio star, 12 × 12 in (305 × 305 mm)``: what the cards are with an allowance taken off."""
    what = block.known or "a block"
    if block.size_mm is None:
        return what
    inches, millimetres = (
        " × ".join(text(side).rpartition(" ")[0] for side in block.size_mm)
        for text in (partial(fraction_text, denominator=16), partial(mm_text, decimals=0))
    )
    return f"{what}, {inches} in ({millimetres} mm)"
