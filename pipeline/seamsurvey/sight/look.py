"""A picture looked at: the value that the rooms of stages 1 and 2 take from the learned eye."""

import attrs
import cv2
import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Picture
from seamsurvey.seen_model import Seen, SeenCard
from seamsurvey.sight.candidates import Candidate, candidates
from seamsurvey.sight.choose import SURE, chances, fitting, lies_over
from seamsurvey.sight.evidence import maps
from seamsurvey.sight.trace import traced
from seamsurvey.sight.traits import traits

LEAST = 0.1  # a card of a lower chance than this is not worth a word
_STEP_BACK = 0.5  # of the picture's longer side, to all sides: a card that filled it is then one among its ground


def looked_at(picture: Picture) -> Picture:
    """The picture with what is seen in it.

    Where no card is sure, it is looked at again from farther away: a large card alone may pass for a sheet that
    others lie on.
    """
    pixels = picture.pixels
    if pixels.dtype == np.uint16:
        pixels = (pixels >> 8).astype(np.uint8)
    pixels = np.ascontiguousarray(pixels)
    seen = _seen(pixels)
    if not _is_sure(seen):
        farther = _seen_from_afar(pixels)
        seen = farther if _is_sure(farther) else seen
    return attrs.evolve(picture, seen=seen)


def _is_sure(seen: Seen) -> bool:
    return any(card.chance >= SURE for card in seen.cards)


def _seen(pixels: NDArray[np.uint8]) -> Seen:
    evidence = maps(pixels)
    found = candidates(evidence)
    chance = chances(traits(evidence, found))
    cards: list[SeenCard] = []
    taken: list[Candidate] = []
    for i in fitting(found, chance, LEAST):
        drawn = Candidate(traced(evidence, found[i].outline), found[i].votes, found[i].kinds)
        if not lies_over(drawn, taken):  # a part of a card that was drawn whole
            taken.append(drawn)
            cards.append(SeenCard(outline_px=evidence.to_image(drawn.outline), chance=float(chance[i])))
    return Seen(maps=evidence.maps, scale=evidence.scale, cards=tuple(cards))


def _seen_from_afar(pixels: NDArray[np.uint8]) -> Seen:
    """The same of the picture with what runs along its border carried on beyond."""
    height, width = pixels.shape[:2]
    more = round(_STEP_BACK * max(height, width))
    wide = _seen(np.asarray(cv2.copyMakeBorder(pixels, more, more, more, more, cv2.BORDER_REPLICATE), np.uint8))
    at = round(more * wide.scale)
    high, across = max(1, round(height * wide.scale)), max(1, round(width * wide.scale))
    cards = tuple(attrs.evolve(card, outline_px=card.outline_px - more) for card in wide.cards)
    return Seen(maps=wide.maps[:, at : at + high, at : at + across].copy(), scale=wide.scale, cards=cards)
