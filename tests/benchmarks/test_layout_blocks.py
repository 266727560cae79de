"""The blocks that layouts are judged on: as many as the figures ask for, and each one a whole block."""

from itertools import pairwise

import pytest
import shapely

from tests.benchmarks.layout_blocks import KINDS, SHORTEST_EDGE_MM, Kind, block


def test_there_are_sixty_in_ten_families_of_4_to_100_pieces() -> None:
    """As the figures of assembling are asked for."""
    sizes = [size for kind in KINDS for size in kind.sizes]
    assert len({kind.name for kind in KINDS}) == 10
    assert len(sizes) >= 60
    assert (min(sizes), max(sizes)) == (4, 100)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_every_size_is_drawn_whole(kind: Kind) -> None:
    """Pieces fill the outline without a gap or an overlap, none with an edge too short to cut."""
    for size in kind.sizes:
        family = block(kind, size, 1)
        assert abs(len(family.pieces) - size) <= 2
        pieces = [shapely.Polygon(piece) for piece in family.pieces]
        assert all(piece.is_valid for piece in pieces)
        union = shapely.union_all(pieces).buffer(1e-6, join_style="mitre")
        assert sum(piece.area for piece in pieces) == pytest.approx(union.area, rel=1e-5)
        assert not shapely.get_num_interior_rings(union)
        assert union.convex_hull.area == pytest.approx(union.area, rel=1e-5)
        assert min(shapely.length(shapely.LineString([a, b])) for piece in pieces for a, b in _edges(piece)) >= (
            SHORTEST_EDGE_MM - 1e-6
        )


def _edges(piece: shapely.Polygon) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    ring = [(float(x), float(y)) for x, y in piece.exterior.coords]
    return list(pairwise(ring))
