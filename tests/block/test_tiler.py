"""The exhaustive tiler, against numbers that are known and a second way to count."""

import math
from fractions import Fraction
from itertools import permutations

import pytest
import shapely

from tests.block.partitions import partition
from tests.block.tiler import Count, Laid, Polygon, Tiling, distinct, tilings
from tests.outside.exact_cover import cover

ROOT = math.sqrt(3) / 2
LOZENGE = [(0, 0), (1, 0), (1.5, ROOT), (0.5, ROOT)]
TROMINO = [(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)]
# The seven pieces in a square of four by four, the parallelogram last.
TANGRAM: list[Polygon] = [
    [(0, 4), (0, 0), (2, 2)],
    [(4, 4), (2, 4), (4, 2)],
    [(4, 0), (4, 2), (3, 1)],
    [(3, 1), (4, 2), (3, 3), (2, 2)],
    [(0, 4), (1, 3), (3, 3), (2, 4)],
]


def box(width: int, height: int) -> Polygon:
    """A rectangle."""
    return [(0, 0), (width, 0), (width, height), (0, height)]


def hexagon(a: int, b: int, c: int) -> Polygon:
    """The hexagon with sides a, b, c, a, b, c, each turned by 60 degrees."""
    x, y = 0.0, 0.0
    corners = []
    for k, side in enumerate((a, b, c, a, b, c)):
        corners.append((x, y))
        x, y = x + side * math.cos(k * math.pi / 3), y + side * math.sin(k * math.pi / 3)
    return corners


def shape_of(laid: Laid) -> shapely.Polygon:
    """The placed piece as shapely's."""
    return shapely.Polygon([(z.real, z.imag) for z in laid.corners])


@pytest.mark.parametrize(("rows", "columns", "many"), [(2, 3, 3), (2, 8, 34), (3, 4, 11), (4, 4, 36), (4, 5, 95)])
def test_dominoes(rows: int, columns: int, many: int) -> None:
    """Rectangles are covered by dominoes in as many ways as Kasteleyn's formula says (1961)."""
    assert len(list(tilings([box(2, 1)], [(rows * columns // 2, 0)], box(columns, rows)))) == many


@pytest.mark.parametrize(("a", "b", "c"), [(1, 1, 1), (1, 1, 2), (1, 2, 2), (2, 2, 2), (1, 2, 3)])
def test_lozenges(a: int, b: int, c: int) -> None:
    """Hexagons are covered by 60 degree diamonds as often as MacMahon's formula for plane partitions says."""
    boxes = [(i, j, k) for i in range(1, a + 1) for j in range(1, b + 1) for k in range(1, c + 1)]
    many = math.prod(Fraction(i + j + k - 1, i + j + k - 2) for i, j, k in boxes)
    found = list(tilings([LOZENGE], [(a * b + b * c + c * a, 0)], hexagon(a, b, c)))
    assert len(found) == many


def test_pieces_that_are_not_convex() -> None:
    """L trominoes cover 2 x 3 twice, 3 x 3 never (by hand), and 4 x 6 as often as an exact cover by cells says."""
    assert len(list(tilings([TROMINO], [(2, 0)], box(3, 2)))) == 2
    assert not list(tilings([TROMINO], [(3, 0)], box(3, 3)))
    shape = tuple((int(x), int(y)) for x, y in TROMINO)
    cells = cover(((0, 0), (6, 0), (6, 4), (0, 4)), [shape], (8,)).fillings()
    assert len(list(tilings([TROMINO], [(8, 0)], box(6, 4)))) == len(cells)


def test_the_tangram_fills_its_square_in_one_way() -> None:
    """Eight placements with the parallelogram either face up, four with one; one but for symmetry (computed)."""
    counts: list[Count] = [(2, 0), (1, 0), (2, 0), (1, 0), (1, None)]
    either = list(tilings(TANGRAM, counts, box(4, 4)))
    assert len(either) == 8
    assert len(distinct(either, box(4, 4))) == 1
    faces = [list(tilings(TANGRAM, [*counts[:4], count], box(4, 4))) for count in ((1, 0), (0, 1))]
    assert [len(found) for found in faces] == [4, 4]
    assert {one[-1].over for found in faces for one in found} <= {True, False}


@pytest.mark.parametrize(("hole", "side"), [(5, 7), (1, 5)])
def test_pieces_that_lie_aslant(hole: int, side: int) -> None:
    """Four 3-4-5 triangles lie round a square in one way and its mirror image (by hand: Bhaskara's figures)."""
    triangle = [(0, 0), (4, 0), (0, 3)]
    either = list(tilings([triangle, box(hole, hole)], [(4, None), (1, 0)], box(side, side)))
    assert len(either) == 2
    assert len(distinct(either, box(side, side))) == 1
    assert len(list(tilings([triangle, box(hole, hole)], [(4, 0), (1, 0)], box(side, side)))) == 1


def test_a_shape_that_is_its_own_mirror_image_is_never_reversed() -> None:
    """Two halves of a square, said to be face up and reversed, are laid once for each diagonal."""
    found = list(tilings([[(0, 0), (1, 0), (0, 1)]], [(1, 1)], box(1, 1)))
    assert len(found) == 2
    assert not any(laid.over for tiling in found for laid in tiling)


def test_the_areas_must_add_up() -> None:
    """Pieces that can't fill the outline for their area are refused."""
    with pytest.raises(ValueError, match="area"):
        next(tilings([box(1, 1)], [(3, 0)], box(2, 2)))


@pytest.mark.parametrize("seed", [1, 8, 15, 22, 29, 3, 51])
def test_rectangles_against_an_exact_cover(seed: int) -> None:
    """Rectangles are laid just as an exact cover of the cells finds, piece by piece."""
    drawn = partition(seed)
    shapes, counts = drawn.templates()
    unit = math.gcd(*(int(v) for shape in (*shapes, drawn.outline) for corner in shape for v in corner))
    assert all(len(shape) == 4 and len({x for x, _ in shape}) == 2 for shape in shapes)
    whole = [tuple((int(x) // unit, int(y) // unit) for x, y in shape) for shape in (*shapes, drawn.outline)]
    placed = cover(whole[-1], whole[:-1], tuple(up for up, _ in counts)).fillings()
    found = list(tilings(whole[:-1], counts, whole[-1]))
    assert len(found) == len(placed)
    assert {_as_filling(one) for one in found} == placed


def _as_filling(tiling: Tiling) -> frozenset[tuple[int, frozenset[tuple[int, int]]]]:
    return frozenset(
        (laid.kind, frozenset((round(z.real), round(z.imag)) for z in laid.corners)) for laid in tiling
    )


@pytest.mark.parametrize("seed", range(14))
def test_every_tiling_is_one_and_the_drawn_one_is_among_them(seed: int) -> None:
    """By shapely, what is yielded covers the outline without overlap; no tiling comes twice; the drawing is one."""
    drawn = partition(seed)
    shapes, counts = drawn.templates()
    whole = shapely.Polygon([(float(x), float(y)) for x, y in drawn.outline])
    found = list(tilings(shapes, counts, drawn.outline))
    for tiling in found:
        pieces = [shape_of(laid) for laid in tiling]
        assert sum(piece.area for piece in pieces) == pytest.approx(whole.area)
        assert shapely.union_all(pieces).symmetric_difference(whole).area < 1e-6
    places = [frozenset(_places(tiling)) for tiling in found]
    assert len(set(places)) == len(places)
    wanted = frozenset(frozenset((round(float(x), 3), round(float(y), 3)) for x, y in p) for p in drawn.pieces)
    assert wanted in places


def _places(tiling: Tiling) -> list[frozenset[tuple[float, float]]]:
    return [frozenset((round(z.real, 3) + 0.0, round(z.imag, 3) + 0.0) for z in laid.corners) for laid in tiling]


def test_distinct_keeps_one_of_each_set_of_images() -> None:
    """Three strips lie in a square in 3! orders upright and as many level, three but for symmetry.

    By hand: an order and its reverse are mirror images.
    """
    strips = [box(w, 6) for w in (1, 2, 3)]
    found = list(tilings(strips, [(1, 0)] * 3, box(6, 6)))
    assert len(found) == 2 * len(list(permutations(strips)))
    assert len(distinct(found, box(6, 6))) == 3
