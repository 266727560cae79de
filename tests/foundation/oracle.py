"""The fewest sections by brute force, from the definitions alone: slow, for a convex block of a dozen pieces.

Every line through two corners is tried as a cut, every piece as the last of a section; none of the planner is used.
"""

from functools import cache
from itertools import combinations

import numpy as np

from seamsurvey.model import Block

NEAR = 1e-5  # mm


def fewest_sections(block: Block) -> int | None:
    """The fewest sections of a convex block, or None where it can't be sewn straight."""
    outlines = [np.asarray(piece.outline) for piece in block.pieces]
    lines = _lines(np.vstack(outlines))
    aside = np.array(
        [[(normal @ outline.T - offset) for outline in outlines] for normal, offset in lines], dtype=object
    )
    left = [frozenset(k for k, d in enumerate(row) if d.min() > -NEAR) for row in aside]
    right = [frozenset(k for k, d in enumerate(row) if d.max() < NEAR) for row in aside]

    @cache
    def cuts(region: frozenset[int]) -> tuple[tuple[frozenset[int], frozenset[int]], ...]:
        return tuple({(region & a, region & b) for a, b in zip(left, right, strict=True)
                      if region <= a | b and region & a and region & b})  # fmt: skip

    @cache
    def is_section(region: frozenset[int]) -> bool:
        return len(region) == 1 or any(
            is_section(rest) for a, b in cuts(region) for last, rest in ((a, b), (b, a)) if len(last) == 1
        )

    @cache
    def fewest(region: frozenset[int]) -> float:
        if is_section(region):
            return 1
        return min((fewest(a) + fewest(b) for a, b in cuts(region)), default=float("inf"))

    best = fewest(frozenset(range(len(outlines))))
    return None if best == float("inf") else int(best)


def _lines(corners: np.ndarray) -> list[tuple[np.ndarray, float]]:
    points = np.unique(np.round(corners, 6), axis=0)
    lines: dict[tuple[float, float, float], tuple[np.ndarray, float]] = {}
    for a, b in combinations(points, 2):
        along = (b - a) / np.hypot(*(b - a))
        normal = np.array([-along[1], along[0]])
        lines[tuple(np.round([*normal, normal @ a], 6))] = normal, float(normal @ a)
    return list(lines.values())
