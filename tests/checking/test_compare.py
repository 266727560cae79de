"""Measured sets against what they should be: the right partner, the right corner, no false "right"."""

import attrs
import numpy as np
import pytest

from seamsurvey.check_model import CANT_TELL, NOTHING_TO_COMPARE, OFF, RIGHT
from seamsurvey.checking.box import check_box
from seamsurvey.checking.compare import as_measured, compare_lengths, compare_shapes
from seamsurvey.checking.shapes import distances_u, wanted_from_set, wanted_from_sides
from seamsurvey.geometry import moved, reversed_face
from seamsurvey.model import Array
from tests.checking.sets import measured
from tests.scene.families import family, random_family

TOLERANCE, RISK = 0.4, 0.05
SQUARE = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]])
KITE = np.array([[0.0, 0.0], [50.0, -20.0], [70.0, 0.0], [50.0, 20.0]])


def outlines(name: str) -> list[Array]:
    """The true templates of a family."""
    return [template.finished for template in family(name).templates]


def test_a_set_agrees_with_another_photo_of_itself() -> None:
    """Laid anew in another order, turned, and two of them turned over, every edge finds its own length."""
    true = outlines("millrace-star")
    laid = [moved(o, 37.0 * k, (5.0, -3.0)) for k, o in enumerate(true)]
    laid = [reversed_face(o) if k in (1, 3) else o for k, o in enumerate(laid)][::-1]
    wanted = wanted_from_set(measured(true, own_mm=0.02, scale=0.0004, rng=np.random.default_rng(1)))
    report = compare_shapes(
        measured(laid, own_mm=0.02, scale=0.0004, rng=np.random.default_rng(2)),
        wanted, tolerance_mm=TOLERANCE, risk=RISK,
    )  # fmt: skip
    assert report.verdict == RIGHT
    assert len(report.lengths) == sum(map(len, true))
    partner = {checked.name: checked.wanted for checked in report.lengths}
    assert partner == {f"T{k + 1}": f"T{len(true) - k}" for k in range(len(true))}


def test_one_wrong_edge_is_named_with_how_far_it_is_off() -> None:
    """A corner moved 1.5 mm along an edge makes that edge off by +1.5 mm, within its stated uncertainty."""
    true = outlines("millrace-star")
    wrong = [o.copy() for o in true]
    way = wrong[2][1] - wrong[2][0]
    wrong[2][1] += 1.5 * way / np.hypot(*way)
    wanted = wanted_from_set(measured(true, own_mm=0.0, scale=0.0, rng=None))
    found = measured(wrong, own_mm=0.02, scale=0.0003, rng=np.random.default_rng(5))
    report = compare_shapes(found, wanted, tolerance_mm=TOLERANCE, risk=RISK)
    assert report.verdict == OFF
    checked = next(c for c in report.lengths if (c.name, c.what) == ("T3", "edge 1"))
    assert checked.verdict == OFF
    assert checked.off_mm == pytest.approx(1.5, abs=checked.off_u_mm + 1e-9)
    assert {c.name for c in report.lengths if c.verdict == OFF} == {"T3"}


def test_a_leaning_square_has_right_sides_and_is_off() -> None:
    """A rhombus with the square's own sides is caught by its diagonals, which only a job can tell."""
    lean = np.radians(3.0)
    rhombus = SQUARE @ np.array([[1.0, 0.0], [np.sin(lean), np.cos(lean)]])
    wanted = wanted_from_set(measured([SQUARE], own_mm=0.0, scale=0.0, rng=None))
    found = measured([rhombus], own_mm=0.02, scale=0.0002, rng=None)
    report = compare_shapes(found, wanted, tolerance_mm=TOLERANCE, risk=RISK)
    assert {c.what for c in report.lengths if c.verdict == OFF} == {"corners 1 and 3", "corners 2 and 4"}
    assert {c.verdict for c in report.lengths if c.what.startswith("edge")} == {RIGHT}


def test_what_is_missing_or_strange_keeps_the_whole_from_being_right() -> None:
    """A shape not seen, or a template that no shape is near to, leaves the verdict open; nothing is off."""
    both = wanted_from_set(measured([SQUARE, KITE], own_mm=0.0, scale=0.0, rng=None))
    one = measured([SQUARE], own_mm=0.02, scale=0.0002, rng=None)
    report = compare_shapes(one, both, tolerance_mm=TOLERANCE, risk=RISK)
    assert (report.verdict, report.missing) == (CANT_TELL, ("T2",))
    report = compare_shapes(
        measured([SQUARE, KITE], own_mm=0.02, scale=0.0002, rng=None), both[:1], tolerance_mm=TOLERANCE, risk=RISK
    )
    assert report.verdict == CANT_TELL
    assert {c.verdict for c in report.lengths if c.name == "T2"} == {NOTHING_TO_COMPARE}
    assert {c.verdict for c in as_measured(one).lengths} == {NOTHING_TO_COMPARE}


def test_copies_are_each_compared() -> None:
    """Two cards of one shape, the second 1 mm too long, share the wanted shape, and only the second is off."""
    wrong = SQUARE * np.array([61.0 / 60.0, 1.0])
    wanted = wanted_from_sides("square", [60.0] * 4)
    report = compare_shapes(
        measured([SQUARE, wrong], own_mm=0.02, scale=0.0002, rng=None), [wanted], tolerance_mm=TOLERANCE, risk=RISK
    )
    assert {c.name for c in report.lengths if c.verdict == OFF} == {"T2"}
    assert sum(c.verdict == OFF for c in report.lengths) == 2


def test_a_few_lengths_are_compared_with_the_nearest_edges() -> None:
    """Each edge goes to the nearest length; a length nobody has is missing, an edge far from all is left open."""
    found = measured([np.array([[0.0, 0.0], [63.5, 0.0], [0.0, 63.5]])], own_mm=0.02, scale=0.0002, rng=None)
    report = compare_lengths(found, [63.5], tolerance_mm=TOLERANCE, risk=RISK)
    assert [c.verdict for c in report.lengths] == [RIGHT, NOTHING_TO_COMPARE, RIGHT]
    assert report.verdict == CANT_TELL
    report = compare_lengths(found, [63.5, 63.5 * 2**0.5], tolerance_mm=TOLERANCE, risk=RISK)
    assert report.verdict == RIGHT
    report = compare_lengths(found, [63.5, 63.5 * 2**0.5, 139.7], tolerance_mm=TOLERANCE, risk=RISK)
    assert (report.verdict, report.missing) == (CANT_TELL, ("139.70 mm",))


def test_the_uncertainty_of_a_diagonal_is_that_of_many_measurements() -> None:
    """Measured 4000 times with the stated errors, each distance scatters by just its stated uncertainty (k = 2)."""
    rng = np.random.default_rng(6)
    runs = [measured([KITE], own_mm=0.05, scale=0.001, rng=rng).templates[0].finished_outline for _ in range(4000)]
    scatter = np.std([np.hypot(*(o[2] - o[0])) for o in runs])
    stated = measured([KITE], own_mm=0.05, scale=0.001, rng=None)
    # The stated sensitivity is about the plane's origin, as the errors were made.
    assert distances_u(stated.templates[0], stated.shared_covariance)[0, 2] / 2 == pytest.approx(scatter, rel=0.05)


def test_no_false_right_beyond_the_risk() -> None:
    """Of 60 sets with an edge planted 0.5 to 3 mm wrong, that edge is called right in less than the risk allows."""
    rng = np.random.default_rng(20)
    false = told = 0
    for seed in range(60):
        true = [template.finished for template in random_family(seed).templates]
        wrong = [o.copy() for o in true]
        k = int(rng.integers(len(wrong)))
        way = wrong[k][1] - wrong[k][0]
        wrong[k][1] += float(rng.choice([-1, 1])) * rng.uniform(0.5, 3.0) * way / np.hypot(*way)
        found = measured(wrong, own_mm=0.06, scale=0.001, rng=rng)
        wanted = wanted_from_set(measured(true, own_mm=0.03, scale=0.0005, rng=rng))
        report = compare_shapes(found, wanted, tolerance_mm=TOLERANCE, risk=RISK)
        verdict = next(c.verdict for c in report.lengths if (c.name, c.what) == (f"T{k + 1}", "edge 1"))
        false += verdict == RIGHT
        told += verdict == OFF
    assert false <= 3  # 5 % of 60
    assert told >= 40


def test_a_box_gives_both_scales_and_a_warning_when_they_differ() -> None:
    """99.2 by 98.1 mm for 100 by 100 is 99.20 and 98.10 %, off both ways, and stretched; 100 by 100 is right."""
    report = check_box((99.2, 98.1), (100.0, 100.0))
    assert report.verdict == OFF
    assert "99.20" in report.notes[0]
    assert "98.10" in report.notes[0]
    assert "differ by 1.10 %" in report.notes[1]
    good = check_box((100.1, 100.0), (100.0, 100.0))
    assert (good.verdict, len(good.notes)) == (RIGHT, 1)


def test_the_overall_verdict_needs_something_compared() -> None:
    """A report without lengths is never right."""
    report = compare_lengths(
        measured([SQUARE], own_mm=0.01, scale=0.0, rng=None), [60.0], tolerance_mm=0.4, risk=0.05
    )
    assert report.verdict == RIGHT
    assert attrs.evolve(report, lengths=()).verdict == CANT_TELL
