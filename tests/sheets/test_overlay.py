"""The annotated photo: the ink lies where the templates are."""

import io

import attrs
import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from seamsurvey.model import LeftOut, Picture, TemplateSet
from seamsurvey.sheets.overlay import LARGEST_BYTES, edge_text, overlay_png

from .examples import harbour_rows, leaning_sails, templates_for


def photo_of(templates: TemplateSet, noise: float = 0.0, kind: type = np.uint8) -> Picture:
    """A grey scan with the cards in one flat brown, 8 or 16 bit."""
    width, height = templates.photos[0].size_px
    pixels = np.full((height, width, 3), 226.0)
    for template in templates.templates:
        cv2.fillPoly(pixels, [np.round(template.corners_px).astype(np.int32)], (205, 190, 160))
    pixels = np.clip(pixels + np.random.default_rng(5).normal(0, noise, pixels.shape), 0, 255)
    return Picture("bench-scan.png", "0" * 64, (pixels * (257 if kind is np.uint16 else 1)).astype(kind))


def read(content: bytes) -> NDArray[np.int64]:
    """The pixels of a PNG."""
    return np.asarray(Image.open(io.BytesIO(content)).convert("RGB")).astype(np.int64)


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_outlines_lie_on_the_cards_edges(kind: type) -> None:
    """Along every card edge the picture turns blue, to within a pixel and a half; off it the card stays brown."""
    templates = templates_for(harbour_rows()[0])
    picture = photo_of(templates, kind=kind)
    pixels = read(overlay_png(picture, 0, templates, units="mm"))
    scale = pixels.shape[1] / picture.width
    blue = (pixels[:, :, 2] - pixels[:, :, 0] > 60).astype(np.uint8)
    distance = cv2.distanceTransform(1 - blue, cv2.DIST_L2, 5)
    for template in templates.templates:
        corners = (template.corners_px + 0.5) * scale - 0.5
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            # A word may stand over an edge here and there: nearly all of it must be drawn.
            along = start + (end - start) * np.linspace(0.02, 0.98, 60)[:, None]
            x, y = np.round(along).astype(int).T
            assert np.mean(distance[y, x] < 1.5) > 0.75


def test_a_noisy_photo_stays_under_two_megabytes() -> None:
    """However much grain a scan has, the picture stays small enough to send."""
    templates = templates_for(leaning_sails()[0])
    content = overlay_png(photo_of(templates, noise=30.0), 0, templates, units="mm")
    assert len(content) <= LARGEST_BYTES
    assert max(read(content).shape) >= 600


def test_what_was_left_out_is_marked() -> None:
    """A left-out thing gets a dashed grey outline, which a picture without it does not have."""
    templates = templates_for(leaning_sails()[0])
    corner = np.array([[2400.0, 1900.0], [2800.0, 1900.0], [2800.0, 2200.0], [2400.0, 2200.0]])
    marked = attrs.evolve(templates, left_out=(LeftOut(photo=0, outline_px=corner, why="it touches the border"),))
    picture = photo_of(templates)
    plain, drawn = (
        read(overlay_png(picture, 0, templates, units="mm")),
        read(overlay_png(picture, 0, marked, units="mm")),
    )
    # Its reason is one line more of the legend under the picture.
    assert drawn.shape[0] > plain.shape[0]
    rows = round(picture.height * plain.shape[1] / picture.width)
    changed = np.abs(plain[:rows] - drawn[:rows]).max(axis=2) > 40
    y, x = np.nonzero(changed)
    scale = plain.shape[1] / picture.width
    assert x.min() / scale > 2000
    assert y.min() / scale > 1850
    assert 0.2 < changed[round(1900 * scale)][round(2400 * scale) : round(2800 * scale)].mean() < 0.9


def test_what_may_be_a_template_stands_out_and_keeps_the_number_of_the_whole_set() -> None:
    """A small thing that is asked about is drawn in its own colour, though one left out for good would not be."""
    templates = templates_for(leaning_sails()[0])
    speck = np.array([[2400.0, 1900.0], [2420.0, 1900.0], [2420.0, 1920.0]])
    marked = attrs.evolve(templates, left_out=(LeftOut(photo=0, outline_px=speck, why="it touches another"),))
    picture = photo_of(templates)

    def violet(asked: tuple[int, ...]) -> int:
        r, g, b = read(overlay_png(picture, 0, marked, units="mm", asked=asked)).astype(int).transpose(2, 0, 1)
        return int(np.sum((b - g > 90) & (r - g > 30)))

    assert violet(()) == 0
    assert violet((0,)) > 30


def test_a_length_is_written_in_the_ruler_s_unit() -> None:
    """88.9 mm is 3 1/2 inches beside an inch ruler, and 88.9 beside a centimetre ruler."""
    edge = attrs.evolve(templates_for(harbour_rows()[0]).templates[0].edges[0], length_mm=88.9)
    assert edge_text(edge, "inch") == "3 1/2″"
    assert edge_text(edge, "mm") == "88.9"


def test_the_same_photo_gives_the_same_bytes() -> None:
    """Two runs differ in no byte."""
    templates = templates_for(leaning_sails()[0])
    picture = photo_of(templates)
    assert overlay_png(picture, 0, templates, units="mm") == overlay_png(picture, 0, templates, units="mm")
