"""The annotated camera photo: grid, misses and map lie where the camera and its covariance put them."""

import io
import math

import attrs
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from seamsurvey import camera
from seamsurvey.model import PhotoPlane, PhotoReport, Picture, Reference, TemplateSet
from seamsurvey.sheets.canvas import Canvas, rgb
from seamsurvey.sheets.overlay import overlay_png
from seamsurvey.sheets.overlay_grid import GRID, Grid
from seamsurvey.sheets.overlay_map import SHADES, uncertainty_map
from seamsurvey.sheets.overlay_references import MISS, draw_reference
from seamsurvey.sheets.photo_facts import agreement_text, camera_text, expected_text, reference_text

SIZE = (1600, 1200)
FOCAL, HEIGHT, TILT = 1300.0, 420.0, (0.3, 0.12)
CORNER = np.array([[300.0, 900.0]])  # px: of the sheet, where the grid begins


def sheet(**more: object) -> Reference:
    """A mat whose corner is in view, with three places and their misses."""
    square = np.array([[0.0, 0.0], [200.0, 0.0], [200.0, -200.0], [0.0, -200.0]])
    return Reference(
        kind="mat", graduation="mat, squares of 1 cm", unit="cm", step_mm=10.0, marks_px=CORNER + square[:1],
        marks_mm=np.zeros(1), mark_ends_px=CORNER + square[1:2], residuals_px=np.array([0.03]),
        outline_px=CORNER + square, px_per_mm=3.0,
        spots_px=np.array([[420.0, 700.0], [900.0, 500.0], [950.0, 800.0]]),
        misses_px=np.array([[0.1, 0.0], [0.0, -0.1], [0.06, 0.08]]),
        **more,  # type: ignore[arg-type]
    )  # fmt: skip


def plane_of(variances: dict[int, float], *references: Reference) -> PhotoPlane:
    """A tilted camera over the table, some of its parameters not well known."""
    covariance = np.zeros((9, 9))
    for place, variance in variances.items():
        covariance[place, place] = variance
    return PhotoPlane(
        theta=camera.parameters(FOCAL, HEIGHT, TILT), size_px=SIZE, covariance=covariance,
        axis=np.array([1.0, 0.0]), of_heights=np.zeros((9, 9)), references=references,
    )  # fmt: skip


def grey_photo(level: int = 255) -> Picture:
    """A plain picture."""
    return Picture("table.jpg", "0" * 64, np.full((SIZE[1], SIZE[0], 3), level, np.uint8))


def seen_by_opencv(points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 2) px of table points from the sheet's corner on, by cv2.projectPoints.

    The optical axis turned by the tilt is the table's normal; the table's x is the image's x as it lies there.
    """
    down = cv2.Rodrigues(np.array([*TILT, 0.0]))[0] @ np.array([0.0, 0.0, 1.0])
    right = np.array([1.0, 0.0, 0.0]) - down[0] * down
    right /= np.linalg.norm(right)
    turn = np.column_stack([right, np.cross(right, down), -down])
    inside = np.array([[FOCAL, 0, (SIZE[0] - 1) / 2], [0, FOCAL, (SIZE[1] - 1) / 2], [0, 0, 1]])
    ray = np.linalg.solve(inside, np.array([*CORNER[0], 1.0]))
    origin = ray * HEIGHT / (ray @ down)
    raised = np.column_stack([points_mm, np.zeros(len(points_mm))])
    seen = cv2.projectPoints(raised, cv2.Rodrigues(turn)[0], origin, inside, None)[0]
    return np.asarray(seen, dtype=float)[:, 0]


def test_the_grid_lies_where_opencv_projects_it() -> None:
    """Every 50 mm line from the sheet's corner on runs within 1.5 px of where cv2.projectPoints has its points."""
    canvas = Canvas.of(grey_photo(), SIZE[0])
    grid = Grid.of(canvas, plane_of({}, sheet()), "mm")
    assert grid is not None
    grid.draw(canvas)
    blank = Canvas.of(grey_photo(), SIZE[0]).pixels
    inked = (np.abs(canvas.pixels.astype(int) - blank).max(axis=2) > 80).astype(np.uint8)
    distance = cv2.distanceTransform(1 - inked, cv2.DIST_L2, 5)
    steps = np.arange(-2, 4) * 50.0
    along = np.linspace(-100, 150, 60)
    lines = [np.column_stack([np.full(60, step), along]) for step in steps]
    lines += [line[:, ::-1] for line in lines]
    points = np.round(np.concatenate([seen_by_opencv(line) for line in lines])).astype(int)
    inside = (points >= 0).all(axis=1) & (points[:, 0] < SIZE[0]) & (points[:, 1] < SIZE[1])
    assert inside.sum() > 300
    assert distance[points[inside, 1], points[inside, 0]].max() < 1.5
    assert np.mean(inked) < 0.05  # or the whole picture might be ink


def test_a_miss_is_a_stroke_from_its_place_as_many_times_as_large_as_the_legend_says() -> None:
    """Strokes begin at their places and end where the stated factor takes the miss."""
    canvas = Canvas.of(grey_photo(), SIZE[0])
    said = [words for words, colour in draw_reference(canvas, sheet(), 1) if colour == MISS]
    times = float(said[0].split(" times as large")[0].rsplit(" ", 1)[1])
    assert times > 50
    ink = np.abs(canvas.pixels.astype(int) - rgb(MISS)).max(axis=2) < 60
    for spot, miss in zip(sheet().spots_px, sheet().misses_px, strict=True):
        end = spot + times * miss
        for place in (spot, (spot + end) / 2, end):
            x, y = np.round(place).astype(int)
            assert ink[y - 1 : y + 2, x - 1 : x + 2].any()
        x, y = np.round(spot + 1.4 * times * miss).astype(int)
        assert not ink[y - 1 : y + 2, x - 1 : x + 2].any()


def test_the_map_darkens_where_a_tilt_spoils_lengths() -> None:
    """With only the tilt unknown a length's error, and so the shade, grows from the picture's middle to a side."""
    plane = plane_of({camera.TILT_Y: 1e-6})
    drawn = uncertainty_map(grey_photo(), plane, [], unit="mm", width=400, type_px=12).pixels[:300]
    order = [np.array(rgb(shade)) for shade in SHADES]

    # White light through a shade of 62 %: the photo is plain, so the nearest shade tells the class.
    def shade_at(x: int, y: int) -> int:
        seen = (drawn[y, x].astype(float) - 0.38 * 255) / 0.62
        return int(np.argmin([np.abs(seen - shade).sum() for shade in order]))

    row = [shade_at(x, 150) for x in (200, 300, 395)]
    assert row == sorted(row)
    assert row[2] > row[0]


def test_a_scale_alone_is_said_in_words_and_needs_no_shades() -> None:
    """A scale known to 0.1 % makes 100 mm uncertain by 0.20 mm (k = 2) everywhere; the sentence says just that."""
    plane = plane_of({camera.LOG_HEIGHT: 1e-6})
    seen = uncertainty_map(grey_photo(), plane, [], unit="mm", width=400, type_px=12).pixels[:300].reshape(-1, 3)
    assert len(np.unique(seen, axis=0)) == 1
    # JCGM 100:2008, 5.1: a length in proportion to the scale has its relative uncertainty.
    middle = np.zeros((1, 2))
    assert plane.length_u(middle, 100.0) == pytest.approx(0.2, rel=1e-3)


def test_a_photo_shows_grid_and_map_and_a_scan_does_not_need_them() -> None:
    """The whole picture of a photo carries the teal of its grid, and the map's lower band beside the legend."""
    report = PhotoReport("table.jpg", "0" * 64, SIZE, plane_of({camera.TILT_Y: 1e-6}, sheet()), ())
    templates = TemplateSet(photos=(report,), templates=(), shared_covariance=np.zeros((0, 0)))
    content = np.asarray(Image.open(io.BytesIO(overlay_png(grey_photo(), 0, templates, units="mm"))).convert("RGB"))
    rows = round(SIZE[1] * content.shape[1] / SIZE[0])
    teal = np.abs(content[:rows].astype(int) - rgb(GRID)).max(axis=2) < 120
    assert teal.mean() > 0.003
    right = content[rows:, -content.shape[1] // 4 :]
    darkest = 0.62 * np.array(rgb(SHADES[1])) + 0.38 * 255
    assert np.any(np.abs(right - darkest).max(axis=2) < 6)


def test_the_words_tell_camera_references_and_expected_error() -> None:
    """Tilt, distance and focal length are those put in; a reference's difference has its own uncertainty."""
    compared = sheet(scale_off=0.004, scale_u=0.006)
    plane = plane_of({camera.LOG_HEIGHT: 1e-6}, compared)
    tilt = math.degrees(math.hypot(*TILT))
    equivalent = FOCAL / math.hypot(*SIZE) * math.hypot(36, 24)
    said = camera_text(plane)
    assert f"{tilt:.1f}° from straight above, 420 mm over the table" in said
    assert f"{FOCAL:.0f} px ({equivalent:.0f} mm equivalent)" in said
    assert "0.400% longer" in agreement_text(compared)
    assert "± 0.600%: as expected" in agreement_text(compared)
    assert "more than expected" in agreement_text(attrs.evolve(compared, scale_u=0.002))
    assert agreement_text(sheet()) == ""
    assert "1 line, on average 0.10 pixels from where they should be" in reference_text(compared)
    assert expected_text(plane, [], "mm") == ""
