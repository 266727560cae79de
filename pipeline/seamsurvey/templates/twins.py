"""Equal templates and mirror images among the measured ones, and those that are nearly equal, which is a trap."""

from collections.abc import Sequence
from enum import Enum

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.geometry import reversed_face
from seamsurvey.model import Template
from seamsurvey.units import mm_text

Floats = NDArray[np.float64]

COPY_MM = 0.6  # two copies cut with scissors round one pattern differ by up to this; common practice, no source
NEARLY_MM = 3.0  # and two that differ by more than this were meant to differ


class Likeness(Enum):
    """How one template compares with another."""

    EQUAL = "equal"
    MIRRORED = "mirrored"
    NEARLY_EQUAL = "nearly equal"
    NEARLY_MIRRORED = "nearly mirrored"
    DIFFERENT = "different"


@frozen
class Comparison:
    """The likeness of two templates, and the most by which their edges differ in that arrangement, mm."""

    likeness: Likeness
    edges_differ_mm: float = 0.0
    first_edge: int = 0  # of the first template: the edge that differs most, and
    second_edge: int = 0  # its counterpart


def compare(first: Template, second: Template) -> Comparison:
    """Whether two templates are one shape within their joint uncertainty (but at least COPY_MM)."""
    if len(first.edges) != len(second.edges):
        return Comparison(Likeness.DIFFERENT)
    upright = _best_fit(first, second, mirrored=False)
    turned = _best_fit(first, second, mirrored=True)
    if upright.equal:
        return Comparison(Likeness.EQUAL, upright.worst, upright.first_edge, upright.second_edge)
    if turned.equal:
        return Comparison(Likeness.MIRRORED, turned.worst, turned.first_edge, turned.second_edge)
    better, name = min(
        ((upright, Likeness.NEARLY_EQUAL), (turned, Likeness.NEARLY_MIRRORED)), key=lambda pair: pair[0].worst
    )
    near = better.worst <= NEARLY_MM and better.off_shape <= NEARLY_MM
    return Comparison(name if near else Likeness.DIFFERENT, better.worst, better.first_edge, better.second_edge)


@frozen
class _Arrangement:
    equal: bool
    worst: float
    off_shape: float
    first_edge: int
    second_edge: int


def _best_fit(first: Template, second: Template, *, mirrored: bool) -> _Arrangement:
    """The turn of the second outline that fits the first one best, corner by corner."""
    count = len(first.edges)
    other = reversed_face(second.finished_outline) if mirrored else second.finished_outline
    # Edge k of the turned-over outline was edge n - 1 - k.
    names = [count - 1 - k for k in range(count)] if mirrored else list(range(count))
    shift, off = min(
        ((turn, _procrustes(first.finished_outline, np.roll(other, -turn, axis=0))) for turn in range(count)),
        key=lambda pair: pair[1],
    )
    partners = [names[(k + shift) % count] for k in range(count)]
    differences = np.array(
        [abs(e.length_mm - second.edges[j].length_mm) for e, j in zip(first.edges, partners, strict=True)]
    )
    allowed = np.array([max(COPY_MM, _joint_u(first, k, second, j)) for k, j in enumerate(partners)])
    worst = int(np.argmax(differences))
    return _Arrangement(
        equal=bool(np.all(differences <= allowed) and off <= float(allowed.max())),
        worst=float(differences[worst]),
        off_shape=off,
        first_edge=worst,
        second_edge=partners[worst],
    )


def _joint_u(first: Template, k: int, second: Template, j: int) -> float:
    """Expanded, of the difference of two lengths: each one's own, and the scale where they lie differently."""
    return float(np.hypot(first.edges[k].u_mm, second.edges[j].u_mm))


def _procrustes(first: Floats, second: Floats) -> float:
    """The greatest distance of corners, mm, after the rigid motion that fits them best (Kabsch 1976)."""
    a, b = first - first.mean(axis=0), second - second.mean(axis=0)
    u, _, v = np.linalg.svd(b.T @ a)
    turn = u @ np.diag([1.0, np.sign(np.linalg.det(u @ v))]) @ v
    return float(np.hypot(*(b @ turn - a).T).max())


def gather(templates: Sequence[Template]) -> tuple[list[Template], list[tuple[int, int, Comparison]]]:
    """The templates with each shape once, and the pairs (indices) that are mirrored or nearly alike.

    Of several copies the best measured is kept, in the first one's place.
    """
    kept: list[Template] = []
    for template in templates:
        for k, earlier in enumerate(kept):
            if compare(earlier, template).likeness is Likeness.EQUAL:
                seen = earlier.copies_seen + template.copies_seen
                better = min(earlier, template, key=lambda t: float(np.trace(t.own_covariance)))
                kept[k] = attrs.evolve(better, copies_seen=seen)
                break
        else:
            kept.append(template)
    pairs = [
        (i, j, comparison)
        for j in range(len(kept))
        for i in range(j)
        if (comparison := compare(kept[i], kept[j])).likeness is not Likeness.DIFFERENT
    ]
    return kept, pairs


def with_twins(templates: Sequence[Template], pairs: Sequence[tuple[int, int, Comparison]]) -> list[Template]:
    """The templates, the later of two mirror images pointing to the earlier."""
    result = list(templates)
    for i, j, comparison in pairs:
        if comparison.likeness is Likeness.MIRRORED and result[i].reversed_twin_of is None:
            result[j] = attrs.evolve(result[j], reversed_twin_of=result[i].name)
    return result


def nearly_equal_warnings(
    templates: Sequence[Template], pairs: Sequence[tuple[int, int, Comparison]]
) -> tuple[str, ...]:
    """A sentence for each two templates that are nearly one shape: that is how old sets go wrong."""
    warnings = []
    for i, j, comparison in pairs:
        if comparison.likeness in (Likeness.NEARLY_EQUAL, Likeness.NEARLY_MIRRORED):
            first = templates[i].edges[comparison.first_edge].length_mm
            second = templates[j].edges[comparison.second_edge].length_mm
            turned = ", one turned over," if comparison.likeness is Likeness.NEARLY_MIRRORED else ""
            warnings.append(
                f"{templates[i].name} and {templates[j].name} are nearly the same shape{turned} but not quite:"
                f" an edge measures {mm_text(first, 2)} on one and {mm_text(second, 2)} on the other."
                " They were kept apart. If they are copies, one of them was cut wrong."
            )
    return tuple(warnings)
