"""What the file says of the lens, held against the definitions of the Exif standard."""

import io
import math
from typing import Any

import pytest
from PIL import Image

from seamsurvey.photo.exif import Said, read_said

FOCAL, PIXEL_X, PIXEL_Y, PLANE_X, PLANE_UNIT, EQUIVALENT = 0x920A, 0xA002, 0xA003, 0xA20E, 0xA210, 0xA405


def said(tags: dict[int, Any], size: tuple[int, int] = (400, 300), *, orientation: int = 1) -> Said:
    """What is read from a JPEG with these tags of the Exif IFD."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif.get_ifd(0x8769).update(tags)
    buffer = io.BytesIO()
    Image.new("RGB", size).save(buffer, "JPEG", exif=exif)
    return read_said(Image.open(buffer))


@pytest.mark.parametrize("size", [(400, 300), (300, 400), (600, 400), (1600, 900)])
def test_the_35_mm_equivalent_sees_the_same_angle_along_the_diagonal(size: tuple[int, int]) -> None:
    """The picture's diagonal spans the angle that 43.27 mm of film do at that focal length."""
    # CIPA DC-008 (FocalLengthIn35mmFilm) with CIPA DCG-001: equivalent by the diagonal of 36 x 24 mm, 43.27 mm.
    focal = said({EQUIVALENT: 26}, size).focal_px
    assert focal is not None
    assert math.hypot(*size) / focal == pytest.approx(43.27 / 26, rel=1e-3)


def test_the_sensor_pixels_give_the_focal_length_where_no_equivalent_is_said() -> None:
    """4.2 mm at 700 pixels a millimetre are 2940 px whatever the unit, and half as many in half the size."""
    for per_unit, unit in ((7000.0, 3), (700 * 25.4, 2)):
        tags = {FOCAL: 4.2, PLANE_X: per_unit, PLANE_UNIT: unit}
        assert said({**tags, EQUIVALENT: 0}, (4000, 3000)).focal_px == pytest.approx(2940, rel=1e-6)
        halved = {**tags, PIXEL_X: 4000, PIXEL_Y: 3000}
        assert said(halved, (2000, 1500)).focal_px == pytest.approx(1470, rel=1e-6)


@pytest.mark.parametrize(
    "tags",
    [{}, {EQUIVALENT: 0}, {EQUIVALENT: 9}, {EQUIVALENT: 2600}, {FOCAL: 4.2}, {FOCAL: 4.2, PLANE_X: 0.0},
     {FOCAL: 4.2, PLANE_X: 7000.0, PLANE_UNIT: 1}],
)  # fmt: skip
def test_what_is_missing_or_absurd_is_no_focal_length(tags: dict[int, Any]) -> None:
    """Zero, 9 mm, 2.6 m, a length without pixels, or pixels without a unit say nothing."""
    assert said(tags).focal_px is None


@pytest.mark.parametrize(
    ("size", "taken", "cut"),
    [((380, 300), None, True), ((400, 300), (4000, 2250), True), ((400, 300), (4000, 3000), False),
     ((300, 400), (4000, 3000), False), ((400, 300), None, False), ((1920, 1088), None, False)],
)  # fmt: skip
def test_a_picture_that_was_cut_out_of_another_is_told_by_its_proportions(
    size: tuple[int, int], taken: tuple[int, int] | None, cut: bool
) -> None:
    """Of odd proportions, or of others than its file tells of: its focal length is not believed; shrunk, it is."""
    tags = {EQUIVALENT: 26} | ({PIXEL_X: taken[0], PIXEL_Y: taken[1]} if taken else {})
    found = said(tags, size)
    assert found.cut is cut
    assert (found.focal_px is None) is cut
