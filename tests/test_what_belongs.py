"""What was seen less clearly is taken for a template where the cards then are a block that closes."""

from pathlib import Path

import attrs
import numpy as np
import pytest

from seamsurvey.errors import plain
from seamsurvey.job.folder import JobFolder
from seamsurvey.measuring import Measuring
from seamsurvey.model import Corrections, LeftOut, PhotoReport, TemplateSet, Wishes
from seamsurvey.templates.cards import TOUCHING, UNCLEAR
from tests.block.sets import SURE_MM, measured, template
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
    """The cards of an invented block, the last where the thing lies."""
    whole = measured(family("random-5"), 0.05, counted=False)
    last = attrs.evolve(whole.templates[-1], corners_px=THING)
    return attrs.evolve(whole, photos=(PHOTO,), templates=(*whole.templates[:-1], last))


def of_another_set() -> TemplateSet:
    """The same with a square of 47 mm in place of the last, which fits to nothing."""
    whole = unknown()
    square = template("Z", np.array([[0, 0], [47, 0], [47, 47], [0, 47.0]]) + 100, SURE_MM, None, None)
    return attrs.evolve(whole, templates=(*whole.templates[:-1], attrs.evolve(square, corners_px=THING)))


def without_one(templates: TemplateSet, why: str) -> TemplateSet:
    """The same, the last template seen less clearly and left out."""
    left = LeftOut(photo=0, outline_px=THING, why=why)
    return attrs.evolve(templates, templates=templates.templates[:-1], left_out=(left,))


@pytest.mark.parametrize(
    ("why", "whole", "belongs"),
    [
        (UNCLEAR, churn_dash(), "are the trade's churn dash"),
        (UNCLEAR, unknown(), "fit together into a block"),
        (UNCLEAR, of_another_set(), ""),
        (TOUCHING, churn_dash(), ""),
    ],
)
def test_it_belongs_where_the_cards_are_a_block_with_it(
    tmp_path: Path, why: str, whole: TemplateSet, belongs: str
) -> None:
    """With the last card the others are a block, known or not: taken, and told; nothing else, nor what touches."""
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
        assert belongs in found.warnings[-1]
        assert f"{whole.templates[-1].first_name}.exclude=true" in plain(found.warnings[-1])
    else:
        assert found.warnings == few.warnings
    assert [said.confirmed for said in asked] == ([] if why == TOUCHING else [(PLACE,)])
