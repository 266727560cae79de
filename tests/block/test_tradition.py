"""The trade's known blocks: the catalogue is what is drawn, cards are recognised, patterns tell blocks apart."""

import math

import numpy as np
import pytest

from seamsurvey.block.as_drawn import laid_as_drawn
from seamsurvey.block.assemble import assemble
from seamsurvey.block.classes import regular
from seamsurvey.block.pattern import Laid, card_of, pattern
from seamsurvey.block.recognised import recognised
from seamsurvey.block.shapes import shapes_of
from seamsurvey.block.survey import nearness
from seamsurvey.block.tradition import tradition
from tests.block.sets import measured
from tests.scene.congruence import rigid_map
from tests.scene.geometry import corner_angles, edge_lengths, mirrored, signed_area
from tests.scene.trade_block import Sketch, TradeBlock, drafted, is_right_block
from tests.scene.trade_blocks import TRADE_BLOCKS, trade_block
from tests.scene.trade_grid import log_cabin
from tests.scene.trade_units import boxed, clipped
from tests.write_tradition import CATALOGUE, catalogue, drawings, named

SURE_MM = 0.05


def _pattern_of(block: TradeBlock, *, over: bool = False, degrees: float = 0.0) -> str:
    turn = np.exp(1j * math.radians(degrees))
    laid = []
    for template in block.templates:
        for copy in template.copies:
            piece = mirrored(block.pieces[copy.piece]) if over else block.pieces[copy.piece]
            card = card_of(list(corner_angles(piece)), list(edge_lengths(piece)))
            laid.append(Laid(card, piece @ np.array([1.0, 1j]) * turn))
    return pattern(block.kind, laid, 0.5)


def test_the_catalogue_is_what_the_drawings_are() -> None:
    """The file carried is the one the drawings write: it says nothing that can't be seen in them."""
    assert CATALOGUE.read_text(encoding="utf-8") == catalogue()


def test_every_known_block_has_a_pattern_of_its_own() -> None:
    """No two blocks of the catalogue are taken for one another."""
    assert len({known.pattern for known in tradition()}) == len(tradition())


@pytest.mark.parametrize("name", ["Ohio star", "pinwheel", "storm at sea", "hexagon flower", "snail's trail"])
def test_a_pattern_is_the_same_turned_or_over(name: str) -> None:
    """Turning or mirroring the whole changes nothing, whatever the size."""
    block = trade_block(name.lower())
    plain = _pattern_of(block)
    assert plain == next(known.pattern for known in tradition() if known.name == name)
    assert _pattern_of(block, over=True, degrees=37.0) == plain


def test_a_pattern_is_not_that_of_the_same_pieces_laid_otherwise() -> None:
    """Shoofly and friendship star are cut from the same cards, as many of each; their patterns differ."""
    assert _pattern_of(trade_block("shoofly")) != _pattern_of(trade_block("friendship star"))


def _wide(rounds: int) -> Sketch:
    """A log cabin with logs half as wide again to the right and above."""
    plain = log_cabin(2, rounds, paired=False)

    def stretched(x: np.ndarray) -> np.ndarray:
        return np.where(x > rounds + 2, (rounds + 2) + 1.5 * (x - rounds - 2), x)

    pieces = [np.column_stack([stretched(p[:, 0]), stretched(p[:, 1])]) for p in plain]
    side = rounds + 2 + 1.5 * rounds
    return boxed(pieces, side)


def test_a_pattern_is_the_same_in_other_proportions() -> None:
    """A log cabin with wider logs on two sides is a log cabin still."""
    block = drafted("wide", "square", _wide(3), 9)
    known = next(k for k in tradition() if k.name == "log cabin" and len(k.pieces) == 13)
    assert _pattern_of(block) == known.pattern


@pytest.mark.parametrize("block", [b for b in TRADE_BLOCKS if len(b.pieces) <= 30], ids=lambda b: b.name)
def test_cards_of_a_known_block_are_laid_as_it_is_drawn(block: TradeBlock) -> None:
    """From one card of each shape, turned anyhow, the drawing lays the block itself, every corner in its place."""
    templates = measured(block, SURE_MM, seed=3, counted=False)
    shapes = regular(templates, shapes_of(templates)).shapes
    near = nearness(shapes)
    nothing = tuple((None, None) for _ in templates.templates)
    found = recognised(shapes, nothing, near)
    mine = [one for one in found.may_be if one.known.name.lower() == block.name and one.as_drawn]
    layouts = [laid_as_drawn(shapes, one, [None] * len(nothing), near) for one in mine]
    assert any(layout is not None and _is_right(block, shapes.names, layout) for layout in layouts)


def test_cards_of_many_known_blocks_are_laid_as_each_of_them() -> None:
    """A square and its half are friendship star, shoofly, and twenty more: with no count said all are laid."""
    square, half = (t.finished for t in sorted(trade_block("shoofly").templates, key=lambda t: -len(t.finished)))
    wanted = {named(block) for block in drawings() if _cut_from(block, square, half)}
    templates = measured(trade_block("shoofly"), SURE_MM, seed=3, counted=False)
    shapes = regular(templates, shapes_of(templates)).shapes
    found = recognised(shapes, ((None, None), (None, None)), nearness(shapes))
    assert len(wanted) > 15
    assert {one.known.name for one in found.may_be if one.as_drawn} == wanted
    assert len(list(found.laid(((None, None), (None, None))))) == sum(one.as_drawn for one in found.may_be)


def _cut_from(block: TradeBlock, *shapes: np.ndarray) -> bool:
    """Whether a block's templates are these at one scale."""
    if {len(piece) for piece in block.pieces} != {len(corners) for corners in shapes}:
        return False
    mine = sorted((t.finished for t in block.templates), key=lambda corners: -len(corners))
    if [len(corners) for corners in mine] != [len(corners) for corners in shapes]:
        return False
    scale = math.sqrt(signed_area(shapes[0]) / signed_area(mine[0]))
    return all(rigid_map(a * scale, b) is not None for a, b in zip(mine, shapes, strict=True))


def _is_right(block: TradeBlock, names: tuple[str, ...], layout: object) -> bool:
    at = np.array(layout.at)  # type: ignore[attr-defined]
    ring = np.array(layout.outline.at(*layout.size))  # type: ignore[attr-defined]

    class Piece:
        def __init__(self, template: str, corners: np.ndarray) -> None:
            self.template, self.outline = template, np.column_stack([corners.real, corners.imag])

    class Found:
        outline = np.column_stack([ring.real, ring.imag])
        pieces = [Piece(names[t], at[list(v)]) for t, _, v in layout.pieces]  # type: ignore[attr-defined]  # noqa: RUF012

    return is_right_block(block, Found())


def test_a_known_block_comes_first_where_nobody_told_the_counts() -> None:
    """Eight diamonds, four squares, four triangles: nobody says how many, and the star is the first answer."""
    block = trade_block("eight-pointed star")
    first = assemble(measured(block, SURE_MM, seed=1, counted=False))[0]
    assert is_right_block(block, first)
    assert first.known_as == "eight-pointed star"


def test_a_block_like_a_known_one_is_found_by_its_counts() -> None:
    """A snowball with smaller corners than the drawing's is found, and known, without being told its counts."""
    block = drafted("small corners", "square", boxed(clipped(0, 0, 1, 0.22), 1), 9)
    blocks = assemble(measured(block, SURE_MM, seed=1, counted=False))
    right = next(one for one in blocks[:3] if is_right_block(block, one))
    assert any(reason.text == "in the manner of a known block: snowball" for reason in right.reasons)


@pytest.mark.parametrize("name", ["half patch setting triangle", "shoofly"])
def test_no_layout_is_offered_twice(name: str) -> None:
    """Met as several known blocks and by the search, at sizes a hair apart, a layout is offered once."""
    seen = []
    for block in assemble(measured(trade_block(name), 0.1, seed=1, counted=False)):
        middles = [
            (p.template, complex(*(p.outline.mean(axis=0) - block.outline.mean(axis=0)))) for p in block.pieces
        ]
        turned = [
            sorted(
                (t, round(w.real), round(w.imag))
                for t, z in middles
                for w in [(z.conjugate() if over else z) * 1j**k]
            )
            for k in range(4)
            for over in (False, True)
        ]
        seen.append(min(turned))
    assert len(set(map(tuple, seen))) == len(seen) > 8
