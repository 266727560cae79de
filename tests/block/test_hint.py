"""A picture of the block puts the layout that it shows first, or says that it did not help."""

from functools import cache

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.block import recognised
from seamsurvey.block.assemble import assemble
from seamsurvey.block.hint import shown_first
from seamsurvey.model import Block
from tests.block.sets import is_right, measured
from tests.scene.families import Family, family
from tests.scene.trade_block import TradeBlock, is_right_block
from tests.scene.trade_blocks import trade_block

TABLE = (205, 196, 180)
QUAD = np.array([[120, 780], [850, 820], [800, 150], [180, 100]], np.float32)


@cache
def found() -> tuple[Block, ...]:
    """What fits, without a picture."""
    return assemble(measured(family("millrace-star"), 0.1, 3))


def photographed(truth: Family | TradeBlock, mirrored: bool = False, scrappy: bool = False) -> NDArray[np.uint8]:
    """The block on a table at a slant, with noise, coloured by template or, scrappy, by piece; or its back."""
    rng = np.random.default_rng(2)
    picture = np.full((900, 1000, 3), TABLE, np.uint8)
    width, height = truth.size
    box = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    view = cv2.getPerspectiveTransform(box, QUAD[::-1].copy() if mirrored else QUAD)
    for number, one in enumerate(truth.templates):
        colour = [int(v) for v in rng.integers(20, 90, 3) + 25 * (number % 4)]
        for k, copy in enumerate(one.copies):
            if scrappy:
                colour = [int(v) for v in rng.integers(5, 90, 3) + 20 * (k % 3)]
            outline = cv2.perspectiveTransform(truth.pieces[copy.piece][None].astype(np.float32), view)[0]
            cv2.fillPoly(picture, [outline.round().astype(np.int32)], colour, cv2.LINE_AA)
    return np.clip(picture + rng.normal(0, 4, picture.shape), 0, 255).astype(np.uint8)


def test_a_photo_at_a_slant_chooses_the_layout_it_shows() -> None:
    """Several layouts fit; with a photo of one, or of its back, that one comes first, whichever it is."""
    truth = family("millrace-star")
    fitting = found()
    assert len(fitting) > 1
    asked = assemble(measured(truth, 0.1, 3), picture=photographed(truth))
    for blocks in (asked, shown_first(fitting[::-1], photographed(truth, mirrored=True))):
        assert [is_right(truth, block) for block in blocks].index(True) == 0
        assert blocks[0].reasons[0].name == "picture"


def test_a_photo_of_something_else_chooses_nothing() -> None:
    """A photo of another block, or an empty table, leaves all layouts to the person."""
    empty = np.full((400, 500, 3), TABLE, np.uint8)
    for picture in (photographed(family("pantry-tiles")), empty):
        blocks = shown_first(found(), picture)
        assert [block.outline.tolist() for block in blocks] == [block.outline.tolist() for block in found()]
        assert any("did not help" in warning for warning in blocks[0].warnings)


def test_a_photo_finds_a_layout_that_is_not_offered_without_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hundreds fit, and the one in the photo stands behind those that are offered without it."""
    monkeypatch.setattr(recognised, "tradition", tuple)  # as if nobody knew the block
    monkeypatch.setattr("seamsurvey.block.assemble._MOST_OFFERED", 8)  # it would be the ninth
    truth = trade_block("jacob's ladder")
    templates = measured(truth, 0.05, 1)
    assert not any(is_right_block(truth, block) for block in assemble(templates))
    assert is_right_block(truth, assemble(templates, picture=photographed(truth, scrappy=True))[0])
