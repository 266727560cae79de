"""The scanner's two scales and its shear, from the graduated edges: a least-squares adjustment with priors.

x_mm = sx (x + shear y), y_mm = -sy y, and a shift. One ruler fixes the scale along itself; how far the other
axis may differ is known beforehand, and stays in the covariance.
"""

import math

import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.optimize import least_squares

from seamsurvey.photo.combs import Comb

# Raw flatbed scans are off by 0.1 to 0.6 % locally (ACRS 1997), and their axes differ by some tenths of a
# percent; the carriage runs square to the line sensor far better than that (common practice, no source).
AXES_SIGMA = 0.002
SHEAR_SIGMA = 0.0005
# A steel rule keeps 0.15 mm in 500 mm (JIS B 7516, class 1), 0.03 % at the limit; for wood and plastic some
# three times that is assumed at the limit (common practice, no source). One standard deviation:
RULER_SIGMA = 0.0005
# Marks stand square to the edge only so well: on a stamped wooden ruler they were found 0.9° off.
SQUARE_SIGMA = math.radians(0.5)
DISAGREE = 3.0  # sigmas by which an edge's scale may miss the common solution before it is said


@frozen(eq=False)
class ScaledComb:
    """A comb, the true length of its step in mm, and one standard deviation of that as a share."""

    comb: Comb
    step_mm: float
    step_sigma: float = RULER_SIGMA


@frozen(eq=False)
class Scanner:
    """The adjusted scanner: ``matrix`` (2, 2) turns px to mm, ``parameters`` are ln sx, ln sy and the shear."""

    parameters: NDArray[np.float64]  # (3,)
    covariance: NDArray[np.float64]  # (3, 3)
    misfits: NDArray[np.float64]  # (n,) each edge's scale against the solution, in its own sigmas

    @property
    def matrix(self) -> NDArray[np.float64]:
        """(2, 2) px to mm, plane y up."""
        return _matrix(self.parameters)

    def plane(self, height: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The (2, 3) matrix and its (6, 6) covariance, row by row.

        The lower left corner of a picture of ``height`` px, the outer corner of its last pixel at
        (-0.5, height - 0.5), is the plane's origin: an exact choice, so the shift is only as uncertain as
        the scales.
        """
        corner = np.array([-0.5, height - 0.5])

        def entries(parameters: NDArray[np.float64]) -> NDArray[np.float64]:
            linear = _matrix(parameters)
            return np.column_stack([linear, -linear @ corner]).ravel()

        value = entries(self.parameters)
        small = 1e-6
        jacobian = np.column_stack(
            [
                (entries(self.parameters + change) - entries(self.parameters - change)) / (2 * small)
                for change in np.eye(3) * small
            ]
        )
        return value.reshape(2, 3), jacobian @ self.covariance @ jacobian.T


def _matrix(parameters: NDArray[np.float64]) -> NDArray[np.float64]:
    scale_x, scale_y, shear = math.exp(parameters[0]), math.exp(parameters[1]), parameters[2]
    return np.array([[scale_x, scale_x * shear], [0.0, -scale_y]])


def scale_sigma(scaled: ScaledComb) -> float:
    """One standard deviation of ln(px per mm) along an edge: the fit, its bend, and the ruler itself."""
    comb = scaled.comb
    return math.sqrt((comb.step_sigma / comb.step) ** 2 + comb.stretch**2 / 12 + scaled.step_sigma**2)


def adjust_scanner(edges: list[ScaledComb]) -> Scanner:
    """The scanner that fits all ``edges`` best; the covariance grows when they agree worse than they should."""
    sigmas = np.array([scale_sigma(edge) for edge in edges])
    square = np.array([math.hypot(SQUARE_SIGMA, edge.comb.marks_sigma, edge.comb.edge_sigma) for edge in edges])

    def residuals(parameters: NDArray[np.float64]) -> NDArray[np.float64]:
        linear = _matrix(parameters)
        rest = [parameters[0] - parameters[1], parameters[2]] / np.array([AXES_SIGMA, SHEAR_SIGMA])
        along = np.array([linear @ edge.comb.edge for edge in edges])
        marks = np.array([linear @ edge.comb.marks for edge in edges])
        length = np.hypot(along[:, 0], along[:, 1])
        steps = np.array([edge.comb.step / edge.step_mm for edge in edges])
        lean = np.sum(along * marks, axis=1) / (length * np.hypot(marks[:, 0], marks[:, 1]))
        return np.concatenate([np.log(length * steps) / sigmas, lean / square, rest])

    start = math.log(edges[0].step_mm / edges[0].comb.step)
    solution = least_squares(
        residuals, np.array([start, start, 0.0]), x_scale=[1e-3, 1e-3, 1e-3], xtol=1e-14, ftol=1e-14, gtol=1e-14
    )
    misfits = solution.fun[: len(edges)]
    jacobian = np.asarray(solution.jac)
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    # As many observations beyond the priors as edges, less the one scale they must give.
    excess = float(np.sum(misfits**2)) / max(len(edges) - 1, 1)
    return Scanner(solution.x, covariance * max(1.0, excess), misfits)
