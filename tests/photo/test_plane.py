"""From a picture to its plane: every ruler known for what it is, and no scale where there is doubt."""

import math
from dataclasses import replace
from typing import Any

import attrs
import numpy as np
import pytest
from shapely import MultiPoint, Polygon
from skimage import data

from seamsurvey.errors import InputError, SeamsurveyError, UndecidedError
from seamsurvey.model import PhotoPlane, Picture, Plane
from seamsurvey.photo.plane import find_plane
from tests.photo.drawn import (
    EIGHTHS,
    MILLIMETRES,
    SIXTEENTHS,
    TENTHS,
    THIRTYSECONDS,
    Ruler,
    Scale,
    draw,
    picture,
    seen_as_ruler,
)

ALL = {
    "cm, 1 mm": MILLIMETRES,
    "inch, 1/8": EIGHTHS,
    "inch, 1/10": TENTHS,
    "inch, 1/16": SIXTEENTHS,
    "inch, 1/32": THIRTYSECONDS,
}


def _length(plane: Plane, start: tuple[float, float], end: tuple[float, float]) -> float:
    ends = plane.to_mm(np.array([start, end]))
    return float(np.hypot(*(ends[1] - ends[0])))


def _refusal(scan: Picture, **options: Any) -> SeamsurveyError:
    with pytest.raises(SeamsurveyError) as caught:
        find_plane(scan, **options)
    assert caught.value.what
    assert caught.value.todo
    return caught.value


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("turn_deg", [0.0, 17.3, 180.0, 268.0])
def test_every_graduation_at_any_angle(name: str, turn_deg: float) -> None:
    """Each kind of ruler, turned and upside down, is known by name, and its scale is right to 0.01 %."""
    turn = math.radians(turn_deg)
    half = ALL[name].step_mm * (ALL[name].marks - 1) / 2
    middle = np.array([70.0, 70.0])
    origin = middle - half * np.array([math.cos(turn), math.sin(turn)])
    size = (140.0, 140.0)
    scan = draw([Ruler(ALL[name], tuple(origin), turn_deg)], size_mm=size, dpi=(203.2, 203.2))
    plane = find_plane(scan)
    (reference,) = plane.references
    assert reference.graduation == name
    assert reference.px_per_mm == pytest.approx(8.0, rel=1e-4)
    assert len(reference.marks_px) >= 0.9 * ALL[name].marks
    true = np.array([math.cos(turn), math.sin(turn)])
    along = (reference.marks_px[-1] - reference.marks_px[0]) / 8.0
    assert abs(abs(along @ true) - (reference.marks_mm[-1])) < 0.02
    assert not plane.warnings


def test_marks_lie_where_they_were_drawn() -> None:
    """On a level ruler drawn by exact coverage each mark's foot is found to 0.03 px."""
    # Box sampling keeps the centre of gravity of a line only when it is whole pixels wide.
    first, step, width = 61.37, 12.7 + 1 / 3, 2.0
    light = np.full((200, 900), 0.6)
    columns = np.arange(900)
    for number in range(61):
        centre = first + number * step
        cover = np.clip(
            np.minimum(columns + 0.5, centre + width / 2) - np.maximum(columns - 0.5, centre - width / 2), 0, 1
        )
        light[40 : 40 + round(8 * SIXTEENTHS.length_mm(number))] -= 0.5 * cover
    light[:40] = 0.9
    encoded = np.round(255 * (1.055 * light ** (1 / 2.4) - 0.055)).astype(np.uint8)
    (reference,) = find_plane(picture(np.repeat(encoded[:, :, None], 3, axis=2))).references
    places = reference.marks_px[:, 0] - first
    assert np.abs(places - np.rint(places / step) * step).max() < 0.03
    assert reference.px_per_mm == pytest.approx(step / SIXTEENTHS.step_mm, rel=3e-5)
    assert np.abs(reference.marks_px[:, 1] - 39.5).max() < 3
    assert np.all(reference.mark_ends_px[:, 1] > reference.marks_px[:, 1])


def test_the_axes_of_a_plane_run_right_and_up() -> None:
    """A picture's lower left corner is the origin, x runs right and y up, even beside an upside-down ruler."""
    scan = draw([Ruler(MILLIMETRES, (120.0, 40.0), 180.0)])
    plane = find_plane(scan)
    corners = plane.to_mm(np.array([[-0.5, scan.height - 0.5], [scan.width - 0.5, -0.5]]))
    assert corners[0] == pytest.approx([0, 0], abs=1e-6)
    assert corners[1] == pytest.approx([135.0, 60.0], rel=1e-3)
    assert plane.axis == pytest.approx([1, 0], abs=1e-3)


@pytest.mark.parametrize(
    "ruler",
    [
        Ruler(MILLIMETRES, body=0.04, ink=0.8),
        Ruler(SIXTEENTHS, body=0.80, ink=0.10),
        Ruler(MILLIMETRES, missing=lambda number: 22 <= number <= 31),
        Ruler(SIXTEENTHS, missing=lambda number: number % 7 == 3),
        Ruler(replace(MILLIMETRES, first=7)),
        Ruler(MILLIMETRES, origin_mm=(-20.0, 15.0)),
        Ruler(replace(SIXTEENTHS, first=5, width_mm=0.35), figures=True),
    ],
    ids=["dark", "white on white", "partly hidden", "worn", "begun anywhere", "off the picture", "thick marks"],
)
def test_rulers_of_every_condition(ruler: Ruler) -> None:
    """Dark, faint, hidden, worn, cut off or coarse: the same scale comes out."""
    plane = find_plane(draw([ruler]))
    assert plane.references[0].px_per_mm == pytest.approx(8.0, rel=2e-4)


@pytest.mark.parametrize("px_per_mm", [150 / 25.4, 300 / 25.4, 600 / 25.4])
def test_resolutions_from_150_to_600_dpi(px_per_mm: float) -> None:
    """The scale follows the resolution, and the dpi of the file agrees with it."""
    dpi = (px_per_mm * 25.4,) * 2
    scan = draw([Ruler(MILLIMETRES, (10.0, 10.0))], size_mm=(120, 40), px_per_mm=(px_per_mm,) * 2, dpi=dpi)
    plane = find_plane(scan)
    assert plane.references[0].px_per_mm == pytest.approx(px_per_mm, rel=1e-4)
    assert not plane.warnings


def test_both_edges_of_a_ruler_are_two_references_and_the_inch_settles_the_tenths() -> None:
    """Centimetres whose marks are short leave their unit open alone; the inch edge opposite decides it."""
    short = replace(MILLIMETRES, levels=((10, 5.0), (5, 3.6), (1, 2.0)))
    alone = draw([Ruler(short)])
    assert isinstance(_refusal(alone), UndecidedError)
    plane = find_plane(draw([Ruler(short, opposite=SIXTEENTHS)]))
    assert {reference.graduation for reference in plane.references} == {"cm, 1 mm", "inch, 1/16"}
    for reference in plane.references:
        assert reference.px_per_mm == pytest.approx(8.0, rel=2e-4)
        # Its outline goes round its marks, a step beyond the outermost, and not over the ruler's other edge.
        marks = MultiPoint(np.vstack([reference.marks_px, reference.mark_ends_px]))
        outline = Polygon(reference.outline_px)
        assert outline.buffer(8.0).covers(marks)
        assert outline.area < 1.5 * marks.convex_hull.area


def test_two_rulers_at_right_angles_find_both_axes() -> None:
    """With axes 0.8 % apart one ruler misjudges the other axis by that much, and two do not."""
    scales = (8.03, 7.97)
    level = Ruler(MILLIMETRES, (15.0, 12.0))
    upright = Ruler(SIXTEENTHS, (100.0, 42.0), 90.0)
    both = find_plane(draw([level, upright], size_mm=(135, 160), px_per_mm=scales), taken_with="scanner")
    one = find_plane(draw([level], size_mm=(135, 160), px_per_mm=scales), taken_with="scanner")
    top, bottom = (50.0, 100.0), (50.0, 100.0 + 7.97 * 100)
    assert _length(both, top, bottom) == pytest.approx(100.0, abs=0.06)
    assert _length(one, top, bottom) == pytest.approx(100.0 * 7.97 / 8.03, abs=0.05)
    assert one.covariance[4, 4] > 4 * both.covariance[4, 4]
    # And the one ruler's uncertainty owns up to it: two sigmas cover the 0.75 %, nearly.
    error = abs(_length(one, top, bottom) - 100.0)
    assert error <= 4 * math.sqrt(one.covariance[4, 4]) * 7.97 * 100


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_turning_the_picture_changes_no_length(turns: int) -> None:
    """A quarter turn or a mirror image of the scan gives the same lengths."""
    scan = draw([Ruler(SIXTEENTHS, (20.0, 15.0), 8.0)])
    truth = find_plane(scan).references[0].px_per_mm
    turned = np.ascontiguousarray(np.rot90(scan.pixels, turns))
    assert find_plane(picture(turned)).references[0].px_per_mm == pytest.approx(truth, rel=2e-5)
    mirrored = np.ascontiguousarray(turned[:, ::-1])
    assert find_plane(picture(mirrored)).references[0].px_per_mm == pytest.approx(truth, rel=2e-5)


def test_the_persons_word_chooses_only_what_the_picture_allows() -> None:
    """--ruler decides between tenths of an inch and of a centimetre, and is refused where the marks say no."""
    unclear = draw([Ruler(replace(MILLIMETRES, levels=((10, 5.0), (5, 3.6), (1, 2.0))))])
    assert _refusal(unclear).code == "units-unclear"
    assert find_plane(unclear, ruler="cm").references[0].step_mm == 1.0
    assert find_plane(unclear, ruler="inch").references[0].step_mm == pytest.approx(2.54)
    assert _refusal(draw([Ruler(SIXTEENTHS)]), ruler="cm").code == "ruler-contradicts"
    long_marks = replace(MILLIMETRES, levels=((10, 9.0), (5, 7.0), (1, 5.0)))
    assert _refusal(draw([Ruler(long_marks)]), ruler="inch").code == "ruler-contradicts"


def test_the_files_resolution_decides_aloud_or_warns() -> None:
    """Between two readings the dpi may decide, and says so; against a clear ruler it only warns."""
    unclear = draw([Ruler(replace(MILLIMETRES, levels=((10, 5.0), (5, 3.6), (1, 2.0))))], dpi=(203, 203))
    plane = find_plane(unclear)
    assert plane.references[0].unit == "cm"
    assert any("203 dpi decided" in warning for warning in plane.warnings)
    resized = find_plane(draw([Ruler(SIXTEENTHS)], dpi=(300, 300)))
    assert resized.references[0].px_per_mm == pytest.approx(8.0, rel=1e-4)
    assert any("300 dpi" in warning for warning in resized.warnings)
    assert _refusal(draw([Ruler(SIXTEENTHS)], dpi=(406.4, 406.4))).code == "units-unclear"
    assert find_plane(draw([Ruler(SIXTEENTHS)], dpi=(406.4, 406.4)), ruler="inch").references


def test_inch_marks_no_longer_than_half_inch_marks_are_not_taken_for_eighths() -> None:
    """Sixteenths whose inch and half inch marks are alike would be read as eighths; the figures forbid it."""
    alike = Scale(25.4 / 16, ((8, 8.0), (4, 6.0), (2, 4.2), (1, 2.6)), 97)
    rulers = [Ruler(replace(alike), figures=True)]
    eighths = find_plane(draw(rulers, size_mm=(180, 60)))
    assert eighths.references[0].graduation == "inch, 1/8"  # a figure at every long mark: eighths of another size
    at_inches = Scale(25.4 / 16, ((16, 8.0), (8, 8.0), (4, 6.0), (2, 4.2), (1, 2.6)), 97)
    scan = draw([Ruler(at_inches, figures=True)], size_mm=(180, 60))
    assert _refusal(scan).code == "units-unclear"


def test_a_checked_length_replaces_the_nominal_one() -> None:
    """A ruler measured as 100.3 mm long over its ten centimetres gives lengths 0.3 % longer."""
    scan = draw([Ruler(MILLIMETRES)])
    plain, checked = find_plane(scan), find_plane(scan, ruler_length_mm=100.3)
    ratio = _length(checked, (100, 100), (900, 100)) / _length(plain, (100, 100), (900, 100))
    assert ratio == pytest.approx(1.003, abs=1e-6)
    assert _refusal(scan, ruler_length_mm=104.0).code == "ruler-length"


@pytest.mark.parametrize(("unit", "step"), [("cm", 1.0), ("inch", 25.4 / 16)])
def test_a_said_unit_and_a_checked_length_settle_marks_that_tell_nothing(unit: str, step: float) -> None:
    """Marks of one length are asked about; with their unit and their span said, 50 of them are 50 steps long."""
    scan = draw([Ruler(Scale(step, ((1, 4.0),), 97))], size_mm=(190, 50))
    asked = _refusal(scan, ruler=unit)
    assert asked.code == "units-unclear"
    assert "--ruler-length" in asked.todo
    plane = find_plane(scan, ruler=unit, ruler_length_mm=96 * step)
    assert {reference.unit for reference in plane.references} == {unit}
    assert _length(plane, (119.5, 150.0), (119.5 + 50 * step * 8, 150.0)) == pytest.approx(50 * step, rel=1e-3)
    assert _refusal(scan, ruler=unit, ruler_length_mm=90 * step).code == "units-unclear"


def test_a_checked_length_of_all_marks_in_view_corrects_their_steps() -> None:
    """96 mm of a ruler checked as 96.2 mm from its first mark to its last: whole centimetres are not asked for."""
    scan = draw([Ruler(replace(MILLIMETRES, marks=97))])
    plain, checked = find_plane(scan), find_plane(scan, ruler_length_mm=96.2)
    ratio = _length(checked, (100, 100), (900, 100)) / _length(plain, (100, 100), (900, 100))
    assert ratio == pytest.approx(96.2 / 96, abs=1e-6)


@pytest.mark.parametrize(("taken_with", "refusal"), [("scanner", "no-ruler"), ("camera", "no-reference")])
def test_faint_marks_are_believed_where_a_ruler_is_seen(taken_with: str, refusal: str) -> None:
    """Marks lost in noise are refused; where the learned eye sees a ruler all 101 are found and read."""
    scan = draw([Ruler(MILLIMETRES, ink=0.43)], noise=0.02)
    assert _refusal(scan, taken_with=taken_with).code == refusal
    (found,) = find_plane(seen_as_ruler(scan, (80, 120, 960, 330)), taken_with=taken_with).references
    assert (found.graduation, len(found.marks_mm)) == ("cm, 1 mm", 101)


def test_pictures_without_a_ruler_give_none() -> None:
    """A cat, a page of text, bricks, a chequerboard and a barcode have no scale, and the refusal says so."""
    rng = np.random.default_rng(4)
    bars = np.repeat(rng.choice([20, 235], 160), rng.integers(2, 6, 160))
    barcode = np.full((300, len(bars) + 80), 235, dtype=np.uint8)
    barcode[60:200, 40:-40] = bars
    for pixels in (*(getattr(data, name)() for name in ("chelsea", "page", "brick", "checkerboard")), barcode):
        rgb = pixels if pixels.ndim == 3 else np.repeat(pixels[:, :, None], 3, axis=2)
        scan = picture(np.ascontiguousarray(rgb))
        assert _refusal(scan, taken_with="scanner").code == "no-ruler"
        assert _refusal(scan).code == "no-reference"


def test_dashes_and_gratings_are_no_rulers() -> None:
    """Evenly spaced strokes of one length have no whole units: asked for, or refused, never measured."""
    dashes = Scale(2.0, ((1, 3.0),), 60)
    assert _refusal(draw([Ruler(dashes)])).code in {"no-ruler", "units-unclear", "ruler-too-short"}


def test_too_short_a_stretch_of_ruler_is_refused() -> None:
    """Fifteen millimetres of a ruler are not measured by."""
    scan = draw([Ruler(replace(MILLIMETRES, marks=16))])
    assert _refusal(scan, taken_with="scanner").code in {"no-ruler", "ruler-too-short"}
    assert _refusal(scan).code in {"no-reference", "reference-too-weak"}


@pytest.mark.parametrize("slant", [(2.5e-5, 0.0), (0.0, 2.0e-4)], ids=["along", "across"])
def test_a_slanting_view_is_no_scan(slant: tuple[float, float]) -> None:
    """In perspective the steps change along the ruler, or the marks fan: never taken for a scan."""
    warp = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [*slant, 1.0]])
    slanting = draw([Ruler(MILLIMETRES)], warp=warp)
    assert _refusal(slanting, taken_with="scanner").code == "not-a-scan"
    # A hundred millimetres of ruler in a picture whose lens nobody knows hardly fix the table across it.
    try:
        plane = find_plane(slanting)
    except InputError:  # reference-too-weak: just as well
        return
    assert isinstance(plane, PhotoPlane)
    assert plane.length_u(plane.to_mm(np.array([[500.0, 200.0]])))[0] > 1.5


def test_a_picture_a_camera_took_is_no_scan() -> None:
    """What the file says of a lens is enough: the ruler lies straight, and still the camera is adjusted."""
    scan = draw([Ruler(MILLIMETRES, (15.0, 12.0)), Ruler(SIXTEENTHS, (100.0, 42.0), 90.0)], size_mm=(135, 160))
    assert find_plane(scan, taken_with="scanner").kind == "scan"
    seen = find_plane(attrs.evolve(scan, camera="Glass 3", focal_px=1100.0))
    assert isinstance(seen, PhotoPlane)
    assert seen.tilt_deg == pytest.approx(0.0, abs=1.0)
    assert _length(seen, (400.0, 400.0), (400.0, 1200.0)) == pytest.approx(100.0, abs=0.8)
