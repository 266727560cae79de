"""Blocks are found that are pieced in units, few of a kind, and many kinds of them are offered."""

import itertools
from collections.abc import Sequence

import numpy as np
import pytest
from shapely import Polygon, union_all

from seamsurvey.block.classes import regular
from seamsurvey.block.contenders import Contender, contenders, drawn, in_order, varied
from seamsurvey.block.every import every_layout
from seamsurvey.block.groups import Group, groups, isometries
from seamsurvey.block.in_units import layouts_in_units
from seamsurvey.block.outlines import SQUARE
from seamsurvey.block.recognised import recognised
from seamsurvey.block.shapes import Shapes, shapes_of
from seamsurvey.block.survey import nearness
from seamsurvey.block.tiles import Places, Tile
from seamsurvey.block.work import Work
from seamsurvey.model import Block, Piece, TemplateSet
from tests.block.sets import measured
from tests.scene.families import Family
from tests.scene.geometry import Points
from tests.scene.trade_block import TradeBlock, is_right_block
from tests.scene.trade_blocks import trade_block
from tests.scene.trade_units import box, halves, quarters

Counts = tuple[tuple[int, int | None], ...]
WIDTHS = (2.0, 3.0, 1.5, 3.0, 2.0)  # of columns and rows, in


def _counted(templates: TemplateSet, shapes: Shapes) -> Counts:
    return tuple(
        ((one.count or 0) + (one.reversed_count or 0), 0 if shapes.mirrored[t] else one.reversed_count or 0)
        for t, one in enumerate(templates.templates)
    )


def _found(drawing: TradeBlock | Family, name: str) -> list[list[Tile]]:
    """Layouts in units of a square block, of one kind of symmetry."""
    templates = measured(drawing, 0.01, seed=2)
    shapes = regular(templates, shapes_of(templates)).shapes
    counts, side = _counted(templates, shapes), float(drawing.size[0])
    near = nearness(shapes)
    ring = (0j, complex(side, 0), complex(side, side), complex(0, side))
    by_face = [not mirrored for mirrored in shapes.mirrored]
    places = Places(shapes, range(len(shapes.names)), ring, near, by_face=by_face)
    able: list[Group] = [group for group in groups(isometries(ring, near)) if group.name == name]
    found = layouts_in_units(shapes, places, places.stock(counts), (side, side), able, Work(2.0))
    return [[places.tiles[k] for k in numbers] for numbers in found]


def _tiles(layout: Sequence[Tile], side: float) -> bool:
    """Whether pieces fill the square and overlap nowhere, to a thousandth of its area."""
    pieces = [Polygon([(z.real, z.imag) for z in tile.corners]) for tile in layout]
    square, off = Polygon([(0, 0), (side, 0), (side, side), (0, side)]), side * side / 1000
    whole = union_all(pieces)
    return abs(sum(p.area for p in pieces) - side**2) < off and whole.symmetric_difference(square).area < off


def _uneven() -> Family:
    """Seventy-three pieces on a grid of columns of three widths, cut alike under quarter turns."""
    at = np.concatenate([[0.0], np.cumsum(WIDTHS)]) * 25.4
    side, many = float(at[-1]), len(WIDTHS)
    pieces: list[Points] = []
    for i, j in itertools.product(range(many), repeat=2):
        x, y, w, h = at[i], at[j], at[i + 1] - at[i], at[j + 1] - at[j]
        if i < many // 2 + 1 and j < many // 2:
            cut = [halves(x, y, w, h, rising=True), quarters(x, y, w, h)][(i + j) % 2]
            for _ in range(4):
                pieces += cut
                cut = [np.column_stack([side - p[:, 1], p[:, 0]]) for p in cut]
    middle = many // 2
    pieces.append(box(at[middle], at[middle], WIDTHS[middle] * 25.4))
    return Family("uneven", (side, side), tuple(pieces), "in", "", False, False)


def test_large_blocks_on_uneven_grids_are_found() -> None:
    """Of 73 pieces on columns of three widths layouts are found that fill the square with all of them."""
    family = _uneven()
    layouts = _found(family, "quarter-turn")
    assert layouts
    for layout in layouts[:6]:
        assert len(layout) == len(family.pieces)
        assert _tiles(layout, family.size[0])


def test_a_basket_is_found_among_the_layouts_in_units() -> None:
    """Twenty-two pieces of four cards, mirrored across a diagonal: a search by corners comes to it too late."""
    block = trade_block("basket")
    side = block.size[0]
    layouts = _found(block, "mirror-diagonal")
    assert all(_tiles(layout, side) for layout in layouts[:6])
    assert any(is_right_block(block, _as_block(block, layout)) for layout in layouts)


def _as_block(block: TradeBlock, layout: Sequence[Tile]) -> Block:
    names = [one.name for one in block.templates]
    pieces = [
        Piece(
            id=str(k),
            template=names[tile.face.template],
            reversed=tile.face.reversed,
            outline=_points(tile.corners),
        )
        for k, tile in enumerate(layout)
    ]
    return Block(outline=box(0, 0, block.size[0]), pieces=tuple(pieces))


def _points(corners: Sequence[complex]) -> Points:
    return np.array([(z.real, z.imag) for z in corners])


@pytest.mark.parametrize("name", ["ohio star", "sawtooth star", "dutchman's puzzle", "bear's paw", "card trick"])
def test_kinds_of_seam_are_pairs_of_pieces_that_look_different(name: str) -> None:
    """Two seams are one kind when the two pieces at each are one figure: told by all distances of their corners."""
    block = trade_block(name)
    templates = measured(block, 0.0, seed=1)
    shapes = regular(templates, shapes_of(templates)).shapes
    known = tuple((one.count, one.reversed_count or 0) for one in templates.templates)
    near = nearness(shapes)
    catalogue = recognised(shapes, known, near)
    as_drawn = [c for c in drawn(shapes, catalogue.laid(known), near, catalogue) if name in c.extra[0].text.lower()]
    figures = set()
    for one, other in itertools.combinations(block.pieces, 2):
        shared = [p for p in one if np.hypot(*(other - p).T).min() < 1e-6]
        if len(shared) == 2:
            areas = sorted([one, other], key=lambda ring: (round(Polygon(ring).area), len(ring)))
            distances = [
                tuple(sorted(round(float(d)) for p in a for d in np.hypot(*(b - p).T)))
                for a, b in ((areas[0], areas[0]), (areas[0], areas[1]), (areas[1], areas[1]))
            ]
            figures.add(tuple(distances))
    assert [c.traits.kinds_of_seam for c in as_drawn] == [len(figures)]


@pytest.fixture(scope="module")
def line() -> tuple[list[Contender], float]:
    """All layouts of a pinwheel's cards that fill a square, in order, and their tolerance."""
    block = trade_block("pinwheel")
    templates = measured(block, 0.05, seed=1)
    shapes = regular(templates, shapes_of(templates)).shapes
    near = nearness(shapes)
    every = every_layout(shapes, _counted(templates, shapes), (SQUARE,), near, Work(2.0))
    return contenders(shapes, every.layouts), near


def test_what_is_much_alike_is_set_back_and_nothing_is_lost(line: tuple[list[Contender], float]) -> None:
    """The likeliest stays first, every layout stays, and the first few share less than they did."""
    plain, near = line
    some = varied(plain, near)
    assert some[0].layout is plain[0].layout
    assert {id(c.layout) for c in some} == {id(c.layout) for c in plain}
    assert [c.points for c in some] == [c.points for c in in_order(some)]
    assert all(c.points <= old.points for old in plain for c in some if c.layout is old.layout)
    assert some[0].points == plain[0].points
