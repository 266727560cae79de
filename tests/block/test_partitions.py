"""The random partitions: that each tiles its outline exactly, and that the templates are told from one another."""

from fractions import Fraction

import pytest
import shapely

from tests.block.partitions import Partition, area, congruent, flipped, partition
from tests.scene.congruence import templates_of
from tests.scene.geometry import polygon


@pytest.mark.parametrize("seed", range(70))
def test_pieces_tile_the_outline_exactly(seed: int) -> None:
    """Three to nine pieces; their areas add up to the outline's as fractions, and no two overlap by shapely."""
    drawn = partition(seed)
    assert 3 <= len(drawn.pieces) <= 9
    assert all(isinstance(v, Fraction) for piece in drawn.pieces for corner in piece for v in corner)
    assert all(area(piece) > 0 for piece in drawn.pieces)
    assert sum(map(area, drawn.pieces)) == area(drawn.outline)
    pieces = [shapely.Polygon([(float(x), float(y)) for x, y in piece]) for piece in drawn.pieces]
    whole = shapely.Polygon([(float(x), float(y)) for x, y in drawn.outline])
    assert all(piece.is_valid for piece in pieces)
    assert shapely.union_all(pieces).symmetric_difference(whole).area < 1e-9 * whole.area


def test_templates_are_those_of_the_renderer() -> None:
    """Congruence by fractions gives the counts, face up and reversed, that the renderer's own finds by fitting."""
    for seed in range(70):
        drawn = partition(seed)
        shapes, counts = drawn.templates()
        fitted = templates_of(tuple(polygon([[float(x), float(y)] for x, y in p]) for p in drawn.pieces))
        assert counts == [(t.count, t.reversed_count) for t in fitted]
        assert len(shapes) == len(fitted)


def test_there_are_partitions_of_every_sort() -> None:
    """Squares and rectangles; pieces that are not convex; equal pieces, reversed ones; few and many."""
    drawn = [partition(seed) for seed in range(70)]
    counts = [count for one in drawn for count in one.templates()[1]]
    assert {_is_square(one) for one in drawn} == {True, False}
    assert any(up > 1 for up, _ in counts)
    assert any(over for _, over in counts)
    assert any(not _is_convex(piece) for one in drawn for piece in one.pieces)
    assert {len(one.pieces) for one in drawn} == set(range(3, 10))


def test_a_shape_and_its_mirror_image() -> None:
    """A 3-4-5 triangle is congruent to itself turned, by fractions, and to its mirror image only flipped."""
    triangle = tuple((Fraction(x), Fraction(y)) for x, y in ((0, 0), (4, 0), (0, 3)))
    turned = tuple((Fraction(3 * x - 4 * y, 5) + 7, Fraction(4 * x + 3 * y, 5)) for x, y in triangle)
    assert congruent(triangle, turned)
    assert not congruent(triangle, flipped(turned))


def _is_square(drawn: Partition) -> bool:
    width, height = drawn.outline[2]
    return width == height


def _is_convex(piece: tuple[tuple[Fraction, Fraction], ...]) -> bool:
    shape = shapely.Polygon([(float(x), float(y)) for x, y in piece])
    return bool(shape.convex_hull.area < shape.area + 1e-6)
