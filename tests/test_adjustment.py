"""Least squares with constraints: against closed forms, against itself reparametrised, against planted errors."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from seamsurvey.adjustment import W_REJECT, NotAdjustedError, adjust, linear

Array = NDArray[np.float64]


def test_angles_of_a_triangle_share_the_misclosure() -> None:
    """Three equally good angles that must make 180° each take a third of the misclosure; variance falls to 2/3."""
    fit = adjust(
        [60.0, 60.0, 60.0], linear(np.eye(3)), [60.2, 59.9, 60.2], np.full(3, 0.04),
        constrain=lambda x: (np.array([x.sum() - 180.0]), np.ones((1, 3))),
    )  # fmt: skip
    assert fit.parameters == pytest.approx([60.1, 59.8, 60.1])
    assert np.diag(fit.covariance) == pytest.approx([0.04 * 2 / 3] * 3)
    assert fit.dof == 1
    assert fit.chi_square == pytest.approx(3 * 0.1**2 / 0.04)
    assert fit.redundancy == pytest.approx([1 / 3] * 3)


def test_constraints_that_repeat_one_another_change_nothing() -> None:
    """A constraint said three times, once scaled, gives the result and the degrees of freedom of saying it once."""
    rng = np.random.default_rng(1)
    design, observed = rng.normal(size=(7, 4)), rng.normal(size=7)
    row = np.array([[1.0, -1.0, 2.0, 0.0]])
    once, thrice = (
        adjust(np.zeros(4), linear(design), observed, np.ones(7), constrain=linear(rows))
        for rows in (row, np.vstack([row, 1000 * row, row]))
    )
    assert thrice.parameters == pytest.approx(once.parameters, abs=1e-12)
    assert thrice.covariance == pytest.approx(once.covariance, abs=1e-12)
    assert thrice.dof == once.dof == 4


def test_constrained_fit_equals_the_fit_of_the_parameters_that_remain() -> None:
    """Substituting the constraint by hand gives the same estimate and covariance."""
    rng = np.random.default_rng(2)
    design, observed = rng.normal(size=(9, 3)), rng.normal(size=9)
    errors = rng.normal(size=(9, 9))
    covariance = errors @ errors.T + np.eye(9)
    held = adjust(
        np.zeros(3), linear(design), observed, covariance,
        constrain=lambda x: (np.array([x[0] + x[1] - 1.0]), np.array([[1.0, 1.0, 0.0]])),
    )  # fmt: skip
    free_design = np.column_stack([design[:, 0] - design[:, 1], design[:, 2]])
    weight = np.linalg.inv(covariance)
    normal = free_design.T @ weight @ free_design
    a, c = np.linalg.solve(normal, free_design.T @ weight @ (observed - design[:, 1]))
    assert held.parameters == pytest.approx([a, 1 - a, c])
    assert held.covariance[np.ix_([0, 2], [0, 2])] == pytest.approx(np.linalg.inv(normal))


def circle(x: Array) -> tuple[Array, Array]:
    """The unit circle, said twice: the two rows are the same only on the circle."""
    gap = float(x @ x) - 1.0
    return np.array([gap, np.hypot(x[0], x[1]) - 1.0]), np.vstack([2 * x, x / np.hypot(x[0], x[1])])


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.floats(0, 6.28), st.floats(0.6, 1.6))
def test_the_nearest_point_of_a_circle(angle: float, distance: float) -> None:
    """A point held on the unit circle ends where the ray through the observation meets it, exactly on it."""
    observed = distance * np.array([np.cos(angle), np.sin(angle)])
    start = np.array([np.cos(angle + 0.4), np.sin(angle + 0.4)])
    fit = adjust(start, linear(np.eye(2)), observed, np.ones(2), constrain=circle, max_iterations=200)
    assert fit.parameters == pytest.approx(observed / distance, abs=1e-7)
    assert abs(float(fit.parameters @ fit.parameters) - 1) < 1e-12


def test_contradicting_constraints_are_refused() -> None:
    """A parameter held at 0 and at 1 at once raises; it is not averaged."""
    with pytest.raises(NotAdjustedError):
        adjust(
            [0.5], linear([[1.0]]), [0.3], [1.0],
            constrain=lambda x: (np.array([x[0], x[0] - 1.0]), np.ones((2, 1))),
        )  # fmt: skip


def test_a_planted_blunder_is_named_and_its_size_recovered() -> None:
    """One observation moved by ten standard deviations has the largest w, and the test along it gives its size."""
    rng = np.random.default_rng(3)
    design = rng.normal(size=(12, 3))
    observed = design @ np.array([1.0, -2.0, 0.5])
    observed[4] += 1.0
    fit = adjust(np.zeros(3), linear(design), observed, np.full(12, 0.01))
    assert fit.suspects[0] == 4
    found = fit.snoop(np.eye(12)[4])
    assert found.size == pytest.approx(1.0)
    assert found.w == pytest.approx(fit.w[4])
    assert found.w > W_REJECT


def test_w_is_standard_normal_and_the_global_test_uniform() -> None:
    """Over many draws of stated errors every w has variance 1 and the global test rejects 5 % at 5 %."""
    rng = np.random.default_rng(4)
    design = rng.normal(size=(8, 3))
    fits = [adjust(np.zeros(3), linear(design), rng.normal(0, 0.2, 8), np.full(8, 0.04)) for _ in range(800)]
    assert np.std([fit.w for fit in fits], axis=0) == pytest.approx(np.ones(8), abs=0.1)
    assert np.mean([fit.p_value < 0.05 for fit in fits]) == pytest.approx(0.05, abs=0.025)
    assert sum(fits[0].redundancy) == pytest.approx(fits[0].dof)


def test_robust_loss_holds_against_outliers() -> None:
    """One wild value in ten drags the mean by units, the Huber fit by a tenth."""
    values = np.array([0.0, 0.1, -0.1, 0.05, -0.05, 0.02, -0.02, 0.07, -0.07, 30.0])
    plain, robust = (
        adjust([0.0], linear(np.ones((10, 1))), values, np.full(10, 0.01), huber=huber) for huber in (None, 1.5)
    )
    assert plain.parameters[0] == pytest.approx(3.0)
    assert abs(robust.parameters[0]) < 0.1


def test_what_nothing_controls_is_not_tested() -> None:
    """An observation that alone fixes a parameter has redundancy 0 and w 0, however wrong it is."""
    fit = adjust([0.0, 0.0], linear([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]]), [1.0, 1.2, 99.0], np.ones(3))
    assert fit.redundancy == pytest.approx([0.5, 0.5, 0.0])
    assert fit.w[2] == 0.0


def test_a_covariance_that_is_none_is_refused() -> None:
    """A negative variance raises ValueError."""
    with pytest.raises(ValueError, match="positive definite"):
        adjust([0.0], linear([[1.0]]), [1.0], [-1.0])
