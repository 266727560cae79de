"""Cards with writing on them, read from pictures of which the place of every card is known."""

import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Picture, ScanPlane
from seamsurvey.templates.ink import ink_on
from seamsurvey.templates.said_by_cards import CardSays, says
from seamsurvey.templates.writing import read_card
from tests.scene.written import WrittenCard

# Hands that the figures of templates/said_by_cards.py were found with, and hands that nothing was tuned on.
TUNED = ("caveat", "indie", "kalam", "delius")
UNSEEN = ("shadows", "zeyada", "dancing", "marker")


def read(card: WrittenCard, quarter_turns: int = 0) -> CardSays:
    """What is read on a card in its picture, turned counter-clockwise by quarters."""
    pixels, to_image = card.pixels, card.to_image
    for _ in range(quarter_turns):
        turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
        to_image = np.column_stack([turn @ to_image[:, :2], turn @ to_image[:, 2] + [0, pixels.shape[1] - 1]])
        pixels = np.rot90(pixels)
    ink = ink_on(Picture("card.png", "0" * 64, np.ascontiguousarray(pixels)), plane_of(to_image), card.outline)
    return says(read_card(ink)) if ink is not None else CardSays()


def plane_of(to_image: NDArray[np.float64]) -> ScanPlane:
    """The plane of a picture whose map from the table is known."""
    back = np.linalg.inv(to_image[:, :2])
    return ScanPlane(
        matrix=np.column_stack([back, -back @ to_image[:, 2]]),
        covariance=np.zeros((6, 6)),
        axis=np.array([1.0, 0.0]),
    )
