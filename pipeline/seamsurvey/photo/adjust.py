"""One robust adjustment: camera, table, and where every reference lies on it, from all their observations.

Unknowns are the eight parameters of `seamsurvey.camera` and, for each reference, where its own frame lies on the
table (turn, x, y), its scale, its two directions' difference in it and their angle, its height, and its unknown
offsets. A point's residual is its distance in the picture, in px, from where its reference says it should be, to
first order (P. D. Sampson, Fitting conic sections to "very scattered" data, Computer Graphics and Image Processing
18, 1982). Levenberg's damping (1944) carries the start in; Tukey's biweight (A. E. Beaton, J. W. Tukey,
Technometrics 16, 1974) takes the weight from what does not belong.
"""

import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey import camera
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed

Array = NDArray[np.float64]

# Of a reference, after the camera's parameters; its unknown offsets follow.
TURN, X, Y, LOG_SCALE, LOG_ASPECT, SHEAR, HEIGHT = range(7)
OWN = 7

TUKEY = 4.685  # 95 % efficiency on normal errors
LEAST_SPREAD = 0.3  # of the residuals in sigmas: weights must not sharpen for ever on very good points
ITERATIONS = 30
DONE = 1e-2  # a step's size in standard deviations of each unknown: far below what any result shows
AT_REST = 1.0  # what the last step may still have promised, in chi-square: a flat valley is no contradiction
ROUNDS = 15  # of new weights
SAME_WEIGHT = 0.02
_STEPS = np.array([1e-5, 1e-3, 1e-3, 1e-5, 1e-5, 1e-5, 1e-3])
_EDGE_STEP = 1e-3
_TIGHT = 1e-6  # a known height is not exactly known, so that the equations stay regular


class NoCameraError(ValueError):
    """No camera explains the observations: they contradict one another, or the start was too far off."""


@frozen(eq=False)
class Prior:
    """What is known of the camera beforehand: (8,) parameters and their standard deviations (inf = nothing)."""

    theta: Array
    sigma: Array


@frozen(eq=False)
class Fit:
    """The result.

    ``covariance`` is (8 + all references' unknowns) square, inflated where the residuals are larger than they
    should be; ``theta`` and the first 8 rows are the camera's. ``residuals_px`` and ``weights`` are of each
    reference in turn; ``sigma0`` is 1 where the stated errors are right.
    """

    theta: Array
    unknowns: Array
    covariance: Array
    starts: tuple[int, ...]  # where each reference's unknowns begin
    residuals_px: tuple[Array, ...]
    gains: tuple[Array, ...]  # px of the picture for a millimetre of misplacement, at each point
    weights: tuple[Array, ...]
    sigma0: float

    @property
    def camera_covariance(self) -> Array:
        """(8, 8)."""
        return self.covariance[:8, :8]

    def own(self, reference: int) -> Array:
        """The unknowns of one reference: TURN, X, Y, LOG_SCALE, LOG_ASPECT, SHEAR, HEIGHT, then its offsets."""
        end = self.starts[reference + 1] if reference + 1 < len(self.starts) else len(self.unknowns)
        return self.unknowns[self.starts[reference] : end]


def adjust(size_px: tuple[int, int], observed: Sequence[Observed], prior: Prior, start: Array) -> Fit:
    """Adjust everything at once.

    ``start`` (8,) must have the tilt right to some ten degrees (``first_camera``). Raises NoCameraError when the
    iteration does not come to rest.
    """
    return _Problem(size_px, tuple(observed), prior).solve(start)


def first_camera(size_px: tuple[int, int], observed: Observed, focal_px: float) -> Array:
    """(8,) a start for ``adjust`` from the rough homography of one reference.

    The images of its frame's two directions at infinity are the camera's view along them; with the focal length
    known, the table's normal is square to both.
    """
    back = np.linalg.inv(observed.rough)
    middle = camera.middle(size_px)
    views = np.column_stack([back[:2, :2].T - back[2, :2, None] * middle, focal_px * back[2, :2]])
    down = np.cross(views[0] / np.linalg.norm(views[0]), views[1] / np.linalg.norm(views[1]))
    down *= np.sign(down[2]) / np.linalg.norm(down)
    angle = math.acos(min(1.0, float(down[2])))
    share = float(np.sinc(angle / np.pi))
    theta = camera.parameters(focal_px, 1.0, (-down[1] / share, down[0] / share))
    own = np.column_stack([observed.points_px, np.ones(len(observed.points_px))]) @ observed.rough.T
    seen = camera.to_table(theta, observed.points_px, size_px)
    height = _spread(own[:, :2] / own[:, 2:]) / _spread(seen)
    return np.asarray(theta + np.eye(8)[camera.LOG_HEIGHT] * math.log(height))


@frozen(eq=False, slots=False)
class _Problem:
    size_px: tuple[int, int]
    observed: tuple[Observed, ...]
    prior: Prior

    @cached_property
    def starts(self) -> tuple[int, ...]:
        lengths = [8, *(OWN + o.edges for o in self.observed[:-1])]
        return tuple(int(n) for n in np.cumsum(lengths))

    @cached_property
    def count(self) -> int:
        return self.starts[-1] + OWN + self.observed[-1].edges

    @cached_property
    def cuts(self) -> NDArray[np.intp]:
        return np.cumsum([0, *(len(o.points_px) for o in self.observed)])

    @cached_property
    def steps(self) -> Array:
        own = [np.concatenate([_STEPS, np.full(o.edges, _EDGE_STEP)]) for o in self.observed]
        return np.concatenate([camera.STEPS, *own])

    @cached_property
    def priors(self) -> tuple[NDArray[np.intp], Array, Array]:
        """Which unknowns have a prior, its value, its standard deviation."""
        places, values, sigmas = list(range(8)), list(self.prior.theta), list(self.prior.sigma)
        for o, begin in zip(self.observed, self.starts, strict=True):
            places += [begin + LOG_SCALE, begin + LOG_ASPECT, begin + SHEAR, begin + HEIGHT]
            values += [0.0, 0.0, 0.0, o.height_mm]
            sigmas += [
                o.scale_sigma,
                *(max(s, _TIGHT) for s in (o.aspect_sigma, o.square_sigma, o.height_sigma_mm)),
            ]
            for axis in (ALONG, ACROSS):
                edges = o.edge[o.axis == axis]
                if len(edges) and not np.any(edges == KNOWN):
                    # Nothing says where the frame's zero is in this direction: it is at the first of the lines.
                    places.append(begin + OWN + int(edges.min()))
                    values.append(0.0)
                    sigmas.append(_TIGHT)
        known = np.isfinite(sigmas)
        return np.array(places)[known], np.array(values)[known], np.array(sigmas)[known]

    # --- the model ---

    def first_guess(self, theta: Array) -> Array:
        """All unknowns, each reference laid on the table by its rough homography."""
        unknowns = [theta]
        for o in self.observed:
            table = camera.to_table(theta, o.points_px, self.size_px, o.height_mm)
            own = np.column_stack([o.points_px, np.ones(len(o.points_px))]) @ o.rough.T
            own = own[:, :2] / own[:, 2:]
            log_scale = 0.0
            if not math.isfinite(o.scale_sigma):
                log_scale = math.log(_spread(own) / _spread(table))
                table = table * math.exp(log_scale)
            turn, shift = _rigid(own, table)
            offsets = [
                float(np.median(_own_frame(table, turn, *shift)[o.edge == k, o.axis[o.edge == k][0]]))
                - float(o.nominal_mm[o.edge == k][0])
                for k in range(o.edges)
            ]
            place = shift * math.exp(-log_scale)
            unknowns.append(np.array([turn, *place, log_scale, 0.0, 0.0, o.height_mm, *offsets]))
        return np.concatenate(unknowns)

    def misplaced(self, unknowns: Array, which: int, points_px: Array) -> Array:
        """(m,) mm in the reference's own frame: where points lie minus where they should."""
        return self._off(unknowns, which, self._table(unknowns, which, points_px))

    def _table(self, unknowns: Array, which: int, points_px: Array) -> Array:
        """(m, 2) mm: where points lie on the table, seen at the reference's height."""
        return camera.to_table(unknowns[:8], points_px, self.size_px, unknowns[self.starts[which] + HEIGHT])

    def _off(self, unknowns: Array, which: int, table: Array) -> Array:
        """(m,) mm in the reference's own frame: how far table points lie from where they should."""
        o, begin = self.observed[which], self.starts[which]
        own = unknowns[begin : begin + OWN + o.edges]
        half = own[LOG_ASPECT] / 2
        scales = np.exp(own[LOG_SCALE] + np.array([half, -half]))
        frame = scales * _own_frame(table, own[TURN], own[X], own[Y])
        frame[:, 0] += own[SHEAR] * frame[:, 1]
        offsets = np.append(own[OWN:], 0.0)  # KNOWN = -1 takes the 0 at the end
        return np.asarray(frame[np.arange(len(frame)), o.axis] - o.nominal_mm - offsets[o.edge])

    def gains(self, unknowns: Array) -> Array:
        """(all points,) px of picture for a millimetre of misplacement, square to the point's line."""
        result = []
        for which, o in enumerate(self.observed):
            slopes = [
                self.misplaced(unknowns, which, o.points_px + half)
                - self.misplaced(unknowns, which, o.points_px - half)
                for half in (np.array([0.5, 0.0]), np.array([0.0, 0.5]))
            ]
            result.append(1 / np.hypot(*slopes))
        return np.concatenate(result)

    def residuals(self, unknowns: Array, gains: Array) -> Array:
        """(all points,) in standard deviations."""
        apart = [self.misplaced(unknowns, k, o.points_px) for k, o in enumerate(self.observed)]
        return np.asarray(np.concatenate(apart) * gains / self.sigmas(gains))

    def sigmas(self, gains: Array) -> Array:
        """(all points,) px: of the point itself, and of the mark it lies on."""
        points = np.concatenate([o.sigma_px for o in self.observed])
        return np.asarray(np.hypot(points, self.mark_sigmas_mm * gains))

    @cached_property
    def mark_sigmas_mm(self) -> Array:
        """(all points,): a mark's n points share its error, so each counts as if it were the root of n larger."""
        parts = []
        for o in self.observed:
            _, place, count = np.unique(o.mark, return_inverse=True, return_counts=True)
            parts.append(o.mark_sigma_mm * np.sqrt(count[place]))
        return np.concatenate(parts)

    def jacobian(self, unknowns: Array, gains: Array) -> Array:
        """(all points, unknowns): central differences; a reference's unknowns touch only its own points."""
        scale = gains / self.sigmas(gains)
        result = np.zeros((len(gains), self.count))
        ends = [*self.starts[1:], self.count]
        for which, o in enumerate(self.observed):
            rows = slice(self.cuts[which], self.cuts[which + 1])
            here = self._table(unknowns, which, o.points_px)
            seen_from = (*range(8), self.starts[which] + HEIGHT)  # what moves the points on the table
            for k in (*range(8), *range(self.starts[which], ends[which])):
                move = np.zeros(self.count)
                move[k] = self.steps[k]
                ahead, behind = (
                    self._off(moved, which, self._table(moved, which, o.points_px) if k in seen_from else here)
                    for moved in (unknowns + move, unknowns - move)
                )
                result[rows, k] = (ahead - behind) / (2 * self.steps[k]) * scale[rows]
        return result

    # --- the solution ---

    def solve(self, start: Array) -> Fit:
        weights = np.ones(int(self.cuts[-1]))
        unknowns, _ = self._descend(self.first_guess(start), weights)
        for _ in range(ROUNDS):
            before, weights = weights, _biweight(self.residuals(unknowns, self.gains(unknowns)))
            unknowns, promised = self._descend(unknowns, weights)
            if promised < AT_REST and np.max(np.abs(weights - before)) < SAME_WEIGHT:
                break
        if promised > AT_REST:
            raise NoCameraError(f"no rest after {ROUNDS} rounds")
        gains = self.gains(unknowns)
        residuals = self.residuals(unknowns, gains)
        redundant = max(1.0, float(weights.sum()) + len(self.priors[0]) - self.count)
        sigma0 = math.sqrt(float(weights @ residuals**2) / redundant)
        in_px = residuals * self.sigmas(gains)
        parts = [slice(a, b) for a, b in zip(self.cuts[:-1], self.cuts[1:], strict=True)]
        return Fit(
            theta=unknowns[:8],
            unknowns=unknowns,
            covariance=_inverse(self._normal(self.jacobian(unknowns, gains), weights)) * max(1.0, sigma0**2),
            starts=self.starts,
            residuals_px=tuple(in_px[part] for part in parts),
            gains=tuple(gains[part] for part in parts),
            weights=tuple(weights[part] for part in parts),
            sigma0=sigma0,
        )

    def _normal(self, jacobian: Array, weights: Array) -> Array:
        places, _, sigmas = self.priors
        normal = (jacobian * weights[:, None]).T @ jacobian
        normal[places, places] += 1 / sigmas**2
        return normal

    def _cost(self, unknowns: Array, gains: Array, weights: Array) -> float:
        places, values, sigmas = self.priors
        residuals = self.residuals(unknowns, gains)
        if not np.all(np.isfinite(residuals)):
            return math.inf
        return float(weights @ residuals**2) + float(np.sum(((values - unknowns[places]) / sigmas) ** 2))

    def _descend(self, unknowns: Array, weights: Array) -> tuple[Array, float]:
        """Unknowns of smaller cost, and what the last step had promised to take from it."""
        places, values, sigmas = self.priors
        damping = 1e-3
        gains = self.gains(unknowns)  # held, so that the cost is one and the same function while it falls
        for _ in range(ITERATIONS):
            residuals = self.residuals(unknowns, gains)
            before = self._cost(unknowns, gains, weights)
            if not math.isfinite(before):
                raise NoCameraError("a point lies above the horizon")
            jacobian = self.jacobian(unknowns, gains)
            normal = self._normal(jacobian, weights)
            pull = -(jacobian * weights[:, None]).T @ residuals
            pull[places] += (values - unknowns[places]) / sigmas**2
            root = 1 / np.sqrt(np.diag(normal))
            scaled = normal * np.outer(root, root)
            for _ in range(10):
                step = root * np.linalg.solve(scaled + damping * np.eye(self.count), root * pull)
                if self._cost(unknowns + step, gains, weights) <= before * (1 + 1e-12):
                    damping = max(damping / 30, 1e-12)
                    break
                damping *= 10
            else:
                return unknowns, 0.0  # at rest to rounding
            unknowns = unknowns + step
            if step @ pull < DONE**2:  # no unknown then moves by more, in its own standard deviations
                break
        return unknowns, float(step @ pull)


def _inverse(normal: Array) -> Array:
    """The inverse of a normal matrix whose unknowns have very different sizes."""
    root = 1 / np.sqrt(np.diag(normal))
    return np.asarray(np.linalg.inv(normal * np.outer(root, root)) * np.outer(root, root))


def _biweight(residuals: Array) -> Array:
    spread = max(1.4826 * float(np.median(np.abs(residuals))), LEAST_SPREAD)
    return np.asarray(np.clip(1 - (residuals / (TUKEY * spread)) ** 2, 0.0, None) ** 2)


def _spread(points: Array) -> float:
    """Root mean square distance from their middle; points beyond the horizon (nan) do not count."""
    return float(np.sqrt(np.nanvar(points, axis=0).sum()))


def _own_frame(table: Array, turn: float, x: float, y: float) -> Array:
    cosine, sine = math.cos(turn), math.sin(turn)
    return np.asarray((table - [x, y]) @ np.array([[cosine, -sine], [sine, cosine]]))


def _rigid(own: Array, table: Array) -> tuple[float, Array]:
    """Turn and shift that lay the own frame on the table (W. Kabsch, Acta Cryst. A32, 1976, in the plane)."""
    a, b = own - own.mean(axis=0), table - table.mean(axis=0)
    turn = math.atan2(float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])), float(np.sum(a * b)))
    cosine, sine = math.cos(turn), math.sin(turn)
    shift = table.mean(axis=0) - np.array([[cosine, -sine], [sine, cosine]]) @ own.mean(axis=0)
    return turn, shift
