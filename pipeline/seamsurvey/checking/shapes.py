"""Shapes as distances of their corners, with uncertainty: of measured templates, and of lengths a person gave."""

from collections.abc import Sequence

import numpy as np

from seamsurvey.check_model import Wanted
from seamsurvey.errors import UsageError
from seamsurvey.model import Array, Template, TemplateSet
from seamsurvey.plane import COVERAGE


def distances(outline: Array) -> Array:
    """(n, n) mm: how far each corner lies from each other."""
    apart = outline[:, None, :] - outline[None, :, :]
    return np.asarray(np.hypot(apart[..., 0], apart[..., 1]))


def distances_u(template: Template, shared_covariance: Array) -> Array:
    """(n, n) mm, expanded (k = 2): the uncertainty of each distance, the set's shared errors included.

    Of edges it is the edge's own ``u_mm``, which a person may have given by hand.
    """
    outline = template.finished_outline
    count = len(outline)
    covariance = template.own_covariance
    if template.sensitivity.size:
        covariance = covariance + template.sensitivity @ shared_covariance @ template.sensitivity.T
    result = np.zeros((count, count))
    for i in range(count):
        for j in range(i + 1, count):
            way = (outline[j] - outline[i]) / np.hypot(*(outline[j] - outline[i]))
            move = np.zeros(2 * count)
            move[2 * j : 2 * j + 2], move[2 * i : 2 * i + 2] = way, -way
            result[i, j] = result[j, i] = COVERAGE * np.sqrt(max(0.0, float(move @ covariance @ move)))
    for k, edge in enumerate(template.edges):
        after = (k + 1) % count
        result[k, after] = result[after, k] = edge.u_mm
    return result


def wanted_from_set(templates: TemplateSet) -> list[Wanted]:
    """Every template of an earlier measurement as a shape to compare with."""
    return [
        Wanted(
            name=template.name,
            distances_mm=distances(template.finished_outline),
            distances_u_mm=distances_u(template, templates.shared_covariance),
        )
        for template in templates.templates
    ]


def wanted_from_sides(name: str, sides_mm: Sequence[float]) -> Wanted:
    """A shape of which a person knows the sides, in order round it. A triangle's sides are all there is to know."""
    count = len(sides_mm)
    if count < 3:
        raise UsageError(
            "sizes-unclear",
            f"{name} has {count} {'length' if count == 1 else 'lengths'}, but a shape has three sides or more.",
            todo="Give one line for each side, in order round the template.",
        )
    lengths = np.full((count, count), np.nan)
    for k, side in enumerate(sides_mm):
        lengths[k, (k + 1) % count] = lengths[(k + 1) % count, k] = side
    return Wanted(name=name, distances_mm=lengths, distances_u_mm=np.zeros((count, count)))
