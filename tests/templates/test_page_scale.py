"""A page's own measures: a bar, a test square, a grid, each told, set the scale in place of ruler or file."""

from dataclasses import replace

import attrs
import numpy as np
import pytest

from seamsurvey import camera
from seamsurvey.errors import InputError, UndecidedError
from seamsurvey.model import PhotoPlane, TemplateSet
from seamsurvey.photo.stated_resolution import stated_plane
from seamsurvey.templates.page_or_cards import PageMeasures
from seamsurvey.templates.page_scale import Measure, scaled
from tests.looked import look_and_measure
from tests.scene.geometry import polygon
from tests.scene.printed import Drawn, Page
from tests.templates.pages import DIAMOND, SQUARE, TRIANGLE, scanned, usual_page
from tests.templates.test_printed_page import NEAR_MM, measured, sides

PRINTED = 0.97  # of its size: the page was made to fit another paper
STRETCH = (0.004, 0.001)  # of the scanner, across and down, that its file does not tell of


def test_square(at: tuple[float, float], side: float) -> Drawn:
    """A square drawn to be measured, without anything in it."""
    x, y = at
    corners = polygon([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
    return Drawn("T", corners, allowance=0.0, inner=None, note="", arrow=False)


test_square.__test__ = False  # type: ignore[attr-defined]


def found(page: Page, measures: PageMeasures) -> TemplateSet:
    """The page's templates, of a scan without a ruler."""
    picture, _ = scanned(page, axis_error=STRETCH)
    return look_and_measure([(picture, stated_plane(picture))], allowance_mm=None, page_measures=measures)


@pytest.mark.parametrize("told", [5.0, 25.0])
def test_a_grid_tells_both_directions(told: float) -> None:
    """Told the small square or five of them, lengths are as drawn, though neither printer nor scanner is true."""
    result = found(usual_page(grid=5.0, scale=PRINTED), (None, told))
    for lengths, shape in zip(measured(result), (SQUARE, TRIANGLE, DIAMOND), strict=True):
        assert lengths == pytest.approx(sides(shape), abs=NEAR_MM)


def test_a_test_square_tells_both_directions_and_is_no_template() -> None:
    """With a square told to measure an inch, lengths are as drawn, and three templates are left."""
    page = usual_page(scale=PRINTED)
    result = found(replace(page, drawn=(*page.drawn, test_square((110, 8), 25.4))), (25.4, None))
    assert len(result.templates) == 3
    for lengths, shape in zip(measured(result), (SQUARE, TRIANGLE, DIAMOND), strict=True):
        assert lengths == pytest.approx(sides(shape), abs=NEAR_MM)


def test_a_bar_tells_one_direction_and_the_other_is_doubted() -> None:
    """Along a bar lengths are as drawn to 0.05 mm, across it to within a U that allows for printer and scanner."""
    result = found(usual_page(bar=50.0, bar_at=(92.0, 7.0), scale=PRINTED), (50.0, None))
    for template, shape in zip(result.templates, (SQUARE, TRIANGLE, DIAMOND), strict=True):
        for edge, length in zip(sorted(template.edges, key=lambda e: e.length_mm), sides(shape), strict=True):
            assert abs(edge.length_mm - length) < edge.u_mm
    along = [edge for edge in result.templates[0].edges if edge.along_deg < 10]
    assert [edge.length_mm for edge in along] == pytest.approx([30, 30], abs=NEAR_MM)
    assert max(edge.u_mm for edge in along) < NEAR_MM


def test_what_the_page_lacks_is_not_guessed() -> None:
    """A bar or a grid that is not there, and two squares that disagree, are refused, each by its code."""
    page = usual_page()
    for measures in ((50.0, None), (None, 10.0)):
        with pytest.raises(InputError) as refused:
            found(page, measures)
        assert refused.value.code == "no-page-measure"
    two = (test_square((108, 4), 20.0), test_square((130, 4), 19.0))
    with pytest.raises(UndecidedError) as asked:
        found(replace(page, drawn=(*page.drawn, *two)), (20.0, None))
    assert asked.value.code == "several-measures"


def test_a_photo_is_scaled_without_changing_its_shape() -> None:
    """A camera's plane scaled by a bar keeps every ratio of lengths, and makes the bar what it should be."""
    theta = camera.parameters(3000.0, 480.0, (0.1, -0.06))
    plane = PhotoPlane(
        theta=theta, size_px=(4000, 3000), face_mm=0.1, covariance=np.eye(9) * 1e-9, of_heights=np.zeros((9, 9)),
        axis=np.array([1.0, 0.0]),
    )  # fmt: skip
    px = np.array([[500.0, 400.0], [1500.0, 420.0], [3300.0, 2500.0], [700.0, 2200.0]])
    before = plane.to_mm(px)
    way = before[1] - before[0]
    true = 1.03 * float(np.hypot(*way))
    turned = np.array([-way[1], way[0]])
    told = Measure(
        way=np.column_stack([way, turned]), true_mm=true, u_mm=0.01, both=False, what="The page's bar", at_px=px[:2]
    )
    after = scaled(attrs.evolve(plane), told).to_mm(px)
    assert after - after[0] == pytest.approx(1.03 * (before - before[0]), abs=1e-6)
