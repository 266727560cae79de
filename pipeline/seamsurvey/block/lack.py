"""What a set of straight cards may lack: told where it fills no block, or another than the cards are of."""

from collections.abc import Sequence
from dataclasses import dataclass

from attrs import evolve

from seamsurvey.block.classes import regular
from seamsurvey.block.gap import gap_of
from seamsurvey.block.hypotheses import Known
from seamsurvey.block.outlines import Outline
from seamsurvey.block.partial import partial_block
from seamsurvey.block.recognised import lacks
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.survey import is_straight, nearness
from seamsurvey.model import Block, TemplateSet


def but_for_one(
    blocks: tuple[Block, ...], templates: TemplateSet, shapes: Shapes, known: Known
) -> tuple[Block, ...]:
    """Return the blocks; the first with a warning where the cards, counts told, are a known block's but for one."""
    if blocks[0].known_as or any(up is None for up, _ in known) or not is_straight(shapes):
        return blocks
    plain = regular(templates, shapes).shapes
    card = lacks(plain, known, nearness(plain))
    if not card:
        return blocks
    return (evolve(blocks[0], warnings=(*blocks[0].warnings, card)), *blocks[1:])


@dataclass(frozen=True)
class Lack:
    """What may be missing, in words, and how the block would look without it."""

    words: tuple[str, ...] = ()
    partial: Block | None = None


def lack_of(templates: TemplateSet, shapes: Shapes, known: Known, outlines: Sequence[Outline]) -> Lack:
    """What a set of straight cards that fills no block may lack: a card of a known block, or what fills a gap."""
    if not is_straight(shapes):
        return Lack()
    plain = regular(templates, shapes)
    near = nearness(plain.shapes)
    card = lacks(plain.shapes, known, near)
    words = (card,) if card else ()
    if not plain.planned or any(up is None for up, _ in known):
        return Lack(words)
    gap = gap_of(plain.shapes, tuple(((up or 0) + (over or 0), over) for up, over in known), outlines, near)
    if gap is None:
        return Lack(words)
    return Lack((*words, gap.text), partial_block(shapes, gap.best))
