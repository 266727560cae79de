"""Rulers before a camera: read rightly at every slant, their marks' lines where OpenCV projects them."""

import math
from dataclasses import dataclass, replace

import attrs
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.errors import InputError, UndecidedError
from seamsurvey.light import linear_luminance
from seamsurvey.model import Picture
from seamsurvey.photo.decide import choose
from seamsurvey.photo.observed import ACROSS, ALONG, KNOWN
from seamsurvey.photo.observed_ruler import observed_ruler
from seamsurvey.photo.ruler import GraduatedEdge, find_graduated_edges
from tests.scene.camera import Phone, PhoneView
from tests.scene.cards import Cutting
from tests.scene.families import random_family
from tests.scene.geometry import move, placement
from tests.scene.photo import Exposure, photograph
from tests.scene.rulers import GRADUATIONS, RULERS, UNIT_MM, Scale, marks_of
from tests.scene.scene import LaidRuler, Scene

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Shot:
    """A ruler's photo and where its marks truly are."""

    pixels: NDArray[np.uint8]
    ruler: LaidRuler
    view: PhoneView

    @property
    def light(self) -> NDArray[np.float32]:
        """(h, w) linear luminance."""
        return linear_luminance(self.pixels)

    def mark_lines(self, scale: Scale) -> tuple[Points, Points, Points]:
        """Values, near ends and far ends (px) of a scale's marks."""
        kind = self.ruler.kind
        marks = marks_of(kind, scale)
        ends = [
            self.view.pixels(
                move(self.ruler.to_table, np.array([[m.foot[0], m.outline[corner][1]] for m in marks])),
                kind.thickness,
            )
            for corner in (0, 2)
        ]
        return np.array([m.value for m in marks]), ends[0], ends[1]


def shoot(name: str, tilt: float, azimuth: float, turn: float, ground: str, **more: float) -> Shot:
    """The ruler over seven tenths of a 3 MP picture's width, seen at a slant by a lens that bends lines."""
    kind = RULERS[name]
    phone = Phone(size=(2000, 1500), k1=-0.012, k2=0.003, principal=(9.0, -6.0), tilt=tilt, azimuth=azimuth)
    share = more.get("share", 0.7)
    phone = replace(
        phone, distance=phone.focal_px * kind.length / (share * phone.size[0]), roll=more.get("roll", 0.0)
    )
    at = np.array([150.0, 110.0])
    ruler = LaidRuler(kind, placement(turn, at, (kind.length / 2, kind.width / 2)))
    view = PhoneView(phone, at)
    seed = round(tilt * 7 + turn)
    scene = Scene("ruler", seed, random_family(1), Cutting(), (300.0, 220.0), (), (ruler,))
    pixels = photograph(scene, view, Exposure(ground=ground, lamp=70.0, worn=0.02))
    return Shot(pixels, ruler, view)


def matched(edge: GraduatedEdge, shot: Shot, scale: Scale) -> tuple[Points, Points, Points] | None:
    """Value of each found mark by its place, and unit normals and feet of the true lines; None: another edge."""
    value, near, far = shot.mark_lines(scale)
    way = (far - near) / np.hypot(*(far - near).T)[:, None]
    normal = np.column_stack([-way[:, 1], way[:, 0]])
    middle = edge.comb.anchors.mean(axis=1)
    along = np.einsum("ijk,jk->ij", middle[:, None] - near[None], way)
    off = np.abs(np.einsum("ijk,jk->ij", middle[:, None] - near[None], normal))
    off[(along < -2) | (along > 1.5 * np.hypot(*(far - near).T) + 2)] = np.inf
    nearest = np.argmin(off, axis=1)
    if np.median(off[np.arange(len(middle)), nearest]) > 1.0:
        return None
    return value[nearest], normal[nearest], near[nearest]


@pytest.mark.parametrize(
    ("name", "tilt", "azimuth", "turn", "ground"),
    [
        ("wood-12in-cm", 12.0, -90.0, 3.0, "walnut"),
        ("wood-12in-eighths", 34.0, 140.0, 200.0, "gingham"),
        ("steel-6in", 25.0, 20.0, 75.0, "linen"),
        ("steel-6in-32nds", 5.0, -60.0, 181.0, "dark"),
        ("tenths-6in", 30.0, -100.0, 318.0, "oak"),
        ("plastic-30cm", 18.0, 60.0, 24.0, "floral"),
        ("dark-6in", 34.0, -90.0, 91.0, "birch"),
    ],
)
def test_every_kind_of_ruler_is_read_at_a_slant(
    name: str, tilt: float, azimuth: float, turn: float, ground: str
) -> None:
    """Unit, step and whole units are right on every edge, and each mark's line is the true one to 0.15 px."""
    shot = shoot(name, tilt, azimuth, turn, ground)
    edges = [edge for edge in find_graduated_edges(shot.pixels, shot.view.phone.focal_px) if edge.readings]
    found = set()
    for edge in edges:
        scale, match = next((s, m) for s in shot.ruler.kind.scales if (m := matched(edge, shot, s)) is not None)
        value, normal, near = match
        names = {reading.graduation.text for reading in edge.readings}
        right = GRADUATIONS[scale.unit, scale.levels[-1][0]]
        # Tenths of an inch and of a centimetre look alike; nothing else may be left open.
        assert right in names
        assert names <= {right} or names == {"cm, 1 mm", "inch, 1/10"}
        found.add(scale.edge)
        reading = next(r for r in edge.readings if r.graduation.text == right)
        apart = np.diff(value) / np.diff(edge.comb.index)
        assert np.abs(apart) == pytest.approx(np.full(len(apart), 1 / reading.graduation.per_unit), rel=1e-6)
        whole = (edge.comb.index - reading.phase) % reading.graduation.per_unit == 0
        assert value[whole] == pytest.approx(np.rint(value[whole]), abs=1e-9)
        for side in (0, 1):
            off = np.sum((edge.comb.anchors[:, side] - near) * normal, axis=1)
            assert np.sqrt(np.mean(off**2)) < 0.15
            assert abs(np.mean(off)) < 0.03
    assert found == {scale.edge for scale in shot.ruler.kind.scales}


def test_the_frame_is_the_rulers_own() -> None:
    """An observed ruler's rough frame is right-handed seen from above, in mm to 2 %, its lines at their nominals.

    The true places come from the renderer's own map from the ruler to the table and OpenCV's projection.
    """
    shot = shoot("wood-12in", 20.0, -80.0, 10.0, "white")
    (edge,) = [e for e in find_graduated_edges(shot.pixels, shot.view.phone.focal_px) if e.readings]
    observed = observed_ruler(edge, edge.readings[0])
    assert np.linalg.det(observed.rough) / observed.rough[2, 2] ** 3 < 0  # px run down, mm up
    own = np.column_stack([observed.points_px, np.ones(len(observed.points_px))]) @ observed.rough.T
    own = own[:, :2] / own[:, 2:]
    marks = observed.axis == ALONG
    assert np.all(observed.edge[marks] == KNOWN)
    assert np.abs(own[marks, 0] - observed.nominal_mm[marks]).max() < 0.5
    assert np.all(own[marks, 1] > 0)
    # All marks begin on one line of the ruler.
    across = observed.axis == ACROSS
    assert np.all(observed.edge[across] == 0)
    assert float(np.std(own[across, 1])) < 0.3
    # The two points of each mark lie on its true line.
    match = matched(edge, shot, RULERS["wood-12in"].scales[0])
    assert match is not None
    _, normal, near = match
    pairs = observed.points_px[marks].reshape(-1, 2, 2)
    off = np.einsum("ijk,ik->ij", pairs - near[:, None], normal)
    assert np.mean(np.abs(off) <= 2 * observed.sigma_px[marks].reshape(-1, 2)) > 0.95


def test_a_covered_ruler_keeps_its_count() -> None:
    """A card across the ruler hides marks; those beyond it keep their true numbers."""
    shot = shoot("wood-12in", 22.0, -120.0, 5.0, "white")
    cover = shot.view.pixels(
        move(shot.ruler.to_table, np.array([[130.0, -6.0], [160.0, -6.0], [168.0, 40.0], [128.0, 40.0]])), 3.5
    )
    pixels = shot.pixels.copy()
    cv2.fillPoly(pixels, [np.round(cover * 16).astype(np.int32)], (203,) * 3, lineType=cv2.LINE_AA, shift=4)
    (edge,) = [e for e in find_graduated_edges(pixels) if e.readings]
    match = matched(edge, shot, RULERS["wood-12in"].scales[0])
    assert match is not None
    value = match[0]
    assert np.diff(edge.comb.index).max() >= 15
    assert np.abs(np.diff(value) / np.diff(edge.comb.index)) == pytest.approx(
        np.full(len(value) - 1, 1 / 16), rel=1e-6
    )
    assert edge.readings[0].graduation.text == "inch, 1/16"


@pytest.mark.parametrize("ground", ["gingham", "oak", "floral"])
def test_a_table_is_no_ruler(ground: str) -> None:
    """Cloth, checks and wood grain alone give nothing that reads as a ruler."""
    scene = Scene("bare", 3, random_family(1), Cutting(), (300.0, 220.0), (), ())
    view = PhoneView(Phone(size=(2000, 1500), tilt=15.0), np.array([150.0, 110.0]))
    pixels = photograph(scene, view, Exposure(ground=ground))
    assert not [edge for edge in find_graduated_edges(pixels) if edge.readings]


def test_a_turned_picture_gives_the_same_marks() -> None:
    """Turned by a quarter and by a half, the same marks are found, each where the turn puts it, to 0.05 px."""
    shot = shoot("steel-6in", 15.0, -70.0, 30.0, "white")
    edges = [edge for edge in find_graduated_edges(shot.pixels) if edge.readings]
    height, width = shot.pixels.shape[:2]
    for quarters, back in (
        (1, lambda p: np.column_stack([width - 1 - p[:, 1], p[:, 0]])),
        (2, lambda p: np.array([width - 1.0, height - 1.0]) - p),
    ):
        turned = [
            edge
            for edge in find_graduated_edges(np.ascontiguousarray(np.rot90(shot.pixels, quarters)))
            if edge.readings
        ]
        assert len(turned) == len(edges) == 2
        for edge in edges:
            other = next(o for o in turned if math.isclose(o.comb.step, edge.comb.step, rel_tol=2e-3))
            assert len(set(edge.comb.index)) == len(edge.comb.index)
            feet = back(other.comb.anchors.mean(axis=1))
            apart = np.hypot(*(feet[:, None] - edge.comb.anchors.mean(axis=1)[None]).T).min(axis=0)
            assert np.median(apart) < 0.05
            assert abs(len(feet) - edge.marks) <= 3


def test_units_have_their_sizes() -> None:
    """The renderer's units, which the readings are judged by, are the legal ones (international inch of 1959)."""
    assert UNIT_MM == {"inch": 25.4, "cm": 10.0}


def test_the_other_edge_tells_tenths_from_millimetres() -> None:
    """Millimetres beside sixteenths of an inch are no tenths: both steps are measured in one frame, to 1 %."""
    shot = shoot("steel-6in", 28.0, 35.0, 160.0, "oak")
    edges = [edge for edge in find_graduated_edges(shot.pixels, shot.view.phone.focal_px) if edge.readings]
    picture = Picture(name="p", sha256="", pixels=np.zeros((2, 2, 3), np.uint8), dpi=(72.0, 72.0), camera="a phone")
    choice = choose(picture, edges, "auto", slanted=True)
    chosen = [reading.graduation for reading in choice.readings if reading is not None]
    assert sorted(graduation.text for graduation in chosen) == ["cm, 1 mm", "inch, 1/16"]
    scales = [edge.step / graduation.step_mm for edge, graduation in zip(edges, chosen, strict=True)]
    assert scales[0] == pytest.approx(scales[1], rel=0.01)
    with pytest.raises(InputError, match="You said"):
        choose(picture, [edge for edge in edges if len(edge.readings) == 1], "cm")


def test_a_camera_is_not_held_where_a_lens_is_not_sharp() -> None:
    """Tenths that would be millimetres seen from 100 mm are of an inch; from 500 mm only the person can tell.

    Of two such rulers one of which looks a quarter larger, the true reason is told: they lie at two heights.
    The distances follow from the pinhole: focal length over px per mm.
    """
    shot = shoot("tenths-6in", 12.0, -80.0, 20.0, "white")
    edges = [edge for edge in find_graduated_edges(shot.pixels, shot.view.phone.focal_px) if edge.readings]
    assert {len(edge.readings) for edge in edges} == {2}
    px_per_mm = edges[0].step / 2.54
    picture = Picture(name="p", sha256="", pixels=np.zeros((2, 2, 3), np.uint8), dpi=None, camera="a phone")
    near = replace_focal(picture, 100.0 * edges[0].step)
    choice = choose(near, edges, "auto", slanted=True)
    assert {reading.graduation.text for reading in choice.readings if reading is not None} == {"inch, 1/10"}
    for unsure in (picture, replace_focal(picture, 700.0 * px_per_mm)):
        with pytest.raises(UndecidedError, match="two ways"):
            choose(unsure, edges, "auto", slanted=True)
    with pytest.raises(UndecidedError, match=r"1\.25 times as large") as refused:
        choose(picture, [edges[0], attrs.evolve(edges[0], step=1.25 * edges[0].step)], "auto", slanted=True)
    assert refused.value.code == "references-disagree"


def replace_focal(picture: Picture, focal_px: float) -> Picture:
    """The picture, taken with a lens of that focal length."""
    return attrs.evolve(picture, focal_px=focal_px)


def test_either_side_of_a_cover_leads_to_the_other() -> None:
    """Fewer than twenty marks on each side of a card are one comb of known count, if together they are enough."""
    shot = shoot("plastic-6in-eighths", 10.0, 60.0, 8.0, "white")
    cover = shot.view.pixels(
        move(shot.ruler.to_table, np.array([[68.0, 10.0], [98.0, 10.0], [98.0, 32.0], [68.0, 32.0]])), 2.5
    )
    pixels = shot.pixels.copy()
    cv2.fillPoly(pixels, [np.round(cover * 16).astype(np.int32)], (188,) * 3, lineType=cv2.LINE_AA, shift=4)
    (edge,) = [e for e in find_graduated_edges(pixels, shot.view.phone.focal_px) if e.readings]
    match = matched(edge, shot, RULERS["plastic-6in-eighths"].scales[0])
    assert match is not None
    gap = int(np.argmax(np.diff(edge.comb.index)))
    assert np.diff(edge.comb.index)[gap] >= 8
    assert max(gap + 1, edge.marks - gap - 1) < 22
    assert np.abs(np.diff(match[0]) / np.diff(edge.comb.index)) == pytest.approx(
        np.full(edge.marks - 1, 1 / 8), rel=1e-6
    )
    assert [reading.graduation.text for reading in edge.readings] == ["inch, 1/8"]
