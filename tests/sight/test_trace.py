"""Outlines drawn anew on the evidence."""

import cv2
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from seamsurvey.seen_model import BORDER, FACE, GROUND
from seamsurvey.sight.evidence import Evidence
from seamsurvey.sight.trace import traced

Floats = NDArray[np.float64]

CARD = np.array([[40.0, 30], [190, 60], [160, 180], [60, 150]])


def evidence_of(card: Floats, bite: Floats | None = None) -> Evidence:
    """A card seen surely, its border two px wide; ``bite``: a part of it that is taken for ground."""
    height, width = 220, 240
    face = np.zeros((height, width), np.uint8)
    cv2.fillPoly(face, [np.rint(card).astype(np.int32)], (1,))
    if bite is not None:
        cv2.fillPoly(face, [np.rint(bite).astype(np.int32)], (0,))
    inner = np.asarray(cv2.erode(face, np.ones((5, 5), np.uint8)))
    maps = np.full((7, height, width), 0.01, np.float32)
    maps[FACE], maps[BORDER], maps[GROUND] = inner, face - inner, 1 - face
    return Evidence(maps, np.full((height, width, 3), 128, np.uint8), 1.0)


def ragged(outline: Floats, by: float) -> Floats:
    """The outline with a point every few px, each moved by up to ``by`` px."""
    ring = shapely.segmentize(shapely.LinearRing(outline), 5.0)
    points = np.asarray(ring.coords)[:-1]
    return points + np.random.default_rng(2).uniform(-by, by, points.shape)


def off(outline: Floats, card: Floats) -> float:
    """Mean distance, px, between the two outlines, by the area between them."""
    one, other = shapely.Polygon(outline).buffer(0), shapely.Polygon(card)
    return float(one.symmetric_difference(other).area / other.length)


@pytest.mark.parametrize("by", [0.0, 2.0, 4.0])
def test_a_ragged_outline_comes_back_straight(by: float) -> None:
    """Moved by up to 4 px to all sides, an outline comes to within 0.8 px of where card ends, mean."""
    assert off(traced(evidence_of(CARD), ragged(CARD, by)), CARD) < 0.8


def test_of_two_outlines_the_simpler_is_begun_with() -> None:
    """Where the evidence has a bite that the candidate has not, the candidate's own side is kept beside it."""
    bite = np.array([[110.0, 30], [140, 36], [140, 56], [110, 56]])
    drawn = traced(evidence_of(CARD, bite), CARD)
    assert not shapely.Polygon(drawn).buffer(0).contains(shapely.Point(125, 40))  # the evidence is believed there
    whole = evidence_of(CARD)
    bitten = np.array([[40.0, 30], [100, 42], [104, 70], [130, 72], [134, 49], [190, 60], [160, 180], [60, 150]])
    assert off(traced(whole, bitten), CARD) < 0.8
