"""One adjustment of the whole block: measured templates in, pieces that tile the block exactly out.

Unknown: the true corners of every template, the errors that all measurements share, each piece's place and turn,
the block's vertices, its width and height. Observed: the measured corners, and 0 for the shared errors. Held: each
piece's corners on its vertices, T-meetings on their lines, the outline a rectangle (or a square), the symmetry. A
template's error is one unknown, however many copies the block takes.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from attrs import evolve
from numpy.typing import NDArray

from seamsurvey import geometry
from seamsurvey.adjustment import W_REJECT, Adjustment, NotAdjustedError, adjust
from seamsurvey.arcs import arc_length
from seamsurvey.block.bows import Bows, bows_of
from seamsurvey.block.outlines import SQUARE
from seamsurvey.block.search import Layout
from seamsurvey.block.shapes import Shapes
from seamsurvey.block.unknowns import Equal, Row, Target, Unknowns, add_to, value_of
from seamsurvey.model import Closure, EdgeFit, SuspectEdge, TemplateSet
from seamsurvey.plane import COVERAGE

Array = NDArray[np.float64]

_NEARLY_SQUARE = 0.02  # (W - H) / (W + H) below which the question is put at all
_SQUARE_W = 3.29  # width and height are one when they differ by less than this many standard deviations


@dataclass(frozen=True)
class Closed:
    """The closed layout. ``vertices`` (V, 2) mm, block frame, by the layout's vertex numbers; ``size`` (W, H).

    ``covariance`` is (u, u), of one standard deviation, of the unknowns as the misfit says.
    """

    vertices: Array
    size: tuple[float, float]
    size_u_mm: float
    square: bool
    closure: Closure
    p_value: float
    suspect_w: float  # of the suspect edge; 0 where there is none
    mended: TemplateSet | None  # the templates with the suspect edge set right
    adjustment: Adjustment
    covariance: Array
    unknowns: Unknowns
    bows: Bows


def close(
    templates: TemplateSet,
    shapes: Shapes,
    layout: Layout,
    square: bool | None = None,
    targets: tuple[Target, ...] = (),
    equals: tuple[Equal, ...] = (),
    straights: tuple[tuple[int, int, int], ...] = (),
) -> Closed:
    """Adjust a layout. ``square`` None: square if width and height agree within their uncertainty.

    ``targets`` are lengths to be held as well, ``equals`` edges to be made equal,
    ``straights`` vertices to be put on the line from a vertex to another.

    Raises ``adjustment.NotAdjustedError`` when the layout contradicts itself: a vertex taken for another.
    """
    corners = {v for _, _, vertices in layout.pieces for v in vertices}
    if any(v not in corners for meeting in layout.meetings for v in meeting):
        raise NotAdjustedError("a piece's corner was taken for a place on an edge that is itself a corner")
    unknowns = Unknowns(templates, shapes, layout)
    rules = _Rules(unknowns, targets, equals, straights)
    if square is None and rules.may_be_square:
        free = _solve(unknowns, rules, square=False)
        w, h = unknowns.size
        difference = free.parameters[w] - free.parameters[h]
        spread = _as_misfit_says(free.covariance, unknowns.shared, free.sigma0)
        variance = max(0.0, spread[w, w] + spread[h, h] - 2 * spread[w, h])
        square = bool(abs(difference) <= _SQUARE_W * variance**0.5 + 1e-9)
    square = bool(square) and rules.may_be_square
    result = _solve(unknowns, rules, square)
    vertices = _exact_sides(unknowns, result)
    w, h = unknowns.size
    width, height = float(result.parameters[w]), float(result.parameters[h])
    suspicion = _suspect(templates, unknowns, result)
    bows = bows_of(templates, shapes, layout)
    closure = _closure(unknowns, vertices, result, suspicion.edges, bows)
    covariance = _as_misfit_says(result.covariance, unknowns.shared, closure.sigma0)
    return Closed(
        vertices=vertices,
        size=(width, width if square else height),
        size_u_mm=float(COVERAGE * max(covariance[w, w], covariance[h, h]) ** 0.5),
        square=square,
        closure=closure,
        p_value=closure.p_value,
        suspect_w=suspicion.w,
        mended=suspicion.mended,
        adjustment=result,
        covariance=covariance,
        unknowns=unknowns,
        bows=bows,
    )


class _Rules:
    """The constraints: values that must be 0 and their Jacobian, one row after the other."""

    def __init__(
        self,
        unknowns: Unknowns,
        targets: tuple[Target, ...],
        equals: tuple[Equal, ...],
        straights: tuple[tuple[int, int, int], ...],
    ) -> None:
        self._targets, self._equals, self._straights = targets, equals, straights
        self.unknowns, self.layout, self.orbits = unknowns, unknowns.layout, unknowns.orbits
        w, h = self.layout.size
        box = len(self.layout.outline.corners) == len(SQUARE.corners)
        self.may_be_square = box and abs(w - h) < _NEARLY_SQUARE * (w + h)

    def __call__(self, x: Array, square: bool) -> tuple[Array, Array]:
        rows = [*self._corners(x), *self._meetings(x), *self._sides(), *self._symmetry()]
        w, h = self.unknowns.size
        aspect = self.layout.outline.aspect
        if square:
            rows.append((None, {w: 1.0, h: -1.0}))
        elif aspect and not self.may_be_square:
            rows.append((None, {w: aspect, h: -1.0}))
        for target in self._targets:
            length, slope = self.unknowns.length(x, target)
            rows.append((length - target.goal_mm, {int(k): float(slope[k]) for k in np.flatnonzero(slope)}))
        for equal in self._equals:
            one, slope = self.unknowns.length(x, Target(equal.template, equal.edge, 0.0))
            other, away = self.unknowns.length(x, Target(equal.template, equal.other, 0.0))
            slope = slope - away
            rows.append((one - other, {int(k): float(slope[k]) for k in np.flatnonzero(slope)}))
        jacobian = np.zeros((len(rows), len(x)))
        for r, (_, row) in enumerate(rows):
            for column, value in row.items():
                jacobian[r, column] += value
        linear = jacobian @ x
        values = [linear[r] if value is None else value for r, (value, _) in enumerate(rows)]
        return np.array(values), jacobian

    def _corners(self, x: Array) -> Iterator[Row]:
        for p in self.orbits.pieces:
            for k in range(len(self.layout.pieces[p][2])):
                yield from self.unknowns.corner_on_vertex(x, p, k)

    def _meetings(self, x: Array) -> Iterator[Row]:
        for m in self.orbits.meetings:
            yield self.unknowns.in_line(x, *self.layout.meetings[m])
        for straight in self._straights:
            yield self.unknowns.in_line(x, *straight)

    def _sides(self) -> Iterator[Row]:
        w, h = self.unknowns.size
        for v in self.orbits.kept:
            px, py = self.unknowns.vertex[v]
            for side, (a, b, along_w, along_h) in enumerate(self.layout.outline.sides):
                if self.layout.sides[v] & 1 << side:
                    yield None, {px: a, py: b, w: -along_w, h: -along_h}

    def _symmetry(self) -> Iterator[Row]:
        for image in self.orbits.fixed:
            for own, part in zip(self.unknowns.vertex[image.of], self.unknowns.image(image), strict=True):
                row = {own: 1.0}
                add_to(row, part, -1.0)
                yield None, row


def _solve(unknowns: Unknowns, rules: _Rules, square: bool) -> Adjustment:
    return adjust(
        unknowns.start(),
        unknowns.predict,
        unknowns.observed,
        unknowns.covariance,
        constrain=lambda x: rules(x, square),
    )


def _as_misfit_says(covariance: Array, shared: slice, sigma0: float) -> Array:
    """The unknowns' covariance (u, u) where the pieces miss one another by ``sigma0`` times what was stated.

    Their own errors are then so much larger. What all of them share, the scale above all, lets every piece fit as
    before: no misfit tells of it. The adjusted unknowns move with the observations as covariance · design' ·
    weight, and with the shared errors, each observed by itself as 0 ± 1, as the covariance's columns of these.
    """
    of_shared = covariance[:, shared] @ covariance[shared]
    return np.asarray(of_shared + max(1.0, sigma0) ** 2 * (covariance - of_shared))


def _exact_sides(unknowns: Unknowns, result: Adjustment) -> Array:
    """(V, 2) adjusted vertices, those on the block's sides exactly there."""
    x = result.parameters
    w, h = unknowns.size
    vertices = np.full((len(unknowns.layout.at), 2), np.nan)
    for v in unknowns.orbits.vertex:
        vertices[v] = [value_of(x, part) for part in unknowns.place(v)]
        for side, (a, b, along_w, along_h) in enumerate(unknowns.layout.outline.sides):
            if unknowns.layout.sides[v] & 1 << side and a * b == 0:
                vertices[v, 0 if b == 0 else 1] = along_w * x[w] + along_h * x[h]
    return vertices


def _closure(
    unknowns: Unknowns, vertices: Array, result: Adjustment, suspects: tuple[SuspectEdge, ...], bows: Bows
) -> Closure:
    """Lay the measured templates on their adjusted places; the gaps are between corners that should be one."""
    laid: dict[int, list[complex]] = {}
    offs = []
    for t, over, corners in unknowns.layout.pieces:
        measured = unknowns.measured(t, over)
        place = vertices[list(corners)] @ np.array([1, 1j])
        z, target = measured - measured.mean(), place - place.mean()
        turn = np.vdot(z, target)
        fitted = place.mean() + z * turn / abs(turn)
        offs += list(np.abs(fitted - place))
        for v, corner in zip(corners, fitted, strict=True):
            laid.setdefault(v, []).append(complex(corner))
    sigma0, p_value, dof = result.sigma0, result.p_value, result.dof
    if bows.conditions:
        sigma0, p_value, dof = bows.with_corners(result.chi_square, result.dof)
    gaps = [abs(a - b) for group in laid.values() for a in group for b in group]
    return Closure(
        worst_gap_mm=max(gaps, default=0.0),
        rms_mm=float(np.sqrt(np.mean(np.square(offs)))),
        sigma0=sigma0,
        suspect_edges=(*suspects, *bows.suspects),
        p_value=p_value,
        conditions=dof,
        edges=_edge_fits(unknowns, result, bows),
    )


def _edge_fits(unknowns: Unknowns, result: Adjustment, bows: Bows) -> tuple[EdgeFit, ...]:
    fits = []
    for t in unknowns.templates:
        bulges = unknowns.shapes.face(t, False).bulges
        for k, chord in enumerate(geometry.edge_lengths(unknowns.outline(t))):
            length = arc_length(float(chord), bulges[k])
            adjusted_chord, _ = unknowns.length(result.parameters, Target(t, k, 0.0))
            adjusted = arc_length(adjusted_chord, bows.bulges[t][k])
            fits.append(EdgeFit(unknowns.shapes.names[t], k, length, adjusted, length - adjusted))
    return tuple(fits)


def _others_agree(unknowns: Unknowns, result: Adjustment, error: Array, t: int, edge: int) -> float:
    """Root mean square, mm, of the other edges' length residuals once one error is taken out."""
    residuals = result.cleared(error)
    squares = []
    for u in unknowns.templates:
        n = len(unknowns.outline(u))
        for k in range(n):
            if (u, k) != (t, edge):
                _, slope = unknowns.length(result.parameters, Target(u, k, 0.0))
                squares.append(float(slope[: len(residuals)] @ residuals) ** 2)
    return math.sqrt(float(np.mean(squares)))


@dataclass(frozen=True)
class _Suspicion:
    """The edge that data snooping names, if any; its w; the templates with that error taken out."""

    edges: tuple[SuspectEdge, ...] = ()
    w: float = 0.0
    mended: TemplateSet | None = None


def _suspect(templates: TemplateSet, unknowns: Unknowns, result: Adjustment) -> _Suspicion:
    """Test every edge: one blunder at a time (Baarda 1968).

    An edge is suspected of being long or short by its first corner, by its second, or by both alike. The text
    counts edges from 1.
    """
    worst_w, worst = W_REJECT, None
    for t in unknowns.templates:
        outline = unknowns.measured(t, False)
        n = len(outline)
        for k in range(n):
            along = outline[(k + 1) % n] - outline[k]
            along /= abs(along)
            for back, front in ((0.0, 1.0), (1.0, 0.0), (0.5, 0.5)):
                moves = np.zeros(n, dtype=complex)
                moves[k], moves[(k + 1) % n] = -back * along, front * along
                test = result.snoop(unknowns.error(t, moves))
                if abs(test.w) > worst_w:
                    worst_w, worst = abs(test.w), (t, k, test.size, moves)
    if worst is None:
        return _Suspicion()
    t, k, size, moves = worst
    template = templates.templates[t]
    word = "long" if size > 0 else "short"
    agree = _others_agree(unknowns, result, unknowns.error(t, moves), t, k)
    text = (
        f"{template.name}, edge {k + 1} is {abs(size):.1f} mm {word} against its neighbours; "
        f"the others agree to {agree:.1f} mm."
    )
    mended = template.finished_outline - size * np.column_stack([moves.real, moves.imag])
    others = templates.templates
    return _Suspicion(
        (SuspectEdge(template.name, k, float(size), text),),
        worst_w,
        evolve(templates, templates=(*others[:t], evolve(template, finished_outline=mended), *others[t + 1 :])),
    )
