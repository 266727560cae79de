"""Find the cards in a picture: whatever is not ground, not a reference, and big enough to be a template.

The result is coarse (about 0.3 mm): each card's outline without its shadow, where ``contour`` starts.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from attrs import field, frozen

from seamsurvey.errors import InputError
from seamsurvey.geometry import signed_area
from seamsurvey.model import LeftOut, Picture, Plane
from seamsurvey.templates.ground import Floats, Ground, Mask, find_ground
from seamsurvey.templates.masks import closed, contour_of, disc, filled, half_width, largest_part

AT_BORDER = "it runs off the picture"
TOUCHING = "something else touches it, or lies too near"
TOO_SMALL = ("it is too small for a template", "it is too narrow for a template")
MIN_AREA_MM2 = 120.0  # a finished triangle with legs of 5/8 in; smaller patches are not cut from card
MIN_HALF_WIDTH_MM = 4.0  # radius of the largest circle inside: a pencil, a pin or a tape's edge has less
MIN_REPORTED_MM2 = 4.0  # dust and specks below this are not worth naming
NECK_MM = 1.5  # two cards that touch at a corner hang together by less than twice this
CLOSE_MM = 1.5  # nearer than this two cards share their edges' shadows, and are seen as touching
UNDERLAYS = ("mat", "page", "target")  # references that templates lie on
MARKS_PROVE = 3  # so many of a reference's marks within a blob prove that the two hang together
_BORDER_SHADE_MM = 15.0  # the bed's edge or the lid's seen at the border of a scan is no deeper
_GROUND_SIGMAS = 4.0  # what differs from the ground by this is not ground; and at least:
_LEAST_CONTRAST = (0.035, 0.02)  # ln light, ln chroma: about four and two grey levels of a white lid
_RIM_MM = 1.0  # a scanned card's rim passes from card to ground in less; a blotch of the lid fades over many
_RIM_SHOWS = 0.75  # quantile: a soft shadow may lie along most of a card's rim
_STEEP_RIM = 0.3  # of the blob's contrast is passed at the rim
_SHARP_RIM = 5.0  # times the plain ground's own unrest: stains have up to 3, cards of every contrast 11 and more
_PRINT_MM = 1.0  # radius of the least blot of another colour; a rim's blur and a pencil's line are narrower
_CARD_SIGMAS = 5.0  # within this of the card's own colour a pixel is card


@frozen(kw_only=True)
class Card:
    """One card, roughly: ``contour`` (n, 2) image pixels, counter-clockwise in the plane frame."""

    contour: Floats = field(eq=False, repr=False)


@frozen
class Found:
    """The cards of one picture, and what was left out and why."""

    cards: tuple[Card, ...]
    left_out: tuple[LeftOut, ...]


def find_cards(picture: Picture, plane: Plane, photo: int = 0, *, border_is_left_out: bool = False) -> Found:
    """Every card of the picture, roughly outlined; ``photo`` is the picture's index for what is left out.

    InputError ``template-at-border`` when a card runs off the picture (unless ``border_is_left_out``),
    ``templates-touch`` when two hang
    together, ``no-ground`` when there is no plain ground.
    """
    px_per_mm = 1 / plane.mm_per_px
    ground = find_ground(picture.pixels, float(px_per_mm))
    mask, border = _without_border_shade(_not_ground(ground), ground.per_mm)
    mask = filled(closed(mask, 0.6 * ground.per_mm))
    unrest = _unrest(ground, mask)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    cards: list[Card] = []
    left_out: list[LeftOut] = []
    for label in range(1, count):
        left, top, width, height, area = (int(v) for v in stats[label])
        if area < MIN_REPORTED_MM2 * ground.per_mm**2:
            continue
        box = np.s_[max(0, top - 2) : top + height + 2, max(0, left - 2) : left + width + 2]
        corner = np.array([max(0, left - 2), max(0, top - 2)], dtype=float)
        blob = labels[box] == label
        if not _has_rim(blob, box, unrest, border, ground):
            continue
        outline = ground.to_px(contour_of(blob) + corner)
        blob, of_reference = _without_references(blob, corner, ground, plane)
        if of_reference:
            continue
        why = too_small(blob, ground.per_mm)
        if not why and (blob & border[box]).any():
            if not border_is_left_out:
                raise _at_border(outline, picture)
            why = AT_BORDER
        if why:
            left_out.append(LeftOut(photo=photo, outline_px=outline, why=why))
            continue
        parts = _without_shadow(blob, ground.lightness[box], ground.chroma[box], ground)
        if not parts:
            left_out.append(LeftOut(photo=photo, outline_px=outline, why=TOO_SMALL[1]))
        if (place := touching_at(parts, ground.per_mm)) is not None:
            raise templates_touch(ground.to_px(place[None] + corner), picture)
        for card in parts:
            contour = ground.to_px(contour_of(card) + corner)
            cards.append(Card(contour=contour if signed_area(plane.to_mm(contour)) > 0 else contour[::-1]))
    return Found(tuple(cards), tuple(left_out))


def place_text(points_px: Floats, picture: Picture) -> str:
    """Where in the picture these points lie, as a person says it: ``scan.png, top left (at 310, 420)``."""
    x, y = points_px.mean(axis=0)
    row = ("top", "middle", "bottom")[min(2, max(0, int(3 * y / picture.height)))]
    column = ("left", "centre", "right")[min(2, max(0, int(3 * x / picture.width)))]
    return f"{picture.name}, {row} {column} (round {x:.0f}, {y:.0f})"


def _not_ground(ground: Ground) -> Mask:
    darker = max(_GROUND_SIGMAS * ground.noise[0], _LEAST_CONTRAST[0])
    other_colour = max(_GROUND_SIGMAS * ground.noise[1], _LEAST_CONTRAST[1])
    return np.asarray(
        (np.abs(ground.lightness) > darker) | (np.abs(ground.chroma).max(axis=2) > other_colour), dtype=bool
    )


def _without_border_shade(mask: Mask, per_mm: float) -> tuple[Mask, Mask]:
    """The mask without strips along whole sides of the picture, and where the remaining picture's border is."""
    mask = mask.copy()
    inside = np.ones_like(mask)
    for turn in range(4):
        view, open_view = np.rot90(mask, turn), np.rot90(inside, turn)
        deep = int(_BORDER_SHADE_MM * per_mm)
        full = view[:deep].mean(axis=1) > 0.9
        depth = int(np.nonzero(full)[0].max()) + 1 if full.any() and full[: max(1, int(per_mm))].any() else 0
        if depth:
            depth += max(1, round(0.5 * per_mm))
        view[:depth] = False
        open_view[:depth] = False
    border = cv2.erode(inside.astype(np.uint8), np.ones((3, 3)), borderType=cv2.BORDER_CONSTANT, borderValue=0) == 0
    return mask, np.asarray(border)


def too_small(mask: Mask, per_mm: float) -> str:
    """Why a thing is no template by its size; "" when it may be one."""
    if mask.sum() < MIN_AREA_MM2 * per_mm**2:
        return TOO_SMALL[0]
    if half_width(mask) < MIN_HALF_WIDTH_MM * per_mm:
        return TOO_SMALL[1]
    return ""


@frozen
class _Unrest:
    """(h, w): how much each pixel's surroundings vary, in ln light and in terms of how much plain ground does."""

    varied: Floats = field(repr=False)
    of_plain: Floats = field(repr=False)


def _unrest(ground: Ground, mask: Mask) -> _Unrest:
    near, away = disc(_RIM_MM * ground.per_mm), disc(3 * _RIM_MM * ground.per_mm)
    plain = cv2.dilate(mask.astype(np.uint8), away) == 0
    varied, of_plain = np.zeros((2, *mask.shape))
    for channel in range(3):
        smooth = cv2.blur((ground.lightness + ground.chroma[..., channel]).astype(np.float32), (3, 3))
        here = cv2.dilate(smooth, near) - cv2.erode(smooth, near)
        varied = np.maximum(varied, here)
        of_plain = np.maximum(of_plain, here / max(float(np.median(here[plain])), 1e-6) if plain.any() else np.inf)
    return _Unrest(varied, of_plain)


def _has_rim(blob: Mask, box: tuple[slice, slice], unrest: _Unrest, border: Mask, ground: Ground) -> bool:
    """Whether a blob's rim, where the picture shows it, is a card's: sharp, where a stain or a shade fades."""
    rim = blob & ~cv2.erode(blob.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool) & ~border[box]
    if not rim.any():
        return True
    light = ground.lightness[box][..., None] + ground.chroma[box]
    contrast = float(np.median(np.abs(light[blob]).max(axis=1)))
    steep = np.quantile(unrest.varied[box][rim], _RIM_SHOWS) > _STEEP_RIM * contrast
    return bool(steep and np.quantile(unrest.of_plain[box][rim], _RIM_SHOWS) > _SHARP_RIM)


def _without_references(blob: Mask, corner: Floats, ground: Ground, plane: Plane) -> tuple[Mask, bool]:
    """The blob without what belongs to a reference, and whether that is (nearly) all of it."""
    # One millimetre for the outline's own error, two for the shadow.
    margin = round(3 * ground.per_mm) + 1
    body = np.zeros((blob.shape[0] + 2 * margin, blob.shape[1] + 2 * margin), np.uint8)
    marks = 0
    for reference in plane.references:
        shape = ground.to_coarse(reference.outline_px) - corner + margin
        cv2.fillPoly(body, [np.round(shape).astype(np.int32)], 1)
        at = np.round(ground.to_coarse(reference.marks_px) - corner).astype(int)
        seen = np.all((at >= 0) & (at < blob.shape[::-1]), axis=1)
        marks += int(blob[at[seen, 1], at[seen, 0]].sum())
    wide = cv2.dilate(body, disc(3 * ground.per_mm))[margin:-margin, margin:-margin].astype(bool)
    if not (wide & blob).any() and marks < MARKS_PROVE:
        return blob, False
    rest = blob & ~wide
    opened = cv2.morphologyEx(rest.astype(np.uint8), cv2.MORPH_OPEN, disc(MIN_HALF_WIDTH_MM / 2 * ground.per_mm))
    if rest.sum() < 0.3 * blob.sum() or not opened.any():
        return blob, True
    # A body drawn too large may cover a corner of an innocent card: only marks prove that the two hang together.
    return (largest_part(opened.astype(bool)), False) if marks >= MARKS_PROVE else (blob, False)


def _at_border(outline: Floats, picture: Picture) -> InputError:
    return InputError(
        "template-at-border",
        "A template runs off the picture, or touches its border, so its size can't be known.",
        where=place_text(outline, picture),
        likely="It lies over the edge of the scanner's bed, or the picture was cropped too closely.",
        todo="Move it at least 5 mm inside the picture and take the picture again.",
    )


def _without_shadow(blob: Mask, lightness: Floats, chroma: Floats, ground: Ground) -> list[Mask]:
    """The cards in a blob of card and shadow: what has the colour of its middle, and not rather a shadow's.

    Mostly one; two that lie close share one shadow.
    """
    depth = cv2.distanceTransform(np.pad(blob, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    middle = depth > min(3 * ground.per_mm, 0.5 * float(depth.max()))
    own = float(np.median(lightness[middle])), np.median(chroma[middle], axis=0)
    spread = (
        max(0.012, 1.4826 * float(np.median(np.abs(lightness[middle] - own[0])))),
        max(0.006, 1.4826 * float(np.median(np.abs(chroma[middle] - own[1])))),
    )
    from_card = np.hypot((lightness - own[0]) / spread[0], np.linalg.norm(chroma - own[1], axis=2) / spread[1])
    from_shadow = np.linalg.norm(chroma, axis=2) / max(ground.noise[1], 0.004)
    in_shade = (lightness < -_LEAST_CONTRAST[0] / 2) & (from_shadow < 3)
    like_card = blob & (from_card < _CARD_SIGMAS) & ~(in_shade & (from_card > 3) & (from_shadow < from_card))
    parts = parts_of(like_card, ground.per_mm)
    covered = sum(int(part.sum()) for part in parts)
    # What is neither of the middle's colour nor a shadow is card as well: it is printed there.
    other = (blob & ~np.any([*parts, ~blob], axis=0) & ~in_shade).astype(np.uint8)
    printed = cv2.morphologyEx(other, cv2.MORPH_OPEN, disc(_PRINT_MM * ground.per_mm)).any()
    if covered > 0.6 * middle.sum() and covered > 0.5 * blob.sum() and not printed:
        return parts
    # A printed card has no one colour: take away from the outside what could be shadow.
    outside = ~blob | (in_shade & (depth < 4 * ground.per_mm))
    _, labels = cv2.connectedComponents(np.pad(outside, 1, constant_values=True).astype(np.uint8))
    return parts_of(np.asarray(labels != labels[0, 0])[1:-1, 1:-1], ground.per_mm)


def parts_of(mask: Mask, per_mm: float) -> list[Mask]:
    """The mask's parts that are big enough for a template, without holes and threads."""
    opened = cv2.morphologyEx(filled(mask).astype(np.uint8), cv2.MORPH_OPEN, disc(0.75 * per_mm))
    count, labels = cv2.connectedComponents(opened, connectivity=4)
    parts = [np.asarray(labels == label) for label in range(1, count)]
    return [filled(part) for part in parts if not too_small(part, per_mm)]


def touching_at(parts: list[Mask], per_mm: float) -> Floats | None:
    """Where two cards are too close to tell apart, or joined by a narrow neck, as no one card is; (2,) pixels."""
    wide = [cv2.dilate(part.astype(np.uint8), disc(CLOSE_MM / 2 * per_mm)) > 0 for part in parts]
    meeting = [np.argwhere(a & b) for k, a in enumerate(wide) for b in wide[:k]]
    for part in parts:
        thinned = cv2.erode(np.pad(part, 1).astype(np.uint8), disc(NECK_MM * per_mm))
        count, _, stats, centres = cv2.connectedComponentsWithStats(thinned)
        big = [k for k in range(1, count) if stats[k, cv2.CC_STAT_AREA] > 0.5 * MIN_AREA_MM2 * per_mm**2]
        if len(big) > 1:
            meeting.append(np.mean([centres[k] for k in big], axis=0)[None, ::-1] - 1)
    return next((np.asarray(places.mean(axis=0))[::-1] for places in meeting if len(places)), None)


def templates_touch(points_px: Floats, picture: Picture) -> InputError:
    """The error for cards that hang together near these points."""
    return InputError(
        "templates-touch",
        "Two templates touch or overlap, so neither one's outline can be followed.",
        where=place_text(points_px, picture),
        todo="Lay them at least 5 mm apart and take the picture again.",
    )


def left_out_warnings(left_out: Sequence[LeftOut], pictures: Sequence[tuple[Picture, Plane]]) -> tuple[str, ...]:
    """A sentence for each thing as large as a template that was not taken for one."""
    return tuple(
        f"Something as large as a template was left out (×{number} in the overlay;"
        f" {place_text(each.outline_px, pictures[each.photo][0])}): {each.why}."
        for number, each in enumerate(left_out, 1)
        if each.why not in TOO_SMALL
    )
