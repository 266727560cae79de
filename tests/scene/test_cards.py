"""Cut cards: corners, wear and the wandering of the knife."""

import math

import numpy as np
import pytest
import shapely

from tests.scene.cards import Cutting, cut_card, roomiest_point
from tests.scene.families import designs, family
from tests.scene.geometry import edge_lengths, outward_normals, polygon

KITE = polygon([(-20, -30), (60, -30), (50, 40), (-20, 30)])


def test_a_clean_cut_is_the_outline_meant() -> None:
    """Without wandering and wear the fitted corners and the physical outline are those of the cut meant."""
    card = cut_card("A", KITE, Cutting(allowance=6.35, wear_radius=0.0), "", np.random.default_rng(1))
    assert card.as_cut_corners == pytest.approx(card.cut, abs=1e-9)
    assert shapely.Polygon(card.as_cut).symmetric_difference(shapely.Polygon(card.cut)).area < 1e-9


@pytest.mark.parametrize("angle", [45.0, 60.0, 90.0])
def test_a_worn_corner_is_short_by_the_known_amount(angle: float) -> None:
    """A corner of angle t worn to radius r falls short by r (1 / sin(t / 2) - 1): plain geometry of the arc."""
    tip = polygon([(0, 0), (80, 0), (80 * math.cos(math.radians(angle)), 80 * math.sin(math.radians(angle)))])
    card = cut_card("A", tip, Cutting(wear_radius=1.2), "", np.random.default_rng(1))
    short = shapely.Polygon(card.as_cut).exterior.distance(shapely.Point(0, 0))
    assert short == pytest.approx(1.2 * (1 / math.sin(math.radians(angle) / 2) - 1), abs=1e-3)
    assert card.as_cut_corners == pytest.approx(tip, abs=1e-9)


def test_the_knife_wanders_as_much_and_as_slowly_as_asked() -> None:
    """Over many cards the cut strays by the deviation asked for, alike nearby and not at a distance."""
    rng = np.random.default_rng(7)
    long = polygon([(0, 0), (300, 0), (300, 40), (0, 40)])
    strays = []
    for _ in range(150):
        card = cut_card("A", long, Cutting(wobble_sigma=0.1, wobble_length=15.0, wear_radius=0.0), "", rng)
        low = card.as_cut[(np.abs(card.as_cut[:, 1]) < 1.0) & (card.as_cut[:, 0] > 1) & (card.as_cut[:, 0] < 299)]
        strays.append(np.interp(np.arange(5, 295, 1.0), low[:, 0], low[:, 1]))
    field = np.array(strays)
    assert field.std() == pytest.approx(0.1, rel=0.08)
    near = np.corrcoef(field[:, :-2].ravel(), field[:, 2:].ravel())[0, 1]
    far = np.corrcoef(field[:, :-60].ravel(), field[:, 60:].ravel())[0, 1]
    assert near > 0.85
    assert abs(far) < 0.1


def test_fitted_corners_are_where_straight_lines_through_the_cut_meet() -> None:
    """The as-cut corners agree with NumPy's own line fits through the same wandering edge."""
    card = cut_card("A", KITE, Cutting(wobble_sigma=0.1, wear_radius=0.0), "", np.random.default_rng(5))
    normals, starts = outward_normals(KITE), KITE
    along = np.column_stack([-normals[:, 1], normals[:, 0]])
    for k, length in enumerate(edge_lengths(KITE)):
        t, h = (card.as_cut - starts[k]) @ along[k], (card.as_cut - starts[k]) @ normals[k]
        own = (np.abs(h) < 1.0) & (t > 1.0) & (t < length - 1.0)
        slope, offset = np.polyfit(t[own], h[own], 1)
        for corner in (card.as_cut_corners[k], card.as_cut_corners[(k + 1) % 4]):
            at, off = (corner - starts[k]) @ along[k], (corner - starts[k]) @ normals[k]
            assert off == pytest.approx(offset + slope * at, abs=0.01)


def test_the_roomiest_point_is_a_triangles_incentre() -> None:
    """For a triangle the point farthest from all edges is the incentre, its distance the inradius."""
    triangle = polygon([(0, 0), (80, 0), (0, 60)])  # 3-4-5: inradius 20
    point, distance = roomiest_point(triangle)
    assert point == pytest.approx([20, 20], abs=1.5)
    assert distance == pytest.approx(20, abs=1.0)


@pytest.mark.parametrize("name", designs())
def test_the_roomiest_point_of_every_template_is_in_it(name: str) -> None:
    """The place for the lettering is inside the finished outline, that far from it, by shapely."""
    for template in family(name).templates:
        point, distance = roomiest_point(template.finished)
        shape = shapely.Polygon(template.finished)
        assert shape.contains(shapely.Point(point))
        assert shape.exterior.distance(shapely.Point(point)) == pytest.approx(distance, abs=1e-9)
