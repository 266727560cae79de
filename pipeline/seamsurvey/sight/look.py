"""A picture looked at: the value that the rooms of stages 1 and 2 take from the learned eye."""

import attrs
import numpy as np

from seamsurvey.model import Picture
from seamsurvey.seen_model import Seen, SeenCard
from seamsurvey.sight.choose import choose
from seamsurvey.sight.evidence import maps

LEAST = 0.1  # a card of a lower chance than this is not worth a word


def looked_at(picture: Picture) -> Picture:
    """The picture with what is seen in it."""
    pixels = picture.pixels
    if pixels.dtype == np.uint16:
        pixels = (pixels >> 8).astype(np.uint8)
    evidence = maps(np.ascontiguousarray(pixels))
    cards = tuple(SeenCard(outline_px=c.outline, chance=c.chance) for c in choose(evidence, LEAST))
    return attrs.evolve(picture, seen=Seen(maps=evidence.maps, scale=evidence.scale, cards=cards))
