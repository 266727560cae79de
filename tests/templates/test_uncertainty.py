"""What is said about the errors, against errors made on purpose."""

import attrs
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.geometry import edge_lengths, offset_polygon
from seamsurvey.templates.finished import Bowed, FinishedShape, finished_shape, row_moves
from seamsurvey.templates.fitted import FittedEdge, corners_of
from seamsurvey.templates.outlined import Outlined
from seamsurvey.templates.wobble import Wobble, estimate, evidence, line_design
from tests.looked import look_and_measure
from tests.templates import drawing as d

Floats = NDArray[np.float64]

TRUTH = np.array([[0.0, 0], [70, 0], [50, 45], [0, 60]])
WOBBLE = Wobble(0.09**2, 6.0, 0.02)


def wobbly_lines(corners: Floats, seed: int) -> list[FittedEdge]:
    """Least-squares lines through points that wander about the edges as the model says."""
    rng = np.random.default_rng(seed)
    lines = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = float(np.hypot(*(end - start)))
        along = (end - start) / length
        outward = np.array([along[1], -along[0]])
        places = np.arange(2.0, length - 1, 2.0)
        off = rng.multivariate_normal(np.zeros(len(places)), WOBBLE.covariance(places))
        slope, offset = np.polyfit(places, off, 1)
        turned = along + slope * outward
        turned /= np.hypot(*turned)
        middle = start + places.mean() * along + (offset + slope * places.mean()) * outward
        points = start + places[:, None] * along + off[:, None] * outward - middle
        side = np.array([turned[1], -turned[0]])
        lines.append(
            FittedEdge(
                middle=middle,
                along=turned,
                places=points @ turned,
                off=points @ side,
                weights=np.ones(len(places)),
                u=np.zeros(len(places)),
            )
        )
    return lines


def finished(lines: list[FittedEdge], allowance: float, wobble: Wobble = WOBBLE) -> FinishedShape:
    """The outline of these lines with an allowance off, on a scan."""
    corners = corners_of(lines)
    card = Outlined(photo=0, edges=tuple(lines), corners=corners, seam_line=None)
    return finished_shape(card, {}, np.full(len(lines), allowance), wobble, d.plane_of(1000))


def test_stated_uncertainty_covers_hand_cut_edges() -> None:
    """U (k = 2), from a wobble estimated on six cards, covers 92 to 99 % of the lengths' errors."""
    inside = []
    for seed in range(60):
        cards = [wobbly_lines(TRUTH, 10 * seed + k) for k in range(6)]
        wobble = estimate([evidence(line.places, line.off, line_design(line.places)) for c in cards for line in c])
        corners = corners_of(cards[0])
        covariance = finished(cards[0], 0.0, wobble).own
        ways = (np.roll(corners, -1, axis=0) - corners) / edge_lengths(corners)[:, None]
        for k in range(4):
            move = np.zeros(8)
            after = (k + 1) % 4
            move[2 * after : 2 * after + 2], move[2 * k : 2 * k + 2] = ways[k], -ways[k]
            error = edge_lengths(corners)[k] - edge_lengths(TRUTH)[k]
            inside.append(abs(error) <= 2 * np.sqrt(move @ covariance @ move))
    assert 0.92 <= np.mean(inside) <= 0.99


def test_wobble_is_recovered() -> None:
    """Restricted maximum likelihood finds the size of a wandering it was given, within a quarter."""
    lines = [line for seed in range(8) for line in wobbly_lines(TRUTH, seed)]
    found = estimate([evidence(line.places, line.off, line_design(line.places)) for line in lines])
    assert found.scale == pytest.approx(WOBBLE.scale, rel=0.4)
    assert found.length in {3.0, 6.0, 12.0}


def test_corner_moves_by_difference_quotients() -> None:
    """How corners move with each line's offset and slope agrees with moving the lines a little."""
    lines = wobbly_lines(TRUTH, 3)
    moves = row_moves(lines, Bowed(corners=corners_of(lines), bulges=(0.0,) * 4))
    step = 1e-6
    for k, line in enumerate(lines):
        shifted = [*lines]
        shifted[k] = attrs.evolve(line, middle=line.middle + step * line.outward)
        np.testing.assert_allclose(
            (corners_of(shifted) - corners_of(lines)).ravel() / step, moves[k][:, 0], atol=1e-4
        )
        shifted[k] = attrs.evolve(line, along=line.along + step * line.outward)
        np.testing.assert_allclose(
            (corners_of(shifted) - corners_of(lines)).ravel() / step, moves[k][:, 1], atol=1e-3
        )


@pytest.mark.parametrize("allowance", [0.0, 6.35])
def test_shared_sensitivity_by_difference_quotients(allowance: float) -> None:
    """How finished corners move with the plane and the edge bias agrees with a changed plane and grown cards."""
    plane = d.plane_of(1000)
    lines = wobbly_lines(TRUTH + 10, 5)
    cut = corners_of(lines)
    px = plane.to_px(cut)
    shared = finished(lines, allowance).shared
    before = offset_polygon(cut, -allowance)
    step = 1e-7
    for entry in range(6):
        matrix = np.array(plane.matrix)
        matrix[entry // 3, entry % 3] += step
        after = offset_polygon(attrs.evolve(plane, matrix=matrix).to_mm(px), -allowance)
        np.testing.assert_allclose(shared[:, entry], (after - before).ravel() / step, rtol=1e-4, atol=1e-3)
    grown = offset_polygon(cut, 1e-4 - allowance)
    np.testing.assert_allclose(shared[:, 6], (grown - before).ravel() / 1e-4, atol=1e-6)


def test_budget_of_a_square() -> None:
    """Along the ruler a square's edge carries the scale's 0.02 %, across it 0.2 %, and the edge bias twice."""
    square = np.array([[30.0, 25], [70, 25], [70, 65], [30, 65]])
    template = look_and_measure([d.scan([square], card=d.CHIPBOARD)], allowance_mm=0.0).templates[0]
    for edge in template.edges:
        along = edge.along_deg < 45
        assert edge.budget_mm["scale along the ruler"] == pytest.approx(40 * 2e-4 if along else 0, abs=1e-4)
        assert edge.budget_mm["scale across the ruler"] == pytest.approx(0 if along else 40 * 2e-3, abs=1e-4)
        assert edge.budget_mm["edge bias"] == pytest.approx(2 * 0.1 / d.PX_PER_MM, rel=0.01)
        assert edge.dominant_term == max(edge.budget_mm, key=lambda name: edge.budget_mm[name])
        assert edge.u_mm == pytest.approx(2 * np.sqrt(sum(v**2 for v in edge.budget_mm.values())), rel=1e-3)
