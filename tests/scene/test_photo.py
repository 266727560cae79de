"""Rendered photos: the camera by hand-written optics, and the picture against the truth."""

import io
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import skimage.color
from PIL import ExifTags, Image, ImageOps

from tests.scene.camera import Phone, PhoneView, visible_room
from tests.scene.cards import Cutting
from tests.scene.families import family
from tests.scene.grounds import GROUNDS, MATS, ground_look, mat_lines
from tests.scene.make import Rendered, render_photo
from tests.scene.measured import Field, corners, mark_offset
from tests.scene.photo import Exposure, as_stored, stored_from_upright
from tests.scene.rulers import RULERS
from tests.scene.scene import Layout
from tests.scene.truth import Truth, read_truth, write_truth

PHONE = Phone(
    size=(1600, 1200), principal=(14.0, -9.0), k1=-0.012, k2=0.004,
    distance=330.0, tilt=18.0, azimuth=-70.0, roll=3.0,
)  # fmt: skip
# Nothing that moves an edge's light: no noise to speak of, no shadow (things lie flat), no uneven lamp.
QUIET = Exposure(ground="white", falloff=0.0, vignette=0.0, grain=0.0, sharpen=0.0, psf=0.7, warmth=1.0)
RULER = replace(RULERS["plastic-6in-eighths"], thickness=0.0)
LAYOUT = Layout((RULER,), ruler_turn=4.0, thickness=0.0, stock="plastic")
AGREE_PX = 0.02


@pytest.fixture(scope="module")
def rendered() -> Rendered:
    """A photo of three plain cards and a ruler, tilted, turned, distorted."""
    return render_photo(family("eight-lights"), Cutting(wear_radius=0.0), LAYOUT, PHONE, QUIET, seed=2)


@pytest.fixture(scope="module")
def truth(rendered: Rendered, tmp_path_factory: pytest.TempPathFactory) -> Truth:
    """Its truth, by way of the file."""
    path: Path = tmp_path_factory.mktemp("truth") / "truth.json"
    write_truth(rendered.truth, path)
    return read_truth(path)


@pytest.fixture(scope="module")
def light(rendered: Rendered) -> Field:
    """Linear luminance of the upright picture before JPEG, decoded by scikit-image."""
    return np.asarray(skimage.color.rgb2xyz(rendered.pixels)[..., 1])


def by_hand(phone: Phone, at: Field, point: Field) -> Field:
    """The textbook pinhole with radial distortion (OpenCV's documentation), written out for one point."""
    tilt, azimuth, roll = (math.radians(d) for d in (phone.tilt, phone.azimuth, phone.roll))
    back = np.array([math.sin(tilt) * math.cos(azimuth), math.sin(tilt) * math.sin(azimuth), math.cos(tilt)])
    ray = point - (np.array([*at, 0.0]) + phone.distance * back)
    right = np.array([back[2], 0.0, -back[0]]) / math.hypot(back[2], back[0])  # level with the table's x
    down = np.cross(-back, right)
    x, y = (
        (math.cos(roll) * right + math.sin(roll) * down) @ ray,
        (math.cos(roll) * down - math.sin(roll) * right) @ ray,
    )
    depth = -back @ ray
    x, y = x / depth, y / depth
    r2 = x * x + y * y
    bent = 1 + phone.k1 * r2 + phone.k2 * r2 * r2
    f = phone.focal_35mm / math.hypot(36, 24) * math.hypot(*phone.size)
    cx, cy = (phone.size[0] - 1) / 2 + phone.principal[0], (phone.size[1] - 1) / 2 + phone.principal[1]
    return np.array([f * bent * x + cx, f * bent * y + cy])


def test_points_are_seen_where_the_optics_say() -> None:
    """Points on and above the table land where the formulas, written out here, put them."""
    at = np.array([110.0, 80.0])
    view = PhoneView(PHONE, at)
    for x, y, z in ((110.0, 80.0, 0.0), (20.0, 15.0, 0.0), (190.0, 150.0, 1.5), (60.0, 140.0, 3.0)):
        seen = view.pixels(np.array([[x, y]]), z)[0]
        assert seen == pytest.approx(by_hand(PHONE, at, np.array([x, y, z])), abs=1e-9)


def test_the_point_looked_at_is_in_the_middle_and_up_is_up() -> None:
    """The point aimed at lies on the optical axis; the table's y points up in the picture, its x right."""
    view = PhoneView(replace(PHONE, roll=0.0), np.array([100.0, 70.0]))
    middle, right, up = view.pixels(np.array([[100.0, 70.0], [101.0, 70.0], [100.0, 71.0]]), 0.0)
    assert middle == pytest.approx([799.5 + 14.0, 599.5 - 9.0], abs=1e-9)
    assert right[0] > middle[0] + 3
    assert up[1] < middle[1] - 3


def test_a_higher_face_is_seen_larger_by_the_known_factor() -> None:
    """Straight down from D, a face h above the table is enlarged by 1 / (1 - h / D): similar triangles."""
    view = PhoneView(Phone(distance=500.0), np.zeros(2))
    ends = np.array([[-50.0, 0.0], [50.0, 0.0]])
    low, high = (np.hypot(*np.diff(view.pixels(ends, h), axis=0)[0]) for h in (0.0, 1.5))
    assert high / low == pytest.approx(1 / (1 - 1.5 / 500), rel=1e-12)


def test_grain_lies_on_the_table() -> None:
    """The table position that a pixel's ray meets, used for grain, is seen at that pixel again."""
    view = PhoneView(PHONE, np.array([110.0, 80.0]))
    u, v = view.on_table(1.2, (slice(0, 1200, 97), slice(0, 1600, 83)))
    back = view.pixels(np.column_stack([u.ravel(), v.ravel()]).astype(np.float64), 1.2)
    x, y = np.meshgrid(np.arange(0, 1600, 83), np.arange(0, 1200, 97))
    assert np.abs(back - np.column_stack([x.ravel(), y.ravel()])).max() < 0.05


def test_corners_lie_where_the_truth_says(light: Field, truth: Truth) -> None:
    """Corners found from the light lost across edges are the true ones, on the mean to 0.02 px.

    At this size the board's grain beside a 200 px edge moves one corner by some hundredths of a pixel.
    """
    off = np.concatenate([corners(light, p.cut_corners_px) - p.cut_corners_px for p in truth.placed])
    assert len(off) == 11
    assert np.hypot(*off.mean(axis=0)) < AGREE_PX
    assert np.hypot(*off.T).max() < 4 * AGREE_PX


def test_marks_lie_where_the_truth_says(light: Field, truth: Truth) -> None:
    """The centre of every whole inch's mark, by the light it takes, is on the true mark's axis."""
    (reference,) = truth.references
    feet = np.array([mark.px for mark in reference.marks])
    a, b, c, d = reference.corners_px
    errors = []
    for number in range(1, len(feet) - 1):
        along = feet[number + 1] - feet[number - 1]
        share = np.hypot(*(feet[number] - d)) / np.hypot(*(c - d))
        inward = (a + share * (b - a)) - feet[number]
        along, inward = along / np.hypot(*along), inward / np.hypot(*inward)
        across = np.array([inward[1], -inward[0]]) * np.sign(inward[1] * along[0] - inward[0] * along[1])
        errors.append(mark_offset(light, feet[number], inward, across, np.linspace(10.0, 22.0, 40)))
    # Only 12 px of each mark are looked at: one may be off by the noise, all together may not.
    assert abs(np.mean(errors)) < AGREE_PX
    assert np.abs(errors).max() < 4 * AGREE_PX


def test_the_file_says_what_a_phone_says() -> None:
    """EXIF orientation, applied by Pillow, gives the upright picture; the focal length stands there or not."""
    small = Phone(size=(400, 300), distance=600.0)
    for orientation in (1, 3, 6, 8):
        exposure = Exposure(orientation=orientation, tells_focal=orientation != 3)
        shown = render_photo(family("trellis-sixty"), Cutting(), Layout(()), small, exposure, seed=1)
        with Image.open(io.BytesIO(shown.jpeg)) as image:
            assert image.getexif()[ExifTags.Base.Orientation] == orientation
            about = image.getexif().get_ifd(ExifTags.IFD.Exif)
            assert about.get(ExifTags.Base.FocalLengthIn35mmFilm) == (None if orientation == 3 else 26)
            upright = np.asarray(ImageOps.exif_transpose(image), dtype=np.float64)
        assert upright.shape == shown.pixels.shape
        assert np.abs(upright - shown.pixels).mean() < 6.0


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_stored_rasters_follow_their_matrix(orientation: int) -> None:
    """Each pixel of the stored raster is the upright one that the truth's matrix says."""
    pixels = np.arange(5 * 7 * 3, dtype=np.uint8).reshape(5, 7, 3)
    stored = as_stored(pixels, orientation)
    for y in range(5):
        for x in range(7):
            column, row, _ = stored_from_upright((7, 5), orientation) @ [x, y, 1.0]
            assert stored[int(row), int(column)].tolist() == pixels[y, x].tolist()


def test_the_room_is_seen_whole_and_no_larger_one_is() -> None:
    """The corners of the visible room keep the border asked for, and one of them just so."""
    room = visible_room(PHONE, 50.0)
    view = PhoneView(PHONE, np.array(room) / 2)
    seen = view.pixels(np.array([[0, 0], [room[0], 0], list(room), [0, room[1]]], dtype=np.float64), 0.0)
    spare = np.concatenate([seen.min(axis=0), np.array(PHONE.size) - 1.0 - seen.max(axis=0)])
    assert spare.min() == pytest.approx(50.0, abs=0.6)


def test_a_mats_lines_cross_at_its_crossings() -> None:
    """Every strong line of the inch mat stands 25.4 mm from the next, and crossings are where the lines meet."""
    mat = MATS["mat-inch"]
    strong, _ = mat_lines(mat)
    upright = sorted(line.mean(axis=0)[0] for line in strong if np.ptp(line[:, 1]) > np.ptp(line[:, 0]))
    assert np.diff(upright) == pytest.approx(np.full(mat.columns, 25.4), abs=1e-9)
    assert mat.crossing(3, 2)[0] == pytest.approx(upright[3], abs=1e-9)


@pytest.mark.parametrize("ground", GROUNDS)
def test_grounds_are_light_between_black_and_white(ground: str) -> None:
    """Every ground is a colour that exists, with a grain that is neither flat nor wild."""
    u, v = (a.astype(np.float32) for a in np.meshgrid(np.linspace(-150, 150, 200), np.linspace(-110, 110, 160)))
    light = ground_look(ground, np.random.default_rng(3))(u, v)
    assert light.shape == (160, 200, 3)
    assert light.min() >= 0.0
    assert np.quantile(light, 0.99) <= 1.1
    assert 0.002 < light.std() < 0.35


def test_a_photo_on_a_mat_tells_its_crossings(tmp_path: Path) -> None:
    """A photo on a mat lists the mat's crossings as marks by column and row, where the camera sees them."""
    small = Phone(size=(800, 600), distance=420.0, tilt=8.0)
    layout = Layout((RULERS["steel-6in"],), mat=MATS["mat-inch"])
    shown = render_photo(family("trellis-sixty"), Cutting(), layout, small, Exposure(ground="dark"), seed=1)
    write_truth(shown.truth, tmp_path / "truth.json")
    truth = read_truth(tmp_path / "truth.json")
    mat = truth.references[-1]
    assert (mat.kind, mat.unit, len(mat.marks)) == ("mat-inch", "inch", 24 * 18)
    by_value = {mark.value: mark for mark in mat.marks}
    step = by_value[(5, 4)].table - by_value[(4, 4)].table
    assert np.hypot(*step) == pytest.approx(25.4, abs=1e-5)
    room = visible_room(small)
    for mark in mat.marks[::37]:
        expected = by_hand(small, np.array(room) / 2, np.array([*mark.table, 0.0]))
        assert mark.px == pytest.approx(expected, abs=1e-3)
    assert truth.kind == "photo"
    assert truth.px_per_mm is None
