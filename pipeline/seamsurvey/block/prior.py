"""What speaks for a layout before anything is measured, as the report states it."""

import math

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.seams import seams_of
from seamsurvey.geometry import centroid
from seamsurvey.model import Piece, Prior

Array = NDArray[np.float64]

_SAME_LINE_MM = 0.05  # closed layouts have seams on one line to rounding, or apart by tenths
_SAME_LINE_DEG = 0.05


def prior_of(outline: Array, pieces: tuple[Piece, ...], meeting_points: int) -> Prior:
    """Meeting points, straight runs and balance of a closed layout; ``outline`` (m, 2) mm, block frame."""
    middles = np.array([centroid(piece.outline) for piece in pieces])
    off = middles.mean(axis=0) - centroid(outline)
    return Prior(meeting_points, _straight_runs(pieces), float(np.hypot(*off)))


def _straight_runs(pieces: tuple[Piece, ...]) -> int:
    """The straight lines that seams lie on: seams on one line that touch end to end are one run."""
    seams = [(complex(*seam.start), complex(*seam.end)) for seam in seams_of(pieces) if not seam.bulge]
    runs = list(range(len(seams)))

    def root(k: int) -> int:
        while runs[k] != k:
            k = runs[k]
        return k

    for a, one in enumerate(seams):
        for b in range(a):
            if _one_run(one, seams[b]):
                runs[root(a)] = root(b)
    return len({root(k) for k in range(len(seams))})


def _one_run(a: tuple[complex, complex], b: tuple[complex, complex]) -> bool:
    if min(abs(p - q) for p in a for q in b) > _SAME_LINE_MM:
        return False
    turn = (a[1] - a[0]).conjugate() * (b[1] - b[0])
    return abs(turn.imag) < math.sin(math.radians(_SAME_LINE_DEG)) * abs(turn)
