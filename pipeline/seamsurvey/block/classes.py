"""The measured shapes made regular: angles and lengths that agree within their uncertainty made equal.

A search that compares places needs shapes that agree with one another better than they were measured. Cards were
drawn from a plan: their angles are mostly those of the drafting tools, their edges of few lengths. What agrees with
that within its own uncertainty is brought there by one least-squares fit of all corners; nothing is forced that
the measurements speak against. The result is for the search only: layouts are adjusted with what was measured.
"""

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.lengths import AGREE
from seamsurvey.block.shapes import Face, Shapes, as_complex, edge_sigma
from seamsurvey.geometry import edge_lengths, interior_angles, reversed_face
from seamsurvey.model import Template, TemplateSet

Array = NDArray[np.float64]

# Angles that set squares and the folding of paper give: multiples of 15 and of 22.5 degrees.
DRAWN_DEG = tuple(sorted({15.0 * k for k in range(1, 24)} | {22.5 * k for k in range(1, 16)}))
_STIFF = 30.0  # how much more what was made equal weighs than a measured corner
_ROUNDS = 4
_MOSTLY = 0.6  # of all angles: then the others that are near a drafting tool's are meant so, too
_BEYOND = 3.0  # times as many equal edges as chance makes
_LEAST_DEG = 0.1  # no card's corner is cut truer


@dataclass(frozen=True)
class _Angle:
    template: int
    corner: int
    goal_deg: float


@dataclass(frozen=True)
class Regular:
    """The shapes with what agrees made equal; ``planned``: most angles are drawn ones, or lengths are equal."""

    shapes: Shapes
    planned: bool


def regular(templates: TemplateSet, shapes: Shapes) -> Regular:
    """The shapes with every agreement within the measurements' uncertainty made exact, faces in the same order."""
    fitted, planned = _fitted(templates.templates)
    faces: list[Face] = []
    for face in shapes.faces:
        outline = fitted[face.template] - fitted[face.template].mean(axis=0)
        corners = as_complex(reversed_face(outline) if face.reversed else outline)
        faces.append(Face(face.index, face.template, face.reversed, corners, face.bulges))
    areas = list(shapes.areas)
    for face in faces:
        if not face.reversed and not any(face.bulges):
            areas[face.template] = face.area
    return Regular(replace(shapes, faces=tuple(faces), areas=tuple(areas)), planned)


def mostly_drawn(templates: TemplateSet) -> bool:
    """Whether most angles are those that drafting tools give."""
    return _are_most(list(_drawn_angles(templates.templates)), templates.templates)


def _are_most(angles: Sequence[_Angle], templates: Sequence[Template]) -> bool:
    return len(angles) >= _MOSTLY * sum(len(template.finished_outline) for template in templates)


def _fitted(templates: Sequence[Template]) -> tuple[list[Array], bool]:
    """The outlines with their agreements made exact, and whether there is a plan behind them."""
    outlines = [template.finished_outline for template in templates]
    angles = list(_drawn_angles(templates))
    mostly = _are_most(angles, templates)
    if not mostly:
        angles = [angle for angle in angles if angle.goal_deg % 90 == 0]
    groups = _equal_lengths(templates)
    alike = _beyond_chance(templates, groups)
    if not alike:
        groups = []
    fitted = _held(outlines, angles, groups)
    # What agrees one by one may not agree together: two sides nearly equal between right angles, say.
    bent = _bent(templates, fitted)
    if bent:
        groups = [[(t, k) for t, k in group if t not in bent] for group in groups]
        fitted = _held(outlines, angles, [group for group in groups if len(group) > 1])
        bent = _bent(templates, fitted)
    if bent:
        angles = [angle for angle in angles if angle.template not in bent]
        fitted = _held(outlines, angles, [group for group in groups if len(group) > 1])
    return fitted, mostly or alike


def _bent(templates: Sequence[Template], fitted: Sequence[Array]) -> set[int]:
    """The templates with an edge that came out farther from its measured length than measuring allows."""
    bent = set()
    for t, (template, outline) in enumerate(zip(templates, fitted, strict=True)):
        off = np.abs(edge_lengths(outline) - edge_lengths(template.finished_outline))
        if any(off[k] > AGREE * edge_sigma(template, k) for k in range(len(off))):
            bent.add(t)
    return bent


def _held(
    outlines: Sequence[Array], angles: Sequence[_Angle], groups: Sequence[Sequence[tuple[int, int]]]
) -> list[Array]:
    """The outlines with these angles at their goals and each group of edges equal, moved as little as possible."""
    fitted = [outline.copy() for outline in outlines]
    first = np.cumsum([0, *(2 * len(outline) for outline in outlines)])
    measured = np.concatenate([outline.ravel() for outline in outlines])
    x = measured.copy()
    for _ in range(_ROUNDS):
        rows, goals = [], []
        for angle in angles:
            row, off = _angle_row(fitted[angle.template], angle, first[angle.template], len(x))
            rows.append(row)
            goals.append(off)
        for group in groups:
            lengths = [_length_row(fitted[t], k, first[t], len(x)) for t, k in group]
            (head, its), *others = lengths
            for row, length in others:
                rows.append(head - row)
                goals.append(length - its)
        if not rows:
            break
        system = np.vstack([np.eye(len(x)), _STIFF * np.array(rows)])
        target = np.concatenate([measured - x, _STIFF * np.array(goals)])
        x = x + np.linalg.lstsq(system, target, rcond=None)[0]
        fitted = [x[a:b].reshape(-1, 2) for a, b in itertools.pairwise(first)]
    return fitted


def _drawn_angles(templates: Sequence[Template]) -> Iterator[_Angle]:
    """The angles that are one of the drafting tools' within their uncertainty."""
    for t, template in enumerate(templates):
        lengths = edge_lengths(template.finished_outline)
        for k, angle in enumerate(interior_angles(template.finished_outline)):
            reach = math.degrees(
                math.hypot(edge_sigma(template, k) / lengths[k], edge_sigma(template, k - 1) / lengths[k - 1])
            )
            goal = min(DRAWN_DEG, key=lambda drawn: abs(drawn - angle))
            if abs(goal - angle) <= AGREE * max(reach / math.sqrt(2), _LEAST_DEG / 2):
                yield _Angle(t, k, goal)


def _equal_lengths(templates: Sequence[Template]) -> list[list[tuple[int, int]]]:
    """Edges, as (template, edge), in groups of one length; of those that agree within their uncertainty."""
    edges = [
        (float(length), edge_sigma(template, k), t, k)
        for t, template in enumerate(templates)
        for k, length in enumerate(edge_lengths(template.finished_outline))
    ]
    edges.sort()
    groups: list[list[tuple[float, float, int, int]]] = []
    for edge in edges:
        length, sigma, _, _ = edge
        if groups:
            mean = sum(e[0] for e in groups[-1]) / len(groups[-1])
            least = groups[-1][0]
            if length - mean <= AGREE * math.hypot(sigma, least[1] / math.sqrt(len(groups[-1]))) and (
                length - least[0] <= AGREE * math.hypot(sigma, least[1])
            ):
                groups[-1].append(edge)
                continue
        groups.append([edge])
    return [[(t, k) for _, _, t, k in group] for group in groups if len(group) > 1]


def _beyond_chance(templates: Sequence[Template], groups: list[list[tuple[int, int]]]) -> bool:
    """Whether more edges are equal than would be among so many of no plan at all.

    Of edges anyhow long, two agree by chance with a probability of the width they agree within over their spread.
    """
    edges = [
        (float(length), edge_sigma(template, k))
        for template in templates
        for k, length in enumerate(edge_lengths(template.finished_outline))
    ]
    lengths = [length for length, _ in edges]
    spread = max(lengths) - min(lengths)
    sigma = sorted(s for _, s in edges)[len(edges) // 2]
    chance = min(1.0, 2 * AGREE * math.sqrt(2) * sigma / spread) if spread else 0.0
    pairs = len(edges) * (len(edges) - 1) / 2
    equal = sum(len(group) * (len(group) - 1) / 2 for group in groups)
    return equal > _BEYOND * chance * pairs


def _length_row(outline: Array, k: int, first: int, count: int) -> tuple[Array, float]:
    """Derivatives (count,) of an edge's length, and the length."""
    n = len(outline)
    along = outline[(k + 1) % n] - outline[k]
    length = float(np.hypot(*along))
    row = np.zeros(count)
    a, b = first + 2 * k, first + 2 * ((k + 1) % n)
    row[b : b + 2], row[a : a + 2] = along / length, -along / length
    return row, length


def _angle_row(outline: Array, angle: _Angle, first: int, count: int) -> tuple[Array, float]:
    """Derivatives (count,) of an angle times the mean of its edges, so that it weighs like a length; its lack."""
    n = len(outline)
    k = angle.corner
    here, ahead, behind = outline[k], outline[(k + 1) % n], outline[k - 1]
    row = np.zeros(count)
    out, back = ahead - here, behind - here
    arm = math.sqrt(float(np.hypot(*out) * np.hypot(*back)))
    for end, along, sign in (((k + 1) % n, out, -1.0), ((k - 1) % n, back, 1.0)):
        square = float(along @ along)
        turn = arm * sign * np.array([-along[1], along[0]]) / square
        row[first + 2 * end : first + 2 * end + 2] += turn
        row[first + 2 * k : first + 2 * k + 2] -= turn
    now = math.degrees(math.atan2(back[1], back[0]) - math.atan2(out[1], out[0])) % 360
    return row, arm * math.radians(angle.goal_deg - now)
