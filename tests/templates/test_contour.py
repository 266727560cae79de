"""From a rough outline to points on the edge: also where the rough one lies farther inside than it should."""

import numpy as np
import pytest
import shapely

from seamsurvey.templates.contour import boundary_points, crop_around
from seamsurvey.templates.corners import UNSEEN_EDGE_MM, simplified
from tests.templates import drawing as d

CARD = np.array([[20.0, 15.0], [75.0, 18.0], [70.0, 55.0], [18.0, 50.0]])


@pytest.mark.parametrize("inside_mm", [0.0, 1.0, 2.0])
@pytest.mark.parametrize("card", [d.BLUE, d.CHIPBOARD])
def test_points_lie_on_the_edge_however_far_inside_one_looks_from(
    inside_mm: float, card: tuple[float, float, float]
) -> None:
    """A ground with a grain draws a card's rough shape in by up to 2 mm."""
    picture, plane = d.scan([CARD], card=card, size_mm=(95.0, 70.0))
    rough = shapely.get_coordinates(shapely.Polygon(CARD).buffer(-inside_mm, join_style="mitre").segmentize(0.2))
    contour = plane.to_px(rough[:-1] if shapely.is_ccw(shapely.LinearRing(rough)) else rough[:0:-1])
    points = plane.to_mm(boundary_points(crop_around(picture, contour, 60), contour, plane))
    off = shapely.distance(shapely.LinearRing(CARD), shapely.points(points))
    around = shapely.LinearRing(CARD).length
    assert len(points) > 0.8 * around / 0.5  # one each half millimetre
    assert np.quantile(off, 0.9) < 0.05


def test_a_short_edge_that_nothing_shows_is_no_edge() -> None:
    """A corner hidden by 6 mm is drawn out again where its edge can't be seen; an edge longer than that stays."""
    hidden = np.array([[0.0, 0], [50, 0], [50, 35.5], [45.5, 40], [0, 40]])
    assert simplified(hidden) is None
    whole = simplified(hidden, worn_mm=UNSEEN_EDGE_MM)
    assert whole is not None
    assert np.allclose(whole, [[0, 0], [50, 0], [50, 40], [0, 40]])
    assert simplified(np.array([[0.0, 0], [50, 0], [50, 30], [40, 40], [0, 40]]), worn_mm=UNSEEN_EDGE_MM) is None
