"""Why a set fits no block, as far as single corners and edges tell: said with the refusal, nothing is forced."""

import numpy as np

from seamsurvey.block.shapes import edge_sigma
from seamsurvey.geometry import interior_angles
from seamsurvey.model import Edge, Match, TemplateSet

_STEP_DEG = 0.05  # sums of angles are told apart to this
_ROUND = (180.0, 360.0)  # what closes along a straight seam or side, and round a point
_LEAST_OFF_DEG = 1.0  # corners of hand-cut cards are out of true by tenths of a degree
_SIGMAS = 4.0
_MOST = 4  # sentences of each kind: one wrong template spoils several


def misfits(templates: TemplateSet, matches: tuple[Match, ...], corners: tuple[float, ...]) -> list[str]:
    """Sentences on corners that close with no others, then on edges that can meet nothing, the worst first.

    ``corners`` are the outlines' own angles, degrees, which corners may also fill.
    """
    return [*_corners(templates, (*corners, *_ROUND))[:_MOST], *_edges(templates, matches)[:_MOST]]


def _corners(templates: TemplateSet, targets: tuple[float, ...]) -> list[str]:
    angles = [
        (t, k, float(a)) for t in templates.templates for k, a in enumerate(interior_angles(t.finished_outline))
    ]
    sums = _sums([a for _, _, a in angles])
    found = []
    for template, k, angle in angles:
        edge = min(template.edges[k].length_mm, template.edges[k - 1].length_mm)
        sigma = np.degrees(max(edge_sigma(template, k), edge_sigma(template, k - 1)) / edge)
        best, target = min((round(float(np.abs(angle + sums - target).min()), 1), target) for target in targets)
        if best > max(_LEAST_OFF_DEG, _SIGMAS * 2 * sigma):
            between = " between chords" if template.edges[k].curve or template.edges[k - 1].curve else ""
            text = (
                f"Corner {k + 1} of {template.name} ({angle:.1f}°{between}) closes with no other corners: the "
                f"nearest sum misses {target:.0f}° by {best:.1f}°."
            )
            found.append((best, text))
    return [text for _, text in sorted(found, key=lambda one: -one[0])]


def _sums(angles: list[float]) -> np.ndarray:
    """(m,) every sum of angles up to 360 degrees, each as often as need be, and 0."""
    steps = sorted({max(round(angle / _STEP_DEG), 1) for angle in angles})
    count = round(360 / _STEP_DEG) + 1
    reached = np.zeros(count, bool)
    reached[0] = True
    for k in range(count):
        if reached[k]:
            for step in steps:
                if k + step < count:
                    reached[k + step] = True
    return np.flatnonzero(reached) * _STEP_DEG


def _bow(edge: Edge) -> int:
    """1 where an edge bows out, -1 where it bows in, 0 where it is straight."""
    return 0 if edge.curve is None else 1 if edge.curve.sweep_deg > 0 else -1


def _edges(templates: TemplateSet, matches: tuple[Match, ...]) -> list[str]:
    once = {t.name for t in templates.templates if (t.count, t.reversed_count or 0) == (1, 0)}
    met = {
        (m.template, m.edge) for m in matches if m.others != ((m.template, m.edge),) or m.template not in once
    }  # an edge can meet its own copy
    met |= {part for m in matches if len(m.others) > 1 for part in m.others}
    every = [(t.name, k, edge.length_mm, _bow(edge)) for t in templates.templates for k, edge in enumerate(t.edges)]
    found = []
    for name, k, length, way in every:
        # An arc meets one that bows the other way.
        others = [
            (abs(length - other), other, n, j) for n, j, other, its in every if (n, j) != (name, k) and its == -way
        ]
        if way and not others:
            side = "out" if way > 0 else "in"
            found.append((-length, f"Edge {k + 1} of {name} is an arc that bows {side}; none bows the other way."))
        if (name, k) in met or not others:
            continue
        off, other, n, j = min(others)
        word = "longer" if other > length else "shorter"
        what = "arc" if way else "edge and no sum of edges"
        nearest = f"the nearest, edge {j + 1} of {n}, is {off:.1f} mm {word}"
        text = f"Edge {k + 1} of {name} ({length:.1f} mm) meets no other {what}; {nearest}."
        found.append((-off, text))
    return [text for _, text in sorted(found, reverse=True)]
