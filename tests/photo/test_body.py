"""The outline of a ruler follows its body where that can be seen."""

import numpy as np
import pytest

from seamsurvey.photo.plane import find_plane
from tests.photo.drawn import MILLIMETRES, Ruler, draw


@pytest.mark.parametrize(("body", "lid"), [(0.55, 0.85), (0.82, 0.86), (0.05, 0.85), (0.5, 0.01)])
def test_the_outline_is_the_bodys(body: float, lid: float) -> None:
    """Grey, white on white, dark, or on a black lid: all four sides lie within 1.5 mm of where they were drawn."""
    ruler = Ruler(MILLIMETRES, (20.0, 12.0), 6.0, body=body, ink=0.8 if body < 0.1 else 0.02, width_mm=24.0)
    plane = find_plane(draw([ruler], size_mm=(140, 70), lid=lid))
    turn = np.radians(6.0)
    along, inward = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    offset = (plane.references[0].outline_px + 0.5) / 8 - np.array([20.0, 12.0])
    sides = [(offset @ along).min(), (offset @ along).max(), (offset @ inward).min(), (offset @ inward).max()]
    assert sides == pytest.approx([-5.0, 105.0, 0.0, 24.0], abs=1.5)


def test_the_outline_may_leave_the_picture_and_holds_every_mark() -> None:
    """A ruler that runs off the picture is outlined over its whole seen width, beyond the border."""
    plane = find_plane(draw([Ruler(MILLIMETRES, (-30.0, 15.0))]))
    outline = plane.references[0].outline_px / 8
    assert outline[:, 0].min() < 0
    assert [outline[:, 1].min(), outline[:, 1].max()] == pytest.approx([15.0, 41.0], abs=1.5)
