"""An edge's points that lie on two lines: on the card's edge, and on something straight beside it.

A line of a mat, a shadow's end, or the far side of a thick card may run so near an edge, and so nearly along it,
that some stretches show the one and some the other. A hand that cuts makes no such step.
"""

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.templates.runs import line_through
from seamsurvey.templates.wobble import KINK_SIGMAS, estimate, evidence, kink, line_design, turn_in_sigmas

Floats = NDArray[np.float64]

_LEAST_RUN = 4  # points: fewer are nicks and dust, which the line's own fit leaves out
_MOST_POINTS = 60
_CLEARLY = 0.5


@frozen
class Step:
    """Where points leave one line for another: the index of the first beyond, and by how far, mm outwards."""

    at: int
    by: float


@frozen
class TwoLines:
    """The lines that the two runs of points lie on, each a point and a direction, plane mm."""

    first: tuple[Floats, Floats] = field(eq=False)
    second: tuple[Floats, Floats] = field(eq=False)


def step_in(at: Floats, least: float) -> Step | None:
    """The step of at least so much in points (n, 2) along an edge, in order; None where there is none.

    It must explain the points better than any kink does, nearly as well as a nick could, and stand out from the
    wobble that it leaves.
    """
    if len(at) < 2 * _LEAST_RUN:
        return None
    middle, along = line_through(at)
    place, off = (at - middle) @ along, (at - middle) @ np.array([along[1], -along[0]])
    number = np.arange(len(at))
    line = line_design(place)
    steps = {k: np.column_stack([line, number >= k]) for k in range(_LEAST_RUN, len(at) - _LEAST_RUN + 1)}
    fits = {k: _fit(design, off) for k, design in steps.items()}
    first = min(fits, key=lambda k: fits[k][0])
    squares, by = fits[first]
    if abs(by) < least or _fit(kink(place, off, float(np.ptp(place)) / 10)[1], off)[0] < squares:
        return None
    nicks = (
        np.column_stack([line, (number >= start) & (number < end)])
        for start in range(1, len(at) - 1)
        for end in range(start + 1, min(start + len(at) // 4, len(at)))
    )
    if min(_fit(design, off)[0] for design in nicks) < _CLEARLY * squares:
        return None
    some = np.unique(np.linspace(0, len(at) - 1, _MOST_POINTS).astype(int))
    design = steps[first][some]
    wobble = estimate([evidence(place[some], off[some], design)])
    return Step(first, by) if turn_in_sigmas(place[some], off[some], design, wobble) > KINK_SIGMAS else None


def _fit(design: Floats, off: Floats) -> tuple[float, float]:
    """What the best sum of a design's columns leaves over, squared, and the last column's share."""
    shares = np.linalg.lstsq(design, off, rcond=None)[0]
    return float(np.sum((off - design @ shares) ** 2)), float(shares[-1])


def two_lines(at: Floats, step: Step) -> TwoLines:
    """The lines through the points (n, 2) before a step and beyond it."""
    return TwoLines(line_through(at[: step.at]), line_through(at[step.at :]))
