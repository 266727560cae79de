"""Looking along edges that run off the picture, or to where no lens sees."""

import math

import numpy as np
import pytest

from seamsurvey.camera import bent
from seamsurvey.curves import Curve
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.lit_edges import measure_lit_edge
from seamsurvey.templates.look import Look, Slope
from seamsurvey.templates.profiles import best_place
from seamsurvey.templates.strips import RoundPath, strip_along
from tests.templates import drawing as d

LOOK = Look(blur_px=0.9, sharpened=0.0, cast=0.0, contact=0.0)
RADIUS, MIDDLE = 20.0, np.array([30.0, 10.0])


def _arc(*, px_per_mm: float = d.PX_PER_MM) -> tuple[Crop, RoundPath]:
    """A picture of a quarter of a disc that is half outside it, and the arc."""
    plane = d.plane_of(400)
    angle = np.linspace(0, math.pi / 2, 400)
    disc = np.vstack([MIDDLE, MIDDLE + RADIUS * np.column_stack([np.cos(angle), np.sin(angle)])])
    light = np.full((400, 500, 3), 0.7)
    light += (0.1 - light) * d.coverage(disc, (400, 500), plane).whole[..., None]
    start = MIDDLE + np.array([RADIUS, 0.0])
    path = RoundPath(
        curve=Curve(start, np.array([0.0, 1.0]), 1 / RADIUS), start_mm=2.0, end_mm=28.0, plane=plane,
        px_per_mm=px_per_mm,
    )  # fmt: skip
    return Crop(d.blurred(light, 0.9).astype(np.float32), (0, 0)), path


def test_an_arc_that_runs_off_the_picture_is_measured_where_it_shows() -> None:
    """Stretches outside are left out, and the others keep their own directions outwards."""
    crop, path = _arc()
    slope = Slope((1.0, 0.0), d.PX_PER_MM, 0.0)
    place = best_place(crop, path, np.zeros(2), slope=slope, look=LOOK, reach_mm=0.5)
    found = measure_lit_edge(crop, path, np.zeros(2), stretch=12.0, slope=slope, look=LOOK, place=place)
    at = path.plane.to_mm(found.points)
    assert 3 <= len(at) < 26 * d.PX_PER_MM / 12
    assert np.abs(np.hypot(*(at - MIDDLE).T) - RADIUS).max() < 0.05


def test_an_arc_where_no_lens_sees_shows_nothing() -> None:
    """A wrong arc may lead beyond every picture: there is no strip, and no failure."""
    crop, path = _arc(px_per_mm=math.nan)
    assert strip_along(crop, path, np.zeros(2), (-3.0, 3.0), 12.0) is None
    assert strip_along(crop, np.full((2, 2), np.nan), np.zeros(2), (-3.0, 3.0), 12.0) is None


def test_an_edge_outside_the_picture_has_no_points() -> None:
    """Every stretch of it runs off the picture."""
    crop, path = _arc()
    slope = Slope((1.0, 0.0), d.PX_PER_MM, 0.0)
    outside = path.beside(60 * d.PX_PER_MM)
    place = best_place(crop, outside, np.zeros(2), slope=slope, look=LOOK, reach_mm=0.5)
    found = measure_lit_edge(crop, outside, np.zeros(2), stretch=12.0, slope=slope, look=LOOK, place=place)
    assert len(found.points) == 0


@pytest.mark.filterwarnings("error")
def test_a_point_that_no_lens_shows_has_no_place() -> None:
    """A barrel-shaped lens ends somewhere: beyond, no point of the picture is where a ray would fall."""
    theta = np.array([8.0, 0.0, 0.0, 0.0, 0.0, 6.0, 0.5, 0.1])
    far = bent(theta, np.array([[1e9, 1e9], [2000.0, 1500.0]]), (4000, 3000))
    assert np.allclose(far[1], [1999.5, 1499.5], atol=2.0)
