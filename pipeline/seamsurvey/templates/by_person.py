"""Cards by a person's word: things that were seen and left out, confirmed; and cards drawn into a photo.

Both come after what is measured by itself, so that no name of that changes: a drawn card takes the place of the one
that it lies over, every other goes behind all cards of all photos.
"""

from collections.abc import Iterator, Sequence
from contextlib import suppress

import attrs
import numpy as np
from attrs import frozen
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.errors import UsageError
from seamsurvey.geometry import signed_area
from seamsurvey.model import Corrections, LeftOut, Picture, Plane
from seamsurvey.places import lies_at
from seamsurvey.plane import COVERAGE
from seamsurvey.templates.bites import settled_on
from seamsurvey.templates.cards import AT_BORDER, CUT_OFF, Card
from seamsurvey.templates.contour import boundary_points
from seamsurvey.templates.corners import NoOutlineError, Outline
from seamsurvey.templates.fitted import FittedEdge, corners_of
from seamsurvey.templates.lines import fit_edges
from seamsurvey.templates.look import Look
from seamsurvey.templates.outlined import Outlined, crop_of, outlined_alone, settled
from seamsurvey.templates.own_colour import freed
from seamsurvey.templates.wobble import Wobble
from seamsurvey.wishes import DrawnCard

Floats = NDArray[np.float64]

ALL_THE_SAME = "; you say that it is a template all the same: draw it"
WHOLE_IN_VIEW = "; you say that it is a template: take the picture again with all of it in view"
AS_DRAWN = "; so you drew it"
_TIMES_U = 2.0  # an edge is looked for so far from where it was drawn, in the ± of its ends
_OVER = 0.5  # of the smaller of two outlines lies within the other: they are of one thing
_CUT = (AT_BORDER, CUT_OFF)  # what is not in the picture can't be measured, whatever it is


@frozen(kw_only=True)
class Said:
    """The cards of one photo with a person's word: those in place, those to go behind all, and what is left out."""

    cards: tuple[Outlined, ...]
    further: tuple[Outlined, ...]
    left_out: tuple[LeftOut, ...]


def check_said(corrections: Corrections, names: Sequence[str]) -> None:
    """UsageError ``unknown-photo`` where a photo is named that none of these pictures is."""
    told = [*(place.rsplit(" ", 2)[0] for place in corrections.confirmed), *(d.photo for d in corrections.drawn)]
    unknown = [name for name in dict.fromkeys(told) if name not in names]
    if unknown:
        raise UsageError(
            "unknown-photo",
            f"No photo of this job is called {', '.join(unknown)}.",
            where=f"confirm or drawn; the photos are {', '.join(names)}",
            todo="Mend --confirm or --drawn, or confirm or [[drawn]] in job.toml.",
        )


def refuse_on_page(picture: Picture, corrections: Corrections) -> None:
    """UsageError ``correction-impossible`` where cards are confirmed or drawn in a picture of a printed page."""
    if _confirmed(picture, corrections) or _drawn(picture, corrections):
        raise UsageError(
            "correction-impossible",
            f"{picture.name} was taken for a printed page, and only cut cards can be confirmed or drawn.",
            where="confirm or [[drawn]] in job.toml",
            todo="If cut cards lie there: --templates-are cards. If not, take these lines out.",
        )


def with_said(
    cards: Sequence[Outlined],
    left_out: Sequence[LeftOut],
    photo: int,
    picture: Picture,
    plane: Plane,
    wobble: Wobble,
    corrections: Corrections,
) -> Said:
    """The cards of a photo, in order, with those that a person confirms and draws; ``left_out`` of this photo too.

    UsageError ``no-such-thing``, ``correction-impossible``.
    """
    word = _Word(photo=photo, picture=picture, plane=plane, wobble=wobble, look=_look_of(cards))
    said = Said(cards=tuple(cards), further=(), left_out=tuple(left_out))
    drawn = [(each, _shape(each, word)) for each in _drawn(picture, corrections)]
    for k, (each, shape) in enumerate(drawn):
        if not any(_alike(shape, later) for _, later in drawn[k + 1 :]):  # else it was drawn again
            said = _with_drawn(said, each, shape, word)
    for place in _confirmed(picture, corrections):
        said = _with_confirmed(said, place, [shape for _, shape in drawn], word)
    return said


@frozen(kw_only=True)
class _Word:
    """What every card of a photo is measured by."""

    photo: int
    picture: Picture
    plane: Plane
    wobble: Wobble
    look: Look | None

    def left_out(self, outline_px: Floats, why: str) -> LeftOut:
        return LeftOut(photo=self.photo, outline_px=outline_px, why=why)


def _with_drawn(said: Said, drawn: DrawnCard, shape: Polygon, word: _Word) -> Said:
    """The set with a drawn card in place of what it lies over."""
    over = [k for k, card in enumerate(said.cards) if _alike(shape, Polygon(word.plane.to_px(card.drawn)))]
    left_out = [left for left in said.left_out if not _alike(shape, Polygon(left.outline_px).buffer(0))]
    mine: list[Outlined] = []
    try:
        mine.append(_measured_as_drawn(drawn, word))
    except NoOutlineError as error:
        outline_px = np.array([[corner.x, corner.y] for corner in drawn.corners])
        left_out.append(word.left_out(outline_px, str(error) + AS_DRAWN))
    cards = [card for k, card in enumerate(said.cards) if k not in over]
    if over:
        cards[over[0] : over[0]] = mine
    return Said(
        cards=tuple(cards), further=said.further if over else (*said.further, *mine), left_out=tuple(left_out)
    )


def _with_confirmed(said: Said, place: str, drawn: Sequence[Polygon], word: _Word) -> Said:
    """The set with the thing at a place measured as any card."""
    name = word.picture.name
    measured = [word.plane.to_px(card.drawn) for card in (*said.cards, *said.further)]
    if any(lies_at(outline, name, place) for outline in (*measured, *map(_ring, drawn))):
        return said
    there = [left for left in said.left_out if lies_at(left.outline_px, name, place)]
    if not there:
        raise UsageError(
            "no-such-thing",
            f"Nothing that may be a template was seen at {place}, which is confirmed as one.",
            todo="Draw it there with --drawn or [[drawn]] in job.toml, or take the place out of confirm.",
        )
    thing = min(there, key=lambda left: Polygon(left.outline_px).buffer(0).area)
    rest = [left for left in said.left_out if left is not thing]
    try:
        card = _measured_as_seen(thing, word)
    except NoOutlineError as error:
        why = str(error) + (WHOLE_IN_VIEW if thing.why in _CUT else ALL_THE_SAME)
        return attrs.evolve(said, left_out=(*rest, word.left_out(thing.outline_px, why)))
    return attrs.evolve(said, further=(*said.further, card), left_out=tuple(rest))


def _measured_as_seen(thing: LeftOut, word: _Word) -> Outlined:
    """The card by its rough outline; NoOutlineError where its edges can't be followed."""
    if thing.why in _CUT:
        raise NoOutlineError(thing.why)
    picture, plane = word.picture, word.plane
    contour, motley = freed(picture, thing.outline_px, plane)
    around = contour if signed_area(plane.to_mm(contour)) > 0 else contour[::-1]
    card = outlined_alone(Card(contour=around, motley=motley), picture, plane, word.photo, look=word.look)
    return settled(card, picture, plane, word.wobble)


def _measured_as_drawn(drawn: DrawnCard, word: _Word) -> Outlined:
    """The card by the outline that was drawn: each edge where the picture shows it, else where it was drawn."""
    picture, plane = word.picture, word.plane
    corners_px = np.array([[corner.x, corner.y] for corner in drawn.corners])
    u_px = np.array([corner.u_px for corner in drawn.corners])
    corners = plane.to_mm(corners_px)
    if signed_area(corners) < 0:
        corners, corners_px, u_px = corners[::-1], corners_px[::-1], u_px[::-1]
    as_drawn = _edges_as_drawn(corners, plane.mm_per_px_at(corners_px) * u_px / COVERAGE)
    ways = list(_measured_ways(as_drawn, corners, word))
    edges = tuple(
        next((each[k] for each in ways if not each[k].drawn and _as_said(each[k], own)), own)
        for k, own in enumerate(as_drawn)
    )
    card = Outlined(photo=word.photo, edges=edges, corners=corners_of(edges), seam_line=None, look=word.look)
    return settled(card, picture, plane, word.wobble, every_corner=True)


def _measured_ways(
    as_drawn: Sequence[FittedEdge], corners: Floats, word: _Word
) -> Iterator[tuple[FittedEdge, ...]]:
    """The outline's edges as the picture shows them near what most points beside them lie on; near the drawing."""
    picture, plane = word.picture, word.plane
    corners_px = plane.to_px(corners)
    crop = crop_of(picture, plane, corners_px)
    points = plane.to_mm(boundary_points(crop, corners_px, plane))
    drawn = Outline(corners=corners)
    begun = [settled_on(drawn, points), drawn] if len(points) and np.isfinite(points).all() else [drawn]
    for outline in begun:
        with suppress(NoOutlineError):  # what can't be followed from here lies where it was drawn
            yield fit_edges(crop, outline, plane, word.look, as_drawn)


def _as_said(edge: FittedEdge, own: FittedEdge) -> bool:
    """Whether a measured edge lies within _TIMES_U of what the ends of a person's ``own`` are said to be good to.

    Farther off it is another's: a shadow's, or a print's. It must not pass for what they drew.
    """
    ends = own.middle + own.places[:, None] * own.along
    return bool(np.all(np.abs(edge.curve.off(ends)) < _TIMES_U * COVERAGE * own.u))


def _edges_as_drawn(corners: Floats, sigmas_mm: Floats) -> tuple[FittedEdge, ...]:
    """A line between each two corners (n, 2) plane mm, known at its ends as well as these (n,)."""
    edges = []
    for k, start in enumerate(corners):
        end = corners[(k + 1) % len(corners)]
        length = float(np.hypot(*(end - start)))
        edges.append(
            FittedEdge(
                middle=(start + end) / 2, along=(end - start) / length, places=np.array([-length, length]) / 2,
                off=np.zeros(2), weights=np.ones(2), u=sigmas_mm[[k, (k + 1) % len(corners)]], drawn=True,
            )
        )  # fmt: skip
    return tuple(edges)


def _look_of(cards: Sequence[Outlined]) -> Look | None:
    return next((card.look for card in cards if card.look is not None), None)


def _confirmed(picture: Picture, corrections: Corrections) -> list[str]:
    return [place for place in corrections.confirmed if place.rsplit(" ", 2)[0] == picture.name]


def _drawn(picture: Picture, corrections: Corrections) -> list[DrawnCard]:
    return [each for each in corrections.drawn if each.photo == picture.name]


def _shape(drawn: DrawnCard, word: _Word) -> Polygon:
    """The outline in image px; UsageError ``correction-impossible`` where it is none, or not all in the picture."""
    corners = np.array([[corner.x, corner.y] for corner in drawn.corners])
    shape, last = Polygon(corners), np.array([word.picture.width, word.picture.height]) - 1.0
    if not shape.is_valid or shape.area == 0:
        _refuse(drawn, "crosses itself, or holds nothing", "Write its corners in their order, either way round.")
    if np.any(corners < 0) or np.any(corners > last) or not np.isfinite(word.plane.to_mm(corners)).all():
        _refuse(drawn, "runs off the picture", "x runs right, y down, in pixels of the picture as it is upright.")
    ends = np.vstack([corners, corners[:1]])
    if any(np.any(at[1:] & at[:-1]) for at in (*(ends == 0).T, *(ends == last).T)):
        _refuse(drawn, "ends at the picture's border, beyond which it may go on", "Take the picture again.")
    return shape


def _refuse(drawn: DrawnCard, what: str, todo: str) -> None:
    places = ", ".join(f"{corner.x:g} {corner.y:g}" for corner in drawn.corners)
    raise UsageError(
        "correction-impossible",
        f"The outline drawn in {drawn.photo} {what}.",
        where=f"--drawn, or [[drawn]] in job.toml: {places}",
        todo=todo,
    )


def _alike(one: Polygon, other: Polygon) -> bool:
    """Whether two outlines are of one thing."""
    return bool(one.intersection(other).area > _OVER * min(one.area, other.area))


def _ring(shape: Polygon) -> Floats:
    return np.asarray(shape.exterior.coords)[:-1]
