"""Rendered scans: what is in the picture lies where the truth says, measured here by plain means."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
import skimage.color

from tests.scene.cards import Cutting
from tests.scene.families import family
from tests.scene.make import Rendered, render_scan
from tests.scene.measured import Field, corners, mark_offset
from tests.scene.rulers import RULERS
from tests.scene.scan import Scanner
from tests.scene.scatter import DoesNotFitError
from tests.scene.scene import Layout
from tests.scene.truth import Truth, read_truth, write_truth

ROOM = (190.0, 170.0)
CLEAN = Cutting(wear_radius=0.0)
# No shadow, so that an edge is a clean step of light and its place is not a matter of opinion.
FLAT = replace(RULERS["plastic-6in-eighths"], thickness=0.0)
LAYOUT = Layout((FLAT,), ruler_turn=17.0, ruler_at=(0.5, 0.22), thickness=0.0, stock="plastic")
SCANNER = Scanner(axis_error=(0.004, -0.003), skew=0.001, psf=0.8, dust=0, grain=0.0)
# What the truth and the picture may differ by: 0.02 px is 0.0017 mm, far under what any measurement claims.
AGREE_PX = 0.02


@pytest.fixture(scope="module")
def rendered() -> Rendered:
    """One scan of a plain block's cards beside a ruler at an angle, on a scanner with all its faults."""
    return render_scan(family("eight-lights"), CLEAN, LAYOUT, SCANNER, ROOM, seed=4)


@pytest.fixture(scope="module")
def truth(rendered: Rendered, tmp_path_factory: pytest.TempPathFactory) -> Truth:
    """Its truth, by way of the file."""
    path: Path = tmp_path_factory.mktemp("truth") / "truth.json"
    write_truth(rendered.truth, path)
    return read_truth(path)


@pytest.fixture(scope="module")
def light(rendered: Rendered) -> Field:
    """Linear luminance of the picture before JPEG, decoded by scikit-image."""
    return np.asarray(skimage.color.rgb2xyz(rendered.pixels)[..., 1])


def test_corners_lie_where_the_truth_says(light: Field, truth: Truth) -> None:
    """Corners found by intersecting edges, each from the light lost across it, are the true ones."""
    assert len(truth.placed) == 3
    for placed in truth.placed:
        measured = corners(light, placed.cut_corners_px)
        off = np.hypot(*(measured - placed.cut_corners_px).T)
        assert off.max() < AGREE_PX
        assert np.abs(placed.as_cut_corners_px - placed.cut_corners_px).max() < 1e-4


def test_marks_lie_where_the_truth_says(light: Field, truth: Truth) -> None:
    """The centre of every whole inch's mark, by the light it takes, is on the true mark's axis."""
    (reference,) = truth.references
    feet = np.array([mark.px for mark in reference.marks])
    along = (feet[-1] - feet[0]) / np.hypot(*(feet[-1] - feet[0]))
    a, _, _, d = reference.corners_px
    inward = (a - d) / np.hypot(*(a - d))
    depths = np.linspace(35.0, 80.0, 90)  # px from the edge: marks are 8.5 mm, 100 px, long
    errors = [mark_offset(light, foot, inward, along, depths) for foot in feet[1:-1]]
    assert np.abs(errors).max() < AGREE_PX


def test_the_truth_states_the_scanners_own_scale(truth: Truth) -> None:
    """Six inches between the marks are as many pixels as the axis errors and the angle make them."""
    (reference,) = truth.references
    first, last = (next(m for m in reference.marks if m.value == v) for v in (0.0, 6.0))
    step_mm = last.table - first.table
    assert np.hypot(*step_mm) == pytest.approx(6 * 25.4, abs=1e-5)
    step_px = last.px - first.px
    nominal = 300 / 25.4
    assert step_px[1] / -step_mm[1] == pytest.approx(nominal * 0.997, rel=1e-6)
    assert (step_px[0] / nominal / 1.004 - 0.001 * step_mm[1]) == pytest.approx(step_mm[0], rel=1e-6)
    assert truth.px_per_mm is not None
    assert truth.px_per_mm[0] == pytest.approx(nominal * 1.004, rel=1e-6)


def test_the_same_scene_is_the_same_file(rendered: Rendered) -> None:
    """Rendering again gives the same bytes; another seed gives another picture."""
    again = render_scan(family("eight-lights"), CLEAN, LAYOUT, SCANNER, ROOM, seed=4)
    assert again.jpeg == rendered.jpeg
    assert again.truth == rendered.truth
    other = render_scan(family("eight-lights"), CLEAN, LAYOUT, SCANNER, ROOM, seed=5)
    assert other.truth["image"]["pixels_sha256"] != rendered.truth["image"]["pixels_sha256"]


def test_things_keep_their_distance(truth: Truth, rendered: Rendered) -> None:
    """Cards and ruler lie at least 6 mm from each other and inside the picture, by shapely."""
    scale = 300 / 25.4
    shapes = [shapely.Polygon(p.as_cut_outline_px) for p in truth.placed]
    shapes.append(shapely.Polygon(truth.references[0].corners_px))
    frame = shapely.box(0, 0, truth.width, truth.height)
    assert all(frame.contains(shape) for shape in shapes)
    assert min(a.distance(b) for i, a in enumerate(shapes) for b in shapes[:i]) > 6.0 * scale
    assert (truth.width, truth.height) == rendered.pixels.shape[1::-1]


def test_a_card_face_down_shows_the_mirror_image() -> None:
    """Turned over, a template's corners run the other way round in the picture."""
    layout = replace(LAYOUT, face_down=("B",))
    shown = render_scan(family("moth-wing"), CLEAN, layout, replace(SCANNER, dpi=100), (215.9, 260.0), seed=4)
    turns = {}
    for placed in shown.truth["placed"]:
        x, y = np.array(placed["finished_corners_px"]).T
        turns[placed["template"]] = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) > 0.0
    # y is down in the picture: counter-clockwise on the table is a negative sum.
    assert turns == {"A": False, "B": True, "C": False, "D": False, "E": False}


def test_too_small_a_glass_is_refused() -> None:
    """Cards that can't lie on the glass with the gap asked for raise an error that says so."""
    with pytest.raises(DoesNotFitError, match="7 shapes do not fit into 120 x 100 mm"):
        render_scan(family("millrace-star"), CLEAN, LAYOUT, SCANNER, (120.0, 100.0), seed=1)
