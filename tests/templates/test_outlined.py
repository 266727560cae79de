"""Whether fitted edges are the shape that was seen, and what outlines a print may have."""

import attrs
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from seamsurvey.model import PhotoPlane
from seamsurvey.templates.cards import ROUND
from seamsurvey.templates.corners import NoOutlineError, Outline
from seamsurvey.templates.outlined import _follows, _outlines_of_print
from tests.templates.drawing import plane_of
from tests.templates.test_seen_cards import plane

CARD = np.array([[-50.0, -10.0], [50.0, -10.0], [50.0, 10.0], [-50.0, 10.0]])
AWAY = np.array([0.0, 4.0])
THICK_MM = 3.0


def _seen(over: PhotoPlane, shape: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points all round a shape and the sides below it: a card's silhouette, which is convex as the card is."""
    foot = over.to_mm(over.below_px(shape))
    whole = shapely.MultiPoint(np.vstack([shape, foot])).convex_hull
    return shapely.get_coordinates(shapely.segmentize(whole, 1.0))


def test_an_outline_follows_what_was_seen_of_a_printed_card_with_its_side() -> None:
    """From aslant a thick card's long side shows wider than any rough shape errs: it is no other card, though."""
    over = attrs.evolve(plane(42.0), face_mm=THICK_MM)
    outline = Outline(corners=CARD)
    foot = over.to_mm(over.below_px(CARD))
    assert 2.2 < np.abs(foot - CARD).max() < 4.0
    assert _follows(outline, _seen(over, CARD), over, motley=True)
    assert not _follows(outline, _seen(over, CARD + AWAY), over, motley=True)
    assert not _follows(outline, _seen(over, CARD - AWAY), over, motley=True)


@pytest.mark.parametrize("degrees", [0.0, 17.0, 33.0, 45.0])
def test_a_printed_card_on_a_scanners_glass_has_its_edge_alone_to_follow(degrees: float) -> None:
    """No side is in view there, or a sliver by rounding: the outline follows the face, and no face 4 mm off."""
    over = plane_of(2000)
    way = np.exp(1j * np.radians(degrees))
    card = CARD @ np.array([[way.real, way.imag], [-way.imag, way.real]]) + 80.0
    seen = shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(card), 1.0))
    assert _follows(Outline(corners=card), seen, over, motley=True)
    assert not _follows(Outline(corners=card), seen + AWAY, over, motley=True)


def _bitten(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points all round a shape, with bites of 0.8 mm where blots of a print end at its edge."""
    points = shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(corners), 0.5))[:-1]
    inward = -points / np.hypot(*points.T)[:, None]
    return np.asarray(points + 0.8 * inward * (np.arange(len(points)) % 60 < 8)[:, None])


def test_a_printed_octagon_is_a_card_and_a_coin_with_bites_is_none() -> None:
    """An octagon's corners turn by no more than a coin's chords may, but it does not fill its circle."""
    turns = np.radians(np.arange(0, 360, 45) + 22.5)
    octagon = 45 * np.column_stack([np.cos(turns), np.sin(turns)])
    seen = _bitten(octagon)
    outline = _outlines_of_print(seen, seen)[0]
    off = np.hypot(*(outline.corners[:, None] - octagon).transpose(2, 0, 1)).min(axis=1)
    assert len(outline.corners) == 8
    assert off.max() < 1.0  # from there its edges are looked for
    around = np.radians(np.arange(0, 360, 3.0))
    coin = _bitten(12 * np.column_stack([np.cos(around), np.sin(around)]))
    with pytest.raises(NoOutlineError, match=ROUND):
        _outlines_of_print(coin, coin)
