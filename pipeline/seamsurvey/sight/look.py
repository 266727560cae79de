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
_HARDLY = 0.01  # nor is a question about what looks like card and has an outline of a lower chance than this
# Of the picture's longer side, to all sides. From the first a card that reaches far across the picture is one among
# its ground; from the second one that fills it is.
_STEPS_BACK = (0.25, 0.5)


def looked_at(picture: Picture) -> Picture:
    """The picture with what is seen in it.

    Where no card is sure, or another thing may be one, it is looked at again from farther away: a large card may
    pass for a sheet that others lie on. That view is taken which shows most.
    """
    pixels = picture.pixels
    if pixels.dtype == np.uint16:
        pixels = (pixels >> 8).astype(np.uint8)
    pixels = np.ascontiguousarray(pixels)
    views = [_seen(pixels)]
    if not views[0].cards or min(card.chance for card in views[0].cards) < SURE:
        views.append(_seen_from_afar(pixels, _STEPS_BACK[0]))
        if not any(map(_shown, views)):
            views.append(_seen_from_afar(pixels, _STEPS_BACK[1]))
    return attrs.evolve(picture, seen=max(views, key=_shown))


def _shown(seen: Seen) -> float:
    """How many of the sure cards are right, less those that are wrong, as far as their chances tell."""
    return sum(2 * card.chance - 1 for card in seen.cards if card.chance >= SURE)


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
    sure = [card for card, seen in zip(taken, cards, strict=True) if seen.chance >= SURE]
    likely = [one for one, p in zip(found, chance, strict=True) if p >= _HARDLY and not lies_over(one, sure)]
    outlined = np.zeros(evidence.maps.shape[1:], np.uint8)
    for one in likely:
        cv2.fillPoly(outlined, [np.rint(one.outline).astype(np.int32)], (1,))
    return Seen(maps=evidence.maps, scale=evidence.scale, cards=tuple(cards), outlined=outlined > 0)


def _seen_from_afar(pixels: NDArray[np.uint8], step: float) -> Seen:
    """The same of the picture with what runs along its border carried on beyond, by ``step`` of its longer side."""
    height, width = pixels.shape[:2]
    more = round(step * max(height, width))
    wide = _seen(np.asarray(cv2.copyMakeBorder(pixels, more, more, more, more, cv2.BORDER_REPLICATE), np.uint8))
    at = round(more * wide.scale)
    high, across = max(1, round(height * wide.scale)), max(1, round(width * wide.scale))
    cards = tuple(attrs.evolve(card, outline_px=card.outline_px - more) for card in wide.cards)
    part = np.s_[at : at + high, at : at + across]
    outlined = None if wide.outlined is None else wide.outlined[part].copy()
    return Seen(maps=wide.maps[:, *part].copy(), scale=wide.scale, cards=cards, outlined=outlined)
