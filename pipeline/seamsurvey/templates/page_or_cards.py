"""Whether a picture shows cut cards, or a page with outlines printed on it: by evidence, or as a person says."""

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from shapely import Polygon, unary_union

from seamsurvey.errors import InputError, UndecidedError
from seamsurvey.model import PhotoPlane, Picture, Plane
from seamsurvey.templates.cards import place_text
from seamsurvey.templates.contour import boundary_points
from seamsurvey.templates.corners import NoOutlineError
from seamsurvey.templates.line_art import line_art
from seamsurvey.templates.outlined import crop_of
from seamsurvey.templates.own_colour import stands_out
from seamsurvey.templates.page_scale import bar_measure, grid_measure, is_measure, scaled
from seamsurvey.templates.printed_page import Printed, printed_templates
from seamsurvey.templates.seen_cards import find_cards
from seamsurvey.templates.sides import straight_outline

Floats = NDArray[np.float64]

# A sheet of copy paper (ISO 536's 80 g/m²: about 0.1 mm), lying flat to the eye (common practice, no source).
PAPER_MM, PAPER_SIGMA_MM = 0.1, 0.2
PageMeasures = tuple[float | None, float | None]  # of a bar or square, and of a grid's squares, mm
_APART = 0.1  # a card shares no more of its area with what is printed


@frozen(kw_only=True)
class Page:
    """What is printed in a picture, and the plane of its paper."""

    printed: Printed
    plane: Plane


def page_in(
    picture: Picture,
    plane: Plane,
    photo: int,
    *,
    are: str,
    thickness_mm: float | None,
    measures: PageMeasures = (None, None),
) -> Page | None:
    """The page in a picture; None where its templates are cards.

    ``are`` is what the templates are: "auto", "cards" or "printed". InputError ``no-outlines`` where they are said
    to be printed and none is; UndecidedError ``cards-or-page`` where there are both. ``measures`` is what a bar or
    square on the page, and the squares of its grid, should measure, mm (``page_scale``, with its errors); that
    there are such says that it is a page.
    """
    if measures != (None, None) and are == "auto":
        are = "printed"
    if are == "cards":
        return None
    if isinstance(plane, PhotoPlane) and thickness_mm is None:
        plane = plane.with_faces_at(PAPER_MM, PAPER_SIGMA_MM)
    printed = printed_templates(picture, plane, photo)
    if are == "printed":
        if not printed.outlined:
            raise _no_outlines(picture, printed)
    elif not printed.is_page:
        return None
    else:
        cards = _cards_beside(printed, picture, plane)
        if len(cards) > len(printed.outlined):  # wood's grain or the gaps between cards close a few outlines, too
            return None
        # What is printed has the paper within and without.
        if apart := [card for card in cards if stands_out(picture, card, plane)]:
            raise _both(picture, apart[0])
    if measures == (None, None):
        return Page(printed=printed, plane=plane)
    return _by_own_measure(printed, picture, plane, photo, measures)


def _by_own_measure(printed: Printed, picture: Picture, plane: Plane, photo: int, measures: PageMeasures) -> Page:
    """The page measured again by what it carries itself; its test square is no template."""
    art = line_art(picture, plane)
    bar_mm, grid_mm = measures
    if grid_mm is not None:
        measure = grid_measure(art, plane, grid_mm, picture)
    elif bar_mm is not None:
        measure = bar_measure(art, printed.outlined, plane, bar_mm, picture)
    true = scaled(plane, measure)
    again = printed_templates(picture, true, photo)
    templates = tuple(card for card in again.outlined if not is_measure(card, measure, true))
    if not templates:
        raise _no_outlines(picture, again)
    return Page(printed=attrs.evolve(again, outlined=templates), plane=true)


def page_note(picture: Picture, printed: Printed) -> str:
    """What to say of a picture whose outlines were taken for templates."""
    count = len(printed.outlined)
    what = "outline" if count == 1 else f"{count} outlines"
    return (
        f"{picture.name} was taken for a printed page: the middle of each line of the {what} on it was measured. If"
        " cut cards lie there, run again with --templates-are cards."
    )


def _cards_beside(printed: Printed, picture: Picture, plane: Plane) -> list[Floats]:
    """The contours (image px) of straight-edged cards that are no outlines, nor the sheet that they are on."""
    drawn = unary_union(
        [
            *(Polygon(plane.to_px(each.corners)) for each in printed.outlined),
            *(Polygon(each.outline_px).buffer(0) for each in printed.left_out),
        ]
    )
    cards = []
    for card in find_cards(picture, plane).cards:
        shape = Polygon(card.contour).buffer(0)
        if shape.intersection(drawn).area > _APART * shape.area:
            continue
        crop = crop_of(picture, plane, card.contour)
        try:
            straight_outline(plane.to_mm(boundary_points(crop, card.contour, plane)))
        except NoOutlineError:
            continue
        cards.append(card.contour)
    return cards


def _no_outlines(picture: Picture, printed: Printed) -> InputError:
    reasons = sorted({each.why for each in printed.left_out})
    return InputError(
        "no-outlines",
        "There is no printed template in the picture: no closed outline with straight sides.",
        where=picture.name,
        likely=f"What was looked at and left out: {'; '.join(reasons)}."
        if reasons
        else "The lines are broken or too faint, or these are cut cards.",
        todo="Scan the page at 300 dpi or more, or run again with --templates-are cards.",
    )


def _both(picture: Picture, card: Floats) -> UndecidedError:
    return UndecidedError(
        "cards-or-page",
        "The picture shows outlines that are printed, and a cut card beside them.",
        where=place_text(card, picture),
        likely="A card lies on a printed page, or something printed lies among the cards.",
        todo="Say which are the templates: run again with --templates-are printed, or --templates-are cards.",
    )
