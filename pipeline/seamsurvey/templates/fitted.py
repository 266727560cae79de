"""An edge as the line or the arc through its measured points, and how well it is known.

In the plane frame, in mm. A line's error is two numbers: its offset outwards at ``middle``, and its slope; an arc's
is three: the same, and how much more it is bent.
"""

import math
from collections.abc import Sequence

import attrs
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.curves import TOUCH_MM, Curve, bulge_between, meet
from seamsurvey.templates.wobble import CLEAR_SIGMAS, Wobble, estimate, evidence, line_design, whitened

Floats = NDArray[np.float64]

_TOUCH_SIGMAS = 1.5  # two edges cut by hand touch, when they overlap by no more than this times their wobble
_LEAST_FREEDOM = 4
_TURNS = 8  # of Gauss-Newton; from a rough arc two or three are enough


@frozen(kw_only=True)
class FittedEdge:
    """One edge: ``middle`` (2,) on it, ``along`` (2,) unit there, the card to the left (plane mm).

    ``bend`` is 0 for a line, else the arc's curvature, 1/mm, positive where it bulges out. ``places`` (n,) mm
    along it from ``middle`` and ``off`` (n,) mm outwards from it are the measured points, ``u`` (n,) one standard
    deviation of each, as its light shows it, ``weights`` (n,) what each counted for; ``own_bias_mm`` is one
    standard deviation of the whole edge's offset.
    """

    middle: Floats = field(eq=False, repr=False)
    along: Floats = field(eq=False, repr=False)
    places: Floats = field(eq=False, repr=False)
    off: Floats = field(eq=False, repr=False)
    weights: Floats = field(eq=False, repr=False)
    u: Floats = field(eq=False, repr=False)
    own_bias_mm: float = 0.0
    bend: float = 0.0
    drawn: bool = False  # by a person: nothing of it was measured

    @property
    def curve(self) -> Curve:
        """The whole line or circle."""
        return Curve(self.middle, self.along, self.bend)

    @property
    def points(self) -> Floats:
        """(m, 2) plane mm: the measured points that counted."""
        used = self.weights > 0
        if not self.bend:
            return np.asarray(
                self.middle + self.places[used, None] * self.along + self.off[used, None] * self.outward
            )
        on = self.curve.at(self.places[used])
        normals = (on - self.curve.centre) * self.bend
        return np.asarray(on + self.off[used, None] * normals)

    @property
    def rms(self) -> float:
        """How far the points that counted lie from it, mm, root mean square."""
        return float(np.sqrt(np.average(self.off**2, weights=self.weights)))

    @property
    def outward(self) -> Floats:
        """(2,) unit normal at ``middle``, away from the card."""
        return np.array([self.along[1], -self.along[0]])

    @property
    def design(self) -> Floats:
        """(n, 2 or 3): how far the measured places move outwards with each number of the error."""
        return arc_design(self.places, self.bend) if self.bend else line_design(self.places)

    def covariance(self, wobble: Wobble) -> Floats:
        """(2, 2) of offset (mm) and slope, of an arc (3, 3) with its bend, for points that wander like this.

        Where they clearly wander more than the picture's edges do, they wander by what they show themselves.
        """
        design = self.design
        gain = np.linalg.solve(design.T @ (design * self.weights[:, None]), (design * self.weights[:, None]).T)
        of_points = wobble.covariance(self.places) + np.diag(self.u**2)
        if (excess := self._excess(of_points)) > 1.0:
            used = self.weights > 0
            own = estimate([evidence(self.places[used], self.off[used], design[used])])
            alone = own.covariance(self.places) + np.diag(self.u**2)
            of_points = max(excess * of_points, alone, key=lambda each: float(np.sum(gain[0] @ each @ gain[0])))
        result = gain @ of_points @ gain.T
        result[0, 0] += self.own_bias_mm**2
        return np.asarray(result)

    def _excess(self, of_points: Floats) -> float:
        """How many times more than a covariance (n, n) says the points wander; 1 where that may be chance.

        The ratio of Birge (Physical Review 40, 1932, 207): weighted squares for each degree of freedom.
        """
        used = np.nonzero(self.weights > 0)[0]
        design = self.design[used]
        freedom = len(used) - design.shape[1]
        if freedom < _LEAST_FREEDOM:
            return 1.0
        ratio = float(whitened(of_points[np.ix_(used, used)], design, self.off[used])[-1, -1] ** 2) / freedom
        return ratio if ratio > 1 + CLEAR_SIGMAS * math.sqrt(2 / freedom) else 1.0

    def moved(self, error: Floats) -> "FittedEdge":
        """The edge with its numbers changed by these: (2,), of an arc (3,)."""
        curve = moved_curve(self.curve, error)
        return attrs.evolve(self, middle=curve.point, along=curve.along, bend=curve.bend)


def corners_of(edges: Sequence[FittedEdge], near: Floats | None = None) -> Floats:
    """(n, 2) plane mm: corner k is where edge k - 1 meets edge k; of two crossings the one ``near`` (n, 2).

    Without ``near``, which outlines of straight edges do not need, the one that the edges' points come closest to.
    ValueError when two do not meet.
    """
    if near is None:
        near = np.array([_between(edges[k - 1], edges[k]) for k in range(len(edges))])
    return np.array([corner_of(edges[k - 1], edges[k], near[k]) for k in range(len(edges))])


def corner_of(
    before: FittedEdge, after: FittedEdge, near: Floats, allowances: Sequence[float] = (0.0, 0.0)
) -> Floats:
    """(2,) plane mm: where two edges meet, with the allowance of each taken off; as ``corners_of``."""
    one, other = (edge.curve.parallel(-by) for edge, by in zip((before, after), allowances, strict=True))
    if not one.bend and not other.bend:
        return meet(one, other, near)
    return meet(one, other, near, max(TOUCH_MM, _TOUCH_SIGMAS * math.hypot(before.rms, after.rms)))


def _between(before: FittedEdge, after: FittedEdge) -> Floats:
    """(2,): between the last point of an edge and the first of the next."""
    if not before.bend and not after.bend:
        return before.middle
    return np.asarray((before.points[-1] + after.points[0]) / 2)


def bulges_of(edges: Sequence[FittedEdge], corners: Floats) -> tuple[float, ...]:
    """The bulge of each edge between its corners (n, 2); empty when all are straight."""
    if not any(edge.bend for edge in edges):
        return ()
    count = len(edges)
    return tuple(bulge_between(edge.curve, corners[k], corners[(k + 1) % count]) for k, edge in enumerate(edges))


def arc_design(places: Floats, bend: float) -> Floats:
    """(n, 3): how far an arc's points move outwards with its offset and slope in its middle, and with its bend.

    What a circle can do is to grow, and to shift: 1, sin and cos of the angle. These three span the same, and go
    over into a line's two, and the parabola, where the arc is flat.
    """
    turn = bend * places
    return np.column_stack([np.ones_like(places), np.sin(turn) / bend, 2 * np.sin(turn / 2) ** 2 / bend**2])


def moved_curve(curve: Curve, error: Floats) -> Curve:
    """The curve changed by offset and slope, of an arc also by what ``arc_design`` has for its bend."""
    if not curve.bend:
        along = curve.along + error[1] * curve.outward
        return Curve(curve.point + error[0] * curve.outward, along / np.hypot(*along))
    # offset + shift · n(turn) = e0 + e1 sin / bend + e2 (1 - cos) / bend², n = cos · outward + sin · along
    grown = error[0] + error[2] / curve.bend**2
    shift = error[1] / curve.bend * curve.along - error[2] / curve.bend**2 * curve.outward
    bend = curve.bend / (1 + curve.bend * grown)
    return Curve(curve.centre + shift + curve.outward / bend, curve.along, bend)


def fitted_arc(at: Floats, weights: Floats, start: Curve) -> Curve:
    """The circle with the least weighted squares of distances from points (n, 2), from a rough one on.

    ``point`` is in the points' middle. Geometric least squares by Gauss-Newton (Gander, Golub, Strebel 1994, 3).
    """
    curve = start
    for _ in range(_TURNS):
        middle = float(np.average(curve.places(at), weights=weights))
        curve = Curve(curve.at([middle])[0], _along(curve, middle), curve.bend)
        root = np.sqrt(weights)[:, None]
        design = arc_design(curve.places(at), curve.bend)
        change = np.asarray(np.linalg.lstsq(design * root, curve.off(at) * root[:, 0], rcond=None)[0], dtype=float)
        # A first step from a rough arc may not turn it inside out.
        change *= min(1.0, 0.5 / max(1e-12, abs(curve.bend * (change[0] + change[2] / curve.bend**2))))
        curve = moved_curve(curve, change)
        if np.abs(change * [1.0, 1.0, 1 / abs(curve.bend)]).max() < 1e-10:
            break
    return curve


def _along(curve: Curve, place: float) -> Floats:
    turn = curve.bend * place
    return np.asarray(math.cos(turn) * curve.along - math.sin(turn) * curve.outward)
