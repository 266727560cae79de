"""Stage 3 from end to end: right layouts, exact tilings, honest questions and refusals."""

import math

import numpy as np
import pytest
from attrs import evolve

from seamsurvey.block.assemble import assemble
from seamsurvey.errors import InputError, UsageError
from seamsurvey.model import Block, TemplateSet
from tests.block.sets import is_right, measured, template, template_set, tiling_faults
from tests.scene.families import family
from tests.scene.trade_block import is_right_block
from tests.scene.trade_blocks import trade_block

# Blocks that their counts determine; the others of the scene's families have rows or quarters that can be laid in
# several ways, so that no measurement tells which was meant.
DETERMINED = (
    "kite-crown", "box-in-box", "harbour-fan", "pantry-tiles", "ferry-panel", "moth-wing",
    "metric-mosaic",
)  # fmt: skip
SEVERAL = ("millrace-star", "eight-lights", "weathervane-turn", "whirl-court", "trellis-sixty")


@pytest.mark.parametrize("noise", [0.0, 0.1, 0.3])
@pytest.mark.parametrize("name", DETERMINED)
def test_counts_known_gives_the_right_layout_first(name: str, noise: float) -> None:
    """With the counts known the right layout comes first, at the right size, and tiles its outline."""
    truth = family(name)
    blocks = assemble(measured(truth, noise, seed=3))
    assert is_right(truth, blocks[0])
    block = blocks[0]
    size, known = sorted((block.width, block.height)), sorted(truth.size)
    assert max(abs(a - b) for a, b in zip(size, known, strict=True)) <= max(1.5 * block.size_u_mm, 1e-6)
    assert max(tiling_faults(block)) < 1e-9


@pytest.mark.parametrize("name", SEVERAL)
def test_what_counts_leave_open_is_told_with_the_right_layout_among_the_answers(name: str) -> None:
    """Where several layouts fit they are returned, exact, the right one among them, and none is called the only."""
    truth = family(name)
    blocks = assemble(measured(truth, 0.1))
    assert blocks[0].proof.layouts_found >= len(blocks) > 1
    assert any(is_right(truth, block) for block in blocks)
    assert all(max(tiling_faults(block)) < 1e-9 for block in blocks)


@pytest.mark.parametrize(
    "name", ["millrace-star", "eight-lights", "kite-crown", "whirl-court", "pantry-tiles", "ferry-panel"]
)
def test_one_of_each_template_and_nothing_else_known(name: str) -> None:
    """With counts and size unknown the right layout comes first or is among the rivals; it is never missing."""
    truth = family(name)
    blocks = assemble(measured(truth, 0.1, counted=False))
    assert any(is_right(truth, block) for block in blocks)


def test_a_misfit_is_believed_where_the_lengths_are_known_no_better() -> None:
    """Corners 0.9 mm apart are a block where lengths are so uncertain, and none where they are said to be sure."""
    truth = trade_block("hexagon flower")
    unsure = measured(truth, 0.9)
    (only,) = assemble(unsure)
    assert is_right_block(truth, only)
    assert only.closure.rms_mm > 0.6
    sure = (template(t.name, t.finished_outline, 0.1, t.count, t.reversed_count) for t in unsure.templates)
    with pytest.raises(InputError, match="miss one another"):
        assemble(template_set(*sure))


def test_one_square_of_each_may_be_the_block_or_its_quarter() -> None:
    """Templates that fill a square once each may be the whole block or a quarter of it: both are returned."""
    truth = family("millrace-star")
    blocks = assemble(measured(truth, counted=False))
    assert {len(block.pieces) for block in blocks} >= {7, 28}


@pytest.mark.parametrize("noise", [0.0, 0.1, 0.3])
def test_symmetry_given_makes_the_block_from_one_quarter(noise: float) -> None:
    """With quarter turns asked for, a square of one of each makes four, as it is turned; the star comes first."""
    truth = family("millrace-star")
    blocks = assemble(measured(truth, noise, seed=3, counted=False), symmetry="quarter-turn")
    assert is_right(truth, blocks[0])
    assert max(max(tiling_faults(block)) for block in blocks) < 1e-9


def test_fewer_meeting_points_are_no_proof() -> None:
    """Round a square four pieces and four corner triangles whirl in two ways: though counted, both are told."""
    truth = family("whirl-court")
    blocks = assemble(measured(truth, 0.1))
    answers = [is_right(truth, block) for block in blocks]
    assert answers.count(True) == 1
    assert answers.count(False) >= 1


def test_finish_scales_the_adjusted_block() -> None:
    """A finish width scales every length alike and keeps the exact tiling."""
    truth = family("ferry-panel")
    plain, scaled = (assemble(measured(truth, 0.1), finish_mm=finish)[0] for finish in (None, 300.0))
    assert scaled.width == pytest.approx(300.0, abs=1e-9)
    factor = 300.0 / plain.width
    for a, b in zip(plain.pieces, scaled.pieces, strict=True):
        assert b.outline == pytest.approx(a.outline * factor, abs=1e-9)
    assert max(tiling_faults(scaled)) < 1e-9


def test_a_mis_measured_edge_is_named() -> None:
    """One corner moved 2 mm along its edge: the right layout is still found and an edge at that corner is named."""
    truth = family("millrace-star")
    exact = measured(truth, 0.1)
    named = 0
    for t in (0, 3):
        one = exact.templates[t]
        outline = one.finished_outline.copy()
        along = outline[1] - outline[0]
        outline[1] += 2.0 * along / math.hypot(*along)
        wrong = evolve(one, finished_outline=outline)
        changed = evolve(exact, templates=(*exact.templates[:t], wrong, *exact.templates[t + 1 :]))
        block = assemble(changed)[0]
        assert is_right(truth, block)
        suspects = block.closure.suspect_edges
        assert block.warnings
        named += bool(suspects) and suspects[0].template == one.name and suspects[0].edge in (0, 1)
    assert named == 2


def test_shared_scale_error_of_the_scanner_is_recovered() -> None:
    """A scanner whose y scale is 0.3 % off: templates laid at all angles give the true size all the same."""
    truth = family("kite-crown")
    exact = measured(truth, 0.02, seed=1)
    templates = []
    for one in exact.templates:
        stretched = one.finished_outline * np.array([1.0, 1.003])
        sensitivity = np.zeros((stretched.size, 1))
        sensitivity[1::2, 0] = stretched[:, 1]
        edges = tuple(evolve(edge, u_mm=0.003 * edge.length_mm) for edge in one.edges)
        templates.append(evolve(one, finished_outline=stretched, sensitivity=sensitivity, edges=edges))
    shared = TemplateSet(
        photos=(), templates=tuple(templates), shared_names=("y scale",), shared_covariance=np.array([[0.002**2]])
    )
    block = assemble(shared)[0]
    assert is_right(truth, block)
    assert block.width == pytest.approx(truth.size[0], abs=0.1)  # uncorrected, the size would be 0.3 mm off


def test_a_block_whose_size_is_hardly_known_says_so_unless_it_was_told() -> None:
    """A ruler read to 3 %: the block is laid all the same, and asks for its size, which somebody may have said."""
    exact = measured(family("kite-crown"), 0.02, seed=1)
    templates = [
        evolve(one, sensitivity=one.finished_outline.reshape(-1, 1), edges=tuple(
            evolve(edge, u_mm=0.06 * edge.length_mm) for edge in one.edges))
        for one in exact.templates
    ]  # fmt: skip
    coarse = evolve(
        exact, templates=tuple(templates), shared_names=("scale",), shared_covariance=np.array([[0.03**2]])
    )
    block = assemble(coarse)[0]
    assert block.size_u_mm == pytest.approx(0.06 * block.width, rel=0.05)
    (warning,) = block.warnings
    assert "--finish" in warning
    assert assemble(coarse, finish_mm=block.width)[0].warnings == ()


def test_the_same_block_whatever_the_order_and_turn_of_the_templates() -> None:
    """Other turns of the templates on the table give the same pieces at the same places, to rounding."""
    truth = family("harbour-fan")
    first, second = (assemble(measured(truth, seed=seed))[0] for seed in (1, 2))
    assert [piece.id for piece in first.pieces] == [piece.id for piece in second.pieces]
    for a, b in zip(first.pieces, second.pieces, strict=True):
        assert a.outline == pytest.approx(b.outline, abs=1e-6)


def test_corner_k_of_a_piece_is_corner_k_of_its_template() -> None:
    """Edge lengths of every piece follow its template's, or its turned-over face's, corner by corner."""
    truth = family("moth-wing")
    templates = measured(truth)
    block = assemble(templates)[0]
    assert any(piece.reversed for piece in block.pieces)
    for piece in block.pieces:
        lengths = [edge.length_mm for edge in templates.named(piece.template).edges]
        expected = lengths[::-1] if piece.reversed else lengths
        outline = piece.outline
        assert np.hypot(*(np.roll(outline, -1, axis=0) - outline).T) == pytest.approx(expected, abs=1e-6)


def test_seams_and_outline_account_for_every_edge() -> None:
    """Twice the seams' length and the outline's make up the pieces' edges: no seam is missing or counted twice."""
    for name in ("whirl-court", "moth-wing", "ferry-panel"):
        block: Block = assemble(measured(family(name)))[0]
        edges = sum(float(np.hypot(*(np.roll(p.outline, -1, axis=0) - p.outline).T).sum()) for p in block.pieces)
        seams = sum(math.dist(seam.start, seam.end) for seam in block.seams)
        assert 2 * seams + 2 * (block.width + block.height) == pytest.approx(edges, rel=1e-9)


SQUARE = np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 50.0], [0.0, 50.0]])
PENTAGON = 40 * np.array([[math.cos(2 * math.pi * k / 5), math.sin(2 * math.pi * k / 5)] for k in range(5)])


def test_no_templates_is_refused() -> None:
    """An empty set is refused with its own code."""
    with pytest.raises(InputError) as caught:
        assemble(template_set())
    assert caught.value.code == "no-templates"


def test_counts_that_fill_no_block_are_refused_with_the_numbers() -> None:
    """Two triangles too few for a square: the refusal has the code, every count and the area they make."""
    truth = family("ferry-panel")
    wrong = measured(truth)
    wrong = evolve(wrong, templates=(evolve(wrong.templates[0], count=2), *wrong.templates[1:]))
    with pytest.raises(InputError) as caught:
        assemble(wrong, outline="square", time_limit_s=20)
    assert caught.value.code == "count-cannot-fill"
    assert f"2 × {wrong.templates[0].name}" in caught.value.what


def test_pieces_that_fill_nothing_are_refused_with_what_was_tried() -> None:
    """Regular pentagons with a square fill no block: the refusal says how much was tried and what to do."""
    odd = template_set(template("T1", PENTAGON, 0.1, None, None), template("T2", SQUARE, 0.1, None, None))
    with pytest.raises(InputError) as caught:
        assemble(odd, time_limit_s=3)
    assert caught.value.code == "no-layout"
    assert "tried" in caught.value.what
    assert "--count" in caught.value.todo


def test_an_unknown_symmetry_is_a_usage_error() -> None:
    """A symmetry that doesn't exist is refused with the list of those that do."""
    with pytest.raises(UsageError) as caught:
        assemble(template_set(template("T1", SQUARE, 0.1, 4, 0)), symmetry="kaleidoscope")
    assert "quarter-turn" in caught.value.todo
