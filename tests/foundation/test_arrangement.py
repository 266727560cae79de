"""The net of seams, and blocks whose pieces don't tile them."""

import numpy as np
import pytest
import shapely
from attrs import evolve

from seamsurvey.errors import InputError
from seamsurvey.foundation.arrangement import arrange, members
from seamsurvey.foundation.corners import corners_only
from seamsurvey.foundation.cuts import connected
from seamsurvey.geometry import interior_angles, signed_area
from seamsurvey.model import Block
from tests.foundation.blocks import block_of, carried, cut_up, eight_pointed_star, grid, rectangle, whirl_of_five


def test_pieces_stand_in_reading_order_whatever_order_they_came_in() -> None:
    """The same block listed backwards gives the same net."""
    pieces = [piece.outline for piece in grid(3, 2).pieces]
    one, other = arrange(block_of(pieces)), arrange(block_of(pieces[::-1]))
    assert [o.tolist() for o in one.outlines] == [o.tolist() for o in other.outlines]
    assert one.outlines[0].mean(axis=0).tolist() == [25, 75]


def test_an_edge_is_split_where_a_neighbour_ends() -> None:
    """The whirl's long sides carry a T-meeting each, so its 8 seams are 8 edges on 4 straight runs."""
    net = arrange(whirl_of_five())
    assert len(net.edges) == 8
    assert len(net.chains) == 4
    assert all(len(chain.edges) == 2 for chain in net.chains)


@pytest.mark.parametrize("seed", range(6))
def test_the_outline_of_a_region_is_the_union_of_its_pieces(seed: int) -> None:
    """Shapely's union of the pieces on one side of each seam line is the outline that is walked along the net."""
    net = arrange(cut_up(seed, 14))
    for chain in net.chains:
        for side in (chain.left, chain.right):
            union = shapely.union_all([shapely.Polygon(net.outlines[k]).buffer(1e-7) for k in members(side)])
            if side and connected(net, side) and not shapely.get_num_interior_rings(union):
                assert union.symmetric_difference(shapely.Polygon(net.outline(side))).area < 1e-2


def test_an_outline_that_touches_itself_does_not_cross_itself() -> None:
    """A ring of eight squares less one touches itself at a point; its outline turns round once all the same."""
    net = arrange(grid(3, 3))
    ring = net.everything & ~(1 << 4) & ~(1 << 8)
    outline = net.outline(ring)
    assert signed_area(outline) == 7 * 50**2
    assert sum(interior_angles(outline)) == pytest.approx(180 * (len(outline) - 2))


def test_a_straight_corner_is_no_corner() -> None:
    """Corners on a straight edge go, a corner 0.1 mm off the line stays."""
    flat = np.array([[0, 0], [20, 0.0], [50, 0], [50, 50], [0, 50]])
    bent = flat + np.array([[0, 0], [0, -0.1], [0, 0], [0, 0], [0, 0]])
    assert len(corners_only(flat)) == 4
    assert len(corners_only(bent)) == 5


def test_a_missing_piece_is_a_gap_with_its_neighbour_named() -> None:
    """A nine-patch without its middle is refused, and a piece beside the hole is named with the place."""
    full = grid(3, 3)
    block = Block(outline=full.outline, pieces=tuple(p for k, p in enumerate(full.pieces) if k != 4))
    with pytest.raises(InputError) as caught:
        arrange(block)
    assert caught.value.code == "pieces-gap"
    beside = {full.pieces[k].id for k in (1, 3, 5, 7)}
    assert any(f"piece {name} " in caught.value.what for name in beside)
    assert "50.00" in caught.value.where


def test_pieces_that_lie_on_one_another_are_both_named() -> None:
    """The same piece twice is refused as an overlap."""
    block = block_of([rectangle(0, 0, 50, 50), rectangle(50, 0, 50, 50), rectangle(50, 0, 50, 50)])
    with pytest.raises(InputError) as caught:
        arrange(block)
    assert caught.value.code == "pieces-overlap"
    assert all(piece.id in caught.value.what for piece in block.pieces[1:])


def test_pieces_that_cross_are_refused() -> None:
    """A rectangle 1 mm too wide or too narrow is refused."""
    block = block_of([rectangle(0, 0, 51, 50), rectangle(50, 0, 50, 50)], rectangle(0, 0, 100, 50))
    with pytest.raises(InputError, match="lie on one another"):
        arrange(block)
    block = block_of([rectangle(0, 0, 49, 50), rectangle(50, 0, 50, 50)], rectangle(0, 0, 100, 50))
    with pytest.raises(InputError, match="gap or an overlap"):
        arrange(block)


def test_a_block_without_pieces_is_refused() -> None:
    """No pieces, no plan, and the command to run is named."""
    with pytest.raises(InputError, match="seamsurvey assemble"):
        arrange(Block(outline=rectangle(0, 0, 10, 10)))


@pytest.mark.parametrize("block", [eight_pointed_star(), whirl_of_five()], ids=["star", "whirl"])
def test_pieces_drawn_to_rounded_corners_meet_exactly(block: Block) -> None:
    """Corners rounded to 0.001 mm, or noisy by as much, become one net: the union has no gap and no hole."""
    for drawn in (carried(block, 17, noise_mm=0.001), carried(block, 17)):
        rounded = [evolve(piece, outline=np.round(piece.outline, 3)) for piece in drawn.pieces]
        net = arrange(evolve(drawn, pieces=tuple(rounded)))
        shapes = [shapely.Polygon(outline) for outline in net.outlines]
        whole = shapely.union_all(shapes, grid_size=1e-9)
        assert whole.geom_type == "Polygon"
        assert sum(shape.area for shape in shapes) == pytest.approx(whole.area, abs=1e-6)
        filled = shapely.polygons(shapely.get_exterior_ring(whole))
        assert shapely.area(filled) == pytest.approx(whole.area, abs=1e-6)
        for shape, piece_id in zip(shapes, net.ids, strict=True):
            own = shapely.Polygon(drawn.piece(piece_id).outline)
            assert shape.hausdorff_distance(own) < 0.005
