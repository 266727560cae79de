"""The adjustment against published reference results."""

from importlib import resources

import numpy as np
import pytest

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
