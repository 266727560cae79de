"""A graduated edge seen square from above, as on a scanner's glass: marks side by side at one step.

A comb is found in whatever perspective (`slant_combs`). On the glass there is none: one step, one direction of the
marks, and what is left of either's change along the ruler shows that a camera took the picture.
"""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.photo.slant_combs import SlantComb

Floats = NDArray[np.float64]

_GROSS = 4.0  # robust standard deviations: a worn mark, a speck


@frozen(eq=False)
class Comb:
    """Evenly spaced marks along one edge; image frame, px.

    Mark i crosses the edge's line at ``points[i]``; it is number ``index[i]`` of the comb, at ``index[i] * step``
    along ``edge`` from the comb's zero, up to ``residuals[i]``.
    """

    points: Floats  # (n, 2)
    index: NDArray[np.intp]  # (n,) ascending
    residuals: Floats  # (n,) px
    step: float  # px
    step_sigma: float  # one standard deviation of it
    edge: Floats  # (2,) unit vector of ascending index
    edge_sigma: float  # radians, of its direction
    marks: Floats  # (2,) unit vector of the marks, from the edge to their far ends
    marks_sigma: float  # radians
    stretch: float  # change of the step over the whole comb, as a share of it
    stretch_sigma: float
    fan_deg: float  # change of the marks' direction over the whole comb
    fan_sigma_deg: float


def square_on(seen: SlantComb) -> Comb:
    """The comb as it lies where nothing is seen at a slant."""
    index, origin = seen.index, seen.feet.mean(axis=0)
    across = seen.feet[-1] - seen.feet[0]
    across = across / np.hypot(*across)
    along = np.array([-across[1], across[0]])
    along = along * np.sign(np.median((seen.fars - seen.nears) @ along))
    near_u, near_v = (seen.nears - origin) @ across, (seen.nears - origin) @ along
    middle_u, middle_v = ((seen.anchors.mean(axis=1) - origin) @ way for way in (across, along))
    ways = seen.anchors[:, 1] - seen.anchors[:, 0]
    slopes = (ways @ across) / (ways @ along)
    weights = np.sum(ways**2, axis=1) / (2 * seen.anchor_sigma**2)
    slope, fan, slope_sigma, fan_sigma = _line(index - np.average(index, weights=weights), slopes, weights)
    intercept, tilt, _, tilt_sigma = _line(near_u, near_v, np.ones(len(index)))
    # Marks all run one way, so a mark's place on the edge is carried there along the common direction: the
    # single stroke's own slope would be carried along with it.
    at_edge = (intercept + tilt * (middle_u - slope * middle_v)) / (1 - slope * tilt)
    u_edge = middle_u + slope * (at_edge - middle_v)
    fit = np.polynomial.Polynomial.fit(index, u_edge, 1)
    step, zero = float(fit.deriv()(0)), float(fit(0))
    residuals = u_edge - (zero + step * index)
    scatter = float(np.sqrt(np.sum(residuals**2) / max(len(index) - 2, 1)))
    spread = float(np.sqrt(np.sum((index - index.mean()) ** 2)))
    span = int(index[-1] - index[0])
    bend = np.polynomial.Polynomial.fit(index, u_edge, 2)
    shape = index - index.mean()
    shape = shape**2 - np.polynomial.Polynomial.fit(shape, shape**2, 1)(shape)
    edge = across + tilt * along
    longer = float(np.hypot(*edge))
    return Comb(
        points=origin + u_edge[:, None] * across + at_edge[:, None] * along,
        index=index,
        residuals=residuals * longer,
        step=step * longer,
        step_sigma=scatter / spread * longer,
        edge=edge / longer,
        edge_sigma=tilt_sigma,
        marks=(along + slope * across) / float(np.hypot(1.0, slope)),
        marks_sigma=slope_sigma,
        stretch=float(bend.deriv(2)(0)) * span / step,
        stretch_sigma=2 * scatter / float(np.sqrt(np.sum(shape**2)) + 1e-12) * span / step,
        fan_deg=float(np.degrees(fan * span)),
        fan_sigma_deg=float(np.degrees(fan_sigma * span)),
    )


def _line(x: Floats, y: Floats, weights: Floats) -> tuple[float, float, float, float]:
    """Value at 0 and slope of the line through points (n,), outliers left out, and the sigmas of both."""
    design = np.column_stack([np.ones(len(x)), x])
    for _ in range(4):
        normal = design.T @ (design * weights[:, None])
        solution = np.linalg.solve(normal, design.T @ (y * weights))
        rest = np.abs(y - design @ solution) * np.sqrt(weights)
        scale = 1.4826 * float(np.median(rest)) + 1e-12
        weights = weights * (rest <= _GROSS * scale) + 1e-12
    sigmas = np.sqrt(np.diag(np.linalg.inv(normal))) * scale
    return float(solution[0]), float(solution[1]), float(sigmas[0]), float(sigmas[1])
