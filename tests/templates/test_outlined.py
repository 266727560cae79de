"""Whether fitted edges are the shape that was seen."""

import attrs
import numpy as np
import shapely
from numpy.typing import NDArray

from seamsurvey.model import PhotoPlane
from seamsurvey.templates.corners import Outline
from seamsurvey.templates.outlined import _follows
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
