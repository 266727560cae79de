"""What refuses an outline that holds two cards: what is seen between them, their shape, what sticks out of it."""

import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Picture, Plane
from seamsurvey.templates.cards import Card, may_be_two, templates_touch
from seamsurvey.templates.contour import Crop
from seamsurvey.templates.corners import Outline
from seamsurvey.templates.slots import slot_across
from seamsurvey.templates.thick import sides_of
from seamsurvey.templates.touching import hidden_edge, laid_along, sticks_out

Floats = NDArray[np.float64]

TWO_CARDS = ("templates-touch", "maybe-two-cards")  # codes of what is raised here


def refuse_touching(crop: Crop, outline: Outline, plane: Plane, picture: Picture, *, motley: bool = False) -> None:
    """InputError ``templates-touch`` where another card's edge shows across an outline."""
    hidden = None if motley else hidden_edge(crop, outline.drawn(), plane)  # a print is full of edges within
    if hidden is not None:
        raise templates_touch(plane.to_px(hidden[None]), picture)


def refuse_two(outline: Outline, card: Card, plane: Plane, picture: Picture) -> None:
    """InputError ``maybe-two-cards``: by the outline's shape, or by what was seen beyond it."""
    between = None if outline.bulges else laid_along(outline.corners)
    if between is None:
        face = outline.drawn()
        between = sticks_out(face, plane.to_mm(card.contour), sides_of(face, plane), roughly=card.motley)
    if between is not None:
        raise may_be_two(plane.to_px(between.reshape(-1, 2)), picture)


def refuse_slot(crop: Crop, corners: Floats, plane: Plane, picture: Picture) -> None:
    """InputError ``maybe-two-cards`` where a slot runs across what has these corners, (n, 2) plane mm."""
    between = slot_across(crop, corners, plane)
    if between is not None:
        raise may_be_two(plane.to_px(between), picture)
