"""Finding and reading lines of print: the networks are the package's own, and nothing is fetched."""

import importlib.resources
import socket
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from shapely import Polygon, box

from seamsurvey import ocr
from seamsurvey.errors import Exit, PartMissingError

FONT = Path(__file__).parents[1] / "pipeline" / "seamsurvey" / "sheets" / "fonts" / "Lato-Regular.ttf"


def printed(
    *lines: tuple[str, tuple[int, int]],
) -> tuple[NDArray[np.uint8], list[tuple[float, float, float, float]]]:
    """A grey picture with lines of text at places, and the box of each as Pillow tells it."""
    image = Image.new("L", (480, 320), 230)
    draw, font = ImageDraw.Draw(image), ImageFont.truetype(str(FONT), 24)
    boxes = []
    for text, at in lines:
        draw.text(at, text, font=font, fill=40)
        boxes.append(draw.textbbox(at, text, font=font))
    return np.asarray(image), boxes


def test_lines_are_found_where_they_stand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each line of print lies in a box of its own, no box anywhere else, and no socket is opened for it."""

    def refuse(*_: object) -> None:
        raise AssertionError("the network was asked")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    ocr._session.cache_clear()
    picture, truth = printed(("cut 4 + 4R", (60, 50)), ("1/4 in seam included", (150, 220)))
    found = [Polygon(line.corners) for line in ocr.find_lines(picture)]
    assert len(found) == 2
    for edges in truth:
        letters = box(*edges)
        holds = [each for each in found if each.intersection(letters).area > 0.9 * letters.area]
        assert len(holds) == 1
        assert holds[0].area < 3 * letters.area


@pytest.mark.parametrize("text", ["cut 4 + 4R", "1/4 in seam included", "B2", "10", "add seam"])
def test_print_is_read_letter_by_letter(text: str) -> None:
    """Clear print is read as it stands, and every letter of it surely."""
    picture, ((left, top, right, bottom),) = printed((text, (60, 50)))
    reading = ocr.read_line(picture[int(top) - 6 : int(bottom) + 6, int(left) - 6 : int(right) + 6])
    assert reading.text.replace(" ", "") == text.replace(" ", "")
    assert len(reading.sureness) == len(reading.text)
    assert reading.least > 0.8


def test_nothing_is_found_or_read_where_nothing_stands() -> None:
    """An empty picture has no lines, and an empty line no letters."""
    empty = np.full((200, 300), 230, np.uint8)
    assert ocr.find_lines(empty) == []
    assert ocr.read_line(empty[:48, :200]) == ocr.Reading("", ())
    assert ocr.Reading("", ()).least == 0


def test_a_missing_package_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the networks the error says what is missing and how to do without."""

    def missing(_: str) -> None:
        raise ModuleNotFoundError("rapidocr")

    ocr._session.cache_clear()
    monkeypatch.setattr(importlib.resources, "files", missing)
    with pytest.raises(PartMissingError) as caught:
        ocr.find_lines(np.full((64, 64), 230, np.uint8))
    assert (caught.value.code, caught.value.exit) == ("no-reading", Exit.PART_MISSING)
    assert "--cards ignore" in caught.value.todo
