"""Least squares with equality constraints, and the statistics that say whether to believe it.

The model is observed = predicted(x) + error, the errors of known covariance, subject to constraints c(x) = 0.
Priors are observations like any other. Gauss-Newton: each step meets the linearised constraints with the
smallest move, then fits inside their null space, so constraints may repeat one another.

Words: *redundancy number* of an observation, the share of an error in it that shows in its residual (0: none,
1: all of it); *sigma0*, the standard deviation of unit weight after the adjustment; *w*, the standardised
residual of data snooping (W. Baarda, A testing procedure for use in geodetic networks, Publications on Geodesy
2(5), 1968).
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg
from scipy.special import chdtrc

Array = NDArray[np.float64]
Linearised = Callable[[Array], tuple[Array, Array]]
"""x (u,) -> values (n,) and their Jacobian (n, u)."""

W_REJECT = 3.29  # two-sided normal quantile of alpha = 0.001, the usual level of data snooping (Baarda 1968)
_RANK = 1e-9  # singular values below this share of the largest are numerical zeros of a scaled Jacobian
_BLIND = 1e-6  # an observation with a smaller redundancy number can't be tested: nothing controls it
# Constraints that repeat one another do so exactly only where they are met; a little off they look independent,
# with a singular value as small as the distance. Real constraints are never this near to dependence.
_DEPENDENT = 1e-4
_MET = 1e-9  # constraints hold when no parameter need move by more than this share of the largest
_HUBER_STEPS = 10


class NotAdjustedError(ValueError):
    """The iteration did not converge: start too far off, or the constraints contradict one another."""


@dataclass(frozen=True)
class Snooped:
    """The test of one suspected error: its standardised size and its estimate in the observation's unit."""

    w: float
    size: float


@dataclass(frozen=True)
class Adjustment:
    """The result. ``u`` parameters, ``n`` observations; covariances are of one standard deviation, a priori.

    ``covariance`` is (u, u) for the stated errors; times ``sigma0**2`` where only ratios of errors were known.
    ``residuals`` (n,) are observed minus adjusted. ``w`` (n,) is 0 where ``redundancy`` (n,) is 0.
    """

    parameters: Array
    covariance: Array
    residuals: Array
    w: Array
    redundancy: Array
    dof: int
    sigma0: float
    chi_square: float
    iterations: int
    _weight: Array = field(repr=False)  # (n, n), inverse of the observations' covariance
    _residual_covariance: Array = field(repr=False)  # (n, n)

    @property
    def p_value(self) -> float:
        """Probability of so large a chi-square if the stated errors are right; 1 where nothing is redundant."""
        return float(chdtrc(self.dof, self.chi_square)) if self.dof else 1.0

    @property
    def standard_errors(self) -> Array:
        """(u,) standard deviations of the parameters, scaled by sigma0."""
        return np.asarray(self.sigma0 * np.sqrt(np.diag(self.covariance)))

    @property
    def suspects(self) -> tuple[int, ...]:
        """Observations that data snooping rejects, the worst first."""
        return tuple(int(i) for i in np.argsort(-np.abs(self.w)) if abs(self.w[i]) > W_REJECT)

    def snoop(self, direction: Array) -> Snooped:
        """Test the hypothesis that the observations carry an error along ``direction`` (n,).

        ``size`` is the least-squares estimate of how many times ``direction`` is in them.
        """
        pulled = self._weight @ direction
        norm = float(pulled @ self._residual_covariance @ pulled)
        if norm <= _BLIND * float(direction @ pulled):
            return Snooped(0.0, 0.0)
        seen = float(pulled @ self.residuals)
        return Snooped(seen / norm**0.5, seen / norm)

    def cleared(self, direction: Array) -> Array:
        """(n,) residuals as they would be without the error along ``direction`` (n,) that ``snoop`` estimates."""
        shown = self._residual_covariance @ (self._weight @ direction)
        return np.asarray(self.residuals - self.snoop(direction).size * shown)


def adjust(
    start: ArrayLike,
    predict: Linearised,
    observed: ArrayLike,
    covariance: ArrayLike,
    *,
    constrain: Linearised | None = None,
    huber: float | None = None,
    tolerance: float = 1e-10,
    max_iterations: int = 50,
) -> Adjustment:
    """Fit the parameters ``x`` (u,) from ``start``.

    ``predict(x)`` gives the (n,) predicted observations and their (n, u) Jacobian, ``constrain(x)`` the (c,)
    values that must be 0 and their (c, u) Jacobian. ``covariance`` is (n, n), or (n,) variances; it must be
    positive definite (ValueError). ``huber`` is a threshold in standard deviations beyond which an observation's
    influence no longer grows (P. J. Huber, Robust Estimation of a Location Parameter, 1964); the statistics
    are then those of the reweighted problem. ``tolerance`` is of the last step, in units of the parameters.
    Residuals must be small against the radius of curvature of the model and the constraints, as they are of
    measurements; NotAdjustedError when ``max_iterations`` steps do not suffice or the constraints can't be met.
    """
    x = np.array(start, dtype=float)
    values = np.asarray(observed, dtype=float)
    whiten = _whitening(np.asarray(covariance, dtype=float), len(values))
    softened = np.ones(len(values))
    iterations = 0
    for _ in range(_HUBER_STEPS if huber else 1):
        scale = np.sqrt(softened)[:, None] * whiten
        problem = _Problem(predict, values, scale, constrain)
        x, iterations = _converge(x, problem, tolerance, max_iterations)
        if huber is None:
            break
        size = np.abs(whiten @ (values - predict(x)[0]))
        before, softened = softened, np.minimum(1.0, huber / np.maximum(size, huber))
        if np.allclose(before, softened, rtol=0, atol=1e-6):
            break
    return _statistics(x, problem, iterations)


def linear(design: ArrayLike) -> Linearised:
    """The linear model: predicted = design · x, for a (n, u) design matrix."""
    matrix = np.asarray(design, dtype=float)
    return lambda x: (np.asarray(matrix @ x), matrix)


def _whitening(covariance: Array, count: int) -> Array:
    """(n, n) matrix that turns the observations into ones of unit covariance."""
    if covariance.ndim == 1:
        covariance = np.diag(covariance)
    if covariance.shape != (count, count):
        raise ValueError(f"covariance of shape {covariance.shape} for {count} observations")
    try:
        factor = np.linalg.cholesky(covariance)
    except np.linalg.LinAlgError as error:
        raise ValueError("the observations' covariance is not positive definite") from error
    return np.asarray(linalg.solve_triangular(factor, np.eye(count), lower=True))


@dataclass(frozen=True)
class _Problem:
    predict: Linearised
    values: Array  # (n,) observed
    whiten: Array  # (n, n)
    constrain: Linearised | None


def _converge(x: Array, problem: _Problem, tolerance: float, max_iterations: int) -> tuple[Array, int]:
    for iteration in range(1, max_iterations + 1):
        predicted, jacobian = problem.predict(x)
        step, free = _meet(x, problem.constrain)
        misfit = problem.whiten @ (problem.values - predicted - jacobian @ step)
        design = problem.whiten @ jacobian @ free
        step = step + free @ np.linalg.lstsq(design, misfit, rcond=_RANK)[0]
        x = x + step
        if np.max(np.abs(step), initial=0.0) < tolerance * max(1.0, float(np.max(np.abs(x), initial=0.0))):
            _check_met(x, problem.constrain)
            return x, iteration
    raise NotAdjustedError(f"no convergence in {max_iterations} iterations")


def _check_met(x: Array, constrain: Linearised | None) -> None:
    if constrain is not None:
        gap, jacobian = constrain(x)
        left = np.abs(gap) / np.maximum(np.linalg.norm(jacobian, axis=1), 1e-300)
        if np.max(left, initial=0.0) > _MET * max(1.0, float(np.max(np.abs(x), initial=0.0))):
            raise NotAdjustedError("the constraints contradict one another")


def _meet(x: Array, constrain: Linearised | None) -> tuple[Array, Array]:
    """The smallest step (u,) that meets the linearised constraints, and a (u, f) basis of what stays free."""
    if constrain is None:
        return np.zeros(len(x)), np.eye(len(x))
    gap, jacobian = constrain(x)
    # Rows of like size, so that the rank does not depend on the units of a constraint.
    norms = np.linalg.norm(jacobian, axis=1)
    norms = np.where(norms > 0, norms, 1.0)
    basis, upper, order = linalg.qr((jacobian / norms[:, None]).T, pivoting=True)
    size = np.abs(np.diag(upper))
    rank = int(np.sum(size > _DEPENDENT * max(1.0, float(size[0])))) if len(size) else 0
    kept = order[:rank]  # the rest of the constraints repeat these
    along = linalg.solve_triangular(upper[:rank, :rank], -(gap / norms)[kept], trans="T")
    return np.asarray(basis[:, :rank] @ along), np.asarray(basis[:, rank:])


def _statistics(x: Array, problem: _Problem, iterations: int) -> Adjustment:
    values, whiten = problem.values, problem.whiten
    predicted, jacobian = problem.predict(x)
    _, free = _meet(x, problem.constrain)
    design = whiten @ jacobian @ free
    _, singular, right = np.linalg.svd(design, full_matrices=False)
    rank = int(np.sum(singular > _RANK * singular[0])) if len(singular) else 0
    spread = free @ (right[:rank].T / singular[:rank])  # covariance = spread · spread'
    seen = jacobian @ spread
    dof = len(values) - rank
    residuals = values - predicted
    white = whiten @ residuals
    chi_square = float(white @ white)
    fitted = whiten @ seen
    unseen = np.eye(len(values)) - fitted @ fitted.T  # covariance of the whitened residuals
    weight = whiten.T @ whiten
    back = np.linalg.inv(whiten)
    residual_covariance = back @ unseen @ back.T
    redundancy = np.clip(np.einsum("ij,ji->i", residual_covariance, weight), 0.0, 1.0)
    pulled = weight @ residuals
    norm = np.einsum("ij,jk,ki->i", weight, residual_covariance, weight, optimize=True)
    tested = norm > _BLIND * np.diag(weight)
    return Adjustment(
        parameters=x,
        covariance=spread @ spread.T,
        residuals=residuals,
        w=np.where(tested, pulled / np.sqrt(np.where(tested, norm, 1.0)), 0.0),
        redundancy=redundancy,
        dof=dof,
        sigma0=(chi_square / dof) ** 0.5 if dof else 1.0,
        chi_square=chi_square,
        iterations=iterations,
        _weight=weight,
        _residual_covariance=residual_covariance,
    )
