"""Blocks with curved seams: arcs meet their like, end to end, and what is laid tiles its outline along them."""

import math

import numpy as np
import pytest
import shapely
from attrs import evolve

from seamsurvey.arcs import arc_length, bulge_of, drawn_out, sweep_of
from seamsurvey.block.assemble import assemble
from seamsurvey.block.lengths import matches
from seamsurvey.block.seams import seams_of
from seamsurvey.errors import InputError
from seamsurvey.model import Block, Template, TemplateSet
from tests.block.sets import curved, template, template_set, tiling_faults, turned

SIDE, RADIUS = 90.0, 60.0
PIE = np.array([[0.0, 0.0], [RADIUS, 0.0], [0.0, RADIUS]])
REST = np.array([[RADIUS, 0.0], [SIDE, 0.0], [SIDE, SIDE], [0.0, SIDE], [0.0, RADIUS]])
SQUARE = np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 50.0], [0.0, 50.0]])


def harbour_path(
    count: int | None = 4, noise: float = 0.0, seed: int = 0, sweeps: tuple[float, float] = (90.0, -90.0)
) -> TemplateSet:
    """A quarter circle and the rest of its square, each card turned anyhow: four units make the block."""
    rng = np.random.default_rng([seed, 11])
    over = None if count is None else 0
    cards = []
    for name, outline in (("T1", PIE), ("T2", REST)):
        card = turned(outline, float(rng.uniform(0, 360))) + rng.normal(0, noise, outline.shape)
        cards.append(template(name, card, max(noise, 0.01), count, over))
    pie, rest = cards
    return template_set(curved(pie, 0, sweeps[0], 0), curved(rest, 0, 0, 0, 0, sweeps[1]))


def chord_at(piece_bulges: tuple[float, ...]) -> int:
    """The number of the only curved edge."""
    (number,) = [k for k, bulge in enumerate(piece_bulges) if bulge]
    return number


@pytest.mark.parametrize("count", [4, None])
@pytest.mark.parametrize("seed", range(3))
def test_quarter_circles_and_what_is_left_of_their_squares_make_a_block(count: int | None, seed: int) -> None:
    """From two templates, counts known or not, blocks of four units come that tile along their arcs."""
    blocks = [b for b in assemble(harbour_path(count, 0.1, seed)) if len(b.pieces) == 8]
    # The quarter circles lie at the block's middle or at its corners: the arcs don't say which.
    assert len(blocks) >= 2
    for block in blocks[:2]:
        assert block.symmetry == "quarter-turn and mirror"
        assert block.width == pytest.approx(2 * SIDE, abs=0.4)
        assert max(tiling_faults(block)) < 1e-9
        arcs = [seam for seam in block.seams if seam.bulge]
        assert len(arcs) == 4
        assert {tuple(sorted(name[:2] for name in seam.pieces)) for seam in arcs} == {("T1", "T2")}


def test_a_seam_bows_as_its_first_piece_does() -> None:
    """Every curved seam lies on the drawn-out outlines of both its pieces, which it has left and right."""
    (block, *_) = assemble(harbour_path())
    for seam in (seam for seam in block.seams if seam.bulge):
        ring = np.array([seam.start, seam.end])
        middle = drawn_out(ring, (seam.bulge, 0.0), 1e-4)[1:-1]
        for number, name in enumerate(seam.pieces):
            piece = block.piece(name)
            outline = shapely.Polygon(drawn_out(piece.outline, piece.bulges, 1e-4))
            assert max(outline.boundary.distance(shapely.Point(p)) for p in middle) < 2e-4
            along = middle[1] - middle[0]
            beside = shapely.Point(middle[0] + np.array([-along[1], along[0]]) / np.hypot(*along))
            assert outline.contains(beside) == (number == 0)


def test_both_sides_of_a_curved_seam_bow_by_their_weighted_mean() -> None:
    """Sweeps of 89° ± 0.4° and 90.5° ± 0.2° meet at (89 + 4 · 90.5) / 5 = 90.2°, and the test of fit counts it."""
    pie, rest = harbour_path().templates
    uneven = template_set(curved(pie, 0, 89.0, 0, u_deg=0.4), curved(rest, 0, 0, 0, 0, -90.5, u_deg=0.2))
    (block, *_) = assemble(uneven)
    for piece in block.pieces:
        bulge = piece.bulges[chord_at(piece.bulges)]
        assert abs(sweep_of(bulge)) == pytest.approx(90.2, abs=0.01)
        assert (bulge > 0) == (piece.template == "T1")
    # (90.5 - 89)² / (0.2² + 0.1²) = 45, but the sigma of a bulge is that of its sweep to first order only.
    assert block.closure.sigma0**2 * block.closure.conditions == pytest.approx(45, rel=0.02)
    assert block.closure.suspect_edges[-1].text.startswith("T1, edge 2 is flatter than what it meets")
    (fit,) = [fit for fit in block.closure.edges if (fit.template, fit.edge) == ("T1", 1)]
    chord = RADIUS * math.sqrt(2)
    assert fit.measured_mm == pytest.approx(arc_length(chord, bulge_of(89.0)))
    assert fit.adjusted_mm == pytest.approx(arc_length(chord, bulge_of(90.2)), abs=0.01)


def test_an_arc_meets_an_arc_of_its_length_and_sweep_only() -> None:
    """Of edges with equal ends, straight, out by 90°, in by 90° and in by 60°, only the two of 90° are a match."""
    sweeps = {"T1": 0.0, "T2": 90.0, "T3": -90.0, "T4": -60.0}
    squares = [curved(template(name, SQUARE, 0.05, 1, 0), sweep, 0, 0, 0) for name, sweep in sweeps.items()]
    found = matches(template_set(*squares))
    met = {(m.template, m.others[0][0]) for m in found if m.edge == 0 and m.others[0][1] == 0}
    assert met == {("T1", "T1"), ("T2", "T3"), ("T3", "T2")}
    assert not any(("T2", 0) in m.others for m in found if len(m.others) > 1)


def strip() -> tuple[Template, ...]:
    """Three squares in a row: out by 60°; in by 60° and out by 100°; in by 100°."""
    cards = [template(f"T{k}", turned(SQUARE, 40 * k), 0.02, 1, 0) for k in (1, 2, 3)]
    return curved(cards[0], 0, 60, 0, 0), curved(cards[1], 0, 100, 0, -60), curved(cards[2], 0, 0, 0, -100)


def test_arcs_alone_put_squares_in_order() -> None:
    """Three equal squares but for their arcs make one row only, and not with the straight sides inside."""
    (block,) = assemble(template_set(*strip()))
    middles = {piece.template: piece.outline.mean(axis=0) for piece in block.pieces}
    assert sorted((round(block.width), round(block.height))) == [50, 150]
    assert middles["T2"] == pytest.approx((middles["T1"] + middles["T3"]) / 2, abs=1e-6)
    assert max(tiling_faults(block)) < 1e-9


def test_arcs_with_nothing_to_meet_are_named() -> None:
    """Without the square that is hollow by 100° the rest fill nothing, and the refusal says why."""
    with pytest.raises(InputError) as caught:
        assemble(template_set(*strip()[:2]), time_limit_s=5)
    assert caught.value.code in ("count-cannot-fill", "no-layout")
    assert "Edge 2 of T2" in caught.value.what
    assert "meets no other arc" in caught.value.what


def test_arcs_never_lie_on_the_blocks_outline() -> None:
    """A square with a bowed side is no block by itself."""
    with pytest.raises(InputError):
        assemble(template_set(curved(template("T1", SQUARE, 0.02, 1, 0), 20, 0, 0, 0)), time_limit_s=5)


def test_a_template_of_two_arcs_only_is_refused() -> None:
    """Where chords cross one another the corners say too little, and the refusal says which template."""
    crossing = np.array([[0.0, 0.0], [80.0, 0.0], [50.0, -20.0], [30.0, 20.0]])
    with pytest.raises(InputError) as caught:
        assemble(template_set(curved(template("T7", crossing, 0.02, 4, 0), -100, 0, 0, 0)))
    assert caught.value.code == "arc-too-deep"
    assert "T7" in caught.value.what


@pytest.mark.parametrize("flip", [False, True])
def test_turned_and_mirrored_cards_make_the_same_block(flip: bool) -> None:
    """Random arcs in a row: cards laid otherwise, or all turned over, make the same shapes."""
    rng = np.random.default_rng(5)
    sweeps = rng.uniform(25, 110, 3) * rng.choice([-1, 1], 3)

    def cards(seed: int, mirrored: bool) -> TemplateSet:
        angles = np.random.default_rng(seed).uniform(0, 360, 4)
        edges = [0.0, *(float(s) for s in sweeps), 0.0]
        found = []
        for k, angle in enumerate(angles):
            width = 40.0 + 7 * k
            outline = np.array([[0.0, 0.0], [width, 0.0], [width, 60.0], [0.0, 60.0]])
            bows = [0.0, edges[k + 1], 0.0, -edges[k]]
            if mirrored:
                outline, bows = np.roll((outline * [-1, 1])[::-1], 1, axis=0), bows[::-1]
            found.append(curved(template(f"T{k}", turned(outline, float(angle)), 0.02, 1, 0), *bows))
        return template_set(*found)

    first, second = (assemble(cards(seed, mirrored)) for seed, mirrored in ((1, False), (2, flip)))
    assert len(first) == len(second)
    for one, other in zip(first, second, strict=True):
        assert max(tiling_faults(one)) < 1e-9
        assert max(tiling_faults(other)) < 1e-9
        assert shape_of(one) == pytest.approx(shape_of(other), abs=1e-4)


def shape_of(block: Block) -> list[float]:
    """Distances between all pieces' centres of area, drawn out: the same in every turn and mirror image."""
    middles = [shapely.Polygon(drawn_out(p.outline, p.bulges, 1e-4)).centroid for p in block.pieces]
    return sorted(a.distance(b) for k, a in enumerate(middles) for b in middles[:k])


def test_pieces_of_a_template_alike_on_both_sides_keep_their_corners_in_order() -> None:
    """However a mirrored half-square triangle's corners are numbered, its mirror images lie as its card does."""
    tip = np.array([[0.0, 0.0], [50.0, 0.0], [0.0, 50.0]])
    for start in range(3):
        card = template("T1", np.roll(tip, -start, axis=0), 0.05, 4, 0)
        (block, *_) = assemble(template_set(card), symmetry="mirror")
        lengths = [edge.length_mm for edge in card.edges]
        for piece in block.pieces:
            sides = np.roll(piece.outline, -1, axis=0) - piece.outline
            assert np.hypot(*sides.T) == pytest.approx(lengths, abs=1e-6)


def test_finish_keeps_the_bows() -> None:
    """A scaled block has the same bulges, and its arcs still meet."""
    plain, scaled = (assemble(harbour_path(), finish_mm=finish)[0] for finish in (None, 400.0))
    assert [piece.bulges for piece in plain.pieces] == [piece.bulges for piece in scaled.pieces]
    assert scaled.width == pytest.approx(400)
    assert max(tiling_faults(scaled)) < 1e-9
    assert seams_of(scaled.pieces) == scaled.seams


def test_a_wrong_bulge_is_no_tiling() -> None:
    """The check used here finds one arc that is a degree too round."""
    (block, *_) = assemble(harbour_path())
    first = block.pieces[0]
    rounder = tuple(bulge_of(sweep_of(b) + 1) if b else 0.0 for b in first.bulges)
    spoiled = evolve(block, pieces=(evolve(first, bulges=rounder), *block.pieces[1:]))
    assert max(tiling_faults(spoiled)) > 1e-5
