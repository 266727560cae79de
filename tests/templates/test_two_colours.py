"""Faces of two colours: two cards side by side may show so, a shadow's border and print don't."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.light import linear_channels
from seamsurvey.model import Picture, Plane
from seamsurvey.templates.own_colour import parted_by_colour
from tests.templates import drawing as d

CARD = np.array([[12.0, 12.0], [52.0, 14.0], [48.0, 44.0], [14.0, 40.0]])
LINE = np.array([[30.0, -10.0], [36.0, 70.0], [200.0, 70.0], [200.0, -10.0]])  # what lies to the right of it


def seen(way: str) -> tuple[Picture, NDArray[np.float64], Plane]:
    """A cream card on white: plain, half of it blue, in a shadow in part, written on, or in blots."""
    (cream, view), (blue, _) = (d.scan([CARD], card=colour, size_mm=(66.0, 56.0)) for colour in (d.CREAM, d.BLUE))
    light, other = (np.asarray(linear_channels(one.pixels), float) for one in (cream, blue))
    outline = view.to_px(CARD)
    changed = np.zeros(light.shape[:2], np.uint8)
    if way in ("parted", "shaded"):
        cv2.fillPoly(changed, [np.rint(view.to_px(LINE)).astype(np.int32)], (1,))
    elif way == "blots":
        noise = cv2.GaussianBlur(np.random.default_rng(4).normal(size=changed.shape), (0, 0), 40)
        changed = (noise > 0).astype(np.uint8)
    elif way == "written":
        x, y = np.rint(outline.mean(axis=0) - (90, 0)).astype(int).tolist()
        cv2.putText(changed, "A 4", (x, y), cv2.FONT_HERSHEY_SIMPLEX, 3, (1,), 9)
    if way == "shaded":
        other = 0.5 * light
    return d.picture(np.where(changed[..., None] > 0, other, light)), outline, view


@pytest.mark.parametrize(
    ("way", "expected"),
    [("plain", False), ("parted", True), ("shaded", False), ("written", False), ("blots", False)],
)
def test_two_plain_colours_in_a_line_are_told_from_shadow_writing_and_print(way: str, expected: bool) -> None:
    """Only a face that two colours part along a straight line, which doesn't go on beyond it, may be two cards."""
    picture, outline, view = seen(way)
    assert parted_by_colour(picture, outline, view) == expected
