"""Where set-in seams are, and what each of them must cost: points that no seam passes straight through."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from seamsurvey.foundation.arrangement import Arrangement
from seamsurvey.foundation.lines import ON_LINE_MM, Lines


def set_in_points(net: Arrangement) -> list[int]:
    """The points within the block that no seam passes straight through: each has a set-in seam."""
    passed = {point for chain in net.chains for point in chain.points[1:-1]}
    return [p for p in range(len(net.points)) if not net.on_outline[p] and p not in passed]


def prices_of(net: Arrangement, lines: Lines, points: Sequence[int]) -> NDArray[np.float64]:
    """(b,): the least that each set-in point adds to the number of extra fragments.

    A seam straight through a point needs a cut that ends there; one cut has two ends. Only where a run of cuts goes
    from seam to seam, with set-in points at both ends and between, does it serve more points than it cuts pieces.
    """
    prices = np.ones(len(points))
    where = {point: k for k, point in enumerate(points)}
    if not points:
        return prices
    through = np.count_nonzero(np.abs(lines.beside(net.points[list(points)])) <= ON_LINE_MM, axis=1)
    for line in np.flatnonzero(through > 1).tolist():
        on = np.flatnonzero(np.abs(lines.aside(line, net.points)) <= ON_LINE_MM)
        for run, pieces in _runs_through_pieces(net, lines, line, on):
            served = [where[p] for p in run if p in where]
            if len(served) > pieces:
                prices[served] = np.minimum(prices[served], pieces / len(served))
    return prices


def _runs_through_pieces(
    net: Arrangement, lines: Lines, line: int, on: NDArray[np.intp]
) -> Iterator[tuple[list[int], int]]:
    """Runs of a line from one seam along it to the next, or to the outline: points, and pieces cut between them."""
    beside = [lines.aside(line, outline) for outline in net.outlines]
    cut = [k for k, d in enumerate(beside) if d.min() < -ON_LINE_MM and d.max() > ON_LINE_MM]
    spans = []
    for piece in cut:
        outline, d = net.outlines[piece], beside[piece]
        after, d_after = np.roll(outline, -1, axis=0), np.roll(d, -1)
        crossing = d * d_after <= 0
        share = np.where(d == d_after, 0.0, d / np.where(d == d_after, 1.0, d - d_after))
        ahead = lines.along(line, (outline + share[:, None] * (after - outline))[crossing])
        spans.append((float(ahead.min()), float(ahead.max())))
    spans.sort()
    places = lines.along(line, net.points[on])
    start = 0
    while start < len(spans):
        end = start
        while end + 1 < len(spans) and spans[end + 1][0] <= spans[end][1] + 1.0:
            end += 1
        low, high = spans[start][0] - 1.0, spans[end][1] + 1.0
        yield [int(p) for p, place in zip(on, places, strict=True) if low <= place <= high], end - start + 1
        start = end + 1
