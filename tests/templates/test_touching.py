"""Two cards of one stuff that touch exactly: nothing is seen between them, and their shape tells."""

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import Point, Polygon, unary_union
from shapely.geometry.polygon import orient

from seamsurvey.templates.touching import laid_along
from tests.scene.families import random_family
from tests.templates import drawing as d

LONG = np.array([[0.0, 0.0], [80.0, 0.0], [70.0, 40.0], [10.0, 40.0]])
ARROW = np.array([[0.0, 0.0], [40.0, 15.0], [80.0, 0.0], [40.0, 60.0]])


def both(along_mm: float, turn_deg: float = 0.0) -> NDArray[np.float64]:
    """The outline of a card that lies along the long edge of another, turned by so much."""
    other = d.turned([[0, 0], [30, 0], [22, 26], [4, 26]], 180 + turn_deg, (along_mm, -12.9))
    whole = unary_union([Polygon(LONG).buffer(0.02, join_style="mitre"), Polygon(other).buffer(0.02)])
    simple = whole.simplify(0.1)
    assert isinstance(simple, Polygon)
    return np.array(orient(simple).exterior.coords)[:-1]


@pytest.mark.parametrize("along_mm", [25.0, 40.0, 55.0])
def test_a_card_along_anothers_edge_is_seen_by_the_edge_that_goes_on(along_mm: float) -> None:
    """The outline of both gives the two away wherever along the edge the second lies, however they are turned."""
    for degrees in (0, 37, 200):
        turned = d.turned(both(along_mm), degrees, (0, 0))
        seen = laid_along(turned)
        assert seen is not None
        assert Polygon(turned).contains(Point(seen))


def test_hollow_corners_of_one_card_are_its_own() -> None:
    """No arrow, and no template of sixty random families, is taken for two cards."""
    assert laid_along(ARROW) is None
    for seed in range(60):
        for template in random_family(seed).templates:
            assert laid_along(template.finished) is None
