"""What a photo shows too unclearly to believe: templates among things that look much like them and are none."""

from collections.abc import Sequence

from shapely import Polygon

from seamsurvey.errors import InputError
from seamsurvey.model import LeftOut, PhotoPlane, Picture
from seamsurvey.templates.cards import AT_BORDER, TOO_SMALL
from seamsurvey.templates.outlined import Outlined
from seamsurvey.templates.sides import ROUND

PATTERN = "it may be part of the ground's pattern or of a print, as the things of its size round it"
_MANY_UNCLEAR = 3  # fewer things that can't be outlined are what lies about
_MANY_ALIKE, _ALIKE = 5, 3.0  # so many things of a template's area, or of at most so many times more or less


def without_pattern(
    found: Sequence[Outlined], left_out: Sequence[LeftOut], plane: PhotoPlane
) -> tuple[list[Outlined], list[LeftOut]]:
    """The cards but for those that are as large as several things that were left out: checks of a cloth, blots.

    Coins and what runs off the picture don't count.
    """
    others = [
        Polygon(plane.to_mm(each.outline_px)).buffer(0).area
        for each in left_out
        if each.why not in (AT_BORDER, ROUND) and len(each.outline_px) > 2
    ]
    cards, pattern = [], []
    for card in found:
        area = Polygon(card.corners).area
        if sum(1 / _ALIKE < other / area < _ALIKE for other in others) < _MANY_ALIKE:
            cards.append(card)
        else:
            pattern.append(LeftOut(photo=card.photo, outline_px=plane.to_px(card.corners), why=PATTERN))
    return cards, pattern


def refuse_unclear(found: Sequence[Outlined], left_out: Sequence[LeftOut], picture: Picture) -> None:
    """Where most of what lies there can't be outlined, what can be is as likely a blot of a print, or a flower.

    InputError ``mostly-unclear``.
    """
    unclear = [each for each in left_out if each.why not in (*TOO_SMALL, AT_BORDER, ROUND, PATTERN)]
    if len(unclear) < _MANY_UNCLEAR or len(unclear) <= len(found):
        return
    raise InputError(
        "mostly-unclear",
        f"Of {len(found) + len(unclear)} things on the table that could be templates only {len(found)} can be"
        " outlined, and these may be something else.",
        where=picture.name,
        likely=f"Templates and table are too much alike, or one of them is printed all over: {unclear[0].why}.",
        todo="Lay the templates on a plain ground of another colour, with nothing else there but the ruler, and"
        " take the picture again.",
    )
