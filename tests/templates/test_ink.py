"""What is drawn on a card: found where it is, whatever the card's colour, without the card's seam line."""

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely import Polygon

from seamsurvey.model import Picture, ScanPlane
from seamsurvey.templates.ink import PX_PER_MM, ink_on

DPMM = 11.0  # of the picture
CARD = np.array([[10.0, 10.0], [70.0, 14.0], [66.0, 58.0], [12.0, 52.0]])  # plane mm
HEIGHT_MM = 70.0


def plane() -> ScanPlane:
    """A scan of DPMM px to the millimetre, its origin at the lower left."""
    return ScanPlane(
        matrix=np.array([[1 / DPMM, 0.0, 0.0], [0.0, -1 / DPMM, HEIGHT_MM]]),
        covariance=np.zeros((6, 6)),
        axis=np.array([1.0, 0.0]),
    )


def drawn(lines: list[NDArray[np.float64]], card: int, ink: int, *, deep: bool = False) -> Picture:
    """A picture of the card with lines (plane mm) of 0.6 mm drawn on it."""
    image = Image.new("RGB", (int(80 * DPMM), int(HEIGHT_MM * DPMM)), (128, 128, 128))
    draw = ImageDraw.Draw(image)

    def px(points: NDArray[np.float64]) -> list[tuple[float, float]]:
        return [(float(x * DPMM), float((HEIGHT_MM - y) * DPMM)) for x, y in points]

    draw.polygon(px(CARD), fill=(card, card, card))
    for line in lines:
        draw.line(px(line), fill=(ink, ink, ink), width=7)
    pixels = np.asarray(image)
    return Picture("scan.png", "0" * 64, np.asarray(pixels, np.uint16) * 257 if deep else pixels)


def inset(distance: float) -> NDArray[np.float64]:
    """The corners of the outline moved inwards by a distance, mm."""
    ring = np.array(Polygon(CARD).buffer(-distance, join_style="mitre").exterior.coords)[:-1]
    return ring[::-1] if np.linalg.det([ring[1] - ring[0], ring[2] - ring[1]]) < 0 else ring


@pytest.mark.parametrize(("card", "ink"), [(220, 60), (150, 110), (40, 200)])
@pytest.mark.parametrize("deep", [False, True])
def test_a_stroke_is_seen_where_it_is(card: int, ink: int, deep: bool) -> None:
    """A line from (30, 30) to (45, 36) mm comes out dark, at its place to a third of a millimetre, and alone."""
    ends = np.array([[30.0, 30.0], [45.0, 36.0]])
    found = ink_on(drawn([ends], card, ink, deep=deep), plane(), CARD)
    assert found is not None
    y, x = np.nonzero(found.strokes)
    seen = np.column_stack([CARD[:, 0].min() + x / PX_PER_MM, CARD[:, 1].max() - y / PX_PER_MM])
    way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    along, across = (seen - ends[0]) @ way, (seen - ends[0]) @ np.array([-way[1], way[0]])
    assert np.abs(across).max() < 0.3 + 0.35
    assert along.min() == pytest.approx(0.0, abs=0.45)
    assert along.max() == pytest.approx(np.hypot(15, 6), abs=0.45)
    middle = found.grey[y[np.argmin(np.abs(across))], x[np.argmin(np.abs(across))]]
    assert middle < 80
    assert np.median(found.grey) > 200


def test_a_bare_card_has_no_ink() -> None:
    """Card alone is nothing."""
    assert ink_on(drawn([], 200, 0), plane(), CARD) is None


@pytest.mark.parametrize("dashed", [True, False])
def test_a_seam_line_is_no_writing(dashed: bool) -> None:
    """Of a seam line 6 mm inside all edges, whole or dashed, nothing is left; the letter within it stays."""
    ring = inset(6.0)
    lines = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        shares = np.linspace(0, 1, 2 * round(np.hypot(*(b - a)) / 5) + 2) if dashed else np.array([0.0, 1.0])
        lines += [a + np.outer(shares[k : k + 2], b - a) for k in range(0, len(shares) - 1, 2)]
    letter = np.array([[35.0, 28.0], [35.0, 40.0], [41.0, 34.0], [35.0, 33.0]])
    found = ink_on(drawn([*lines, letter], 220, 60), plane(), CARD)
    alone = ink_on(drawn([letter], 220, 60), plane(), CARD)
    assert found is not None
    assert alone is not None
    assert np.mean((found.strokes > 0) != (alone.strokes > 0)) < 2e-4
