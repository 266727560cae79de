"""From a picture to outlines: each card found, its edges as lines, and what was left out with the reason."""

import math
from collections.abc import Sequence
from contextlib import suppress

import attrs
import cv2
import numpy as np
import shapely
from attrs import field, frozen
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.geometry import edge_lengths, interior_angles
from seamsurvey.model import LeftOut, PhotoPlane, Picture, Plane
from seamsurvey.plane import COVERAGE
from seamsurvey.templates.bites import bitten, coarse_outline, settled_on
from seamsurvey.templates.cards import BEYOND, HARDLY_KNOWN, NOT_ITS_SHAPE, ROUND, Card
from seamsurvey.templates.chords import fills_its_circle, nearly_round
from seamsurvey.templates.contour import Crop, boundary_points, crop_around, stations
from seamsurvey.templates.corners import (
    MOST_EDGES,
    NOT_STRAIGHT,
    UNSEEN_EDGE_MM,
    WORN_EDGE_MM,
    EdgeUnclearError,
    FreeCurveError,
    NoOutlineError,
    Outline,
    TwoCardsError,
    simplified,
)
from seamsurvey.templates.fitted import FittedEdge, bulges_of, corners_of
from seamsurvey.templates.lamp import find_look
from seamsurvey.templates.lines import doubtful_arc, doubtful_corner, fit_edges, profiles_of
from seamsurvey.templates.look import Look
from seamsurvey.templates.rims import rim_of, with_rim
from seamsurvey.templates.seam_line import SeamLine, find_seam_line
from seamsurvey.templates.seen_cards import find_cards
from seamsurvey.templates.sides import find_edges
from seamsurvey.templates.tips import without_tips
from seamsurvey.templates.touching import HOLLOW_DEG, refuse_slot, refuse_two, sides_of
from seamsurvey.templates.windows import find_window
from seamsurvey.templates.wobble import Wobble

Floats = NDArray[np.float64]

# Between the rough shape (a shadow's width, a worn corner) and the fitted one, along the whole outline.
_ROUGH_MM = 1.0
# A photo's rough shape is freed of side and shadow with some of its own rim, alike all round.
_MOSTLY = 0.8  # of an outline's points are clear: their shape is the card's
_GROWN_MM = (0.0, 0.6, 1.2)
_HARDLY_KNOWN = 0.2  # of its length: an edge known no better tells of no template's size
_SEAM_CHORD_MM = 0.1  # along an arc a seam line is looked for by chords that lie this near to it
_MARGIN_MM = 3.0  # of the picture round a card that its edges are measured in


@frozen(kw_only=True)
class Outlined:
    """A card with its edges as lines and arcs, not yet finished or named; ``corners`` (n, 2) plane mm, as cut.

    ``printed``: the edges are the middles of strokes on a page; ``seam`` are those of its seam line, if drawn, or
    of the window that a frame has (``window``): the finished outline.
    """

    photo: int
    edges: tuple[FittedEdge, ...]
    corners: Floats = field(eq=False)
    seam_line: SeamLine | None
    look: Look | None = None
    printed: bool = False
    seam: tuple[FittedEdge, ...] = ()
    window: bool = False

    @property
    def bulges(self) -> tuple[float, ...]:
        """Of each edge as cut; empty when all are straight."""
        return bulges_of(self.edges, self.corners)

    @property
    def drawn(self) -> Floats:
        """(m, 2) plane mm: the outline with its arcs as fine chords."""
        return Outline(corners=self.corners, bulges=self.bulges).drawn()


def outlined_cards(picture: Picture, plane: Plane, photo: int) -> tuple[list[Outlined], list[LeftOut]]:
    """The cards of one picture with their edges as lines; what can't be outlined is left out."""
    found = find_cards(picture, plane, photo)
    left_out = list(found.left_out)
    rough = []
    for card in found.cards:
        try:
            rough.append(_rough(card, picture, plane))
        except NoOutlineError as error:
            left_out.append(LeftOut(photo=photo, outline_px=card.contour, why=str(error)))
    look = _look(rough, plane) if isinstance(plane, PhotoPlane) else None
    outlined = []
    for each in rough:
        try:
            outlined.append(_outlined(each, plane=plane, photo=photo, look=look))
        except NoOutlineError as error:
            left_out.append(LeftOut(photo=photo, outline_px=each.card.contour, why=str(error)))
    return outlined, left_out


@frozen
class _Rough:
    """A card, the picture round it, and the outlines that it may have, the likeliest first."""

    card: Card
    crop: Crop
    outlines: tuple[Outline, ...]


def _rough(card: Card, picture: Picture, plane: Plane) -> _Rough:
    """The card and its outline, roughly; raises NoOutlineError."""
    crop = crop_of(picture, plane, card.contour)
    seen = plane.to_mm(card.contour)
    points = plane.to_mm(boundary_points(crop, card.contour, plane))
    if not np.isfinite(points).all():
        raise NoOutlineError(BEYOND)  # it reaches up to where the camera sees no table any more
    px_per_mm = 1 / float(plane.mm_per_px_at(card.contour.mean(axis=0)[None])[0])
    contour = plane.to_mm(stations(card.contour, px_per_mm)[0])
    if card.motley:
        return _Rough(card, crop, _outlines_of_print(points, contour))
    mostly_clear = not isinstance(plane, PhotoPlane) or len(points) > _MOSTLY * len(contour)
    try:
        outline = find_edges(points)
    except NoOutlineError as error:
        if mostly_clear or isinstance(error, FreeCurveError):
            raise
    else:
        if mostly_clear or _follows(outline, seen, plane):
            return _Rough(card, crop, (outline,))
    # Where a shadow hides an edge of a dark card no point on it is clear, and yet the card's colour ends there.
    return _Rough(card, crop, (find_edges(contour),))


def _outlines_of_print(points: Floats, contour: Floats) -> tuple[Outline, ...]:
    """What a printed card's outline may be, what leaves the least unexplained first; raises NoOutlineError.

    Where blots end at the edge, points on it and what was seen have bites: as few edges as possible explain both.
    """
    if fills_its_circle(contour):  # cut into chords a coin is a polygon, too
        raise NoOutlineError(ROUND)
    coarse = coarse_outline(contour)
    if coarse is not None and len(points):
        coarse = settled_on(coarse, points)
    found = [coarse] if coarse is not None else []
    for seen in (points, contour):
        with suppress(NoOutlineError):
            found.append(find_edges(seen))
    found = [outline for outline in found if not nearly_round(outline.corners)]
    if not found:
        raise NoOutlineError(NOT_STRAIGHT)
    clear = points if len(points) > _MOSTLY * len(contour) else contour
    return tuple(sorted(found, key=lambda outline: bitten(outline, clear)))


def outlined_alone(card: Card, picture: Picture, plane: Plane, photo: int, look: Look | None) -> Outlined:
    """One card more of a photo, with the ``look`` of its other cards where there are some.

    Raises NoOutlineError.
    """
    rough = _rough(card, picture, plane)
    if look is None and isinstance(plane, PhotoPlane):
        look = _look([rough], plane)
    return _outlined(rough, plane=plane, photo=photo, look=look)


def _look(rough: list[_Rough], plane: PhotoPlane) -> Look:
    """What all the edges of a photo have in common."""
    profiles = [profile for each in rough for profile in profiles_of(each.crop, each.outlines[0], plane)]
    return find_look(profiles, plane.face_mm, math.sqrt(plane.covariance[-1, -1]))


def _outlined(rough: _Rough, *, plane: Plane, photo: int, look: Look | None) -> Outlined:
    """The card's edges as lines and arcs, by the first outline that they follow; raises NoOutlineError."""
    problem = NoOutlineError(NOT_ITS_SHAPE)
    contour = plane.to_mm(rough.card.contour).astype(np.float32)[:, None]
    coarse = cv2.approxPolyDP(contour, _ROUGH_MM, True)[:, 0].astype(float)
    # A simpler outline may lack the corners that a slot ends at. But with more than a template has they are bites.
    seen = (coarse,) if len(coarse) <= MOST_EDGES else ()
    refuse_slot(rough.crop, (*(outline.corners for outline in rough.outlines), *seen), plane)
    for outline in rough.outlines:
        try:
            edges = _edges_of(rough, outline, plane=plane, look=look)
        except TwoCardsError:
            raise  # another outline of both is no better
        except NoOutlineError as error:
            problem = error
        else:
            return Outlined(photo=photo, edges=edges, corners=_outline_of(edges).corners, seam_line=None, look=look)
    raise problem


def _edges_of(rough: _Rough, outline: Outline, *, plane: Plane, look: Look | None) -> tuple[FittedEdge, ...]:
    card, seen = rough.card, plane.to_mm(rough.card.contour)
    try:
        edges = _edges_that_follow(rough.crop, outline, card, plane=plane, look=look)
    except NoOutlineError as error:
        if np.any(interior_angles(outline.corners) > HOLLOW_DEG):
            # A hollow corner is more often another card that touches it than a template's own shape.
            raise NoOutlineError(NOT_ITS_SHAPE) from error
        raise
    found = _outline_of(edges)
    refuse_two(found, seen, plane, motley=card.motley)
    refuse_slot(rough.crop, [found.corners], plane)
    return edges


def _outline_of(edges: tuple[FittedEdge, ...]) -> Outline:
    corners = corners_of(edges)
    return Outline(corners=corners, bulges=bulges_of(edges, corners))


def _edges_that_follow(
    crop: Crop, outline: Outline, card: Card, *, plane: Plane, look: Look | None
) -> tuple[FittedEdge, ...]:
    """A line or an arc through each edge. Where that fails, a shallow corner or a tip's width was wear."""
    seen = plane.to_mm(card.contour)
    while True:
        problem = NoOutlineError(NOT_ITS_SHAPE)
        try:
            edges = fit_edges(crop, outline, plane, look)
            if _follows(_outline_of(edges), seen, plane, motley=card.motley):
                return edges
        except NoOutlineError as error:
            problem = error
        worn_mm = UNSEEN_EDGE_MM if isinstance(problem, EdgeUnclearError) else WORN_EDGE_MM
        simpler = None if outline.bulges else simplified(outline.corners, worn_mm=worn_mm)
        if simpler is None or not _follows(Outline(corners=simpler), seen, plane, motley=card.motley):
            raise problem
        outline = Outline(corners=simpler)


def _follows(outline: Outline, contour: Floats, plane: Plane, *, motley: bool = False) -> bool:
    """Whether an outline of fitted edges is sound, and the shape that was seen ((m, 2) plane mm, roughly).

    What is seen of a ``motley`` card has bites where a blot has the ground's colour: most of it must lie near the
    face's edge, or near the side below it.
    """
    fitted, seen = Polygon(outline.drawn()), Polygon(contour).buffer(0)
    if not fitted.is_valid:
        return False
    if motley:
        places = shapely.points(contour)
        # Of a card on a scanner's glass no side is in view: then there is no distance to one.
        from_side = np.asarray(shapely.distance(sides_of(outline.drawn(), plane), places))
        off = np.fmin(np.asarray(shapely.distance(fitted.exterior, places)), from_side)
        return bool(np.mean(off < 2 * _ROUGH_MM) > _MOSTLY)
    grown = (seen.buffer(by, join_style="mitre") for by in _GROWN_MM)
    return any(fitted.symmetric_difference(each).area < _ROUGH_MM * fitted.length for each in grown)


def crop_of(picture: Picture, plane: Plane, outline_px: Floats) -> Crop:
    """The picture round an outline, with what its edges are measured in."""
    return crop_around(picture, outline_px, _MARGIN_MM / plane.mm_per_px)


def settled_cards(
    cards: Sequence[Outlined], picture: Picture, plane: Plane, wobble: Wobble
) -> tuple[list[Outlined], list[LeftOut]]:
    """All cards of a picture as ``settled``; one whose edges can't be followed any more is left out."""
    found, left_out = [], []
    for card in cards:
        try:
            outlined = settled(card, picture, plane, wobble)
            if nearly_round(outlined.corners) and not outlined.bulges:
                raise NoOutlineError(ROUND)
            found.append(outlined)
        except NoOutlineError as error:
            outline_px = plane.to_px(_outline_of(card.edges).drawn())
            left_out.append(LeftOut(photo=card.photo, outline_px=outline_px, why=str(error)))
    return found, left_out


def _known_well(edges: Sequence[FittedEdge], corners: Floats, wobble: Wobble) -> bool:
    """Whether a card's edges wander so little that their lengths are known at all.

    The error of a length is, roughly, that of where its two neighbours lie at its ends.
    """
    lengths = edge_lengths(corners)
    at_end = []
    for edge, length in zip(edges, lengths, strict=True):
        lever = np.array([1.0, length / 2])  # of the offset at the edge's middle, and of its slope
        at_end.append(lever @ edge.covariance(wobble)[:2, :2] @ lever)
    off = np.roll(at_end, 1) + np.roll(at_end, -1)
    return bool(np.all(COVERAGE * np.sqrt(off) < _HARDLY_KNOWN * lengths))


def settled(
    card: Outlined, picture: Picture, plane: Plane, wobble: Wobble, *, every_corner: bool = False
) -> Outlined:
    """The card without corners and arcs that are only wobble, and its seam line or its window if any.

    ``every_corner`` is kept where a person put them. Raises NoOutlineError where its edges can't be followed any
    more, or its size is hardly known.
    """
    crop = crop_of(picture, plane, plane.to_px(_outline_of(card.edges).drawn()))
    edges = card.edges
    while not every_corner and (simpler := _without_doubt(_outline_of(edges), edges, wobble)) is not None:
        edges = fit_edges(crop, simpler, plane, card.look)
    corners = corners_of(edges)
    if not _known_well(edges, corners, wobble):
        raise NoOutlineError(HARDLY_KNOWN)
    window = find_window(crop, corners, plane) if not any(edge.bend for edge in edges) else None
    if window is not None:
        return attrs.evolve(
            card, edges=edges, corners=corners, seam_line=window.frame, seam=window.lines, window=True
        )
    pointed_edges = _outline_of(without_tips(edges, 0.0))
    seam_line = find_seam_line(crop, pointed_edges.drawn(_SEAM_CHORD_MM), plane)
    return attrs.evolve(card, edges=edges, corners=corners, seam_line=seam_line)


def _without_doubt(outline: Outline, edges: tuple[FittedEdge, ...], wobble: Wobble) -> Outline | None:
    """The outline without its most doubtful corner or arc; None when there is none."""
    if (k := doubtful_arc(edges, wobble)) is not None:
        straight = (*outline.bulges[:k], 0.0, *outline.bulges[k + 1 :])
        return attrs.evolve(outline, bulges=straight if any(straight) else ())
    if (k := doubtful_corner(edges, wobble)) is not None:
        # Both edges at it are straight, and so is the one that is left.
        kept = (*outline.bulges[:k], *outline.bulges[k + 1 :])
        return attrs.evolve(outline, corners=np.delete(outline.corners, k, axis=0), bulges=kept)
    return None


def bordered(cards: Sequence[Outlined], picture: Picture, plane: Plane) -> list[Outlined]:
    """The cards of a set, outlined by their faces, with the border that they carry all round, if any."""
    rim = rim_of([(crop_of(picture, plane, plane.to_px(card.corners)), card.corners) for card in cards], plane)
    grown = []
    for card in cards:
        edges = with_rim(card.edges, rim)
        grown.append(attrs.evolve(card, edges=edges, corners=corners_of(edges, card.corners)))
    return grown


def pointed(card: Outlined, allowance_mm: float) -> Outlined:
    """The card with its worn and trimmed tips prolonged to points; how far is known with the allowance."""
    edges = without_tips(card.edges, allowance_mm)
    return attrs.evolve(card, edges=edges, corners=corners_of(edges))


def in_reading_order(cards: Sequence[Outlined]) -> list[Outlined]:
    """Row by row from the top, each from the left: a row is what begins above its first card's middle."""
    waiting = sorted(cards, key=lambda card: -float(card.corners[:, 1].max()))
    ordered: list[Outlined] = []
    while waiting:
        first = waiting[0].corners[:, 1]
        middle = (float(first.max()) + float(first.min())) / 2
        row = [card for card in waiting if card.corners[:, 1].max() > middle]
        waiting = [card for card in waiting if card.corners[:, 1].max() <= middle]
        ordered.extend(sorted(row, key=lambda card: float(card.corners[:, 0].min())))
    return ordered
