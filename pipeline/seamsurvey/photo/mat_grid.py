"""A square grid seen by a camera whose lens bends lines: from pixels to numbers of squares, and back."""

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey import camera

Array = NDArray[np.float64]

LENSES = np.geomspace(0.5, 8.0, 120)  # focal lengths tried, in half diagonals: 11 to 170 mm equivalent
MAX_STEPS, STILL_PX = 20, 1e-4  # of the fit; the largest rms move of a line at which it has settled
LENS_STEP = 1e-5  # of a difference quotient


@frozen(eq=False)
class Grid:
    """``matrix`` (3, 3) leads from straightened px, in half diagonals about the picture's middle, to squares.

    Squares: the number of steps along x and y of the grid's own frame. ``lens``: k1, k2 of the division model.
    """

    matrix: Array
    lens: tuple[float, float]
    size_px: tuple[int, int]

    def _theta(self) -> Array:
        return camera.parameters(1.0, 1.0, k1=self.lens[0], k2=self.lens[1])

    def _flat(self, points_px: Array) -> Array:
        straight = camera.straightened(self._theta(), points_px, self.size_px)
        flat = (straight - camera.middle(self.size_px)) / camera.half_diagonal(self.size_px)
        return np.column_stack([flat, np.ones(len(flat))])

    def to_squares(self, points_px: Array) -> Array:
        """(n, 2) squares of image points; nan behind the horizon."""
        mapped = self._flat(points_px) @ self.matrix.T
        depth = np.where(mapped[:, 2] > 0, mapped[:, 2], np.nan)
        return np.asarray(mapped[:, :2] / depth[:, None])

    def slopes(self, points_px: Array) -> Array:
        """(n, 2, 2): how squares (first axis) move with px (second axis), the lens's stretch left out."""
        mapped = self._flat(points_px) @ self.matrix.T
        squares = mapped[:, :2] / mapped[:, 2:]
        slope = self.matrix[None, :2, :2] - squares[:, :, None] * self.matrix[None, 2:, :2]
        return np.asarray(slope / mapped[:, 2, None, None] / camera.half_diagonal(self.size_px))

    def to_image(self, squares: Array) -> Array:
        """(n, 2) px of places on the grid."""
        mapped = np.column_stack([squares, np.ones(len(squares))]) @ np.linalg.inv(self.matrix).T
        flat = mapped[:, :2] / mapped[:, 2:] * camera.half_diagonal(self.size_px) + camera.middle(self.size_px)
        return camera.bent(self._theta(), flat, self.size_px)

    def off_px(self, points_px: Array, axis: NDArray[np.intp], number: Array) -> Array:
        """(n,) px: how far points lie from their lines, square to them."""
        row = np.arange(len(axis))
        steep = np.linalg.norm(self.slopes(points_px)[row, axis], axis=1)
        return np.asarray((self.to_squares(points_px)[row, axis] - number) / steep)

    def renumbered(self, turn: Array) -> "Grid":
        """The grid with its squares counted anew: ``turn`` (3, 3) leads from the old squares to the new."""
        return Grid(_scaled(turn @ self.matrix), self.lens, self.size_px)

    def homography(self, step_mm: float) -> Array:
        """(3, 3) from image px to mm of the grid's own frame, the lens left out."""
        unit, middle = camera.half_diagonal(self.size_px), camera.middle(self.size_px)
        flat = np.array([[1 / unit, 0, -middle[0] / unit], [0, 1 / unit, -middle[1] / unit], [0, 0, 1]])
        result = np.diag([step_mm, step_mm, 1]) @ self.matrix @ flat
        return np.asarray(result / result[2, 2])

    def unsquare(self) -> float:
        """How far the squares are from square in the camera that flatters them most, as a share of their side."""
        return _unsquare(self.matrix, 1.0)

    def side_ratio(self, ratios: tuple[float, ...]) -> float:
        """Of the ratios of a square's height to its width, the one that fits a camera best."""
        return min(ratios, key=lambda ratio: _unsquare(self.matrix, ratio))


def _scaled(matrix: Array) -> Array:
    return np.asarray(matrix / matrix[2, 2])


def _unsquare(matrix: Array, ratio: float) -> float:
    right, up = np.linalg.inv(matrix).T[:2]
    up = up / ratio
    weights = np.column_stack([1 / LENSES**2, 1 / LENSES**2, np.ones(len(LENSES))])
    both, one, other = weights @ (right * up), weights @ right**2, weights @ up**2
    return float(np.sqrt(np.min(((2 * both) ** 2 + (one - other) ** 2) / (one + other) ** 2)))


def fit_grid(
    start: Grid, points_px: Array, axis: NDArray[np.intp], number: Array, *,
    terms: int, soft_px: float, weight: Array | None = None,
) -> Grid:  # fmt: skip
    """The grid whose lines pass best by the points, with that many lens terms (0 to 2).

    ``axis[j]``: 0 when point j lies on a line x = ``number[j]``, 1 when y = ``number[j]``; a residual well beyond
    ``soft_px`` counts little (soft L1). Gauss and Newton's steps, weighted anew at each.
    """
    weight = np.ones(len(axis)) if weight is None else weight
    grid = start
    for _ in range(MAX_STEPS):
        off, slope = _linearised(grid, points_px, axis, number, terms)
        known = np.isfinite(off) & np.isfinite(slope).all(axis=1)
        if known.sum() < 2 * slope.shape[1]:
            break  # the lines have run over the horizon: what is found so is no grid
        share = weight[known] / (1 + (off[known] / soft_px) ** 2) ** 0.25
        scaled = slope[known] * share[:, None]
        size = np.maximum(np.linalg.norm(scaled, axis=0), 1e-12)
        even = scaled / size
        # Ten unknowns of like size from thousands of points: the normal equations are sound, and quick.
        step = np.linalg.lstsq(even.T @ even, -even.T @ (off[known] * share), rcond=1e-12)[0] / size
        values = np.append(grid.matrix.ravel()[:8] + step[:8], 1.0)
        lens = np.array(grid.lens)
        lens[:terms] += step[8:]
        grid = Grid(values.reshape(3, 3), (float(lens[0]), float(lens[1])), start.size_px)
        if np.sqrt(np.mean((slope[known] @ step) ** 2)) < STILL_PX:
            break
    return grid


def _linearised(
    grid: Grid, points_px: Array, axis: NDArray[np.intp], number: Array, terms: int
) -> tuple[Array, Array]:
    """(n,) px off the lines, and (n, 8 + terms) how that moves with the matrix and the lens."""
    row = np.arange(len(axis))
    flat = grid._flat(points_px)
    mapped = flat @ grid.matrix.T
    depth = np.where(mapped[:, 2] > 0, mapped[:, 2], np.nan)
    square = mapped[row, axis] / depth
    steep = np.linalg.norm(grid.slopes(points_px)[row, axis], axis=1)
    slope = np.zeros((len(axis), 8 + terms))
    for k in range(3):
        slope[row, 3 * axis + k] = flat[:, k] / depth
    slope[:, 6:8] = -(square / depth)[:, None] * flat[:, :2]
    for term in range(terms):
        lens = np.array(grid.lens)
        lens[term] += LENS_STEP
        moved = Grid(grid.matrix, (float(lens[0]), float(lens[1])), grid.size_px)
        slope[:, 8 + term] = (moved.to_squares(points_px)[row, axis] - square) / LENS_STEP
    return (square - number) / steep, slope / steep[:, None]
