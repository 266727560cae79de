"""A sheet of paper in a photo, with things lying on it and over its edge."""

from pathlib import Path

import attrs
import cv2
import numpy as np
import pytest
from PIL import Image
from scipy.spatial import cKDTree

from seamsurvey.errors import InputError
from seamsurvey.model import Picture
from seamsurvey.photo.page import find_pages
from seamsurvey.photo.plane import find_plane
from tests.photo.flat_things import (
    CARD_MM,
    CASES,
    OTHERS,
    PAPERS_MM,
    SAMPLES,
    Photo,
    other_picture,
    rectangle,
    taken,
)

# ISO 216: 2 mm either way for a side of 150 to 600 mm; anywhere within, so its root mean square is 2 / sqrt 3.
CUT_MM = 2 / np.sqrt(3)


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


def _picture(photo: Photo) -> Picture:
    return Picture("photo.jpg", "", photo.pixels, camera="a phone", focal_px=photo.phone.focal_px)


def test_a_sheet_of_a_known_kind_gives_a_rough_scale(photo: Photo) -> None:
    """A card on a sheet whose kind is said measures what it is; its U holds the paper's tolerance, and it is said.

    The camera sees the sheet's proportions, so that of its two sides' errors the mean is left.
    """
    (paper,) = (name for name, size in PAPERS_MM.items() if size == photo.sheet_mm)
    plane = find_plane(_picture(photo), reference=paper, thickness_mm=0.76)
    corners = plane.to_mm(photo.seen(rectangle(*CARD_MM), photo.card, 0.76)[::4000])
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    assert sides == pytest.approx([*CARD_MM, *CARD_MM], rel=0.004)
    of_paper = 2 * CUT_MM / min(photo.sheet_mm) / np.sqrt(2)
    assert of_paper <= plane.length_u(corners.mean(axis=0)[None], 100.0)[0] / 100 <= 1.3 * of_paper
    assert plane.references[0].kind == "page"  # which templates lie on
    assert "ISO 216" in " ".join(plane.warnings)


def test_a_sheet_is_not_taken_for_another_kind(photo: Photo) -> None:
    """A4 said to be Letter, and Letter said to be A4, even half in shadow from 30 degrees, is refused."""
    (other,) = (name for name, size in PAPERS_MM.items() if size != photo.sheet_mm)
    with pytest.raises(InputError) as refused:
        find_plane(_picture(photo), reference=other)
    assert refused.value.code == "sheet-contradicts"


def test_a_sheet_nobody_named_says_how_to_name_it(photo: Photo) -> None:
    """With nothing but a sheet there is no scale, and the way to one is told: the option for its own kind."""
    (paper,) = (name for name, size in PAPERS_MM.items() if size == photo.sheet_mm)
    with pytest.raises(InputError) as refused:
        find_plane(_picture(photo), reference="page")
    assert refused.value.code == "no-scale"
    assert f"--reference {paper}" in refused.value.todo


def test_an_edge_that_curls_up_takes_no_part(photo: Photo) -> None:
    """With one edge bulging by up to 3 mm the other three are measured as before, and lengths are what they are."""
    (paper,) = (name for name, size in PAPERS_MM.items() if size == photo.sheet_mm)
    width = photo.sheet_mm[0]
    x = np.linspace(0, width, 400)
    bulge = photo.seen(np.column_stack([x, -np.maximum(0, 3 * np.sin(5 * np.pi * x / width))]), photo.sheet, 0.0)
    inner = photo.seen(np.array([[0.0, 2.0], [width, 2.0]]), photo.sheet, 0.0)
    pixels = photo.pixels.copy()
    outline = np.concatenate([bulge[: 399 * 4000], inner[:4000][::-1]])
    cv2.fillPoly(
        pixels, [np.rint(outline).astype(np.int32)], pixels[tuple(np.rint(inner[2000, ::-1]).astype(int))].tolist()
    )
    (page,) = find_pages(pixels)
    assert page.observed.edges == 3
    plane = find_plane(attrs.evolve(_picture(photo), pixels=pixels), reference=paper, thickness_mm=0.76)
    corners = plane.to_mm(photo.seen(rectangle(*CARD_MM), photo.card, 0.76)[::4000])
    sides = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    assert sides == pytest.approx([*CARD_MM, *CARD_MM], rel=0.006)


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
