"""What was seen less clearly is taken for a template where the cards are then a block that the trade knows."""

from pathlib import Path

import attrs
import numpy as np
import pytest

from seamsurvey.errors import plain
from seamsurvey.job.folder import JobFolder
from seamsurvey.measuring import Measuring
from seamsurvey.model import Corrections, LeftOut, PhotoReport, TemplateSet, Wishes
from seamsurvey.templates.cards import TOUCHING, UNCLEAR
from tests.block.sets import measured
from tests.quick_sight import plane
from tests.scene.families import family
from tests.scene.trade_blocks import trade_block

THING = np.array([[400, 400], [500, 400], [500, 500], [400, 500.0]])
PHOTO = PhotoReport("bench.png", "0" * 64, (1000, 1000), plane(), ())
PLACE = "bench.png 450 450"


def churn_dash() -> TemplateSet:
    """The cards of a churn dash, the last where the thing lies."""
    whole = measured(trade_block("churn dash"), 0.05, counted=False)
    assert len(whole.templates[-1].edges) == len(THING)
    last = attrs.evolve(whole.templates[-1], corners_px=THING)
    return attrs.evolve(whole, photos=(PHOTO,), templates=(*whole.templates[:-1], last))


def unknown() -> TemplateSet:
    """The cards of an invented block."""
    return attrs.evolve(measured(family("random-5"), 0.05, counted=False), photos=(PHOTO,))


def without_one(templates: TemplateSet, why: str) -> TemplateSet:
    """The same, the last template seen less clearly and left out."""
    left = LeftOut(photo=0, outline_px=THING, why=why)
    return attrs.evolve(templates, templates=templates.templates[:-1], left_out=(left,))


@pytest.mark.parametrize(
    ("why", "whole", "belongs"),
    [
        (UNCLEAR, churn_dash(), True),
        (UNCLEAR, unknown(), False),
        (TOUCHING, churn_dash(), False),
    ],
)
def test_it_belongs_where_the_trade_knows_the_block(
    tmp_path: Path, why: str, whole: TemplateSet, belongs: bool
) -> None:
    """With the last card the others are a churn dash: taken, and told; no unknown block, no touching card."""
    asked: list[Corrections] = []

    def again(corrections: Corrections) -> TemplateSet:
        asked.append(corrections)
        return whole

    line = Measuring(JobFolder(tmp_path), Wishes())
    few = without_one(whole, why)
    found, places = line._what_belongs(few, again)
    assert places == ((PLACE,) if belongs else ())
    assert found.templates == (whole.templates if belongs else few.templates)
    if belongs:
        assert "churn dash" in found.warnings[-1]
        assert f"{whole.templates[-1].first_name}.exclude=true" in plain(found.warnings[-1])
    else:
        assert found.warnings == few.warnings
    assert [said.confirmed for said in asked] == ([] if why == TOUCHING else [(PLACE,)])
