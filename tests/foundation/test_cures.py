"""Cures of set-in seams: the fewest extra fragments by brute force, no slivers, symmetric."""

import attrs
import numpy as np
import pytest
import shapely
import shapely.ops
from shapely.affinity import affine_transform

from seamsurvey.errors import UsageError
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Block, Cure, FoundationPlan
from tests.foundation.blocks import carried, cut_up, eight_pointed_star, of_family, whirl_of_five
from tests.foundation.cure_oracle import fewest_fragments
from tests.foundation.set_in_blocks import kite_star, rhombs, whirl_in_a_wedge, whirls, y_cells
from tests.foundation.verify import verify
from tests.scene.families import family

SMALL = {
    "whirl": whirl_of_five(),
    "whirls of 8": whirls(1, 8),
    "whirls of 9": whirls(2, 9),
    "whirls of 12": whirls(3, 12),
    "Y": y_cells(1, 1),
    "Y twice": y_cells(2, 1),
    "three rhombs": rhombs(1),
    "twelve rhombs": rhombs(2),
    "kite-crown": of_family(family("kite-crown")),
}


def cure(plan: FoundationPlan, kind: str) -> Cure:
    """The cure of this kind."""
    (found,) = (cure for cure in plan.cures if cure.kind == kind)
    return found


@pytest.mark.parametrize("block", SMALL.values(), ids=SMALL)
def test_no_fewer_fragments_do(block: Block) -> None:
    """As few extra fragments as trying every line finds, and the plan can be sewn straight."""
    plan = plan_foundation(block)
    verify(block, plan)
    extra = sum(len(s.pieces) * s.copies for s in plan.sections) - len(block.pieces)
    assert cure(plan, "added-seam").extra_fragments == extra == fewest_fragments(block, 6)
    assert {join.kind for join in plan.joins} == {"straight"}
    assert [c.chosen for c in plan.cures] == [True] + [False] * (len(plan.cures) - 1)


@pytest.mark.parametrize("block", [kite_star(6), kite_star(8), whirls(4, 16), y_cells(3, 2), rhombs(3)])
def test_larger_blocks_are_cured(block: Block) -> None:
    """The verifier replays the plan and finds no sliver."""
    verify(block, plan_foundation(block))


@pytest.mark.parametrize(
    ("block", "fragments"), [(eight_pointed_star(), 8), (kite_star(8), 8), (of_family(family("kite-crown")), 4)]
)
def test_a_symmetric_block_is_cured_symmetrically(block: Block, fragments: int) -> None:
    """Turned by quarters and mirrored, the added seams are the same, and each print has 4 copies."""
    plan = plan_foundation(block)
    seams = shapely.MultiLineString([[seam.start, seam.end] for seam in plan.added_seams])
    middle = np.asarray(block.outline).mean(axis=0)
    assert len(plan.added_seams) == fragments
    for turn in (np.array([[0, -1], [1, 0]]), np.diag([-1, 1])):
        shift = middle - turn @ middle
        image = affine_transform(seams, [*turn.ravel(), *shift])
        assert image.hausdorff_distance(seams) < 1e-3
    assert {section.copies for section in plan.sections} == {4}


def test_a_y_goes_away_with_a_line_through_the_middle_of_a_triangle() -> None:
    """The star's side triangles are halved, its corner squares cut from corner to corner (common practice)."""
    block = eight_pointed_star()
    plan = plan_foundation(block)
    for seam in plan.added_seams:
        outline = shapely.Polygon(block.piece(seam.piece).outline)
        one, other = shapely.ops.split(outline, shapely.LineString([seam.start, seam.end])).geoms
        assert one.area == pytest.approx(other.area)


def test_protected_pieces_are_never_cut() -> None:
    """By piece and by template; with all of them protected the block is sewn with a partial seam instead."""
    block = whirl_of_five()
    cut = {seam.piece for seam in plan_foundation(block).added_seams}
    for _ in range(3):
        plan = plan_foundation(block, never_cut=cut)
        verify(block, plan)
        now = {seam.piece for seam in plan.added_seams}
        assert len(now) == 1
        assert not now & cut
        cut |= now
    whole = plan_foundation(block, never_cut={piece.template for piece in block.pieces})
    assert (whole.added_seams, [c.kind for c in whole.cures]) == ((), ["partial", "set-in"])
    assert whole.cures[0].chosen


def test_a_point_that_is_sharp_as_drawn_does_not_stand_against_a_cure() -> None:
    """Only the piece with a point of 14.9° may be cut: it is, across its other end, and keeps its point."""
    block = whirl_in_a_wedge()
    first, *others = [piece.id for piece in block.pieces]
    plan = plan_foundation(block, never_cut=frozenset(others))
    assert {seam.piece for seam in plan.added_seams} == {first}
    parts = [piece.outline for section in plan.sections for piece in section.pieces if piece.part is not None]
    assert sorted(round(shapely.Polygon(part).area) for part in parts) == [600, 3250]
    assert {join.kind for join in plan.joins} == {"straight"}


def test_a_cure_that_leaves_sharp_points_alone_comes_first() -> None:
    """Where any piece may be cut, none with a point of 14.9° is."""
    block = whirl_in_a_wedge()
    plan = plan_foundation(block)
    verify(block, plan)
    assert {seam.piece for seam in plan.added_seams} <= {block.pieces[k].id for k in (1, 2)}


@pytest.mark.parametrize("block", [whirl_of_five(), whirls(1, 8), whirls(3, 12), whirls(5, 25)])
def test_a_whirl_can_be_sewn_with_partial_seams(block: Block) -> None:
    """Nothing is cut, every join is straight or partial, and the verifier finishes each partial seam."""
    plan = plan_foundation(block, cure="partial")
    verify(block, plan)
    kinds = [join.kind for join in plan.joins]
    assert plan.added_seams == ()
    assert kinds.count("partial") == len([a for a in plan.advice if a.code == "partial-seam"]) >= 1
    assert set(kinds) <= {"straight", "partial"}


def test_a_star_has_no_partial_seam() -> None:
    """Where no seam runs past a point, leaving one open does not help."""
    assert [c.kind for c in plan_foundation(eight_pointed_star()).cures] == ["added-seam", "set-in"]


@pytest.mark.parametrize("kind", ["added-seam", "partial", "set-in"])
def test_the_cure_that_is_asked_for_is_taken(kind: str) -> None:
    """All cures are told in one order, whichever is chosen."""
    plan = plan_foundation(whirl_of_five(), cure=kind)
    assert [(c.kind, c.chosen) for c in plan.cures] == [(k, k == kind) for k in ("added-seam", "partial", "set-in")]


def test_a_straight_block_has_no_cures() -> None:
    """Nothing to cure, nothing told."""
    assert plan_foundation(cut_up(1, 12)).cures == ()


@pytest.mark.parametrize("name", ["star", "whirl"])
def test_a_turned_or_mirrored_block_is_cured_with_as_many_fragments(name: str) -> None:
    """Turned, mirrored, with noise of 1e-9 mm: the same number of fragments and sections."""
    block = {"star": eight_pointed_star(), "whirl": whirls(3, 12)}[name]
    other = carried(block, 33.3, mirrored=True, noise_mm=1e-9)
    one, two = (cure(plan_foundation(b), "added-seam") for b in (block, other))
    assert attrs.evolve(one, lines=(), text="") == attrs.evolve(two, lines=(), text="")


def test_a_name_that_is_no_piece_is_refused() -> None:
    """The names there are, are told."""
    with pytest.raises(UsageError, match="no piece or template"):
        plan_foundation(whirl_of_five(), never_cut=["T99"])
