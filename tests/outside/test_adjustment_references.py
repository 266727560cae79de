"""The adjustment against published reference results."""

from importlib import resources

import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.adjustment import adjust, linear


def test_line_fit_agrees_with_the_nist_reference_data_set_norris() -> None:
    """Coefficients, their standard errors and the residual deviation are NIST's certified values for Norris."""
    # NIST Statistical Reference Datasets, Norris; the data file ships with scipy's own tests.
    folder = resources.files("scipy.stats.tests.data") / "nist_linregress"
    text = (folder / "Norris.dat").read_text()
    rows = [line.split() for line in text.splitlines()[60:] if line.strip()]
    data = np.array(rows, dtype=float)
    y, x = data.T
    assert len(y) == 36
    fit = adjust([0.0, 0.0], linear(np.column_stack([np.ones_like(x), x])), y, np.ones_like(y))
    assert fit.parameters == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-11)
    assert fit.standard_errors == pytest.approx([0.232818234301152, 0.429796848199937e-03], rel=1e-10)
    assert fit.sigma0 == pytest.approx(0.884796396144373, rel=1e-12)
    assert fit.dof == 34


def test_thermometer_calibration_of_the_guide_to_uncertainty() -> None:
    """The line, its correlation and its prediction at 30 °C are those printed in JCGM 100:2008, H.3."""
    # The eleven readings of table H.6 are from memory; the results are as printed in H.3.3 and H.3.4, and
    # would not come out to every digit from any other readings.
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = -np.array([171, 169, 166, 159, 164, 165, 156, 157, 159, 161, 160]) / 1000
    fit = adjust([0.0, 0.0], linear(np.column_stack([np.ones_like(t), t - 20.0])), b, np.ones_like(b))
    y1, y2 = fit.parameters
    u1, u2 = fit.standard_errors
    assert (round(y1, 4), round(u1, 4)) == (-0.1712, 0.0029)
    assert (round(y2, 5), round(u2, 5)) == (0.00218, 0.00067)
    correlation = fit.covariance[0, 1] / np.sqrt(fit.covariance[0, 0] * fit.covariance[1, 1])
    assert round(float(correlation), 3) == -0.930
    at_30 = np.array([1.0, 10.0])
    assert round(float(at_30 @ fit.parameters), 4) == -0.1494
    assert round(float(fit.sigma0 * np.sqrt(at_30 @ fit.covariance @ at_30)), 4) == 0.0041


def test_end_gauge_of_the_guide_to_uncertainty() -> None:
    """The calibrated gauge's length and its standard uncertainty are those of JCGM 100:2008, H.1."""
    # The length at 20 degrees is l = ls + d - ls (da t + a dt) (H.1.2). Every quantity is an observation with its
    # standard uncertainty of table H.1, and the equation a constraint. Lengths in nm beyond 50 mm.
    # The table's entries are from memory; the results are as printed in H.1.4 and H.1.5.
    nominal = 50e6
    estimates = np.array(
        [0.0, 623.0, 215.0, 0.0, -0.1, 11.5e-6, 0.0]
    )  # of l, ls, d, da, t, a, dt; l is not observed
    d = np.sqrt(5.8**2 + 3.9**2 + 6.7**2)  # repeated readings, random and systematic errors of the comparator
    uncertainties = np.array([25.0, d, 0.58e-6, np.hypot(0.2, 0.35), 1.2e-6, 0.029])

    def equation(x: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        length, standard, difference, da, t, a, dt = x
        whole = nominal + standard
        off = length - standard - difference + whole * (da * t + a * dt)
        slope = [1.0, -1 + da * t + a * dt, -1.0, whole * t, whole * da, whole * dt, whole * a]
        return np.array([off]), np.array([slope])

    fit = adjust(estimates, linear(np.eye(7)[1:]), estimates[1:], np.diag(uncertainties**2), constrain=equation)
    assert round(float(nominal + fit.parameters[0])) == 50_000_838
    assert round(float(np.sqrt(fit.covariance[0, 0]))) == 32
