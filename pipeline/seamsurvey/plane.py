"""From pixels to true millimetres: the glass of a scanner, or the faces of the cards on a table before a camera.

Frames: *image* = px, x right, y down, a pixel's centre is the integer; *plane* = mm on the table, x right, y up.
"""

from abc import ABC, abstractmethod
from typing import Any

import attrs
import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey import camera

Array = NDArray[np.float64]

# The terms of a length's uncertainty that the plane answers for.
ALONG = "scale along the ruler"
ACROSS = "scale across the ruler"
CAMERA = "camera and scale"
THICKNESS = "thickness and flatness"

BARE = "bare"  # the kind of a plane without a scale: its millimetres are pixels, or stand-ins for them

# Stand-in millimetres for a picture's longer side, in which what the rooms know of the sizes of cards, gaps and
# seams is about right for cards on a table.
STAND_IN_MM = 400.0

COVERAGE = 2.0  # k, JCGM 100:2008, 6.2
_STEP_MM = 1e-3  # of difference quotients along heights
_STEP_PX = 0.5


def _read_only(value: Any) -> Array:
    array = np.array(value, dtype=float)
    array.setflags(write=False)
    return array


def _points(value: Any) -> Array:
    return _read_only(np.array(value, dtype=float).reshape(-1, 2))


def array_field() -> Any:
    """Declare an attrs field that holds a read-only float array and compares by content."""
    return field(converter=_read_only, eq=attrs.cmp_using(eq=np.array_equal), repr=False)


def points_field() -> Any:
    """Declare the same for (n, 2) points, of which there are none unless given."""
    return field(factory=list, converter=_points, eq=attrs.cmp_using(eq=np.array_equal), repr=False)


@frozen(kw_only=True)
class Reference:
    """Something in the picture that tells its scale or its shape: a graduated edge, a grid, a page, a card."""

    kind: str  # "ruler", "mat", "target", "page", "card"
    graduation: str  # as a person would say it: "inch, 1/16", "cm, 1 mm", "1 inch squares"
    unit: str  # "inch" or "cm"; "" when it has none
    step_mm: float  # from one mark to the next; 0 when it has no marks at even steps
    marks_px: Array = array_field()  # (n, 2) image: one end of each used mark, a ruler's on the graduated edge
    marks_mm: Array = array_field()  # (n,) nominal place of each mark, from the first used mark of its direction
    mark_ends_px: Array = array_field()  # (n, 2) image: the other end of each mark's line
    residuals_px: Array = array_field()  # (n,) mark minus fit, square to the mark
    outline_px: Array = array_field()  # (4, 2) image: the thing's own outline, which may run off the picture
    px_per_mm: float = 0.0  # along this edge, in its middle
    scale_off: float | None = None  # its mm against the adjusted ones, as a share; None: nothing else has a scale
    scale_u: float | None = None  # expanded (k = 2) uncertainty of that difference
    # Of a grid or an outline in a photo, whose long lines have more to tell than one residual each:
    spots_px: Array = points_field()  # (m, 2) image: places all over it
    misses_px: Array = points_field()  # (m, 2) image: seen minus fit there, square to the line; of a corner, whole

    @property
    def residual_px(self) -> float:
        """Root mean square of the residuals."""
        return float(np.sqrt(np.mean(self.residuals_px**2)))


@frozen(kw_only=True)
class Plane(ABC):
    """The way from pixels to millimetres, with its parameters' covariance.

    ``axis`` is the first reference's direction in the plane frame (unit vector). Plane x runs right and y up,
    whatever the ruler's angle.
    """

    kind: str = ""
    covariance: Array = array_field()  # (p, p) of the parameters, standard
    axis: Array = array_field()  # (2,)
    references: tuple[Reference, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    @abstractmethod
    def parameter_names(self) -> tuple[str, ...]:
        """What each of the p parameters is."""

    @property
    @abstractmethod
    def mm_per_px(self) -> float:
        """Millimetres a pixel in the picture's middle, the geometric mean of both directions."""

    @abstractmethod
    def mm_per_px_at(self, points_px: Array) -> Array:
        """(n,) millimetres a pixel at each image point, the geometric mean of both directions."""

    @abstractmethod
    def to_mm(self, points_px: Array) -> Array:
        """(n, 2) image pixels to (n, 2) plane mm; nan at or above a horizon."""

    @abstractmethod
    def to_px(self, points_mm: Array) -> Array:
        """(n, 2) plane mm to (n, 2) image pixels."""

    @abstractmethod
    def below_px(self, points_mm: Array) -> Array:
        """(n, 2) image pixels of the table straight below plane points, where a card's side ends."""

    @abstractmethod
    def sensitivity(self, points_px: Array) -> Array:
        """(n, 2, p): how the plane mm of each image point move with the parameters."""

    @abstractmethod
    def length_terms(self, way: Array, length_mm: float, slope: Array, /) -> dict[str, float]:
        """What the plane adds to a length's uncertainty: each term as one standard deviation, mm.

        ``way`` (2,) is the length's direction in the plane; ``slope`` (p,) how it grows with the parameters.
        """

    def length_u(self, middles_mm: Array, length_mm: float = 100.0) -> Array:
        """(n,) mm: expanded uncertainty (k = 2) of a length about each plane point, in the worst direction.

        Only what the plane answers for: the place of the length's ends in the picture is taken as exact.
        """
        worst = np.zeros(len(middles_mm))
        for angle in np.radians([0.0, 45.0, 90.0, 135.0]):
            way = np.array([np.cos(angle), np.sin(angle)])
            ends = [self.sensitivity(self.to_px(middles_mm + side * length_mm / 2 * way)) for side in (-1, 1)]
            slope = np.einsum("i,nip->np", way, ends[1] - ends[0])
            variance = np.einsum("np,pq,nq->n", slope, self.covariance, slope)
            worst = np.maximum(worst, COVERAGE * np.sqrt(np.maximum(variance, 0.0)))
        return worst


@frozen(kw_only=True)
class ScanPlane(Plane):
    """A scanner's glass: plane = matrix · (x, y, 1). The parameters are the matrix, row by row.

    What lies on the glass is seen square to it: thickness changes no length.
    """

    kind: str = "scan"
    matrix: Array = array_field()  # (2, 3)

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """The six entries of the matrix, row by row."""
        return ("xx", "xy", "x0", "yx", "yy", "y0")

    @property
    def mm_per_px(self) -> float:
        """Millimetres a pixel, the geometric mean of both directions; everywhere the same."""
        return float(np.sqrt(abs(np.linalg.det(self.matrix[:, :2]))))

    def mm_per_px_at(self, points_px: Array) -> Array:
        """(n,), all alike."""
        return np.full(len(points_px), self.mm_per_px)

    def to_mm(self, points_px: Array) -> Array:
        """(n, 2) image pixels to (n, 2) plane mm."""
        return np.asarray(points_px @ self.matrix[:, :2].T + self.matrix[:, 2])

    def to_px(self, points_mm: Array) -> Array:
        """(n, 2) plane mm to (n, 2) image pixels."""
        return np.asarray(np.linalg.solve(self.matrix[:, :2], (points_mm - self.matrix[:, 2]).T).T)

    def below_px(self, points_mm: Array) -> Array:
        """(n, 2), as ``to_px``: a scanner sees no sides."""
        return self.to_px(points_mm)

    def sensitivity(self, points_px: Array) -> Array:
        """(n, 2, 6): how the plane mm of each image point move with the matrix entries, row by row."""
        homogeneous = np.column_stack([points_px, np.ones(len(points_px))])
        result = np.zeros((len(points_px), 2, 6))
        result[:, 0, :3] = homogeneous
        result[:, 1, 3:] = homogeneous
        return result

    def length_terms(self, way: Array, length_mm: float, _slope: Array, /) -> dict[str, float]:
        """Scale along the ruler, and all else. They share the covariance: u is not the root of their squares.

        An error dM of the matrix M strains the plane by E = dM M⁻¹ (both 2 × 2); a length L in the direction t
        grows by L t·E t. With t = cos a + sin n (a along the ruler, n across it) the part of a·E a is that
        along it.
        """
        inverse: Array = np.asarray(np.linalg.inv(self.matrix[:, :2]), dtype=float)
        axis = self.axis / np.hypot(*self.axis)
        across = np.array([-axis[1], axis[0]])
        cosine, sine = float(way @ axis), float(way @ across)
        along_part = cosine**2 * _strain(axis, axis, inverse)
        rest = sine**2 * _strain(across, across, inverse) + sine * cosine * (
            _strain(axis, across, inverse) + _strain(across, axis, inverse)
        )
        return {
            ALONG: length_mm * _deviation(along_part, self.covariance),
            ACROSS: length_mm * _deviation(rest, self.covariance),
            THICKNESS: 0.0,
        }


@frozen(kw_only=True)
class PhotoPlane(Plane):
    """A table before a camera, as seen at the height of the cards' faces.

    The parameters are the camera's eight (`seamsurvey.camera`) and the height of the cards' faces above the table,
    mm. ``of_heights`` is the part of the covariance that comes from not knowing how high cards and references lie.
    """

    kind: str = "photo"
    theta: Array = array_field()  # (8,)
    size_px: tuple[int, int] = (0, 0)
    face_mm: float = 0.0
    of_heights: Array = array_field()  # (9, 9)

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """The camera's eight, and the height of the cards' faces."""
        return (*camera.PARAMETERS, "face height")

    def with_faces_at(self, face_mm: float, sigma_mm: float) -> "PhotoPlane":
        """The same camera for faces that lie at another height above the table, known to one standard deviation."""
        covariance, of_heights = self.covariance.copy(), self.of_heights.copy()
        for each in (covariance, of_heights):
            each[8, :] = each[:, 8] = 0.0
            each[8, 8] = sigma_mm**2
        return attrs.evolve(self, face_mm=face_mm, covariance=covariance, of_heights=of_heights)

    @property
    def tilt_deg(self) -> float:
        """Between the camera's axis and the table's normal."""
        return float(np.degrees(np.hypot(*self.theta[[camera.TILT_X, camera.TILT_Y]])))

    @property
    def distance_mm(self) -> float:
        """From the camera down to the table, square to it."""
        return float(np.exp(self.theta[camera.LOG_HEIGHT]))

    @property
    def mm_per_px(self) -> float:
        """Millimetres a pixel in the picture's middle, the geometric mean of both directions."""
        return float(self.mm_per_px_at(camera.middle(self.size_px)[None])[0])

    def mm_per_px_at(self, points_px: Array) -> Array:
        """(n,) millimetres a pixel at each image point, the geometric mean of both directions."""
        steps = [
            (self.to_mm(points_px + step) - self.to_mm(points_px - step)) / (2 * _STEP_PX)
            for step in (np.array([_STEP_PX, 0.0]), np.array([0.0, _STEP_PX]))
        ]
        return np.asarray(np.sqrt(np.abs(np.linalg.det(np.stack(steps, axis=2)))))

    def to_mm(self, points_px: Array) -> Array:
        """(n, 2) image pixels to (n, 2) plane mm; nan at or above the horizon."""
        return camera.to_table(self.theta, points_px, self.size_px, self.face_mm)

    def to_px(self, points_mm: Array) -> Array:
        """(n, 2) plane mm to (n, 2) image pixels."""
        return camera.to_image(self.theta, points_mm, self.size_px, self.face_mm)

    def below_px(self, points_mm: Array) -> Array:
        """(n, 2) image pixels of the table straight below plane points."""
        return camera.to_image(self.theta, points_mm, self.size_px, 0.0)

    def sensitivity(self, points_px: Array) -> Array:
        """(n, 2, 9): how the plane mm of each image point move with camera and face height."""
        higher, lower = (
            camera.to_table(self.theta, points_px, self.size_px, self.face_mm + step)
            for step in (_STEP_MM, -_STEP_MM)
        )
        of_camera = camera.sensitivity(self.theta, points_px, self.size_px, self.face_mm)
        return np.concatenate([of_camera, ((higher - lower) / (2 * _STEP_MM))[:, :, None]], axis=2)

    def length_terms(self, _way: Array, _length_mm: float, slope: Array, /) -> dict[str, float]:
        """What the camera and the scale add, and what the heights of cards and references add."""
        return {
            CAMERA: _deviation(slope, self.covariance - self.of_heights),
            THICKNESS: _deviation(slope, self.of_heights),
        }


def _deviation(slope: Array, covariance: Array) -> float:
    return float(np.sqrt(max(0.0, float(slope @ covariance @ slope))))


def _strain(left: Array, right: Array, inverse: Array) -> Array:
    """(6,): how left · dM M⁻¹ right depends on the matrix entries, row by row."""
    before: Array = inverse @ right
    return np.concatenate([left[0] * before, [0.0], left[1] * before, [0.0]])
