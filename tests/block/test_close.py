"""Layouts that can't be adjusted say so."""

import pytest

from seamsurvey.adjustment import NotAdjustedError
from seamsurvey.block.close import close
from seamsurvey.block.outlines import SQUARE
from seamsurvey.block.shapes import shapes_of
from seamsurvey.block.survey import surveyed
from seamsurvey.block.work import Work
from tests.block.sets import measured
from tests.scene.trade_blocks import trade_block


def test_a_seam_whose_ends_are_one_place_is_no_layout() -> None:
    """A line through one and the same corner has no direction: the layout is refused, nothing breaks."""
    templates = measured(trade_block("pinwheel"), 0.1, seed=1)
    shapes = shapes_of(templates)
    known = tuple((t.count, t.reversed_count or 0) for t in templates.templates)
    layout = surveyed(templates, shapes, known, (SQUARE,), "auto", Work(5.0)).contenders[0].layout
    first, second, *_ = layout.pieces[0][2]
    assert close(templates, shapes, layout).closure.rms_mm < 1
    with pytest.raises(NotAdjustedError, match="fell together"):
        close(templates, shapes, layout, straights=((first, second, second),))
