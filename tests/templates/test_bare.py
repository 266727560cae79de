"""Measuring without a reference: shapes and ratios in pixels, faces found anywhere, borders counted in."""

from typing import Any

import cv2
import numpy as np
import pytest
import skimage.draw
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from seamsurvey.errors import UsageError
from seamsurvey.geometry import edge_lengths, offset_polygon, rotation
from seamsurvey.model import Correction, Corrections, Picture, SetLength, TemplateSet
from seamsurvey.photo.plane import find_plane
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.rims import rim_of
from tests.looked import look_and_measure

Floats = NDArray[np.float64]

SIDE = 92.0  # px of the smallest leg in the picture
FINE = 4
RIM = 4.0  # px


def seven() -> list[Floats]:
    """Seven shapes of legs 1, √2, 2: two large triangles, a middle one, two small, a square, a leaning one."""
    half, r = [[0, 0], [1, 0], [0, 1]], np.sqrt(2)
    shapes = [np.array(half) * 2, np.array(half) * 2, np.array(half) * r, np.array(half), np.array(half)]
    shapes += [
        np.array([[0, 0], [1, 0], [1, 1], [0, 1]]),
        np.array([[0, 0], [r, 0], [1.5 * r, r / 2], [r / 2, r / 2]]),
    ]
    turns = (12, 190, 40, -70, 133, 5, 61)
    places = ((110, 90), (560, 380), (700, 70), (960, 500), (480, 110), (660, 420), (200, 380))
    return [s * SIDE @ rotation(t).T + np.array(p) for s, t, p in zip(shapes, turns, places, strict=True)]


def picture(rim: float, *, table: float = 0.75) -> Picture:
    """Black faces, with a pale border round each if ``rim``, on a white board that ends inside the picture."""
    height, width = 640, 1100
    fine = np.full((height * FINE, width * FINE), 0.12)
    fine[30 * FINE : -30 * FINE, 40 * FINE : -40 * FINE] = table
    for shape in seven():
        dark = shape if not rim else np.asarray(offset_polygon(shape, -rim))
        gap = np.asarray(offset_polygon(shape, 1.2))
        for outline, value in (
            ((gap, 0.35 * table), (shape, 0.9 * table), (dark, 0.015)) if rim else ((dark, 0.015),)
        ):
            at = (outline + 0.5) * FINE - 0.5
            fine[skimage.draw.polygon(at[:, 1], at[:, 0], fine.shape)] = value
    light = gaussian_filter(fine, 0.7 * FINE).reshape(height, FINE, width, FINE).mean(axis=(1, 3))
    light += np.random.default_rng(4).normal(0, 0.004, light.shape)
    grey = np.clip(light, 0, 1)
    encoded = np.where(grey <= 0.0031308, 12.92 * grey, 1.055 * grey ** (1 / 2.4) - 0.055)  # IEC 61966-2-1
    pixels = np.repeat((255 * encoded).round().astype(np.uint8)[..., None], 3, axis=2)
    return Picture(name="board.png", sha256="0" * 64, pixels=pixels)


def measured(shown: Picture, **how: Any) -> TemplateSet:
    """The shapes of a picture without a scale."""
    return look_and_measure([(shown, find_plane(shown, reference="none"))], allowance_mm=None, **how)


def nearest_truth(outline_px: Floats) -> Floats:
    """The true corners of the shape that lies there, in its order."""
    middle = outline_px.mean(axis=0)
    truth = min(seven(), key=lambda s: float(np.hypot(*(s.mean(axis=0) - middle))))
    order = np.argmin(np.hypot(*(outline_px[:, None] - truth[None]).transpose(2, 0, 1)), axis=1)
    return np.asarray(truth[order])


def test_a_rough_ground_is_no_border() -> None:
    """Round outlines drawn on nothing but spots, dips lie beside most edges, but nowhere alike."""
    spots = gaussian_filter(np.random.default_rng(0).normal(0, 1, (640, 1100)), 4.0)
    light = np.repeat((0.4 + 0.1 * spots / spots.std())[..., None], 3, axis=2).astype(np.float32)
    plane = find_plane(picture(0.0), reference="none")
    cards = [(Crop(light, (0, 0)), plane.to_mm(shape)) for shape in seven()]
    assert rim_of(cards, plane).width_mm == 0.0


@pytest.mark.parametrize("rim", [0.0, RIM])
def test_all_seven_are_found_and_measured_in_pixels(rim: float) -> None:
    """The true outlines come back: edges within 0.2 %, where a pale border must be seen 2.5 %, and within U."""
    found = measured(picture(rim))
    assert found.in_px
    assert len(found.templates) == 7
    for template in found.templates:
        truth = nearest_truth(template.corners_px)
        lengths = np.array([edge.length_mm for edge in template.edges])
        np.testing.assert_allclose(lengths, edge_lengths(truth), rtol=0.025 if rim else 0.002)
        assert np.all(np.abs(lengths - edge_lengths(truth)) <= [max(edge.u_mm, 0.6) for edge in template.edges])


def test_the_outline_is_in_the_picture_s_own_pixels() -> None:
    """The plane of the set maps one pixel to one of its units: areas agree with OpenCV's of the true corners."""
    found = measured(picture(0.0))
    plane = found.photos[0].plane
    assert plane.mm_per_px == pytest.approx(1.0)
    for template in found.templates:
        truth = nearest_truth(template.corners_px).astype(np.float32)
        x, y = template.finished_outline.T
        area = abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))) / 2
        assert area == pytest.approx(cv2.contourArea(truth), rel=0.01)


def test_the_doubt_about_the_camera_is_told() -> None:
    """The set says that nothing gives a scale and that the picture was taken as seen from straight above."""
    (warning,) = measured(picture(0.0)).photos[0].warnings
    assert "straight from above" in warning
    assert "pixels" in warning


@pytest.mark.parametrize(
    "how",
    [
        {"corrections": Corrections(templates={"T1": Correction(edges={1: SetLength(30.0)})})},
        {"corrections": Corrections(templates={"T1": Correction(allowance_mm=6.0)})},
    ],
)
def test_lengths_beside_pixels_are_refused(how: dict[str, Any]) -> None:
    """What is said in millimetres can't be put beside pixels."""
    with pytest.raises(UsageError) as caught:
        measured(picture(0.0), **how)
    assert caught.value.code == "pixels-only"


def test_an_allowance_beside_pixels_is_refused() -> None:
    """A quarter of an inch can't be taken off pixels."""
    shown = picture(0.0)
    with pytest.raises(UsageError) as caught:
        look_and_measure([(shown, find_plane(shown, reference="none"))], allowance_mm=6.35)
    assert caught.value.code == "pixels-only"
