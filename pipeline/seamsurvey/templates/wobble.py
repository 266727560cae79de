"""The wobble of a hand-cut edge: a smooth, correlated wandering about the straight line that was meant.

Model: along the edge the distance from the line has, for two places d mm apart, the covariance
``scale · ((1 + √3 d / length) exp(-√3 d / length) + white · [d = 0])`` (Matérn, 3/2): wandering with a correlation
length, smooth but not so smooth that a slip of the scissors would be impossible, plus independent error of each
point. A line through n such points is known as if it had only a few independent ones.
"""

import itertools
import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Correlation lengths (mm) and shares of independent error that are tried: scissors to a warped card.
_LENGTHS = (3.0, 6.0, 12.0, 24.0)
_WHITES = (0.003, 0.03, 0.3, 3.0, 300.0)
_MODELS = tuple(itertools.product(_LENGTHS, _WHITES))
_MOST_POINTS = 50  # of one edge
_WIDE = 4.0  # times the usual variance
CLEAR_SIGMAS = 5.0  # no chance: a kink is the best of thirty places, and the wobble's size itself an estimate
LEAST_VARIANCE = 0.01**2  # mm²; no scan shows the shape of an edge better than this


class Wobble(NamedTuple):
    """``scale`` mm², the variance of the wandering; ``length`` mm; ``white`` relative to ``scale``."""

    scale: float
    length: float
    white: float

    def covariance(self, along: Floats) -> Floats:
        """(n, n) mm²: of the distances from the line at (n,) places along it, mm."""
        return self.scale * _shape(along, self.length, self.white)


def _shape(along: Floats, length: float, white: float) -> Floats:
    gap = math.sqrt(3) / length * np.abs(along[:, None] - along[None, :])
    return (1 + gap) * np.exp(-gap) + (white + 1e-6) * np.eye(len(along))


def line_design(along: Floats) -> Floats:
    """(n, 2): offset and slope of a line at (n,) places along it."""
    return np.column_stack([np.ones_like(along), along])


def bent_design(along: Floats, at: float) -> Floats:
    """(n, 3): offset, slope and the turn at ``at`` of a line with one kink."""
    return np.column_stack([line_design(along), np.maximum(along - at, 0.0)])


class Evidence(NamedTuple):
    """What one edge says about the wobble: for each model tried, its weighted squares and log determinants."""

    squares: Floats
    logs: Floats
    freedom: int


def evidence(along: Floats, off: Floats, design: Floats) -> Evidence:
    """Of an edge: ``along`` (n,) places, ``off`` (n,) distances from any line, ``design`` (n, k) of its shape, mm.

    The shape is ``line_design`` or ``bent_design``; what it absorbs of the wandering is allowed for.
    """
    squares, logs = [], []
    for length, white in _MODELS:
        root = np.linalg.cholesky(_shape(along, length, white))
        whitened = np.linalg.solve(root, np.column_stack([design, off]))
        diagonal = np.diag(np.asarray(np.linalg.qr(whitened, mode="r")))
        squares.append(float(diagonal[-1] ** 2))
        logs.append(2 * float(np.log(np.diag(root)).sum() + np.log(np.abs(diagonal[:-1])).sum()))
    return Evidence(np.array(squares), np.array(logs), len(along) - design.shape[1])


def estimate(edges: Sequence[Evidence]) -> Wobble:
    """The wobble that all these edges have in common: restricted maximum likelihood (Patterson, Thompson 1971)."""
    freedom = sum(edge.freedom for edge in edges)
    if freedom < 1:
        return Wobble(1e-6, _LENGTHS[0], _WHITES[-1])
    scales = np.maximum(sum(edge.squares for edge in edges) / freedom, 1e-12)
    values = freedom * np.log(scales) + sum(edge.logs for edge in edges)
    best = int(np.argmin(values))
    return Wobble(float(scales[best]), *_MODELS[best])


def estimate_common(edges: Sequence[Evidence]) -> Wobble:
    """The wobble of all edges but those, at most half, that clearly wander more than the others say."""
    alone = [estimate([edge]) for edge in edges]
    variances = [wobble.scale * (1 + wobble.white) for wobble in alone]
    usual = float(np.median(variances)) if variances else 0.0
    common = list(edges)
    # The widest first; what differs from the others in kind, and hardly in size, has its say.
    for k in sorted(range(len(edges)), key=lambda k: -variances[k])[: len(edges) // 2]:
        others = [edge for edge in common if edge is not edges[k]]
        if variances[k] < _WIDE * usual or _beyond(edges[k], others) <= CLEAR_SIGMAS:
            break
        common = others
    return estimate(common)


def _beyond(edge: Evidence, others: Sequence[Evidence]) -> float:
    """By how many of its standard deviations the sum of an edge's squares is more than the others' wobble says."""
    if edge.freedom < 1:
        return 0.0
    wobble = estimate(others)
    model = _MODELS.index((wobble.length, wobble.white))
    ratio = float(edge.squares[model]) / (edge.freedom * wobble.scale)
    return (ratio - 1) / math.sqrt(2 / edge.freedom)


def kink(along: Floats, off: Floats, arm: float) -> tuple[float, Floats]:
    """Where a line with one kink, at least ``arm`` from both ends, fits the points best, and its design there."""
    places = np.linspace(along[0] + arm, along[-1] - arm, 33)
    squares = [
        np.sum((off - d @ np.linalg.lstsq(d, off, rcond=None)[0]) ** 2)
        for d in (bent_design(along, float(at)) for at in places)
    ]
    at = float(places[int(np.argmin(squares))])
    return at, bent_design(along, at)


def turn_in_sigmas(along: Floats, off: Floats, design: Floats, wobble: Wobble) -> float:
    """How many of its own standard deviations the last term of the design amounts to, under this wobble."""
    return abs(float(whitened(wobble.covariance(along), design, off)[-2, -1]))


def whitened(covariance: Floats, design: Floats, off: Floats) -> Floats:
    """(k + 1, k + 1): the triangle (QR) of ``design`` (n, k) and ``off`` (n,), in standard deviations.

    The square of its last number is what the design leaves over.
    """
    root = np.linalg.cholesky(covariance + LEAST_VARIANCE * np.eye(len(off)))
    return np.asarray(np.linalg.qr(np.linalg.solve(root, np.column_stack([design, off])), mode="r"))


def thinned(along: Floats, off: Floats) -> tuple[Floats, Floats]:
    """Every so many of the points: closer points of a smooth curve say nothing new."""
    step = max(1, len(along) // _MOST_POINTS)
    return along[::step], off[::step]
