"""Cutting mats against pictures seen by OpenCV's camera, whose lens and table the detector does not know."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.photo.evidence import find_sheets
from seamsurvey.photo.mat import FoundMat, find_mats
from seamsurvey.photo.observed import KNOWN
from tests.photo.drawn import picture, seen_as_ruler
from tests.photo.drawn_mat import Light, Mat, Shot, photograph

Array = NDArray[np.float64]

HALF = (2000, 1500)  # px: a quarter of a phone's pixels, which only makes the lines harder to place
RMS_PX = 0.06  # the brief of the detector is 0.15 px; what it reaches is 0.01 to 0.03 px
INCH = 25.4


def _random(seed: int) -> tuple[Mat, Shot, Light]:
    """Any mat, seen from anywhere up to 35 degrees from straight down, turned by any angle."""
    rng = np.random.default_rng(seed)
    light_lines = seed % 4 != 3
    face, ink = (rng.uniform(0.03, 0.2), rng.uniform(0.35, 0.6)) if light_lines else (0.65, rng.uniform(0.05, 0.2))
    if seed % 2:
        mat = Mat(step_mm=10.0, columns=45, rows=36, heavy=(1, 5)[seed // 2 % 2], face=face, ink=ink)
    else:
        mat = Mat(columns=24, rows=18, halves=seed % 3 == 0, ticks=(1, 8)[seed // 2 % 2], face=face, ink=ink)
    shot = Shot(
        size=HALF,
        focal_35mm=rng.uniform(24, 50),
        distance=rng.uniform(380, 520),
        tilt=5.0 * seed,
        azimuth=rng.uniform(0, 360),
        roll=rng.uniform(0, 360),
        at=(rng.uniform(0.35, 0.65) * mat.columns * mat.step_mm, rng.uniform(0.35, 0.65) * mat.rows * mat.step_mm),
        k1=rng.uniform(-0.04, 0.02),
        k2=rng.uniform(-0.01, 0.01),
    )
    return mat, shot, Light(cards=seed % 5, seed=seed)


@cache
def _found(mat: Mat | None, shot: Shot, light: Light) -> list[FoundMat]:
    return find_mats(photograph(mat, shot, light))


def _errors(found: FoundMat, shot: Shot, step_mm: float) -> tuple[Array, Array]:
    """(m,) px off the nearest true line, square to it, and (m,) the true number of that line."""
    observed = found.observed
    row = np.arange(len(observed.axis))
    places = shot.to_mat(observed.points_px) / step_mm
    off = [np.abs(places[row, axes] - np.rint(places[row, axes])) for axes in (observed.axis, 1 - observed.axis)]
    axis = observed.axis if off[0].mean() < off[1].mean() else 1 - observed.axis
    value = places[row, axis]
    steps = [
        (shot.to_mat(observed.points_px + half) - shot.to_mat(observed.points_px - half))[row, axis] / step_mm
        for half in (np.array([0.5, 0.0]), np.array([0.0, 0.5]))
    ]
    return np.asarray((value - np.rint(value)) / np.hypot(*steps)), np.asarray(np.rint(value))


@pytest.mark.parametrize("seed", range(8))
def test_points_lie_on_the_true_lines_and_bear_their_numbers(seed: int) -> None:
    """Every point lies within a fraction of a pixel of the line it is numbered for, at any tilt to 35 degrees."""
    mat, shot, light = _random(seed)
    (found,) = _found(mat, shot, light)
    observed = found.observed
    step = mat.step_mm / 2 if mat.halves else mat.step_mm
    off, number = _errors(found, shot, step)
    assert np.sqrt(np.mean(off**2)) < RMS_PX
    for axis in (0, 1):
        mine = observed.axis == axis
        assert len(np.unique(number[mine])) >= 4
        way = np.sign(np.polyfit(number[mine], observed.nominal_mm[mine], 1)[0])
        own = observed.nominal_mm[mine] / (step if found.unit else INCH)
        np.testing.assert_allclose(own - way * number[mine], own[0] - way * number[mine][0], atol=1e-9)
    assert found.unit in (None, "cm" if mat.step_mm == 10 else "inch")
    assert np.all(observed.edge == KNOWN)


@pytest.mark.parametrize("seed", range(8))
def test_the_stated_sigma_covers_the_errors(seed: int) -> None:
    """The errors over their stated standard deviations are about as large as they should be, never much larger."""
    mat, shot, light = _random(seed)
    (found,) = _found(mat, shot, light)
    off, _ = _errors(found, shot, mat.step_mm / 2 if mat.halves else mat.step_mm)
    assert np.sqrt(np.mean((off / found.observed.sigma_px) ** 2)) < 1.5


@pytest.mark.parametrize("seed", range(8))
def test_the_rough_homography_is_right_handed_and_near(seed: int) -> None:
    """The own frame is one a person would see, not its mirror image, and rough to a share of a square."""
    mat, shot, light = _random(seed)
    (found,) = _found(mat, shot, light)
    observed = found.observed
    assert np.linalg.det(observed.rough) < 0  # the picture's y runs down
    mapped = np.column_stack([observed.points_px, np.ones(len(observed.points_px))]) @ observed.rough.T
    own = (mapped[:, :2] / mapped[:, 2:])[np.arange(len(mapped)), observed.axis]
    step = np.diff(np.unique(observed.nominal_mm)).min()
    assert np.abs(own - observed.nominal_mm).max() < 0.6 * step


FLAT = Shot(size=HALF, distance=420.0, tilt=8.0, azimuth=40.0, roll=6.0, at=(90.0, 60.0), k1=-0.01)
SMALL_CM = Mat(step_mm=10.0, columns=24, rows=20)


@pytest.mark.parametrize(
    ("mat", "unit", "step"),
    [
        (Mat(columns=9, rows=7, ticks=8), "inch", INCH),
        (Mat(columns=9, rows=7, ticks=16), "inch", INCH),
        (Mat(columns=9, rows=7, ticks=8, ticks_inward=True), "inch", INCH),
        (Mat(columns=9, rows=7, ticks=8, tick_mm=1.6, line_mm=0.8, face=0.04, ink=0.75), "inch", INCH),
        (replace(SMALL_CM, heavy=5), "cm", 10.0),
        (replace(SMALL_CM, heavy=5, ticks=2), "cm", 10.0),
        (Mat(columns=9, rows=7), None, INCH),
        (Mat(columns=9, rows=7, ticks=2), None, INCH),
        (Mat(columns=9, rows=7, ticks=4), None, INCH),
        (Mat(columns=9, rows=7, halves=True), None, INCH),
        (Mat(columns=9, rows=7, halves=True, ticks=8), None, INCH),
        (Mat(columns=9, rows=7, heavy=2, ticks=4), None, INCH),
        (SMALL_CM, None, INCH),
        (replace(SMALL_CM, ticks=2), None, INCH),
    ],
)  # fmt: skip
def test_only_evidence_tells_the_unit(mat: Mat, unit: str | None, step: float) -> None:
    """Eighths and sixteenths tell inches, every fifth line heavier centimetres; anything less sets no scale."""
    (found,) = _found(mat, FLAT, Light(cards=1))
    assert found.unit == unit, found.text
    assert np.diff(np.unique(found.observed.nominal_mm)).min() == pytest.approx(step)
    assert found.observed.scale_sigma == (0.003 if unit else np.inf)


def test_millimetres_tell_centimetres() -> None:
    """Ten marks to a square are millimetres, where the picture is fine enough to show them."""
    shot = Shot(size=HALF, distance=220.0, tilt=5.0, at=(70.0, 50.0))
    (found,) = _found(Mat(step_mm=10.0, columns=20, rows=12, ticks=10, line_mm=0.3, heavy=1), shot, Light(cards=0))
    assert (found.unit, found.text) == ("cm", "squares divided in 10")


def test_a_turned_picture_gives_the_same_lines() -> None:
    """A quarter turn of the picture turns the points and changes nothing else."""
    mat = Mat(columns=9, rows=7, ticks=8)
    light = photograph(mat, FLAT, Light(cards=2))
    (upright,), (turned,) = find_mats(light), find_mats(np.ascontiguousarray(np.rot90(light)))
    assert turned.unit == upright.unit
    back = np.column_stack([HALF[0] - 1 - turned.observed.points_px[:, 1], turned.observed.points_px[:, 0]])
    for found, points in ((upright, upright.observed.points_px), (turned, back)):
        places = FLAT.to_mat(points) / INCH
        off = np.min(np.abs(places - np.rint(places)), axis=1)
        assert np.sqrt(np.mean(off**2)) * INCH < 0.01  # mm
        assert [len(np.unique(found.observed.nominal_mm[found.observed.axis == axis])) for axis in (0, 1)] in (
            [10, 8],
            [8, 10],
        )


def test_things_on_the_mat_leave_its_lines_alone() -> None:
    """Cards and a long ruler over a third of the grid hide lines, and bend none."""
    mat = Mat(columns=9, rows=7, ticks=8)
    ruler = ((20.0, 30.0), (215.0, 60.0), (211.0, 86.0), (16.0, 56.0))
    along = ((60.0, 100.9), (160.0, 100.9), (160.0, 150.0), (60.0, 150.0))  # its edge nearly on a line
    (found,) = _found(mat, FLAT, Light(cards=3, covers=(ruler, along)))
    off, _ = _errors(found, FLAT, INCH)
    assert np.sqrt(np.mean(off**2)) < RMS_PX
    assert np.abs(off).max() < 0.3


NONE = Light(cards=2, ground=0.4)


@pytest.mark.parametrize(
    "thing",
    [
        None,
        Mat(columns=9, rows=7, wave_mm=0.8),
        Mat(columns=9, rows=7, astray_mm=0.8),
        Mat(columns=9, rows=7, oblong=0.85),
        Mat(columns=3, rows=3),
    ],
    ids=["bare table", "cloth", "uneven", "oblong tiles", "too few lines"],
)
def test_what_is_no_mat_gives_nothing(thing: Mat | None) -> None:
    """Checked cloth, tiles and uneven lines are no reference."""
    assert _found(thing, FLAT, NONE) == []


@pytest.mark.parametrize(
    "ruler",
    [
        Mat(columns=11, rows=5, clear=0.6, ink=0.04, ticks=8, rim_mm=25.4),
        Mat(columns=9, rows=6, clear=0.9, ink=0.04, ticks=16, halves=True, rim_mm=25.4),
    ],
    ids=["inches", "halves"],
)
def test_a_grid_on_what_is_seen_as_a_ruler_is_no_mat(ruler: Mat) -> None:
    """A clear ruler's grid is even and square, too: the eye tells that a ruler lies there."""
    light = photograph(ruler, FLAT, NONE)
    height, width = light.shape
    shown = picture(np.zeros((height, width, 3), np.uint8))
    as_ruler = seen_as_ruler(shown, (0, 0, width, height))
    assert [len(find_sheets(each, light, ["mat"])) for each in (shown, as_ruler)] == [1, 0]
