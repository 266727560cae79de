"""A sheet of paper in a photo, with things lying on it and over its edge."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from scipy.spatial import cKDTree

from seamsurvey.photo.page import find_pages
from tests.photo.flat_things import CASES, OTHERS, SAMPLES, Photo, other_picture, rectangle, taken


@pytest.fixture(params=CASES)
def photo(request: pytest.FixtureRequest) -> Photo:
    """Each picture."""
    return taken(request.param)


def test_the_sheet_tells_its_shape_and_no_size(photo: Photo) -> None:
    """Four edges to two tenths of a pixel, each with an unknown place, on a sheet of unknown scale."""
    (page,) = find_pages(photo.pixels)
    observed = page.observed
    apart, _ = cKDTree(photo.seen(rectangle(*photo.sheet_mm), photo.sheet, 0.0)).query(observed.points_px)
    assert np.sqrt(np.mean(apart**2)) < 0.1
    assert np.quantile(apart, 0.97) < 0.3
    assert observed.edges == 4
    assert np.isinf(observed.scale_sigma)
    for edge in range(4):
        assert len(set(observed.axis[observed.edge == edge].tolist())) == 1
        assert np.sum(observed.edge == edge) >= 14


def test_a_sheet_that_runs_out_of_the_picture_is_none(photo: Photo) -> None:
    """The same picture, cut so that one edge of the sheet is lost."""
    left = int(photo.seen(rectangle(*photo.sheet_mm), photo.sheet, 0.0)[:, 0].min()) + 60
    assert find_pages(np.ascontiguousarray(photo.pixels[:, left:])) == []


@pytest.mark.parametrize("path", SAMPLES, ids=[path.parent.name for path in SAMPLES])
def test_no_template_or_ruler_is_taken_for_a_sheet(path: Path) -> None:
    """Scans of templates beside rulers hold none."""
    assert find_pages(np.asarray(Image.open(path).convert("RGB"))) == []


@pytest.mark.parametrize("name", OTHERS)
def test_no_other_picture_shows_a_sheet(name: str) -> None:
    """Pictures that ship with scikit-image hold none."""
    assert find_pages(other_picture(name)) == []
