"""How the arcs of a closed layout bow: what two sides of a curved seam say of it, brought together.

An arc's two ends are corners, which the closing adjustment places. What is left is one number, its bulge. All edges
that meet along curved seams, and those that a template's own symmetry makes alike, bow by one amount: the mean of
what was measured, each by its weight. It is found beside the adjustment, as corners hardly tell of it.
"""

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from scipy.special import chdtrc

from seamsurvey.adjustment import W_REJECT
from seamsurvey.arcs import arc_length, sweep_of
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes, bulge_sigma, bulges_of
from seamsurvey.geometry import edge_lengths
from seamsurvey.model import SuspectEdge, Template, TemplateSet

_Side = tuple[int, int]
"""A template and the number of its edge, face up."""


@dataclass(frozen=True)
class Bows:
    """Adjusted bulges of every edge, by template, face up; how well the measured ones agreed."""

    bulges: dict[int, tuple[float, ...]]
    chi_square: float = 0.0
    conditions: int = 0
    suspects: tuple[SuspectEdge, ...] = ()

    def with_corners(self, chi_square: float, conditions: int) -> tuple[float, float, int]:
        """Sigma0, p-value and conditions of corners and arcs together."""
        total, dof = self.chi_square + chi_square, self.conditions + conditions
        return math.sqrt(total / dof), float(chdtrc(dof, total)), dof

    def of(self, template: int, over: bool) -> tuple[float, ...]:
        """The bulges of a template's face; empty when all its edges are straight."""
        bulges = self.bulges[template]
        return () if not any(bulges) else bulges[::-1] if over else bulges


def bows_of(templates: TemplateSet, shapes: Shapes, layout: Layout) -> Bows:
    """Adjust the bulges of a layout's templates."""
    used = sorted({t for t, _, _ in layout.pieces})
    bulges = {t: list(bulges_of(templates.templates[t])) for t in used}
    chi_square, conditions = 0.0, 0
    worst: tuple[float, _Side | None, float] = (W_REJECT, None, 0.0)
    for group in _groups(shapes, layout, bulges):
        weights = [bulge_sigma(templates.templates[t], k) ** -2 for t, k in group]
        sizes = [abs(bulges[t][k]) for t, k in group]
        total = sum(weights)
        mean = sum(w * size for w, size in zip(weights, sizes, strict=True)) / total
        for (t, k), size, weight in zip(group, sizes, weights, strict=True):
            chi_square += weight * (size - mean) ** 2
            if len(group) > 1:
                w = abs(size - mean) / math.sqrt(1 / weight - 1 / total)
                worst = (w, (t, k), mean) if w > worst[0] else worst
            bulges[t][k] = math.copysign(mean, bulges[t][k])
        conditions += len(group) - 1
    _, side, mean = worst
    suspects = (_suspect(templates.templates[side[0]], side[1], mean),) if side else ()
    return Bows({t: tuple(own) for t, own in bulges.items()}, chi_square, conditions, suspects)


def _groups(shapes: Shapes, layout: Layout, bulges: dict[int, list[float]]) -> list[list[_Side]]:
    """The curved edges that bow by one amount: they meet, or are images by their template's own symmetry."""
    sides = [(t, k) for t, own in bulges.items() for k, bulge in enumerate(own) if bulge]
    group = {side: side for side in sides}

    def root(side: _Side) -> _Side:
        while group[side] != side:
            side = group[side]
        return side

    for one, other in [*_meeting(layout, bulges), *_alike(shapes, sides, bulges)]:
        group[root(one)] = root(other)
    found: dict[_Side, list[_Side]] = defaultdict(list)
    for side in sides:
        found[root(side)].append(side)
    return list(found.values())


def _meeting(layout: Layout, bulges: dict[int, list[float]]) -> Iterator[tuple[_Side, _Side]]:
    """The curved edges that meet in the layout."""
    laid: dict[tuple[int, int], _Side] = {}
    for t, over, corners in layout.pieces:
        n = len(corners)
        for k, v in enumerate(corners):
            side = (t, n - 1 - k if over else k)
            if bulges[t][side[1]]:
                laid[v, corners[(k + 1) % n]] = side
    for (a, b), side in laid.items():
        if (b, a) in laid:
            yield side, laid[b, a]


def _alike(shapes: Shapes, sides: list[_Side], bulges: dict[int, list[float]]) -> Iterator[tuple[_Side, _Side]]:
    """The curved edges that a turn of their template onto itself, or its two equal faces, make one."""
    for t, k in sides:
        n = len(bulges[t])
        yield (t, k), (t, (k + n // shapes.turns[t]) % n)
        if shapes.mirrored[t]:
            yield (t, k), (t, (n - 1 - k + shapes.flips[t]) % n)


def _suspect(template: Template, k: int, mean: float) -> SuspectEdge:
    bulge = abs(bulges_of(template)[k])
    chord = float(edge_lengths(template.finished_outline)[k])
    word = "rounder" if bulge > mean else "flatter"
    text = (
        f"{template.name}, edge {k + 1} is {word} than what it meets: it sweeps {sweep_of(bulge):.1f}°, all "
        f"together {sweep_of(mean):.1f}°."
    )
    return SuspectEdge(template.name, k, arc_length(chord, bulge) - arc_length(chord, mean), text)
