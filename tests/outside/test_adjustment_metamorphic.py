"""The camera's adjustment on one scene told in other ways (turned, mirrored, magnified, in inches): lengths stay.

The scene is OpenCV's (cv2.projectPoints with distortion and noise): a ruler's marks with a mat's grid beside it.
"""

import cv2
import numpy as np
import pytest
from attrs import evolve
from numpy.typing import NDArray

from seamsurvey import camera
from seamsurvey.photo.adjust import Fit, Prior, adjust, first_camera
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN, Observed

Array = NDArray[np.float64]
Size = tuple[int, int]

SIZE = (4000, 3000)
FOCAL = 3000.0
INCH = 25.4
ENDS = np.array([(-60, -40), (60, -40), (60, 80), (-60, 80), (0, 20)], dtype=float)  # of lengths, on the table
SAME = np.eye(3)


def photographed(points: Array) -> Array:
    """(n, 2) px by OpenCV: a table tilted by 18 degrees, 480 mm away, a lens that bends."""
    turn = cv2.Rodrigues(np.radians(18) * np.array([np.cos(0.7), np.sin(0.7), 0]))[0] @ np.diag([1.0, -1.0, -1.0])
    inside = np.array([[FOCAL, 0, 1999.5 + 10], [0, FOCAL, 1499.5 + 12], [0, 0, 1]])
    raised = np.column_stack([points, np.zeros(len(points))])
    seen, _ = cv2.projectPoints(
        raised, cv2.Rodrigues(turn)[0], np.array([2.0, 5.0, 480.0]), inside, np.array([0.02, -0.01, 0, 0, 0])
    )
    return np.asarray(seen, dtype=np.float64).reshape(-1, 2)


def reference(
    kind: str, rows: list[tuple[float, float, int, float, int, int]], at: Array, scale_sigma: float
) -> Observed:
    """Rows of own x, own y, axis, nominal, edge, mark; the own frame's origin lies ``at`` a place of the table."""
    own = np.array([row[:2] for row in rows])
    seen = photographed(own + at) + np.random.default_rng(len(rows)).normal(0, 0.05, own.shape)
    return Observed(
        kind=kind,
        points_px=seen,
        axis=np.array([row[2] for row in rows]),
        nominal_mm=np.array([row[3] for row in rows]),
        edge=np.array([row[4] for row in rows]),
        mark=np.array([row[5] for row in rows]),
        sigma_px=np.full(len(rows), 0.05),
        mark_sigma_mm=0.02,
        scale_sigma=scale_sigma,
        height_mm=0.0,
        height_sigma_mm=0.0,
        rough=np.asarray(cv2.findHomography(seen, own)[0]),
    )


def scene() -> list[Observed]:
    """A ruler of 240 mm with marks 5 mm apart and one edge, and a mat's grid of one inch whose scale is loose."""
    ruler = [(5.0 * k, -y, ALONG, 5.0 * k, KNOWN, k) for k in range(49) for y in (0.5, 3.0, 5.5)]
    ruler += [(x, 0.0, ACROSS, 0.0, 0, 100) for x in np.linspace(0, 240, 25)]
    mat = [(INCH * k, y, ALONG, INCH * k, KNOWN, k) for k in range(8) for y in np.linspace(0, 4 * INCH, 6)]
    mat += [(x, INCH * k, ACROSS, INCH * k, KNOWN, 50 + k) for k in range(5) for x in np.linspace(0, 7 * INCH, 6)]
    return [
        reference("ruler", ruler, np.array([-120.0, -90.0]), 5e-4),
        reference("mat", mat, np.array([-90.0, -30.0]), 3e-3),
    ]


def lengths(
    observed: list[Observed], ends_px: Array, *, size: Size = SIZE, magnified: float = 1.0
) -> tuple[Array, Array]:
    """All distances between the ends, in the references' unit, and their standard deviations."""
    focal = 1.02 * FOCAL * magnified
    sigma = np.array([0.03, 40 * magnified, 40 * magnified, 0.1, 0.05, 1, 1, np.inf])
    prior = Prior(camera.parameters(focal, 500), sigma)
    fit: Fit = adjust(size, observed, prior, first_camera(size, observed[0], focal))
    table = camera.to_table(fit.theta, ends_px, size)
    moves = camera.sensitivity(fit.theta, ends_px, size)
    i, j = np.triu_indices(len(table), 1)
    way = table[j] - table[i]
    long = np.hypot(*way.T)
    slope = np.einsum("ni,nip->np", way / long[:, None], moves[j] - moves[i])
    return long, np.sqrt(np.einsum("np,pq,nq->n", slope, fit.camera_covariance, slope))


def seen_anew(observed: Observed, to_px: Array, to_own: Array, *, sigma: float = 1.0) -> Observed:
    """The same marks in another picture (3, 3), perhaps with another own frame (3, 3)."""
    points = np.column_stack([observed.points_px, np.ones(len(observed.points_px))]) @ to_px.T
    rough = to_own @ observed.rough @ np.linalg.inv(to_px)
    return evolve(observed, points_px=points[:, :2], rough=rough, sigma_px=sigma * observed.sigma_px)


def moved(points: Array, to_px: Array) -> Array:
    """(n, 2) px of the other picture."""
    return np.asarray(points @ to_px[:2, :2].T + to_px[:2, 2])


# Where a pixel of the picture comes to lie; its centre is the integer.
QUARTER_TURN = np.array([[0, -1, SIZE[1] - 1], [1, 0, 0], [0, 0, 1.0]])
HALF_TURN = np.array([[-1, 0, SIZE[0] - 1], [0, -1, SIZE[1] - 1], [0, 0, 1.0]])
LEFT_TURN = np.array([[0, 1, 0], [-1, 0, SIZE[0] - 1], [0, 0, 1.0]])


# The iteration stops at a hundredth of a standard deviation, and so may differ by as much.
def assert_same(found: tuple[Array, Array], expected: tuple[Array, Array], unit: float = 1.0) -> None:
    """Equal to a twentieth of their own standard deviation, and equally uncertain."""
    assert np.abs(found[0] * unit - expected[0]).max() < 0.05 * expected[1].min()
    assert found[1] * unit == pytest.approx(expected[1], rel=0.02)


@pytest.mark.parametrize(
    ("to_px", "size"), [(QUARTER_TURN, SIZE[::-1]), (HALF_TURN, SIZE), (LEFT_TURN, SIZE[::-1])]
)
def test_a_turned_picture_gives_the_same_lengths(to_px: Array, size: Size) -> None:
    """Turning the picture by 90, 180 or 270 degrees changes no length and no uncertainty."""
    ends = photographed(ENDS)
    turned = [seen_anew(each, to_px, SAME) for each in scene()]
    assert_same(lengths(turned, moved(ends, to_px), size=size), lengths(scene(), ends))


@pytest.mark.parametrize("along", [True, False])
def test_a_mirrored_picture_of_mirrored_references_gives_the_same_lengths(along: bool) -> None:
    """A picture mirrored left to right, or top to bottom, with marks that count the other way, changes nothing."""
    axis, flip = (ALONG, np.diag([-1.0, 1, 1])) if along else (ACROSS, np.diag([1.0, -1, 1]))
    to_px = flip.copy()
    to_px[axis, 2] = SIZE[axis] - 1
    mirrored = []
    for each in scene():
        signs = np.where(each.axis == axis, -1.0, 1.0)
        mirrored.append(evolve(seen_anew(each, to_px, flip), nominal_mm=signs * each.nominal_mm))
    ends = photographed(ENDS)
    assert_same(lengths(mirrored, moved(ends, to_px)), lengths(scene(), ends))


@pytest.mark.parametrize("by", [0.5, 1.5, 2.0])
def test_a_magnified_picture_gives_the_same_lengths(by: float) -> None:
    """A picture of half, one and a half or twice the pixels, as exact in shares of it, changes nothing."""
    to_px = np.array([[by, 0, (by - 1) / 2], [0, by, (by - 1) / 2], [0, 0, 1]])
    size = (round(SIZE[0] * by), round(SIZE[1] * by))
    magnified = [seen_anew(each, to_px, SAME, sigma=by) for each in scene()]
    ends = photographed(ENDS)
    assert_same(lengths(magnified, moved(ends, to_px), size=size, magnified=by), lengths(scene(), ends))


@pytest.mark.parametrize("unit", [INCH, 10.0])
def test_marks_told_in_another_unit_give_the_same_lengths(unit: float) -> None:
    """Told in inches or centimetres instead of millimetres, the lengths are the same in that unit."""
    relabelled = [
        evolve(
            each,
            nominal_mm=each.nominal_mm / unit,
            mark_sigma_mm=each.mark_sigma_mm / unit,
            rough=np.diag([1 / unit, 1 / unit, 1]) @ each.rough,
        )
        for each in scene()
    ]
    ends = photographed(ENDS)
    assert_same(lengths(relabelled, ends), lengths(scene(), ends), unit)


def test_the_scene_itself_is_measured_rightly() -> None:
    """The lengths that are compared are the true ones, within four standard deviations."""
    found, sigma = lengths(scene(), photographed(ENDS))
    i, j = np.triu_indices(len(ENDS), 1)
    assert np.all(np.abs(found - np.hypot(*(ENDS[i] - ENDS[j]).T)) < 4 * sigma)
    assert sigma.max() < 0.2
