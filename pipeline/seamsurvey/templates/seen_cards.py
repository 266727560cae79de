"""Find the cards in a picture: what the learned eye saw but for references, and what may be cards with its place.

The result is coarse (about a pixel of what the eye was shown, 0.3 to 0.5 mm): where ``contour`` starts.
"""

from collections.abc import Sequence

import cv2
import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from seamsurvey.geometry import interior_angles, signed_area
from seamsurvey.model import LeftOut, Picture, Plane, ScanPlane
from seamsurvey.plane import BARE
from seamsurvey.seen_model import BORDER, FACE, GROUND, REFERENCE, SHADOW, Seen
from seamsurvey.templates.cards import (
    AT_BORDER,
    BEYOND,
    CLOSE_MM,
    CUT_OFF,
    HARDLY,
    ROUND,
    TOUCHING,
    UNCLEAR,
    UNDERLAYS,
    Card,
    Found,
    too_small,
)
from seamsurvey.templates.chords import fills_its_circle
from seamsurvey.templates.masks import Floats, Mask, contour_of
from seamsurvey.templates.own_colour import freed, parted_by_colour, stands_out
from seamsurvey.templates.touching import HOLLOW_DEG

SURE = 0.5  # likelier than not: an outline, or a pixel
_OF_REFERENCE = 0.5  # of an outline lies on a ruler or purse card: it is a figure or a field of that
_SOLID = 0.7  # of a ruler's convex hull is no ground; of a square's it is half at most
_BORDERED = 0.25  # of a contour: what the eye sees less of the border of has none
_PARTED = 0.5  # of an outline beside a thing: a card whose border is seen there ends there
_OUTLINED = 0.5  # of a thing lies in an outline that may be a card's: so it may be one
_MARGIN_PX = 3  # by which outlines are looser than what is seen


def find_cards(picture: Picture, plane: Plane, photo: int = 0) -> Found:
    """Every card that was seen, roughly outlined; ``photo`` is the picture's index for what is left out.

    What may be a card and can't be told, what touches another and what runs off the picture is left out with its
    place, never refused. Raises ValueError where nobody has looked at the picture.
    """
    seen = picture.seen
    if seen is None:
        raise ValueError("the picture must be looked at first: sight.look.looked_at")
    known = (_polygon(each.outline_px) for each in plane.references if each.kind not in UNDERLAYS)
    references = _bodies(seen, [each for each in known if each is not None])
    shapes: list[Polygon] = []
    sure: list[Polygon] = []
    left_out: list[LeftOut] = []
    for card in seen.cards:
        shape = _polygon(card.outline_px)
        if shape is None or shape.intersection(references).area > _OF_REFERENCE * shape.area:
            continue
        shapes.append(shape)
        why = _no_place(_ring(shape), plane) or ("" if card.chance >= SURE else _doubt(_ring(shape), plane))
        if why:
            left_out.append(LeftOut(photo=photo, outline_px=_ring(shape), why=why))
        else:
            sure.append(shape)
    others = _others(picture, seen, shapely.union_all([*shapes, references]), plane)
    cards: list[Card] = []
    for rough, near in zip(map(_ring, sure), _near_others(sure, others, plane, seen), strict=True):
        contour, motley = (rough, False) if near else freed(picture, rough, plane)
        two = near or (motley and parted_by_colour(picture, contour, plane))
        why = _no_place(contour, plane) or (
            TOUCHING if two else CUT_OFF if _at_border(contour, picture, seen) else ""
        )
        if why:
            left_out.append(LeftOut(photo=photo, outline_px=contour, why=why))
        else:
            around = contour if signed_area(plane.to_mm(contour)) > 0 else contour[::-1]
            cards.append(Card(contour=around, motley=motley))
    left_out += [LeftOut(photo=photo, outline_px=thing, why=why) for thing, why in others]
    return Found(tuple(cards), tuple(left_out))


def _bodies(seen: Seen, references: Sequence[Polygon]) -> shapely.Geometry:
    """The references (image px) with what the eye sees of each beside its marks: a ruler ends in straight edges.

    So a field on it that has no marks is its own. Of a square, which is hollow, no more is taken than its marks.
    """
    mask = (seen.maps[REFERENCE] > SURE).astype(np.uint8)
    ground = seen.maps[GROUND] + seen.maps[SHADOW] > SURE
    _, labels = cv2.connectedComponents(mask, connectivity=4)
    bodies: list[shapely.Geometry] = list(references)
    for reference in references:
        marks = np.zeros_like(mask)
        cv2.fillPoly(marks, [np.rint(seen.to_small(_ring(reference))).astype(np.int32)], 1)
        body = np.isin(labels, np.setdiff1d(labels[marks > 0], [0])).astype(np.uint8) | marks
        hull = cv2.convexHull(cv2.findNonZero(body))[:, 0]
        whole = cv2.fillConvexPoly(np.zeros_like(mask), hull, (1,)) > 0
        if len(hull) > 2 and np.mean(ground[whole]) < 1 - _SOLID:
            bodies.append(Polygon(seen.to_px(hull.astype(float))).buffer(0))
    return shapely.union_all(bodies)


def _may_be_cut(seen: Seen, outline_px: Floats, plane: Plane) -> bool:
    """Whether what runs off the picture and looks like card may be a template, of which a part is in view.

    On a scanner's glass lie templates alone. Into a photo a hand may reach, which has hollow corners; a card hardly
    has one (``touching``), and of a card without what the border leaves has none.
    """
    if isinstance(plane, ScanPlane) and plane.kind != BARE:
        return True
    coarse = cv2.approxPolyDP(seen.to_small(outline_px).astype(np.float32)[:, None], _MARGIN_PX, True)[:, 0]
    if len(coarse) < 3:
        return False
    flat = plane.to_mm(seen.to_px(coarse.astype(float)))
    return not np.any(interior_angles(flat if signed_area(flat) > 0 else flat[::-1]) > HOLLOW_DEG)


def _at_border(outline: Floats, picture: Picture, seen: Seen) -> bool:
    """Whether an outline comes so near to the picture's border that there the eye may have seen it end."""
    near = _MARGIN_PX / seen.scale
    far = np.array([picture.width, picture.height]) - near
    return bool(np.any(outline < near) or np.any(outline > far))


def _polygon(points: Floats) -> Polygon | None:
    """The largest sound part of an outline; None where there is none."""
    shape = Polygon(points).buffer(0)
    parts = shape.geoms if isinstance(shape, MultiPolygon) else [shape]
    best = max(parts, key=lambda part: part.area)
    return best if best.area > 0 else None


def _ring(shape: Polygon) -> Floats:
    return np.asarray(shape.exterior.coords)[:-1]


def _no_place(outline_px: Floats, plane: Plane) -> str:
    """Why what has this outline is no card on the table, by its place or its size there; "" when it may be one."""
    flat = plane.to_mm(outline_px)
    return too_small(_polygon(flat)) if np.isfinite(flat).all() else BEYOND


def _doubt(outline_px: Floats, plane: Plane) -> str:
    """Why what may be a card is left out: it is round, as coins and buttons are, or nothing tells."""
    return ROUND if fills_its_circle(plane.to_mm(outline_px)) else UNCLEAR


def _near_others(
    shapes: Sequence[Polygon], things: Sequence[tuple[Floats, str]], plane: Plane, seen: Seen
) -> list[bool]:
    """Of each outline (image px), whether another lies so near that their edges' shadows run into one another.

    A thing that is in no outline begins by a margin farther off than it was seen. Where one begins at an outline,
    that may be half a card, or run into the next; not where it is hardly a card, and a border is seen between them.
    """
    flat = [Polygon(plane.to_mm(_ring(shape))).buffer(0) for shape in shapes]
    beside = [Polygon(plane.to_mm(thing)).buffer(0) for thing, _ in things]
    tree, tree_beside = shapely.STRtree(flat), shapely.STRtree(beside)
    border = np.asarray(cv2.dilate(seen.maps[BORDER], np.ones((3, 3), np.uint8)), float)
    near = []
    for k, one in enumerate(flat):
        ring = _ring(shapes[k].segmentize(1 / seen.scale))
        at = ring.mean(axis=0)[None]
        farther = CLOSE_MM + (_MARGIN_PX + 1) / seen.scale * float(plane.mm_per_px_at(at)[0])
        touched = [
            other
            for other in tree_beside.query(one.buffer(farther))
            if beside[other].distance(one) < farther
            and not (things[other][1] == HARDLY and _is_parted(border, ring, beside[other], farther, plane, seen))
        ]
        near.append(
            bool(touched)
            or any(
                other != k and flat[other].distance(one) < CLOSE_MM for other in tree.query(one.buffer(CLOSE_MM))
            )
        )
    return near


def _is_parted(
    border: Floats, ring: Floats, thing: shapely.Geometry, near_mm: float, plane: Plane, seen: Seen
) -> bool:
    """Whether a card's border is seen along most of an outline (n, 2) image px where a thing (mm) is near."""
    beside = shapely.distance(shapely.points(plane.to_mm(ring)), thing) < near_mm
    x, y = np.rint(seen.to_small(ring[beside])).astype(int).T
    height, width = border.shape
    return bool(np.mean(border[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)] > SURE) > _PARTED)


def _others(picture: Picture, seen: Seen, spoken_of: shapely.Geometry, plane: Plane) -> list[tuple[Floats, str]]:
    """What looks like card and is in no outline that was spoken of: outlines (n, 2) image px, and why left out.

    What no border is seen of, and whose colour is that of what lies round it, is none: nothing is there to be seen.
    """
    evidence = seen.maps[FACE] + seen.maps[BORDER]
    height, width = evidence.shape
    mask = (evidence > SURE).astype(np.uint8)
    covered = np.zeros_like(mask)
    known = [_ring(part) for part in getattr(spoken_of, "geoms", [spoken_of]) if not part.is_empty]
    for ring in known:
        cv2.fillPoly(covered, [np.rint(seen.to_small(ring)).astype(np.int32)], 1)
    loose = np.ones((2 * _MARGIN_PX + 1,) * 2, np.uint8)
    covered = np.asarray(cv2.dilate(covered, loose))
    border = np.where(cv2.dilate(covered, loose) > 0, np.nan, cv2.dilate(seen.maps[BORDER], loose))
    mask[covered > 0] = 0
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    found = []
    for label in range(1, count):
        left, top, wide, high, _ = (int(v) for v in stats[label])
        box = np.s_[top : top + high, left : left + wide]
        thing: Mask = np.pad(labels[box] == label, 1)
        contour = contour_of(thing) + np.array([left - 1, top - 1])
        outline = seen.to_px(contour)
        if len(outline) < 3 or _no_place(outline, plane):
            continue
        if not _is_bordered(border, contour) and not stands_out(picture, outline, plane, known):
            continue
        likely = seen.outlined is None or bool(np.mean(seen.outlined[box][labels[box] == label]) > _OUTLINED)
        why = _doubt(outline, plane) if likely else HARDLY
        if left == 0 or top == 0 or left + wide == width or top + high == height:
            why = CUT_OFF if _may_be_cut(seen, outline, plane) else AT_BORDER
        found.append((outline, why))
    return found


def _is_bordered(border: Floats, contour: Floats) -> bool:
    """Whether a card's border is seen along a good part of a contour (n, 2) small px.

    ``border`` (h, w): how surely there is one near; NaN beside what is known, whose border that is.
    """
    x, y = np.rint(contour).astype(int).T
    height, width = border.shape
    along = border[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)]
    along = along[~np.isnan(along)]
    return bool(len(along) and np.mean(along > SURE) > _BORDERED)
