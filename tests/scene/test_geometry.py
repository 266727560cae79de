"""The renderer's own polygons, against shapely and the trade's cutting sizes."""

import math

import numpy as np
import pytest
import shapely

from tests.scene.congruence import difference, rigid_map, templates_of
from tests.scene.geometry import (
    centroid,
    corner_angles,
    mirrored,
    move,
    placement,
    polygon,
    signed_area,
    with_margin,
    with_trimmed_tips,
)

KITE = polygon([(0, 0), (44, 0), (31, 38), (0, 44)])
ALLOWANCE = 0.25


# Cutting sizes: K. Combs, Formulas for Quilters (2002); North Hampshire Quilters (guild).
@pytest.mark.parametrize(
    ("finished", "longest_cut"),
    [
        pytest.param([(0, 0), (3, 0), (3, 3), (0, 3)], 3 + 0.5, id="square, + 1/2"),
        pytest.param(
            [(0, 0), (3, 0), (0, 3)], (3 + 0.25 * (2 + math.sqrt(2))) * math.sqrt(2), id="half-square, + 7/8"
        ),
        pytest.param([(0, 0), (3, 0), (1.5, 1.5)], 3 + 0.25 * (2 + 2 * math.sqrt(2)), id="quarter-square, + 1 1/4"),
    ],
)
def test_margin_gives_the_exact_cutting_sizes(finished: list[tuple[float, float]], longest_cut: float) -> None:
    """A finished patch with a quarter inch round it has the exact size behind the trade's rule."""
    cut = with_margin(polygon(finished), ALLOWANCE)
    lengths = np.hypot(*(np.roll(cut, -1, axis=0) - cut).T)
    assert lengths.max() == pytest.approx(longest_cut, abs=1e-12)


def test_margin_is_the_mitred_offset() -> None:
    """The margin is the same polygon that shapely's mitred buffer makes."""
    ours = shapely.Polygon(with_margin(KITE, 6.35))
    theirs = shapely.Polygon(KITE).buffer(6.35, join_style="mitre", mitre_limit=100.0)
    assert ours.symmetric_difference(theirs).area < 1e-9


def test_trimmed_tips_reach_exactly_as_far_as_asked() -> None:
    """A sharp tip is cut square to its axis at the distance given; a blunt corner keeps its mitre."""
    finished = polygon([(0, 0), (90, 0), (0, 30)])
    cut = with_margin(finished, 6.35)
    trimmed = with_trimmed_tips(finished, cut, 12.0)
    assert len(trimmed) == 4
    new = np.array([p for p in trimmed if np.abs(cut - p).sum(axis=1).min() > 1e-9])
    assert len(new) == 2
    middle = new.mean(axis=0)
    axis = (middle - finished[1]) / np.hypot(*(middle - finished[1]))
    assert (new - finished[1]) @ axis == pytest.approx([12.0, 12.0], abs=1e-9)
    assert np.hypot(*(new[0] - middle)) == pytest.approx(np.hypot(*(new[1] - middle)), abs=1e-9)


def test_area_and_centroid_agree_with_shapely() -> None:
    """Area and centre of area are those that shapely computes."""
    theirs = shapely.Polygon(KITE)
    assert signed_area(KITE) == pytest.approx(theirs.area, rel=1e-14)
    assert centroid(KITE) == pytest.approx([theirs.centroid.x, theirs.centroid.y], rel=1e-14)
    assert signed_area(KITE[::-1]) == pytest.approx(-theirs.area, rel=1e-14)


def test_angles_of_a_polygon_with_a_dent_add_up() -> None:
    """Inner angles, a re-entrant one among them, add up to (n - 2) 180 degrees."""
    dart = polygon([(0, 0), (40, -30), (10, 0), (40, 30)])
    angles = corner_angles(dart)
    assert angles.sum() == pytest.approx(360.0)
    assert angles[2] > 180.0


def test_a_turned_copy_is_recognised_and_a_mirrored_one_is_not() -> None:
    """A rigid map is found for a turned and shifted copy and none for a mirror image without symmetry."""
    scalene = polygon([(0, 0), (50, 0), (12, 31)])
    turned = np.roll(move(placement(123.0, (7.0, -3.0)), scalene), 1, axis=0)
    matrix = rigid_map(scalene, turned)
    assert matrix is not None
    landed = move(matrix, scalene)
    assert np.abs(landed[:, None] - turned[None]).sum(axis=2).min(axis=1).max() < 1e-9
    assert rigid_map(scalene, mirrored(turned)) is None


def test_mirror_twins_are_one_template_used_both_ways() -> None:
    """A piece and its mirror image are cut with one template, once face up and once reversed."""
    scalene = polygon([(0, 0), (50, 0), (12, 31)])
    (template,) = templates_of((scalene, mirrored(scalene) + 200.0))
    assert (template.count, template.reversed_count) == (1, 1)
    assert difference(scalene, mirrored(scalene)) == pytest.approx((0.0, 0.0), abs=1e-9)
