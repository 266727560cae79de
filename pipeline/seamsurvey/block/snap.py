"""The block's size and its lengths set to the person's grid, all together, where the measurements allow it.

Never piece by piece: each length that is set is one more condition on the one adjustment, so that what follows
from it moves along. A length is set only if it is within its own uncertainty of the grid, given those set before,
and all together only if they cost no more chi-square than chance would. Only lengths along the outline's sides are
set: a slanted edge follows from its corners, and its own length is on no grid; nor is an arc's, which keeps its
bulge.

Cards were drafted: a triangle with two equal sides, a square, a diamond are meant so, and a block mostly measures
whole or half inches (or centimetres). So the edges that a template's own symmetry makes equal are made equal first,
and the size is set to the coarsest of these, where the measurements allow it.

A block drafted on squared paper has every corner on the grid. Where they all are, to within their uncertainty and
far better than chance, all are set, on the coarsest such grid: then lines that ran through a corner on the paper
run through it again.
"""

import math
from collections.abc import Iterator

import numpy as np
from scipy.special import chdtrc

from seamsurvey.adjustment import NotAdjustedError
from seamsurvey.arcs import arc_length
from seamsurvey.block.close import Closed, close
from seamsurvey.block.outlines import SQUARE
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.unknowns import Equal, Target
from seamsurvey.geometry import edge_vectors
from seamsurvey.model import Snapped, TemplateSet
from seamsurvey.units import INCH

_PARALLEL_DEG = 0.5  # closed layouts have edges along a side to far less, or off it by degrees
_WITHIN = 2.0  # standard deviations (k = 2): a length's own uncertainty
_ALLOWED = 0.05  # probability that measurements of a block truly on the grid cost more chi-square than this
_THERE_MM = 1e-6
# Where lengths seem to be metric, a whole number of inches is likelier than an odd half centimetre: most blocks are
# drafted in inches, whatever ruler lies beside their cards.
_USUAL_INCH, _USUAL_CM = (INCH, INCH / 2, INCH / 4, INCH / 8), (10.0, INCH, 5.0)
_COARSER = (8, 4, 2, 1)  # times the person's grid: 1/2, 1/4, 1/8 and 1/16 in
_SURELY = 3.0  # standard deviations within which every corner must be: one in hundreds may miss two
_NEAR_MM = 1e-4
_BENT_MM = 1.0  # no seam that bends by more is taken for straight
_CHANCE = 1e-4  # that corners at random are all so near the grid
_ON_GRID = 1e-9


Line = tuple[int, int, int]
"""A vertex, and the two that it lies between."""


def snap(
    templates: TemplateSet, shapes: Shapes, layout: Layout, closed: Closed, grid_mm: float
) -> tuple[Closed, tuple[Snapped, ...]]:
    """The layout closed again with its lengths on the grid, and what moved; as it was where nothing can be set."""
    hold = _Hold(templates, shapes, layout)
    start = hold.kept(closed, equals=_equal_edges(shapes, closed))
    for coarse in _COARSER:
        targets = _all_corners(layout, start, coarse * grid_mm)
        tried = hold.tried(start, targets) if targets else None
        if tried is not None:
            return tried, tuple(_changes(templates, closed, tried))
    start = hold.kept(start, straights=_straight_seams(layout, start))
    targets = _targets(layout, start, grid_mm)
    while targets:
        tried = hold.tried(start, targets)
        if tried is not None:
            return tried, _moves(templates, closed, targets)
        targets = targets[:-1]
    return start, tuple(_changes(templates, closed, start))


def _equal_edges(shapes: Shapes, closed: Closed) -> tuple[Equal, ...]:
    """Pairs of edges that a template's own symmetry makes equal, as far as nothing makes them so already."""
    x, covariance = closed.adjustment.parameters, closed.adjustment.covariance.copy()
    kept: list[Equal] = []
    for t in closed.unknowns.templates:
        face = shapes.face(t, False)
        n = len(face.corners)
        alike = [(k, (k + n // shapes.turns[t]) % n) for k in range(n)] if shapes.turns[t] > 1 else []
        if shapes.mirrored[t]:
            # Corner k of the reversed face is corner -k, and lies on corner k + flip of the face up.
            alike += [((n - 1 - k) % n, (k + shapes.flips[t]) % n) for k in range(n)]
        for one, other in alike:
            row = closed.unknowns.length(x, Target(t, one, 0.0))[1]
            row = row - closed.unknowns.length(x, Target(t, other, 0.0))[1]
            spread = covariance @ row
            variance = float(row @ spread)
            if one != other and variance > _THERE_MM**2:
                kept.append(Equal(t, one, other))
                covariance = covariance - np.outer(spread, spread) / variance
    return tuple(kept)


class _Hold:
    """Closes a layout with more and more held, as long as the measurements do not speak against it."""

    def __init__(self, templates: TemplateSet, shapes: Shapes, layout: Layout) -> None:
        self._set, self._shapes, self._layout = templates, shapes, layout
        self._equals: tuple[Equal, ...] = ()
        self._straights: tuple[Line, ...] = ()

    def kept(self, closed: Closed, equals: tuple[Equal, ...] = (), straights: tuple[Line, ...] = ()) -> Closed:
        """The layout closed with these held from now on; as it was where the measurements speak against them."""
        before = self._equals, self._straights
        while equals or straights:
            self._equals, self._straights = before[0] + equals, before[1] + straights
            tried = self.tried(closed, ())
            if tried is not None:
                return tried
            # The ones that miss least come first: the others may be bent on purpose.
            equals, straights = (), straights[: len(straights) // 2]
        self._equals, self._straights = before
        return closed

    def tried(self, closed: Closed, targets: tuple[Target, ...]) -> Closed | None:
        """The layout closed with the targets held as well; None where the measurements speak against them."""
        try:
            tried = close(
                self._set, self._shapes, self._layout, square=closed.square, targets=targets,
                equals=self._equals, straights=self._straights,
            )  # fmt: skip
        except NotAdjustedError:
            return None
        cost = tried.adjustment.chi_square - closed.adjustment.chi_square
        conditions = tried.adjustment.dof - closed.adjustment.dof
        scale = max(1.0, closed.closure.sigma0) ** 2
        return tried if conditions <= 0 or chdtrc(conditions, cost / scale) >= _ALLOWED else None


def _straight_seams(layout: Layout, closed: Closed) -> tuple[Line, ...]:
    """Where a seam bends by no more than measuring may: vertex and ends of its stretches, the least first.

    A bend of a tenth of a millimetre is nobody's plan, and would make a Y-seam of a straight one.
    """
    if any(any(bulges) for bulges in closed.bows.bulges.values()):
        return ()
    onward: dict[int, set[int]] = {}
    for _, _, ring in layout.pieces:
        for a, b in zip(ring, (*ring[1:], ring[0]), strict=True):
            onward.setdefault(a, set()).add(b)
            onward.setdefault(b, set()).add(a)
    x, covariance = closed.adjustment.parameters, closed.covariance
    held = {(v, *sorted((a, b))) for v, a, b in layout.meetings}
    able: list[tuple[float, Line, np.ndarray]] = []
    for v in closed.unknowns.orbits.kept:
        if layout.sides[v]:
            continue
        ends = sorted(onward.get(v, ()))
        for i, a in enumerate(ends):
            for b in ends[i + 1 :]:
                if (v, a, b) in held:
                    continue
                off, slope = closed.unknowns.in_line(x, v, a, b)
                ahead = (closed.vertices[a] - closed.vertices[v]) @ (closed.vertices[b] - closed.vertices[v])
                if abs(off) > _BENT_MM or ahead >= 0:
                    continue
                row = np.zeros(len(x))
                for column, value in slope.items():
                    row[column] = value
                sigma = max(float(row @ covariance @ row), 0.0) ** 0.5
                if sigma > _THERE_MM and abs(off) <= _SURELY * sigma:
                    able.append((abs(off) / sigma, (v, a, b), row))
    able.sort(key=lambda one: one[0])
    kept: list[Line] = []
    for _, line, row in able:
        spread = covariance @ row
        variance = float(row @ spread)
        if variance > _THERE_MM**2:
            kept.append(line)
            covariance = covariance - np.outer(spread, spread) / variance
    return tuple(kept)


def _all_corners(layout: Layout, closed: Closed, grid: float) -> tuple[Target, ...]:
    """Size and every vertex on the grid, each given those before it, where chance would not put them there."""
    if len(layout.outline.corners) != len(SQUARE.corners):
        return ()
    size = [Target(None, axis, 0.0) for axis in range(1 if closed.square else 2)]
    corners = [Target(None, axis, 0.0, vertex=v) for v in closed.unknowns.orbits.kept for axis in (0, 1)]
    x, covariance = closed.adjustment.parameters.copy(), closed.covariance.copy()
    kept: list[Target] = []
    chance = 0.0  # ln
    for target in size + corners:
        place, row = closed.unknowns.length(x, target)
        off = round(place / grid) * grid - place
        spread = covariance @ row
        variance = float(row @ spread)
        if variance <= _THERE_MM**2:  # held by others already
            if abs(off) > _NEAR_MM:
                return ()
            continue
        if abs(off) > _SURELY * variance**0.5:
            return ()
        chance += math.log(min(1.0, 2 * _SURELY * variance**0.5 / grid))
        kept.append(Target(target.template, target.edge, place + off, target.vertex))
        x = x + spread * off / variance
        covariance = covariance - np.outer(spread, spread) / variance
    return tuple(kept) if chance < math.log(_CHANCE) else ()


def _changes(templates: TemplateSet, before: Closed, after: Closed) -> Iterator[Snapped]:
    """Width, height, and every edge, as they were and as they are."""
    unknowns = before.unknowns
    lengths = [("width", Target(None, 0, 0.0)), ("height", Target(None, 1, 0.0))]
    for t in unknowns.templates:
        template = templates.templates[t]
        edges = range(len(template.finished_outline))
        lengths += [(f"{template.name}, edge {k + 1}", Target(t, k, 0.0)) for k in edges]
    for what, target in lengths:
        was, _ = unknowns.length(before.adjustment.parameters, target)
        now, _ = after.unknowns.length(after.adjustment.parameters, target)
        if target.template is not None:
            bulge = after.bows.bulges[target.template][target.edge]
            was, now = arc_length(was, bulge), arc_length(now, bulge)
        if abs(now - was) > _ON_GRID:
            yield Snapped(what, was, now)


def _targets(layout: Layout, closed: Closed, grid: float) -> tuple[Target, ...]:
    """What can be set, the size first, then the longest edges: each given those before it, in the linear model."""
    unknowns = closed.unknowns
    x, covariance = closed.adjustment.parameters.copy(), closed.covariance.copy()
    wanted: list[Target] = [Target(None, 0, 0.0), *([] if closed.square else [Target(None, 1, 0.0)])]
    edges = [Target(t, k, 0.0) for t in unknowns.templates for k in _along_sides(layout, t, closed)]
    edges.sort(key=lambda target: -unknowns.length(x, target)[0])
    if layout.outline.aspect not in (None, 1.0):
        wanted = wanted[:1]  # a hexagon's height follows from its width, and is on no grid
    kept: list[Target] = []
    for target in wanted + edges:
        length, row = unknowns.length(x, target)
        spread = covariance @ row
        variance = float(row @ spread)
        goal = round(length / grid) * grid
        if target.template is None:
            goal = _usual(length, _WITHIN * max(variance, 0.0) ** 0.5, grid)
        off = goal - length
        if variance <= _THERE_MM**2 or goal <= 0:
            continue
        if abs(off) > _WITHIN * variance**0.5:
            continue
        kept.append(Target(target.template, target.edge, goal))
        x = x + spread * off / variance
        covariance = covariance - np.outer(spread, spread) / variance
    return tuple(kept)


def _usual(length: float, reach: float, grid: float) -> float:
    """The whole, half, quarter or eighth of an inch (centimetre, inch, half centimetre) that a size may be.

    Else the nearest of the grid, which says which of the two. The likelier size is the rounder one: a block of
    11 15/16 in is nobody's plan, and where a size is known to 1/16 in only, each has some sixteenth within reach.
    """
    inches = abs(grid * 64 / INCH - round(grid * 64 / INCH)) < _ON_GRID
    for unit in _USUAL_INCH if inches else _USUAL_CM:
        goal = round(length / unit) * unit
        if goal > 0 and unit >= grid - _ON_GRID and abs(goal - length) <= reach:
            return goal
    return round(length / grid) * grid


def _along_sides(layout: Layout, t: int, closed: Closed) -> list[int]:
    """The edges of template t that lie along a side of the outline in some piece."""
    sides = edge_vectors(np.array([[z.real, z.imag] for z in layout.outline.at(*closed.size)]))
    found: set[int] = set()
    for template, over, corners in layout.pieces:
        if template != t:
            continue
        along = edge_vectors(closed.vertices[list(corners)])
        cross = along[:, :1] * sides[:, 1] - along[:, 1:] * sides[:, 0]
        sines = np.abs(cross) / np.hypot(*along.T)[:, None] / np.hypot(*sides.T)
        flat = np.flatnonzero(sines.min(axis=1) < np.sin(np.radians(_PARALLEL_DEG)))
        n = len(corners)
        found |= {n - 1 - int(k) if over else int(k) for k in flat}
    return sorted(k for k in found if not closed.bows.bulges[t][k])


def _moves(templates: TemplateSet, before: Closed, targets: tuple[Target, ...]) -> tuple[Snapped, ...]:
    moves = []
    for target in targets:
        was, _ = before.unknowns.length(before.adjustment.parameters, target)
        if target.template is None:
            what = ("width", "height")[target.edge]
        else:
            what = f"{templates.templates[target.template].name}, edge {target.edge + 1}"
        if abs(target.goal_mm - was) > _ON_GRID:
            moves.append(Snapped(what, was, target.goal_mm))
    return tuple(moves)
