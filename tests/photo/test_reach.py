"""Advice on what a photo's references can do over the table, and refusal of those that can do too little."""

import numpy as np
import pytest

from seamsurvey import camera
from seamsurvey.errors import InputError
from seamsurvey.model import PhotoPlane, Picture, Reference
from seamsurvey.photo.reach import reach_warnings

SIZE = (400, 300)
PICTURE = Picture("table.jpg", "0" * 64, np.zeros((SIZE[1], SIZE[0], 3), np.uint8))


def reference(kind: str, length_px: float) -> Reference:
    """A reference whose marks run so far along the picture's middle."""
    marks = np.array([[50.0, 150.0], [50.0 + length_px, 150.0]])
    return Reference(
        kind=kind, graduation="", unit="cm", step_mm=1.0, marks_px=marks, marks_mm=np.zeros(2), mark_ends_px=marks,
        residuals_px=np.zeros(2), outline_px=np.zeros((4, 2)),
    )  # fmt: skip


def plane(place: int, sigma: float, *references: Reference, of_heights: bool = False) -> PhotoPlane:
    """A camera straight over the table; one of its parameters has an uncertainty, all others none."""
    covariance = np.zeros((9, 9))
    covariance[place, place] = sigma**2
    return PhotoPlane(
        theta=camera.parameters(400.0, 500.0), size_px=SIZE, covariance=covariance, axis=np.array([1.0, 0.0]),
        of_heights=covariance if of_heights else np.zeros((9, 9)), references=references,
    )  # fmt: skip


def test_a_scale_good_to_a_thousandth_needs_no_words() -> None:
    """100 mm ± 0.2 mm (k = 2) is nothing to warn of."""
    assert reach_warnings(PICTURE, plane(camera.LOG_HEIGHT, 0.001, reference("ruler", 300.0))) == []


def test_a_scale_worse_everywhere_is_told_once_with_its_figure() -> None:
    """A scale good to 0.4 % makes 100 mm uncertain by 0.80 mm (k = 2) anywhere; a mat's own is cured by a ruler."""
    said = reach_warnings(PICTURE, plane(camera.LOG_HEIGHT, 0.004, reference("mat", 300.0)))
    assert said[0].startswith("Anywhere in the picture 100 mm can be measured to ± 0.80 mm.")
    assert "lay a ruler in as well" in said[0]


def test_a_tilt_not_known_is_told_with_what_to_add() -> None:
    """An unsure tilt spoils the edges most: a short ruler is too short, a long one wants a second."""
    short = reach_warnings(PICTURE, plane(camera.TILT_Y, 0.01, reference("ruler", 100.0)))[0]
    long = reach_warnings(PICTURE, plane(camera.TILT_Y, 0.01, reference("ruler", 200.0)))[0]
    assert "towards its edges only" in short
    assert "takes only 25% of the picture" in short
    assert "second ruler at a right angle" in long


def test_thickness_is_asked_for_where_it_is_the_doubt() -> None:
    """When the heights of cards and rulers are most of the doubt, measuring them is the advice."""
    said = reach_warnings(PICTURE, plane(8, 2.0, reference("ruler", 300.0), of_heights=True))
    assert "--thickness" in said[0]


def test_a_hopeless_reference_is_refused() -> None:
    """A scale good to 2 % is refused: 100 mm would be 4 mm off."""
    with pytest.raises(InputError) as error:
        reach_warnings(PICTURE, plane(camera.LOG_HEIGHT, 0.02, reference("ruler", 40.0)))
    assert error.value.code == "reference-too-weak"
    assert "4.0 mm" in error.value.what
