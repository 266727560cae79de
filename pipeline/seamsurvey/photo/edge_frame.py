"""The frame of a graduated edge seen at a slant: from pixels to (number of the mark, height over the edge).

Mark k stands on (k, 0) and runs along y; both axes are in steps of the graduation. The map is the homography of a
flat ruler, of which the marks' feet fix the first and the third column, the marks' common vanishing point the
second up to its length, and the focal length that; the lens's bending is a smooth correction along the edge.
"""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

PERSPECTIVE_SIGMA = 0.3  # of the depth's relative change along half a comb: only holds short combs in bounds
FAN_SIGMA = 0.3  # likewise of the marks' vanishing point, over half a comb's length
BEND_MARKS = 40  # from so many marks on, the lens's bending is seen
GROSS = 4.0  # robust sigmas


@frozen(eq=False)
class Sight:
    """What is known of the camera beforehand, in the pixels of the level looked at."""

    middle_px: NDArray[np.float64]  # (2,) of the picture
    focal_px: float  # some tenths of it may be wrong: it only turns the marks' heights into steps


@frozen(eq=False)
class MarkLines:
    """Marks as lines, image px."""

    index: NDArray[np.intp]  # (n,) ascending
    feet: NDArray[np.float64]  # (n, 2) where each begins
    ways: NDArray[np.float64]  # (n, 2) unit vector, where it runs from there
    precision: NDArray[np.float64]  # (n,) one over the standard deviation of its direction, per radian


@frozen(eq=False)
class EdgeFrame:
    """``to_px`` is the (3, 3) homography from the frame to image px; the bends are what the lens adds."""

    to_px: NDArray[np.float64]
    bend_along: "np.polynomial.Polynomial"  # of the number: found minus true number
    bend_inward: "np.polynomial.Polynomial"  # of the number: height of the edge's line
    first: float
    last: float  # numbers between which the bends are known

    def numbers(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2): number of the mark and height, of (n, 2) image points."""
        flat = _apply(np.asarray(np.linalg.inv(self.to_px)), points_px)
        place = np.clip(flat[:, 0], self.first, self.last)
        return np.column_stack([flat[:, 0] - self.bend_along(place), flat[:, 1] - self.bend_inward(place)])

    def places(self, numbers: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) image points of (n, 2) places in the frame."""
        place = np.clip(numbers[:, 0], self.first, self.last)
        bent = np.column_stack([numbers[:, 0] + self.bend_along(place), numbers[:, 1] + self.bend_inward(place)])
        return _apply(self.to_px, bent)

    def step_at(self, number: float) -> float:
        """Px from one mark to the next there."""
        ends = self.places(np.array([[number - 0.5, 0.0], [number + 0.5, 0.0]]))
        return float(np.hypot(*(ends[1] - ends[0])))

    def scaled(self, factor: int) -> "EdgeFrame":
        """The same frame in the pixels of a picture ``factor`` times as fine (pixel centres are integers)."""
        shift = (factor - 1) / 2
        finer = np.array([[factor, 0.0, shift], [0.0, factor, shift], [0.0, 0.0, 1.0]])
        return EdgeFrame(finer @ self.to_px, self.bend_along, self.bend_inward, self.first, self.last)


def fit_frame(marks: MarkLines, sight: Sight) -> EdgeFrame:
    """The frame in which the marks stand at their numbers."""
    index, feet = marks.index, marks.feet
    half = max((index[-1] - index[0]) / 2, 1.0)
    centre = (index[-1] + index[0]) / 2
    k = (index - centre) / half
    origin = np.median(feet, axis=0)
    size = max(float(np.hypot(*(feet[-1] - feet[0]))) / 2, 1.0)
    q = (feet - origin) / size
    edge = _edge_columns(k, q)
    column = _mark_column(q, marks.ways, marks.precision)
    to_px = np.column_stack([edge[0], column, edge[1]])
    to_px = np.diag([size, size, 1.0]) @ to_px
    to_px[:2] += np.outer(origin, to_px[2])
    # The two axes have one unit of length on the ruler: seen through the camera, their columns are equally long.
    flat = to_px.copy()
    flat[:2] = (flat[:2] - np.outer(sight.middle_px, flat[2])) / sight.focal_px
    to_px[:, 1] *= np.linalg.norm(flat[:, 0]) / np.linalg.norm(flat[:, 1])
    to_px = to_px @ np.array([[1 / half, 0.0, -centre / half], [0.0, 1 / half, 0.0], [0.0, 0.0, 1.0]])
    nothing = np.polynomial.Polynomial([0.0])
    frame = EdgeFrame(to_px, nothing, nothing, float(index[0]), float(index[-1]))
    seen = frame.numbers(feet)
    degree = 4 if len(index) >= BEND_MARKS else 1
    along = _robust_polynomial(index, seen[:, 0] - index, degree)
    inward = _robust_polynomial(index, seen[:, 1], degree)
    return EdgeFrame(to_px, along, inward, float(index[0]), float(index[-1]))


def _edge_columns(
    k: NDArray[np.float64], q: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The first and third column: q (c k + 1) = a k + b, by least squares, outliers left out."""
    zero, one = np.zeros(len(k)), np.ones(len(k))
    rows = np.vstack(
        [
            np.column_stack([k, zero, one, zero, -k * q[:, 0]]),
            np.column_stack([zero, k, zero, one, -k * q[:, 1]]),
        ]
    )
    target = np.concatenate([q[:, 0], q[:, 1]])
    weight = np.ones(len(k))
    noise = 0.01
    for _ in range(4):
        w = np.tile(weight, 2)
        prior = np.array([[0, 0, 0, 0, noise / PERSPECTIVE_SIGMA]])
        solution = np.linalg.lstsq(np.vstack([rows * w[:, None], prior]), np.append(target * w, 0.0), rcond=None)[0]
        rest = np.hypot(*np.split(rows @ solution - target, 2))
        noise = max(1.4826 * float(np.median(rest)), 1e-6)
        weight = (rest <= GROSS * noise).astype(float)
    a_x, a_y, b_x, b_y, c = solution
    return np.array([a_x, a_y, c]), np.array([b_x, b_y, 1.0])


def _mark_column(
    q: NDArray[np.float64], ways: NDArray[np.float64], precision: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The second column, of any length: the point all marks run to."""
    normal = np.column_stack([-ways[:, 1], ways[:, 0]])
    mean = np.sum(ways * precision[:, None], axis=0)
    mean /= np.linalg.norm(mean)
    square = np.array([-mean[1], mean[0]])
    rows = np.column_stack([normal @ square, -np.sum(normal * q, axis=1)])
    target = -(normal @ mean)
    weight = precision.copy()
    for _ in range(4):
        prior = np.array([[0.0, 1 / FAN_SIGMA]])
        s, z = np.linalg.lstsq(
            np.vstack([rows * weight[:, None], prior]), np.append(target * weight, 0.0), rcond=None
        )[0]
        rest = np.abs(rows @ np.array([s, z]) - target) * precision
        weight = precision * (rest <= GROSS * max(1.4826 * float(np.median(rest)), 0.3))
    return np.append(mean + s * square, z)


def _robust_polynomial(
    index: NDArray[np.intp], value: NDArray[np.float64], degree: int
) -> "np.polynomial.Polynomial":
    good = np.ones(len(index), dtype=bool)
    for _ in range(4):
        fit = np.polynomial.Polynomial.fit(index[good], value[good], degree)
        rest = np.abs(value - fit(index))
        good = rest <= GROSS * max(1.4826 * float(np.median(rest)), 1e-3)
    return fit


def _apply(matrix: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    moved = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(moved[:, :2] / moved[:, 2:])
