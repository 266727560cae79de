"""A scan's scale by the resolution its file states: with its doubt, and only where a scanner wrote it."""

import numpy as np
import pytest

from seamsurvey.errors import InputError
from seamsurvey.model import Picture
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.stated_resolution import stated_plane


def picture(dpi: tuple[float, float] | None, camera: str | None = None) -> Picture:
    """A blank picture of 300 by 200 px."""
    return Picture("blank.png", "0" * 64, np.full((200, 300, 3), 255, np.uint8), dpi, camera)


def test_lengths_are_inches_by_dots() -> None:
    """600 px at 300 dpi across and 400 px at 200 dpi up are 2 in each, plane y up, origin at the lower left."""
    plane = stated_plane(picture((300, 200)))
    at = plane.to_mm(np.array([[-0.5, 199.5], [599.5, 199.5], [-0.5, -200.5]]))
    assert at == pytest.approx(np.array([[0, 0], [50.8, 0], [0, 50.8]]), abs=1e-9)


def test_its_doubt_is_in_every_length() -> None:
    """100 mm across is uncertain by 0.3 % (standard) at least, and by more where the other axis comes in."""
    plane = stated_plane(picture((300, 300)))
    for way, least in ((np.array([1.0, 0.0]), 0.003), (np.array([0.0, 1.0]), 0.0036)):
        ends = plane.to_px(np.array([[10.0, 10.0], [10.0, 10.0] + 100 * way]))
        near, far = plane.sensitivity(ends)
        slope = way @ (far - near)
        assert float(np.sqrt(slope @ plane.covariance @ slope)) == pytest.approx(100 * least, rel=0.02)


@pytest.mark.parametrize(
    "blank", [picture(None), picture((72, 72)), picture((96, 96)), picture((300, 300), "lens")]
)
def test_what_no_scanner_wrote_is_refused(blank: Picture) -> None:
    """No resolution, a program's default, and a camera's are no scale; said by name they are refused."""
    with pytest.raises(InputError) as refused:
        find_plane(blank, reference="resolution")
    assert refused.value.code == "no-resolution"


@pytest.mark.parametrize("blank", [picture(None), picture((300, 300), "lens"), picture((300, 300))])
def test_where_nothing_is_found_shapes_alone_are_offered(blank: Picture) -> None:
    """A blank scan and a blank photo: --reference none, and to no photo a resolution that means nothing there."""
    with pytest.raises(InputError) as refused:
        find_plane(blank)
    assert "--reference none" in refused.value.todo
    assert ("--reference resolution" in refused.value.todo) == (refused.value.code == "no-ruler")
    assert find_plane(blank, reference="none").kind == "bare"


def test_it_is_never_the_default() -> None:
    """A scan without a ruler is refused unless the resolution is asked for, or the page carries its own measure."""
    with pytest.raises(InputError) as refused:
        find_plane(picture((300, 300)))
    assert refused.value.code == "no-ruler"
    assert "300 dpi that the file states" in refused.value.todo
    assert "--reference resolution" in refused.value.todo
    assert find_plane(picture((300, 300)), own_measure=True).warnings
