"""The trade's blocks: that each is what it says, by shapely, and that the judge tells right layouts from wrong."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
import shapely

from tests.scene.congruence import difference
from tests.scene.geometry import Points, mirrored, signed_area
from tests.scene.test_families import falls_apart
from tests.scene.trade_blocks import TRADE_BLOCKS, TradeBlock, is_right_block, trade_block

CORNERS = {"square": 4, "rectangle": 4, "triangle": 3, "hexagon": 6, "octagon": 8}


@dataclass(frozen=True)
class Laid:
    """A piece of a layout."""

    template: str
    outline: Points


@dataclass(frozen=True)
class Layout:
    """A layout as the search would give it."""

    outline: Points
    pieces: tuple[Laid, ...]


def named(block: TradeBlock) -> str:
    """The block's name, for the test's."""
    return block.name


def layout(block: TradeBlock) -> Layout:
    """The block's own drawing as a layout, its pieces in another order."""
    pieces = [Laid(t.name, block.pieces[copy.piece]) for t in block.templates for copy in t.copies]
    return Layout(block.outline, tuple(reversed(pieces)))


def moved(laid: Layout, degrees: float, *, over: bool) -> Layout:
    """The whole turned over or not, turned, shifted, and its corners shaken by tenths of a millimetre."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    turn = np.array([[c, s], [-s, c]])
    rng = np.random.default_rng([int(degrees), over])

    def move(outline: Points) -> Points:
        flipped = mirrored(outline) if over else outline
        return np.asarray(flipped @ turn + rng.normal(0, 0.1, outline.shape) + 40)

    return Layout(move(laid.outline), tuple(replace(p, outline=move(p.outline)) for p in laid.pieces))


@pytest.mark.parametrize("block", TRADE_BLOCKS, ids=named)
def test_pieces_tile_the_outline(block: TradeBlock) -> None:
    """The pieces' areas add up to the outline's and their union is the outline: no gap and no overlap."""
    whole, pieces = shapely.Polygon(block.outline), [shapely.Polygon(piece) for piece in block.pieces]
    assert all(piece.is_valid for piece in pieces)
    assert all(signed_area(piece) > 0 for piece in (*block.pieces, block.outline))
    assert sum(piece.area for piece in pieces) == pytest.approx(whole.area, rel=1e-12)
    assert shapely.union_all(pieces).symmetric_difference(whole).area < 1e-9 * whole.area
    assert max((a.intersection(b).area for i, a in enumerate(pieces) for b in pieces[:i])) < 1e-9 * whole.area


@pytest.mark.parametrize("block", TRADE_BLOCKS, ids=named)
def test_the_outline_is_of_its_kind(block: TradeBlock) -> None:
    """A square, hexagon or octagon is regular, a rectangle has right angles, a triangle is half a square."""
    along = np.roll(block.outline, -1, axis=0) - block.outline
    lengths = np.hypot(*along.T)
    assert len(block.outline) == CORNERS[block.kind]
    assert block.outline.min(axis=0) == pytest.approx([0.0, 0.0])
    if block.kind == "triangle":
        assert sorted(lengths / lengths.min()) == pytest.approx([1, 1, math.sqrt(2)])
        return
    turns = np.sum(along * np.roll(along, 1, axis=0), axis=1) / (lengths * np.roll(lengths, 1))
    assert turns == pytest.approx(math.cos(2 * math.pi / len(block.outline)), abs=1e-12)
    assert (np.ptp(lengths) > 20) == (block.kind == "rectangle")


@pytest.mark.parametrize("block", TRADE_BLOCKS, ids=named)
def test_set_in_seams_are_where_no_straight_cuts_take_the_block_apart(block: TradeBlock) -> None:
    """A block says set-in exactly when taking it apart by full cuts gets stuck."""
    assert block.set_in == (not falls_apart(list(block.pieces)))


def test_the_collection_has_what_is_asked_for() -> None:
    """Sixty blocks or more, each name once, every kind of outline, twenty with set-in seams; templates differ."""
    assert len(TRADE_BLOCKS) >= 60
    assert len({block.name for block in TRADE_BLOCKS}) == len(TRADE_BLOCKS)
    assert {block.kind for block in TRADE_BLOCKS} == set(CORNERS)
    assert sum(block.set_in for block in TRADE_BLOCKS) >= 20
    for block in TRADE_BLOCKS:
        shapes = [template.finished for template in block.templates]
        for i, a in enumerate(shapes):
            # No person with a ruler takes one of its templates for another.
            assert all(max(difference(a, b)) > 2.0 for b in shapes[:i]), block.name


@pytest.mark.parametrize(
    ("name", "counts"),
    [
        ("nine patch", [(9, 0)]),
        ("flying geese", [(4, 0), (8, 0)]),
        ("ohio star", [(5, 0), (16, 0)]),
        ("bear's paw", [(4, 0), (4, 0), (5, 0), (32, 0)]),
        ("eight-pointed star", [(4, 0), (4, 0), (8, 0)]),
        ("lone star", [(4, 0), (4, 0), (72, 0)]),
        ("attic windows", [(4, 0), (4, 4)]),
        ("hexagon flower", [(6, 0), (7, 0)]),
    ],
)
def test_templates_have_the_counts_one_would_cut(name: str, counts: list[tuple[int, int]]) -> None:
    """Cards of one shape are one template, mirror images are its reversed copies."""
    assert sorted((t.count, t.reversed_count) for t in trade_block(name).templates) == counts


@pytest.mark.parametrize("block", TRADE_BLOCKS, ids=named)
def test_the_judge_knows_a_block_however_it_is_turned(block: TradeBlock) -> None:
    """Turned by any angle, turned over, its corners off by tenths, its own drawing is right."""
    laid = layout(block)
    assert is_right_block(block, laid)
    assert is_right_block(block, moved(laid, 90.0, over=False))
    assert is_right_block(block, moved(laid, 217.0, over=True))


def test_the_judge_tells_layouts_of_the_same_cards_apart() -> None:
    """A friendship star is no shoofly, a star of six points no cube, though their cards are the same."""
    for one, other in (("friendship star", "shoofly"), ("six-pointed star", "building blocks")):
        a, b = trade_block(one), trade_block(other)
        scale = a.size[0] / b.size[0]
        names = {t.name: _same_card(t.finished * scale, a) for t in b.templates}
        pieces = tuple(Laid(names[p.template], p.outline * scale) for p in layout(b).pieces)
        assert len(pieces) == len(a.pieces)
        assert not is_right_block(a, Layout(a.outline, pieces))


def _same_card(finished: Points, block: TradeBlock) -> str:
    return next(t.name for t in block.templates if max(difference(finished, t.finished)) < 1e-3)


def test_the_judge_wants_every_piece_in_its_place() -> None:
    """One cell turned over, one template taken for another, or one piece left out is wrong."""
    block = trade_block("friendship star")
    laid = layout(block)
    cell = shapely.box(0, 76, 77, 153)
    inside = [k for k, p in enumerate(laid.pieces) if cell.contains(shapely.Polygon(p.outline))]
    assert len(inside) == 2
    middle = np.array([38.1, 114.3])
    flipped = tuple(
        replace(p, outline=mirrored(p.outline - middle) + middle) if k in inside else p
        for k, p in enumerate(laid.pieces)
    )
    assert not is_right_block(block, replace(laid, pieces=flipped))
    renamed = tuple(replace(p, template="AB"[p.template == "A"]) for p in laid.pieces)
    assert not is_right_block(block, replace(laid, pieces=renamed))
    assert not is_right_block(block, replace(laid, pieces=laid.pieces[1:]))
