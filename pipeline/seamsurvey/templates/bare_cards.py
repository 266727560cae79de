"""Find the cards where nothing is known of the picture: as faces anywhere, or on an even ground as in a scan.

Which of the two sees more is taken: faces stand out from whatever is round them, pale cards only from an even lid.
"""

from functools import partial

import cv2
import numpy as np
from attrs import evolve

from seamsurvey.errors import InputError
from seamsurvey.model import LeftOut, Picture, Plane
from seamsurvey.templates.cards import Card, Found, find_cards
from seamsurvey.templates.faces import find_faces

LONG_AND_NARROW = "it is as long and narrow as a ruler"
LONG = 7.0  # times as long as wide: no template is, a ruler and a pencil are


def find_bare_cards(picture: Picture, plane: Plane, photo: int = 0) -> Found:
    """Every card that one way of looking sees, roughly outlined; what is long and narrow is left out."""
    best = Found((), ())
    for find in (find_faces, partial(find_cards, border_is_left_out=True)):
        try:
            found = _without_rulers(find(picture, plane, photo), photo)
        except InputError:
            continue  # what one way of looking stumbles over may be plain to another
        if len(found.cards) > len(best.cards):
            best = found
    return best


def _without_rulers(found: Found, photo: int) -> Found:
    narrow = [card for card in found.cards if _is_long(card)]
    said = [LeftOut(photo=photo, outline_px=card.contour, why=LONG_AND_NARROW) for card in narrow]
    cards = tuple(card for card in found.cards if not _is_long(card))
    return evolve(found, cards=cards, left_out=(*found.left_out, *said))


def _is_long(card: Card) -> bool:
    _, sides, _ = cv2.minAreaRect(card.contour.astype(np.float32))
    return max(sides) > LONG * min(sides)
