"""Frames with the finished outline cut out: the window is measured, whatever the frame."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.geometry import edge_lengths, offset_polygon
from seamsurvey.model import Picture, Plane
from tests.looked import look_and_measure
from tests.templates import drawing as d

Floats = NDArray[np.float64]

INCH = 25.4
SQUARE = d.turned([[0, 0], [30, 0], [30, 30], [0, 30]], 7, (38, 55))
TRIANGLE = d.turned([[0, 0], [40, 0], [0, 40]], 31, (110, 55))


def frames(widths: tuple[float, float]) -> tuple[Picture, Plane]:
    """A scan of two frames of these widths round a square and a triangle: cards with holes, no shadows."""
    outer = [offset_polygon(shape, width) for shape, width in zip((SQUARE, TRIANGLE), widths, strict=True)]
    picture, plane = d.scan(outer, lid=d.WHITE, card=d.DARK, size_mm=(170.0, 110.0))
    grey = picture.pixels / 255
    light = np.where(grey <= 0.04045, grey / 12.92, ((grey + 0.055) / 1.055) ** 2.4)  # IEC 61966-2-1
    for shape in (SQUARE, TRIANGLE):
        hole = cv2.GaussianBlur(d.coverage(shape, light.shape[:2], plane).whole, (0, 0), 0.7)[..., None]
        light = light * (1 - hole) + np.asarray(d.WHITE) * hole
    return d.picture(light), plane


@pytest.mark.parametrize(("widths", "said"), [((INCH / 4, INCH / 4), None), ((6.0, 7.0), INCH / 4)])
def test_the_window_is_the_finished_outline(widths: tuple[float, float], said: float | None) -> None:
    """Both windows come back within 0.04 mm and their U, even where one frame is a millimetre wider."""
    found = look_and_measure([frames(widths)], allowance_mm=said)
    assert len(found.templates) == 2
    assert {template.allowance_from for template in found.templates} == {"window"}
    assert "window is the finished outline" in found.warnings[0]
    for template, truth, width in zip(found.templates, (SQUARE, TRIANGLE), widths, strict=True):
        lengths = np.array([edge.length_mm for edge in template.edges])
        true = edge_lengths(truth)
        turn = min(range(len(true)), key=lambda k: float(np.abs(np.roll(true, -k) - lengths).max()))
        np.testing.assert_allclose(lengths, np.roll(true, -turn), atol=0.04)
        assert np.all(np.abs(lengths - np.roll(true, -turn)) <= [edge.u_mm for edge in template.edges])
        assert template.allowance_mm == pytest.approx(width, abs=0.1)


def test_a_card_with_its_middle_printed_is_no_frame() -> None:
    """A pale square printed on a dark card, not of the ground's colour, is no window."""
    outer = np.asarray(offset_polygon(SQUARE, 6.0))
    picture, plane = d.scan([outer], lid=d.WHITE, card=d.DARK)
    pixels = picture.pixels.copy()
    inside = d.coverage(SQUARE, pixels.shape[:2], plane).whole > 0.5
    pixels[inside] = (150, 60, 40)
    found = look_and_measure([(Picture("scan.png", "0" * 64, pixels, (300, 300)), plane)], allowance_mm=0.0)
    (template,) = found.templates
    assert template.allowance_from == "given"
    np.testing.assert_allclose(edge_lengths(template.finished_outline), edge_lengths(outer), atol=0.05)
