"""The printed target, read back by pdfplumber and pypdfium2, which know nothing of how it was made."""

import io
import re

import cv2
import numpy as np
import pdfplumber
import pypdfium2
import pytest

from seamsurvey.sheets.target_page import target_pdf
from seamsurvey.target_design import DESIGNS, DICTIONARY

from .reading import POINT_MM, PageRead, Points, read_pdf

# ISO 216 and ANSI/ASME Y14.1.
PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
REACHED_MM = 0.002


@pytest.fixture(params=sorted(PAPERS_MM), scope="module")
def paper(request: pytest.FixtureRequest) -> str:
    """Each paper in turn."""
    return str(request.param)


@pytest.fixture(scope="module")
def page(paper: str) -> PageRead:
    """The one page of the file."""
    (only,) = read_pdf(target_pdf(paper))
    return only


def dark_squares(page: PageRead) -> Points:
    """(n, 4) x0, y0, x1, y1 of the filled squares of 10 mm."""
    boxes = [np.concatenate([s.points.min(axis=0), s.points.max(axis=0)]) for s in page.strokes if s.filled]
    return np.array([b for b in boxes if np.allclose(b[2:] - b[:2], 10.0, atol=REACHED_MM)])


def test_the_checker_corners_are_where_the_design_says(page: PageRead, paper: str) -> None:
    """Two dark squares touch, corner to corner, in every place that a photo's corner is compared with."""
    squares = dark_squares(page)
    assert len(squares) == len(DESIGNS[paper].dark_squares)
    all_corners = np.concatenate([squares[:, [i, j]] for i in (0, 2) for j in (1, 3)])
    for corner in DESIGNS[paper].corners:
        assert np.sum(np.hypot(*(all_corners - corner).T) < REACHED_MM) == 2


def test_the_bars_are_as_long_as_they_say_in_both_directions(page: PageRead, paper: str) -> None:
    """Strokes of exactly 100 mm and 4 in lie and stand on the page, inside its margins of half an inch."""
    assert page.size_mm == pytest.approx(PAPERS_MM[paper], abs=REACHED_MM)
    lines = [s.points for s in page.strokes if len(s.points) == 2]
    for length in (100.0, 4 * 25.4):
        for axis in (0, 1):
            extents = [np.abs(p[1] - p[0]) for p in lines]
            assert sum(abs(e[axis] - length) < REACHED_MM and e[1 - axis] < REACHED_MM for e in extents) == 1
    printed = np.concatenate([s.points for s in page.strokes])
    assert (printed > 12.69).all()
    assert (printed < np.array(PAPERS_MM[paper]) - 12.69).all()


def test_no_word_touches_another_or_the_frame(page: PageRead, paper: str) -> None:
    """Every word stands clear of the frame, inside the margins, in type no smaller than 7 points."""
    frame = DESIGNS[paper].frame
    assert page.smallest_pt >= 7.0
    for text, (x0, y0, x1, y1), _ in page.words:
        beside = x1 < frame[0, 0] or x0 > frame[1, 0] or y1 < frame[0, 1] or y0 > frame[2, 1]
        assert beside, text
        assert min(x0, y0, PAPERS_MM[paper][0] - x1, PAPERS_MM[paper][1] - y1) > 12.0, text
    words = " ".join(text for text, _, upright in page.words if upright)
    assert "This bar is 100 mm: 99.5 to 100.5 is good." in words


def test_a_reader_of_markers_finds_each_number_once_and_in_its_place(paper: str) -> None:
    """OpenCV's own detector reads every marker off the page as pypdfium2 paints it; the papers share no number."""
    design = DESIGNS[paper]
    image = pypdfium2.PdfDocument(target_pdf(paper))[0].render(scale=150 / 72, grayscale=True).to_numpy()
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    quads, numbers, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(
        image[..., 0] if image.ndim == 3 else image
    )
    found = dict(zip(np.asarray(numbers).ravel().tolist(), quads, strict=True))
    assert sorted(found) == sorted(design.markers)
    for number, quad in found.items():
        corners = (quad.reshape(4, 2) + 0.5) * 25.4 / 150 * np.array([1, -1]) + [0, PAPERS_MM[paper][1]]
        assert np.abs(corners - design.markers[number]).max() < 0.3
    assert not DESIGNS["a4"].markers.keys() & DESIGNS["letter"].markers.keys()


def test_the_file_asks_for_its_own_size_and_is_always_the_same(paper: str) -> None:
    """No viewer is to scale it (ISO 32000-1, table 150), and two runs write the same bytes."""
    content = target_pdf(paper)
    assert content == target_pdf(paper)
    assert re.search(rb"/PrintScaling\s*/None", content)
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        assert [float(side) * POINT_MM for side in pdf.pages[0].mediabox[2:]] == pytest.approx(
            PAPERS_MM[paper], abs=REACHED_MM
        )
