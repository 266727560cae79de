"""A picture looked at: the value that the rooms of stages 1 and 2 take from the learned eye."""

import attrs
import numpy as np

from seamsurvey.model import Picture
from seamsurvey.seen_model import Seen, SeenCard
from seamsurvey.sight.candidates import Candidate, candidates
from seamsurvey.sight.choose import chances, fitting, lies_over
from seamsurvey.sight.evidence import maps
from seamsurvey.sight.trace import traced
from seamsurvey.sight.traits import traits

LEAST = 0.1  # a card of a lower chance than this is not worth a word


def looked_at(picture: Picture) -> Picture:
    """The picture with what is seen in it."""
    pixels = picture.pixels
    if pixels.dtype == np.uint16:
        pixels = (pixels >> 8).astype(np.uint8)
    evidence = maps(np.ascontiguousarray(pixels))
    found = candidates(evidence)
    chance = chances(traits(evidence, found))
    cards: list[SeenCard] = []
    taken: list[Candidate] = []
    for i in fitting(found, chance, LEAST):
        drawn = Candidate(traced(evidence, found[i].outline), found[i].votes, found[i].kinds)
        if not lies_over(drawn, taken):  # a part of a card that was drawn whole
            taken.append(drawn)
            cards.append(SeenCard(outline_px=evidence.to_image(drawn.outline), chance=float(chance[i])))
    return attrs.evolve(picture, seen=Seen(maps=evidence.maps, scale=evidence.scale, cards=tuple(cards)))
