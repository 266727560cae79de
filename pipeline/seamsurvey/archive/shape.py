"""How far two outlines are from one shape, once both have been brought to one size.

Corners are compared, not areas: two outlines are one shape when, under the turn that fits them best, corner lies on
corner. The turn is the closed form of the orthogonal Procrustes problem in the plane (Kabsch 1976), with points as
complex numbers.
"""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from seamsurvey.archive_model import SetRecord, TemplateRecord
from seamsurvey.arcs import with_middles
from seamsurvey.geometry import reversed_face
from seamsurvey.model import Array

# The most by which a corner may be off, at the smaller set's size: two sets cut by hand round one drawing, each
# measured, differ by half of this (common practice, no source); blocks that were meant to differ, by more.
ALLOWED_MM = 1.0
# But never more than this share of a template's width, or small templates would all be alike.
ALLOWED_SHARE = 0.025


@frozen
class Fit:
    """The best fit of two sets of templates: the worst corner, and how the chiral templates lie.

    ``turned`` and ``upright`` count the matched templates that fit only turned over, or only as they are.
    """

    worst_mm: float
    size: float
    turned: int
    upright: int


def set_size(record: SetRecord) -> float:
    """The side of a square as large as all templates together, mm."""
    return float(np.sqrt(sum(template.area_mm2 for template in record.templates)))


def shape_of(template: TemplateRecord) -> Array:
    """(m, 2): its corners and the middles of its arcs, which are compared alike."""
    return with_middles(template.outline_mm, template.bulges)


def worst_corner(first: Array, second: Array) -> float:
    """The greatest distance of corresponding corners, mm, under the best turn; inf if their number differs."""
    if len(first) != len(second):
        return float("inf")
    a = _centred(first)
    b = _centred(second)
    shifts = np.array([np.roll(b, -k) for k in range(len(b))])
    turns = (shifts.conj() * a).sum(axis=1)
    with np.errstate(invalid="ignore"):
        turns = turns / np.abs(turns)
    apart = np.abs(shifts * turns[:, None] - a)
    return float(np.nanmin(apart.max(axis=1)))


def _centred(outline: Array) -> NDArray[np.complex128]:
    points = outline[:, 0] + 1j * outline[:, 1]
    return np.asarray(points - points.mean())


def fit_of(first: SetRecord, second: SetRecord) -> Fit | None:
    """How the templates of two sets fit one another at the smaller set's size; None when they are not alike.

    Every template of one set has its own partner in the other; each may lie turned over, as cards do.
    """
    if len(first.templates) != len(second.templates) or not first.templates:
        return None
    size_a, size_b = set_size(first), set_size(second)
    least = min(size_a, size_b)
    one = [shape_of(template) * (least / size_a) for template in first.templates]
    two = [shape_of(template) * (least / size_b) for template in second.templates]
    widths = [np.array([_diameter(outline) for outline in outlines]) for outlines in (one, two)]
    allowed = np.minimum(ALLOWED_MM, ALLOWED_SHARE * widths[0])
    # Two corners, each off by what is allowed, change a width by twice that: no need to look closer at the others.
    near = np.abs(widths[0][:, None] - widths[1][None, :]) <= 2 * allowed[:, None]
    if not near.any(axis=1).all():
        return None
    upright, turned = np.full(near.shape, np.inf), np.full(near.shape, np.inf)
    for i, j in np.argwhere(near):
        upright[i, j], turned[i, j] = worst_corner(one[i], two[j]), worst_corner(one[i], reversed_face(two[j]))
    off = np.minimum(upright, turned)
    cost = np.where(off <= allowed[:, None], off, 1e6)
    rows, columns = linear_sum_assignment(cost)
    if np.any(cost[rows, columns] >= 1e6):
        return None
    as_is = upright[rows, columns] <= allowed[rows]
    over = turned[rows, columns] <= allowed[rows]
    return Fit(
        worst_mm=float(off[rows, columns].max()),
        size=size_b / size_a,
        turned=int(np.sum(over & ~as_is)),
        upright=int(np.sum(as_is & ~over)),
    )


def _diameter(outline: Array) -> float:
    apart = outline[:, None, :] - outline[None, :, :]
    return float(np.hypot(apart[..., 0], apart[..., 1]).max())
