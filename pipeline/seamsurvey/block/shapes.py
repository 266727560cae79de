"""The templates as the search sees them: faces as complex corners, their noise, and their own symmetry."""

import cmath
import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from seamsurvey.arcs import area_with_arcs, bulge_of
from seamsurvey.geometry import reversed_face
from seamsurvey.model import Template, TemplateSet

# A length that claims to be better than this is not: a card's edge is not that straight.
LEAST_SIGMA_MM = 0.02


@dataclass(frozen=True)
class Face:
    """One side of a template, up: ``corners`` mm as complex x + iy, counter-clockwise, near the origin.

    Lengths, angles and area are of the polygon of its corners: curved edges have their ``bulges`` beside it. What
    bows out of one piece enters another, so that the polygons fill a block whenever the pieces do.
    """

    index: int  # in Shapes.faces
    template: int
    reversed: bool
    corners: tuple[complex, ...]
    bulges: tuple[float, ...]  # of each edge, see ``arcs``; 0 is straight

    @cached_property
    def lengths(self) -> tuple[float, ...]:
        """Length of edge k, from corner k to k + 1, mm."""
        c = self.corners
        return tuple(abs(c[(k + 1) % len(c)] - c[k]) for k in range(len(c)))

    @cached_property
    def angles(self) -> tuple[float, ...]:
        """Inner angle at corner k, radians, 0..2π."""
        c = self.corners
        n = len(c)
        return tuple(cmath.phase((c[k - 1] - c[k]) / (c[(k + 1) % n] - c[k])) % (2 * math.pi) for k in range(n))

    @cached_property
    def area(self) -> float:
        """mm², of the polygon of corners."""
        return area_of(self.corners)


@dataclass(frozen=True)
class Shapes:
    """All faces that may be placed: ``faces`` of every template, the face up first.

    ``sigma`` is one standard deviation of an edge's length, mm, the median over the set; ``turns[t]`` is the order
    of template t's own turning symmetry (4 for a square), ``mirrored[t]`` whether its two faces are the same; then
    corner k of the turned-over face is corner k + ``flips[t]`` of the face up. ``areas`` are mm², arcs counted.
    ``read``: of each template how many its card may speak of, where that isn't clear.
    """

    names: tuple[str, ...]
    faces: tuple[Face, ...]
    sigma: float
    turns: tuple[int, ...]
    mirrored: tuple[bool, ...]
    flips: tuple[int, ...]
    areas: tuple[float, ...]
    read: tuple[frozenset[int], ...] = ()

    def face(self, template: int, reversed_: bool) -> Face:
        """The face of a template; for one whose two faces are the same, the face up."""
        return self._by_side[template, reversed_ and not self.mirrored[template]]

    @cached_property
    def _by_side(self) -> dict[tuple[int, bool], Face]:
        return {(face.template, face.reversed): face for face in self.faces}

    @cached_property
    def shortest_edge(self) -> float:
        """The shortest edge of all, mm."""
        return min(length for face in self.faces for length in face.lengths)


def shapes_of(templates: TemplateSet) -> Shapes:
    """Prepare the finished outlines of a TemplateSet for the search."""
    sigma = _length_sigma(templates)
    same = 4 * sigma
    faces: list[Face] = []
    turns, mirrored, flips = [], [], []
    for t, template in enumerate(templates.templates):
        outline = template.finished_outline - template.finished_outline.mean(axis=0)
        bulges = bulges_of(template)
        up = Face(len(faces), t, False, as_complex(outline), bulges)
        over = Face(len(faces) + 1, t, True, as_complex(reversed_face(outline)), bulges[::-1])
        faces.append(up)
        turns.append(sum(_congruent_at(up, up, k, same) for k in range(len(up.corners))))
        onto = [k for k in range(len(up.corners)) if _congruent_at(over, up, k, same)]
        mirrored.append(bool(onto))
        flips.append(onto[0] if onto else 0)
        if not mirrored[-1]:
            faces.append(over)
    return Shapes(
        names=tuple(t.name for t in templates.templates),
        faces=tuple(faces),
        sigma=sigma,
        turns=tuple(turns),
        mirrored=tuple(mirrored),
        flips=tuple(flips),
        areas=tuple(_area(t) for t in templates.templates),
        read=tuple(_read_counts(t) for t in templates.templates),
    )


def _read_counts(template: Template) -> frozenset[int]:
    """How many its cards may speak of, both faces together, where that isn't clear."""
    unclear = (writing for writing in template.said_by_card if not writing.clear)
    ways = (way for writing in unclear for way in writing.may_mean)
    return frozenset(sum(map(int, way.split("+"))) for way in ways)


def bulges_of(template: Template) -> tuple[float, ...]:
    """The bulge of every edge, face up; 0 where it is straight."""
    curves = [edge.curve for edge in template.edges] or [None] * len(template.finished_outline)
    return tuple(bulge_of(curve.sweep_deg) if curve else 0.0 for curve in curves)


def bulge_sigma(template: Template, k: int) -> float:
    """One standard deviation of a curved edge's bulge: of its sweep, and no better than an edge is true."""
    curve = template.edges[k].curve
    chord = math.dist(template.finished_outline[k], template.finished_outline[(k + 1) % len(template.edges)])
    u_sweep = math.radians(curve.u_sweep_deg) if curve else 0.0
    return max((1 + bulges_of(template)[k] ** 2) / 4 * u_sweep / 2, 2 * LEAST_SIGMA_MM / chord)


def bows_alike(chord: float, one: float, other: float, tolerance: float) -> bool:
    """Whether two edges over a chord are both straight, or arcs whose middles lie within a tolerance, mm.

    The middle of an arc is half the chord times the bulge away from it.
    """
    if not one and not other:
        return True
    return bool(one and other) and abs(one - other) * chord / 2 <= tolerance


def _area(template: Template) -> float:
    bulges = bulges_of(template)
    outline = template.finished_outline
    return area_with_arcs(outline, bulges) if any(bulges) else area_of(as_complex(outline))


def as_complex(outline: np.ndarray) -> tuple[complex, ...]:
    """(n, 2) as complex numbers x + iy."""
    return tuple(complex(x, y) for x, y in outline)


def area_of(corners: tuple[complex, ...] | list[complex]) -> float:
    """Area, positive when counter-clockwise (the surveyor's formula)."""
    total = 0.0
    previous = corners[-1]
    for corner in corners:
        total += previous.real * corner.imag - previous.imag * corner.real
        previous = corner
    return total / 2


def edge_sigma(template: Template, k: int) -> float:
    """One standard deviation of edge k's length, mm."""
    return max(template.edges[k].u_mm / 2, LEAST_SIGMA_MM)


def _length_sigma(templates: TemplateSet) -> float:
    return float(np.median([edge_sigma(t, k) for t in templates.templates for k in range(len(t.edges))]))


def _congruent_at(a: Face, b: Face, shift: int, tolerance: float) -> bool:
    """Whether corner k of ``a`` can lie on corner k + shift of ``b`` for all k, to within the tolerance."""
    n = len(a.corners)
    target = b.corners[shift:] + b.corners[:shift]
    turn = sum(t * c.conjugate() for t, c in zip(target, a.corners, strict=True))
    turn /= abs(turn) or 1.0
    return all(
        abs(a.corners[k] * turn - target[k]) <= tolerance
        and bows_alike(a.lengths[k], a.bulges[k], b.bulges[(k + shift) % n], tolerance)
        for k in range(n)
    )
