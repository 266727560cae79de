"""Where an edge runs, in the original pixels and in linear light."""

import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray

from seamsurvey.model import Picture
from seamsurvey.templates.contour import crop_around
from seamsurvey.templates.edges import EdgePoints, measure_edge
from tests.templates import drawing as d

Floats = NDArray[np.float64]

CARD = d.turned([[0, 0], [44, 0], [0, 44]], 31, (60, 46))


def edge_of(scan: Picture, ends: Floats) -> EdgePoints:
    """The edge between two image points, 30 px of each end left out."""
    crop = crop_around(scan, ends, 40)
    return measure_edge(
        crop, ends, trims=np.array([30.0, 30.0]), stretch=24.0, px_per_mm=d.PX_PER_MM, first_look=True
    )


@pytest.mark.parametrize(
    ("lid", "card"), [(d.WHITE, d.CREAM), (d.GREY, d.BLUE), (d.BLACK, d.CHIPBOARD), (d.WHITE, d.DARK)]
)
def test_no_bias_without_shadow(lid: Floats, card: Floats) -> None:
    """The mean of an edge's points is the true edge to 0.03 px, whichever of card and ground is brighter."""
    scan, plane = d.scan([CARD], lid=lid, card=card)
    for k in range(3):
        ends = plane.to_px(CARD)[[k, (k + 1) % 3]]
        way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
        off = (edge_of(scan, ends).points - ends[0]) @ np.array([-way[1], way[0]])
        assert abs(off.mean()) < 0.03
        assert off.std() < 0.06


def test_checkerboard_edge() -> None:
    """scikit-image's checkerboard has its edges at 24.5 + 25 k (a pixel's centre is the integer)."""
    board = d.blurred(skimage.data.checkerboard() / 255, 0.8)  # even to both sides, as a scanner's
    scan = d.picture(np.repeat(board[..., None], 3, axis=2))
    # One square's left edge, upwards in the picture: the square lies to the right of the way.
    ends = np.array([[24.9, 49.0], [24.9, 25.0]])
    crop = crop_around(scan, ends, 14)
    found = measure_edge(crop, ends, trims=np.array([3.0, 3.0]), stretch=4.0, px_per_mm=10.0, first_look=True)
    assert len(found.points) >= 3
    np.testing.assert_allclose(found.points[:, 0], 24.5, atol=0.02)


def test_shadow_does_not_move_the_edge() -> None:
    """A soft shadow beside a grey card moves its edge by less than a fifth of a pixel."""
    scan, plane = d.scan([CARD], card=d.CHIPBOARD, shadow_mm=1.5)
    for k in range(3):
        ends = plane.to_px(CARD)[[k, (k + 1) % 3]]
        way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
        off = (edge_of(scan, ends).points - ends[0]) @ np.array([-way[1], way[0]])
        assert abs(off.mean()) < 0.2
