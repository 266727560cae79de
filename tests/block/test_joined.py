"""Sewing parts together along whole edges: the evidence, the adjusted outline, and large blocks found so."""

import math

import numpy as np
import pytest

from seamsurvey.block.assemble import assemble
from seamsurvey.block.joined import Joined, Seam, seams_among, sewn, single
from seamsurvey.block.joining import Joining
from seamsurvey.block.shapes import shapes_of
from seamsurvey.block.work import Work
from seamsurvey.geometry import Points
from tests.benchmarks.layout_blocks import KINDS, block
from tests.block.sets import is_right, measured, template, template_set

# A quadrilateral cut in two by a straight line from one side to another: at both ends the angles make 180 degrees.
LEFT_PART = np.array([[0.0, 0.0], [52.0, 0.0], [61.0, 70.0], [0.0, 80.0]])
RIGHT_PART = np.array([[52.0, 0.0], [110.0, 0.0], [110.0, 70.0 - 10.0 * 49 / 61], [61.0, 70.0]])
SIGMA_MM = 0.2


def _singles(*outlines: Points) -> list[Joined]:
    shapes = shapes_of(template_set(*(template(f"T{k}", o, SIGMA_MM, 1, 0) for k, o in enumerate(outlines))))
    parts = [single(shapes, t, 1, 0) for t in range(len(outlines))]
    return [part for part in parts if part is not None]


def _seams(one: Joined, other: Joined) -> list[Seam]:
    """Every way to sew the two along a whole edge that the measurements allow."""
    pairs = [(edge, other, along, 0) for edge in range(one.distinct) for along in range(other.distinct)]
    return [seam for seam, _ in seams_among(one, pairs)]


def test_the_seam_that_was_cut_has_the_most_evidence() -> None:
    """Of all ways to sew the two halves of a cut-up outline, the cut itself is the surest."""
    one, other = _singles(LEFT_PART, RIGHT_PART)
    best = max(_seams(one, other), key=lambda seam: seam.evidence)
    assert (best.edge, best.along, best.turned, best.straight) == (1, 3, False, (True, True))
    whole = sewn(best)
    expected = np.array([[0.0, 0.0], [110.0, 0.0], RIGHT_PART[2], [0.0, 80.0]])
    found = np.sort(whole.rows[0][:, 0])
    assert found == pytest.approx(np.sort(np.hypot(*(np.roll(expected, -1, axis=0) - expected).T)), abs=1e-9)


def test_a_part_lies_over_as_its_mirror_image() -> None:
    """Turned over, a part has the same edges in the opposite order, each as well known as before."""
    one, _ = _singles(LEFT_PART, RIGHT_PART)
    over = one.turned_over()
    assert over.rows[0][::-1] == pytest.approx(one.rows[0][:, [0, 2, 1]])
    assert over.known[::-1] == pytest.approx(one.known[:, [0, 2, 1]][:, :, [0, 2, 1]])


def test_the_sewn_outline_is_as_uncertain_as_it_says() -> None:
    """Over two hundred noisy measurements the scatter of a sewn outline's edges and angles is what it claims."""
    rng = np.random.default_rng(8)
    chi = []
    exact = None
    for noise in [0.0, *([SIGMA_MM] * 200)]:
        one, other = _singles(*(part + rng.normal(0, noise, part.shape) for part in (LEFT_PART, RIGHT_PART)))
        seam = next(
            s for s in _seams(one, other) if (s.edge, s.along, s.turned) == (1, 3, False)
        )  # fmt: skip
        whole = sewn(seam)
        # Three edges and the two angles between them say all of a quadrilateral's shape.
        rows, by = whole.rows
        values = np.array([rows[0, 0], rows[1, 0], rows[2, 0], rows[1, 1], rows[2, 1]])
        slope = np.array([by[0, 0], by[1, 0], by[2, 0], by[1, 1], by[2, 1]])
        if exact is None:
            exact = values
            continue
        off = values - exact
        chi.append(float(off @ np.linalg.solve(slope @ whole.covariance @ slope.T, off)))
    # The mean of 200 chi-squares of 5 degrees of freedom is 5, give or take sqrt(2 * 5 / 200) = 0.22.
    assert np.mean(chi) == pytest.approx(5.0, abs=4 * math.sqrt(2 * 5 / 200))


def test_a_part_that_is_not_convex_is_left_alone() -> None:
    """Straight cuts of a convex block leave convex pieces only: others are not sewn from below."""
    dart = np.array([[0.0, 0.0], [60.0, -30.0], [20.0, 0.0], [60.0, 30.0]])
    assert not _singles(dart)


def test_two_equal_pieces_count_as_two() -> None:
    """Where a piece is in the block twice, parts with one and with both are made, and none with three."""
    # A rectangle in three columns: two equal halves of the first, one piece each for the others.
    half = np.array([[0.0, 0.0], [52.0, 0.0], [52.0, 40.0], [0.0, 40.0]])
    wedge = np.array([[52.0, 0.0], [110.0, 0.0], [123.0, 80.0], [52.0, 80.0]])
    end = np.array([[110.0, 0.0], [190.0, 0.0], [190.0, 80.0], [123.0, 80.0]])
    shapes = shapes_of(
        template_set(*(template(n, o, SIGMA_MM, 1, 0) for n, o in zip("HWE", (half, wedge, end), strict=True)))
    )
    parts = [single(shapes, t, 1, 0) for t in range(3)]
    wholes = [
        found.parts for found in Joining([part for part in parts if part], (2, 1, 1), 1, Work(10)).run()
    ]  # fmt: skip
    assert all(sorted(t for t, _, _ in whole.pieces) == [0, 0, 1, 2] for (whole,) in wholes)
    outlines = [np.sort(whole.rows[0][:, 0]) for (whole,) in wholes]
    assert any(outline == pytest.approx([80, 80, 190, 190], abs=1e-6) for outline in outlines)


@pytest.mark.parametrize(("name", "pieces", "seed"), [("whirl in a square", 97, 2), ("rectangle cut up", 60, 1)])
def test_a_hundred_pieces_are_found(name: str, pieces: int, seed: int) -> None:
    """A hundred pieces of 25 templates in quarter turns, and sixty all different, are found in a few seconds' work.

    The first has cuts that end on a line 0.4 mm apart, from two sides.
    """
    kind = next(kind for kind in KINDS if kind.name == name)
    family = block(kind, pieces, seed)
    blocks = assemble(measured(family, 0.05, seed), time_limit_s=60)
    assert [is_right(family, one) for one in blocks] == [True]
    assert blocks[0].proof.work_s < 5


@pytest.mark.parametrize(("name", "pieces"), [("square cut up", 30), ("whirl in a square", 21)])
def test_a_large_block_is_found_at_three_tenths(name: str, pieces: int) -> None:
    """Thirty different pieces without symmetry, and arms that whirl, are found alone at 0.3 mm of noise."""
    kind = next(kind for kind in KINDS if kind.name == name)
    family = block(kind, pieces, 1)
    blocks = assemble(measured(family, 0.3 / math.sqrt(2), 3), time_limit_s=60)
    assert [is_right(family, one) for one in blocks] == [True]
