"""From a rendered photo to its plane: true lengths within the stated uncertainty, or a refusal that says why."""

from dataclasses import dataclass
from functools import cache

import attrs
import numpy as np
import pytest

from seamsurvey.errors import InputError, SeamsurveyError, UndecidedError
from seamsurvey.model import PhotoPlane, Picture
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.read import read_picture
from tests.scene.camera import Phone, PhoneView, visible_room
from tests.scene.cards import Cutting
from tests.scene.families import family
from tests.scene.geometry import placement
from tests.scene.grounds import MATS
from tests.scene.photo import Exposure, photo_jpeg, photograph
from tests.scene.rulers import RULERS
from tests.scene.scene import LaidMat, LaidRuler, Scene

FACE_MM = 1.0


@dataclass(frozen=True)
class Shot:
    """A photo, and OpenCV's camera that took it."""

    picture: Picture
    view: PhoneView

    def length_error(
        self, plane: PhotoPlane, start: tuple[float, float], end: tuple[float, float]
    ) -> tuple[float, float]:
        """Measured minus true length of a card's edge (mm from the picture's middle), and its U (k = 2)."""
        true = np.array([start, end])
        ends_px = self.view.pixels(true, FACE_MM)
        ends = plane.to_mm(ends_px)
        length = float(np.hypot(*(ends[1] - ends[0])))
        slope = (ends[1] - ends[0]) / length @ np.diff(plane.sensitivity(ends_px), axis=0)[0]
        u = 2 * float(np.sqrt(slope @ plane.covariance @ slope))
        return length - float(np.hypot(*(true[1] - true[0]))), u


LENGTHS = [((-60.0, -30.0), (40.0, -30.0)), ((-50.0, -40.0), (-50.0, 40.0)), ((10.0, -40.0), (70.0, 35.0))]


@cache
def shot(tilt: float, mat: str | None, ruler: str | None, *, ruler_scale: float = 1.0) -> Shot:
    """Six megapixels of a table with a mat, a ruler, or both, the camera tilted about a slanting axis."""
    phone = Phone(
        focal_35mm=26.0, size=(2800, 2100), principal=(9.0, -7.0), k1=-0.012, k2=0.004, distance=330.0, tilt=tilt,
        azimuth=-65.0, roll=3.0,
    )  # fmt: skip
    rulers: tuple[LaidRuler, ...] = ()
    if ruler is not None:
        kind = RULERS[ruler]
        place = placement(2.0, (0.0, -85.0), (kind.length / 2, kind.width / 2))
        place = np.column_stack([place[:, :2] * ruler_scale, place[:, 2]])
        rulers = (LaidRuler(kind, place),)
    laid = None
    if mat is not None:
        laid = LaidMat(MATS[mat], placement(-3.0, (5.0, 8.0), np.array(MATS[mat].size) / 2))
    room = visible_room(phone)
    scene = Scene("plane", 5, family("pantry-tiles"), Cutting(), room, (), rulers, laid)
    view = PhoneView(phone, np.zeros(2))
    exposure = Exposure(ground="oak", quality=92)
    return Shot(read_picture("photo.jpg", photo_jpeg(photograph(scene, view, exposure), phone, exposure)), view)


def plane_of(taken: Shot, **options: float | str) -> PhotoPlane:
    """The plane of a shot whose cards are told to be a millimetre thick."""
    plane = find_plane(taken.picture, thickness_mm=FACE_MM, **options)  # type: ignore[arg-type]
    assert isinstance(plane, PhotoPlane)
    return plane


def refusal(taken: Shot, **options: float | str) -> SeamsurveyError:
    """What it is refused with."""
    with pytest.raises(SeamsurveyError) as caught:
        plane_of(taken, **options)
    assert caught.value.todo
    return caught.value


def test_a_mat_under_a_tilted_camera_gives_lengths_to_hundredths() -> None:
    """At 25 degrees a mat's grid rectifies the table: lengths within 0.04 mm, and its 0.3 % owned up to."""
    taken = shot(25.0, "mat-cm", None)
    plane = plane_of(taken)
    assert [reference.kind for reference in plane.references] == ["mat"]
    assert plane.references[0].unit == "cm"
    assert plane.tilt_deg == pytest.approx(25.0, abs=0.1)
    assert plane.distance_mm == pytest.approx(330.0 * np.cos(np.radians(25.0)), rel=2e-3)
    for start, end in LENGTHS:
        error, u = taken.length_error(plane, start, end)
        length = float(np.hypot(*np.subtract(end, start)))
        assert abs(error) <= 0.04
        assert u == pytest.approx(2 * 0.003 * length, rel=0.1)


def test_a_ruler_beside_the_mat_gives_the_scale_and_the_mat_the_shape() -> None:
    """With the ruler's height told, U falls to the ruler's own 0.1 %, and the mat's scale is told as a check."""
    taken = shot(25.0, "mat-cm", "wood-12in-cm")
    thick = RULERS["wood-12in-cm"].thickness
    plane = plane_of(taken, ruler_thickness_mm=thick)
    assert {reference.kind for reference in plane.references} == {"ruler", "mat"}
    for start, end in LENGTHS:
        error, u = taken.length_error(plane, start, end)
        assert abs(error) <= min(u, 0.15)
        assert u <= 2.6e-3 * 100
    (mat,) = (reference for reference in plane.references if reference.kind == "mat")
    assert mat.scale_off is not None
    assert mat.scale_u is not None
    assert abs(mat.scale_off) <= mat.scale_u
    assert not plane.warnings


def test_one_ruler_alone_measures_within_its_stated_uncertainty() -> None:
    """Ticks as lines rectify the table at 3 degrees with a focal length prior; not knowing heights costs most."""
    taken = shot(3.0, None, "wood-12in-cm")
    told = plane_of(taken, ruler_thickness_mm=RULERS["wood-12in-cm"].thickness)
    untold = plane_of(taken)
    for start, end in LENGTHS:
        for plane in (told, untold):
            error, u = taken.length_error(plane, start, end)
            assert abs(error) <= u
    u_told, u_untold = (taken.length_error(plane, *LENGTHS[0])[1] for plane in (told, untold))
    assert u_untold > 1.5 * u_told


def test_a_picture_turned_by_a_quarter_gives_the_same_lengths() -> None:
    """Lengths do not depend on which way the phone was held (metamorphic)."""
    taken = shot(25.0, "mat-cm", None)
    upright = plane_of(taken)
    turned_pixels = np.ascontiguousarray(np.rot90(taken.picture.pixels, 1))
    turned = find_plane(attrs.evolve(taken.picture, pixels=turned_pixels), thickness_mm=FACE_MM)
    width = taken.picture.width
    for start, end in LENGTHS:
        ends = taken.view.pixels(np.array([start, end]), FACE_MM)
        turned_ends = np.column_stack([ends[:, 1], width - 1 - ends[:, 0]])
        lengths = [
            float(np.hypot(*np.diff(p.to_mm(e), axis=0)[0])) for p, e in ((upright, ends), (turned, turned_ends))
        ]
        assert lengths[0] == pytest.approx(lengths[1], abs=0.004)


def test_references_that_contradict_one_another_are_asked_about() -> None:
    """A ruler printed at 80 % beside a mat is no worn ruler: one of the two was misread, and a person must say."""
    taken = shot(10.0, "mat-cm", "plastic-20cm", ruler_scale=0.8)
    error = refusal(taken)
    assert isinstance(error, UndecidedError)
    assert error.code == "references-disagree"
    assert "1.25" in error.what
    assert plane_of(taken, reference="mat").references[0].kind == "mat"


def test_a_mat_whose_unit_does_not_show_gives_no_scale() -> None:
    """Half lines between whole ones may be an inch's or a centimetre's, with no figure in view: shape, no scale."""
    error = refusal(shot(25.0, "mat-inch", None))
    assert error.code == "no-scale"


def test_the_only_reference_asked_for_must_be_there() -> None:
    """Asked to use a target where there is none, the tool does not fall back on the mat."""
    error = refusal(shot(25.0, "mat-cm", None), reference="target")
    assert isinstance(error, InputError)
    assert error.code == "no-reference"
