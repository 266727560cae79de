"""All cards of all pictures, outlined: of cut cards or of printed pages, with what a person says of them."""

from collections.abc import Sequence

from attrs import frozen

from seamsurvey.errors import InputError
from seamsurvey.model import Corrections, LeftOut, Picture, Plane
from seamsurvey.plane import BARE
from seamsurvey.templates.by_person import check_said, refuse_on_page, with_said
from seamsurvey.templates.lines import wobble_of
from seamsurvey.templates.outlined import Outlined, bordered, in_reading_order, outlined_cards, settled_cards
from seamsurvey.templates.page_or_cards import PageMeasures, page_in, page_note
from seamsurvey.templates.wobble import Wobble


@frozen(kw_only=True)
class Cards:
    """All cards of the pictures, outlined, with what they share; nothing is taken off yet."""

    pictures: tuple[tuple[Picture, Plane], ...]
    outlined: tuple[Outlined, ...]
    wobbles: tuple[Wobble, ...]  # of each picture
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...] = ()


def outline_cards(
    pictures: Sequence[tuple[Picture, Plane]],
    *,
    templates_are: str = "auto",
    thickness_mm: float | None = None,
    page_measures: PageMeasures = (None, None),
    corrections: Corrections | None = None,
) -> Cards:
    """All cards in the pictures, outlined, in reading order, then those that ``corrections`` add (``by_person``).

    The errors of ``measure_templates``.
    """
    word = corrections or Corrections()
    check_said(word, [picture.name for picture, _ in pictures])
    further: list[Outlined] = []
    seen: list[tuple[Picture, Plane]] = []
    notes: list[str] = []
    left_out: list[LeftOut] = []
    outlined: list[Outlined] = []
    wobbles: list[Wobble] = []
    for photo, (picture, plane) in enumerate(pictures):
        page = page_in(picture, plane, photo, are=templates_are, thickness_mm=thickness_mm, measures=page_measures)
        if page is not None:
            found, rest = list(page.printed.outlined), list(page.printed.left_out)
            wobble = wobble_of([card.edges for card in found])
            notes.append(page_note(picture, page.printed))
            refuse_on_page(picture, word)
            found = in_reading_order(found)
        else:
            cut, rest = outlined_cards(picture, plane, photo)
            wobble = wobble_of([card.edges for card in cut])
            found, unclear = settled_cards(cut, picture, plane, wobble)
            rest = [*rest, *unclear]
            said = with_said(in_reading_order(found), rest, photo, picture, plane, wobble, word)
            found, rest = list(said.cards), list(said.left_out)
            if plane.kind == BARE:
                both = bordered([*found, *said.further], picture, plane)
                found, more = both[: len(found)], both[len(found) :]
            else:
                more = list(said.further)
            further += more
        seen.append((picture, page.plane if page else plane))
        left_out.extend(rest)
        outlined.extend(found)
        wobbles.append(wobble)
    outlined += further
    if not outlined:
        raise _no_templates(pictures, left_out)
    return Cards(
        pictures=tuple(seen),
        outlined=tuple(outlined),
        wobbles=tuple(wobbles),
        left_out=tuple(left_out),
        notes=tuple(notes),
    )


def _no_templates(pictures: Sequence[tuple[Picture, Plane]], left_out: Sequence[LeftOut]) -> InputError:
    reasons = sorted({each.why for each in left_out})
    return InputError(
        "no-templates",
        "There is no template in the picture: nothing in it is a card with straight or evenly curved edges.",
        where=", ".join(picture.name for picture, _ in pictures),
        likely=f"What was looked at and left out: {'; '.join(reasons)}." if reasons else "",
        todo="Lay the templates on a plain ground that differs from them, at least 5 mm apart, and take the picture"
        " again.",
    )
