"""Which outlines, of which size, the pieces can fill: by the area, as far as edges and angles allow it."""

import cmath
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from seamsurvey.block.outlines import Outline
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.sums import Sums
from seamsurvey.units import usual_size

_SLIMMEST = 4.0  # a block is at most so many times longer than wide
_STEP_MM = 0.1  # sums of edges nearer to one another are one
_MOST_SUMS = 4000
_MOST_BOXES, _LIKELY_BOXES = 60, 12  # rectangles that are all looked at, or the likeliest of more
_SURELY, _LEAST_OFF = 4.0, 0.002  # standard deviations of the area; no area is known better than this share
_ANGLE_SLACK = math.radians(1.5)

# Logarithms of odds, as in ``meaning``, of what a side is like.
USUAL = 2.0  # that its length is a usual one
SLIM = 1.0  # against a rectangle: the logarithm of length over width
_LENGTH, _EDGE = 0.6, 0.05  # against each other length of edge along it, each edge
_MOST_ALONG, _MOST_LENGTHS = 12, 4
_ABOUT, _UNLIKELY = 4, 5.0  # steps that sums may miss a length by; of lengths that are no likely sum


@dataclass(frozen=True)
class Sized:
    """An outline of a size, mm."""

    outline: Outline
    width: float
    height: float

    def is_about(self, other: "Sized", near: float) -> bool:
        """Whether another has the same shape, and sides that are off by no more than ``near`` mm."""
        same = self.outline.name == other.outline.name
        return same and abs(self.width - other.width) <= near and abs(self.height - other.height) <= near

    @property
    def corners(self) -> tuple[complex, ...]:
        """Complex mm, block frame, counter-clockwise."""
        return tuple(self.outline.at(self.width, self.height))


def sized_outlines(
    shapes: Shapes, counts: Sequence[int], outlines: Sequence[Outline], near: float
) -> tuple[list[Sized], bool]:
    """The outlines that may be filled, those of known shape first, and whether these are all.

    The area gives about the size, a sum of edges that it agrees with the size itself: of thin strips the area is
    known less well than any length. ``counts`` of the templates bound how often an edge can lie along a side.
    """
    area = sum(count * a for count, a in zip(counts, shapes.areas, strict=True))
    off = _area_off(shapes, counts) / area
    sums, whole = side_sums(shapes, counts, 1.1 * math.sqrt(_SLIMMEST * area))
    found: list[Sized] = []
    for outline in outlines:
        if not _corners_fill(shapes, counts, outline):
            continue
        if outline.aspect is not None:
            found += _of_shape(outline, outline.aspect, outline.width(area), off, sums if whole else [], near)
        else:
            boxes = list(_rectangles(outline, area, off, sums, near))
            # Edges of many lengths add up to anything: the likeliest of these are looked at.
            whole &= len(boxes) <= _MOST_BOXES
            if len(boxes) > _MOST_BOXES:
                sides = Sides.of(shapes, 1.1 * math.sqrt(_SLIMMEST * area))
                boxes = sorted(boxes, key=sides.against_box)[:_LIKELY_BOXES]
            found += boxes
    return found, whole


def _area_off(shapes: Shapes, counts: Sequence[int]) -> float:
    """What the pieces' area may be off by, mm²: edges off by their uncertainty, alike in every copy."""
    terms = []
    for face in shapes.faces:
        if not face.reversed:
            along = math.sqrt(sum(length**2 for length in face.lengths))
            terms.append(counts[face.template] * along * shapes.sigma / 2)
    return _SURELY * math.hypot(*terms)


def _of_shape(
    outline: Outline, aspect: float, width: float, off: float, sums: list[float], near: float
) -> Iterator[Sized]:
    """An outline of known shape, at every size near ``width`` that makes its first side a sum of edges."""
    (u, v), (u2, v2), *_ = outline.corners
    share = math.hypot(u2 - u, (v2 - v) * aspect)
    reach = share * width * max(off, _LEAST_OFF) / 2 + near
    able = [s for s in sums if abs(s - share * width) <= reach]
    for side in _apart(able, near, share * width) if able else [] if sums else [share * width]:
        wide = side / share
        if not sums or _sides_fill(outline, wide, wide * aspect, sums, near):
            yield Sized(outline, wide, wide * aspect)


def _apart(values: list[float], near: float, about: float) -> list[float]:
    """Of values nearer to one another than the tolerance the one nearest to ``about``; that one first."""
    kept: list[float] = []
    for value in sorted(values, key=lambda v: abs(v - about)):
        if all(abs(value - other) > near for other in kept):
            kept.append(value)
    return kept


def side_sums(shapes: Shapes, counts: Sequence[int], longest: float) -> tuple[list[float], bool]:
    """Sums of edges that can lie end to end along a side, ascending, and whether these are all there are."""
    lengths: dict[int, tuple[float, int]] = {}
    for face in shapes.faces:
        if face.reversed or not counts[face.template]:
            continue
        for length in face.lengths:
            key = round(length / _STEP_MM / 2)
            near = next((k for k in (key - 1, key, key + 1) if k in lengths), key)
            value, number = lengths.get(near, (length, 0))
            lengths[near] = value, number + counts[face.template]
    sums = {0: 0.0}
    for value, number in sorted(lengths.values()):
        for total in list(sums.values()):
            for times in range(1, number + 1):
                more = total + times * value
                if more > longest:
                    break
                sums.setdefault(round(more / _STEP_MM), more)
        if len(sums) > _MOST_SUMS:
            return sorted(sums.values()), False
    return sorted(s for s in sums.values() if s > 0), True


@dataclass(frozen=True, eq=False)
class Sides:
    """What lengths that a side may have say against it: many edges, of many lengths, and no usual size.

    ``costs``: of each length in steps of ``_STEP_MM``, a logarithm of odds; infinite where it is no sum of edges.
    """

    costs: NDArray[np.float64]

    @classmethod
    def of(cls, shapes: Shapes, longest: float) -> "Sides":
        """Of all sums of edges up to ``longest`` mm."""
        lengths: list[float] = []
        for length in sorted(x for face in shapes.faces if not face.reversed for x in face.lengths):
            if not lengths or length - lengths[-1] > 2 * _STEP_MM:
                lengths.append(length)
        costs = np.full(int(longest / _STEP_MM) + 1, np.inf)
        costs[0] = 0.0
        for length in lengths:
            without = costs.copy()
            for times in range(1, _MOST_ALONG + 1):
                along = round(times * length / _STEP_MM)
                if along < len(costs):
                    more = without[: len(costs) - along] + _LENGTH + _EDGE * times
                    costs[along:] = np.minimum(costs[along:], more)
        return cls(costs)

    @property
    def likely(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Lengths, mm, of few different edges, and what their number and variety say against each."""
        found = np.flatnonzero(self.costs <= _MOST_LENGTHS * _LENGTH)[1:]
        return found.astype(np.float64) * _STEP_MM, self.costs[found]

    def against(self, length: float) -> float:
        """What all says against a side of about this length."""
        k = round(length / _STEP_MM)
        near = self.costs[max(k - _ABOUT, 1) : k + _ABOUT + 1]
        return float(min(near.min(initial=np.inf), _UNLIKELY)) - USUAL * usual_size(length)

    def against_box(self, box: "Sized") -> float:
        """What speaks against a rectangle."""
        return (self.against(box.width) + self.against(box.height)) / 2 + SLIM * math.log(box.width / box.height)


def usual(lengths: NDArray[np.float64]) -> NDArray[np.float64]:
    """How usual each length is, ``units.usual_size``."""
    return np.array([usual_size(length) for length in lengths.tolist()])


def _corners_fill(shapes: Shapes, counts: Sequence[int], outline: Outline) -> bool:
    """Whether every corner of the outline can be filled by angles of the pieces."""
    angles = Sums((a for f in shapes.faces if counts[f.template] for a in f.angles), math.pi, _ANGLE_SLACK)
    ring = outline.at(1.0, outline.aspect or 1.0)
    corners = (
        cmath.phase((ring[k - 1] - ring[k]) / (ring[(k + 1) % len(ring)] - ring[k])) for k in range(len(ring))
    )
    return all(angles.has(corner % (2 * math.pi), 2 * _ANGLE_SLACK) for corner in corners)


def _sides_fill(outline: Outline, width: float, height: float, sums: list[float], near: float) -> bool:
    ring = outline.at(width, height)
    lengths = {round(abs(b - a), 3) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)}
    return all(_has(sums, length, 2 * near) for length in lengths)


def _has(sums: list[float], length: float, near: float) -> bool:
    return any(abs(s - length) <= near for s in sums) if len(sums) < _MOST_SUMS else True


def _rectangles(outline: Outline, area: float, off: float, sums: list[float], near: float) -> Iterator[Sized]:
    """Rectangles lying down whose sides both are sums of edges, from the squarest on; but for the square itself."""
    side = math.sqrt(area)
    wide = _apart([s for s in sums if side + near < s <= side * math.sqrt(_SLIMMEST) * 1.01], near, side)
    for width in wide:
        height = area / width
        able = [s for s in sums if abs(s - height) <= height * max(off, _LEAST_OFF) + near]
        for low in _apart(able, near, height):
            if width - low > 2 * near:
                yield Sized(outline, width, low)
