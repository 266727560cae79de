"""The wobble of a hand-cut edge: a smooth, correlated wandering about the straight line that was meant.

Model: along the edge (s, mm) the distance from the line has covariance
``scale · (exp(-(s - s')² / 2 length²) + white · [s = s'])``: wandering with a correlation length, plus
independent error of each point. A line through n such points is known as if it had only a few independent ones.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Correlation lengths (mm) and shares of independent error that are tried: scissors to a warped card.
_LENGTHS = (2.0, 4.0, 8.0, 16.0)
_WHITES = (0.003, 0.03, 0.3, 3.0, 300.0)
_MOST_POINTS = 50  # of one edge
_LEAST_VARIANCE = 0.01**2  # mm²; no scan shows the shape of an edge better than this


class Wobble(NamedTuple):
    """``scale`` mm², the variance of the wandering; ``length`` mm; ``white`` relative to ``scale``."""

    scale: float
    length: float
    white: float

    def covariance(self, along: Floats) -> Floats:
        """(n, n) mm²: of the distances from the line at (n,) places along it, mm."""
        return self.scale * _shape(along, self.length, self.white)


def _shape(along: Floats, length: float, white: float) -> Floats:
    gap = (along[:, None] - along[None, :]) / length
    return np.exp(-0.5 * gap * gap) + (white + 1e-6) * np.eye(len(along))


def line_design(along: Floats) -> Floats:
    """(n, 2): offset and slope of a line at (n,) places along it."""
    return np.column_stack([np.ones_like(along), along])


def bent_design(along: Floats, at: float) -> Floats:
    """(n, 3): offset, slope and the turn at ``at`` of a line with one kink."""
    return np.column_stack([line_design(along), np.maximum(along - at, 0.0)])


def estimate(edges: Sequence[tuple[Floats, Floats, Floats]]) -> Wobble:
    """The wobble of a set of edges, each (places along it, distances from a line, design of its shape), mm.

    Restricted maximum likelihood (Patterson and Thompson 1971), pooled over the edges: what the fitted shapes
    themselves absorb of the wandering is allowed for. A design is ``line_design`` or ``bent_design``.
    """
    best, best_value = Wobble(1e-6, 4.0, 1.0), math.inf
    freedom = sum(len(along) - design.shape[1] for along, _, design in edges)
    for length in _LENGTHS:
        for white in _WHITES:
            squares, logs = 0.0, 0.0
            for along, off, design in edges:
                root = np.linalg.cholesky(_shape(along, length, white))
                whitened = np.linalg.solve(root, np.column_stack([design, off]))
                diagonal = np.diag(np.linalg.qr(whitened, mode="r"))
                squares += float(diagonal[-1] ** 2)
                logs += 2 * float(np.log(np.diag(root)).sum() + np.log(np.abs(diagonal[:-1])).sum())
            value = freedom * math.log(max(squares / freedom, 1e-12)) + logs
            if value < best_value:
                best, best_value = Wobble(squares / freedom, length, white), value
    return best


def kink(along: Floats, off: Floats) -> tuple[float, Floats]:
    """Where a line with one kink fits the points best, and its design there."""
    low, high = np.quantile(along, [0.08, 0.92])
    places = np.linspace(low, high, 33)
    squares = [
        np.sum((off - d @ np.linalg.lstsq(d, off, rcond=None)[0]) ** 2)
        for d in (bent_design(along, float(at)) for at in places)
    ]
    at = float(places[int(np.argmin(squares))])
    return at, bent_design(along, at)


def turn_in_sigmas(along: Floats, off: Floats, design: Floats, wobble: Wobble) -> float:
    """How many of its own standard deviations the last term of the design amounts to, under this wobble."""
    root = np.linalg.cholesky(wobble.covariance(along) + _LEAST_VARIANCE * np.eye(len(along)))
    whitened = np.linalg.solve(root, np.column_stack([design, off]))
    triangle: Floats = np.asarray(np.linalg.qr(whitened, mode="r"))
    return abs(float(triangle[-2, -1]))


def thinned(along: Floats, off: Floats) -> tuple[Floats, Floats]:
    """Every so many of the points: closer points of a smooth curve say nothing new."""
    step = max(1, len(along) // _MOST_POINTS)
    return along[::step], off[::step]
