"""Scenes laid out at random: cards scattered, in rows, edge to edge, among rulers and clutter; their outlines kept.

A layout is drawn from a seed alone, on the processor; what it is made of and how it is lit comes later.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np

from training import homely
from training.clutter import clutter
from training.litter import coins
from training.mats import mat
from training.raster import Canvas, Kind, Maps, Thing, filled
from training.rulers import folding, id_card, macro, page, ruler
from training.shapes import Cut, Points, Random, cut, holds
from training.writing import written

SHEET_LOOK, SIDE_LOOK, PAPER_LOOK, CARD_LOOK, MAT_LOOK, RULER_LOOK, CLUTTER_LOOK = 1, 2, 3, 4, 30, 32, 40


@dataclass(frozen=True)
class Laid:
    """A painted scene and the outlines (n, 2) of its cards' faces on the canvas, whole also where they are hidden.

    `numbers`: each face's number in `maps.top`; `is_homely`: whether it is a scene as people send them.
    """

    maps: Maps
    faces: tuple[Points, ...]
    numbers: tuple[int, ...]
    is_homely: bool = False


class _Room:
    """Which quarter-scale cells are taken, so that nothing lies on a card."""

    def __init__(self, width: int, height: int) -> None:
        self.taken = np.zeros((height // 4 + 1, width // 4 + 1), np.uint8)

    def free(self, outline: Points, gap: float) -> bool:
        mask = filled(self.taken.shape, [outline / 4], np.zeros(2))
        wide = np.ones((3, 3), np.uint8)
        grown = np.asarray(cv2.dilate(mask, wide, iterations=max(1, round(gap / 4)))) if gap > 2 else mask
        return not bool(np.logical_and(self.taken, grown).any()) and bool(mask.any())

    def take(self, outline: Points) -> None:
        cv2.fillPoly(self.taken, [np.round(outline / 4).astype(np.int32)], 1)


def _beside(rng: Random, other: Points, shape: Cut, size: float, farthest: float = 7.0) -> Cut:
    """`shape` with one of its sides along a side of `other`, a hair to `farthest` px away."""
    k, j = int(rng.integers(0, len(other))), int(rng.integers(0, len(shape.outline)))
    a, b = other[k], other[(k + 1) % len(other)]
    p, q = shape.outline[j], shape.outline[(j + 1) % len(shape.outline)]
    along = math.atan2(*(b - a)[::-1]) + math.pi
    turned = shape.moved(along - math.atan2(*(q - p)[::-1]), size, np.zeros(2))
    normal = np.array([b[1] - a[1], a[0] - b[0]]) / (np.hypot(*(b - a)) + 1e-9)
    gap = normal * float(np.exp(rng.uniform(math.log(0.4), math.log(farthest))))
    shift = (b if rng.random() < 0.6 else (a + b) / 2) + gap - turned.outline[j]
    return Cut(turned.outline + shift, tuple(h + shift for h in turned.holes))


def _how_many(rng: Random) -> tuple[int, float]:
    """How many cards there shall be, and how far each reaches from its middle, as a part of the picture's width."""
    far = rng.random()
    if far < 0.1:  # seen from near: a card or two fill half the picture
        return int(rng.integers(1, 4)), float(rng.uniform(0.2, 0.42))
    if far < 0.16:  # seen from far
        return int(rng.integers(4, 41)), float(np.exp(rng.uniform(math.log(0.013), math.log(0.03))))
    if far < 0.68:  # a block's templates side by side
        return int(rng.integers(2, 13)), float(np.exp(rng.uniform(math.log(0.05), math.log(0.2))))
    much = rng.random()
    wanted = 1 if much < 0.08 else int(rng.integers(2, 7)) if much < 0.4 else int(rng.integers(7, 41))
    return wanted, float(np.exp(rng.uniform(math.log(0.016), math.log(0.33 if wanted < 7 else 0.1))))


def _cards(rng: Random, width: int, height: int, room: _Room, *, is_homely: bool) -> list[Cut]:
    across = max(width, height)
    wanted, reach = homely.how_many(rng) if is_homely else _how_many(rng)
    base = reach * across
    spread = rng.choice([0.0, 0.25, 0.6])
    draw = homely.card if is_homely else cut
    kinds = [draw(rng) for _ in range(int(rng.integers(1, 7)))]
    out: list[Cut] = []
    rows = wanted >= 4 and rng.random() < 0.3
    if rows:
        shape, turn, gap = kinds[0], rng.uniform(0, 6.3), float(np.exp(rng.uniform(math.log(0.5), math.log(40))))
        one = shape.moved(turn, base, np.zeros(2))
        step = np.ptp(one.outline, axis=0) + gap
        slant, start = rng.normal(0, 0.06), rng.uniform(0.05, 0.3, 2) * (width, height)
        flip = rng.random() < 0.3
        for i in range(8):
            for j in range(8):
                if rng.random() < 0.1 or len(out) >= wanted:
                    continue
                at = start + np.array([i * step[0] + slant * j * step[1], j * step[1] - slant * i * step[0]])
                card = shape.moved(turn + (math.pi if flip and (i + j) % 2 else 0) + rng.normal(0, 0.01), base, at)
                if not (
                    (card.outline.min(0) > -0.2 * base).all()
                    and (card.outline.max(0) < np.array([width, height]) + 0.2 * base).all()
                ):
                    continue
                if room.free(card.outline, 0):
                    room.take(card.outline)
                    out.append(card)
    tight = rng.uniform(0, 0.6) if rng.random() < 0.45 else 0.0
    farthest = 45.0 if is_homely and reach > 0.12 and rng.random() < 0.6 else 7.0  # a finger lifts large ones
    for _ in range(wanted * 6):
        if len(out) >= wanted:
            break
        shape = kinds[int(rng.integers(0, len(kinds)))]
        size = base * float(np.exp(rng.normal(0, spread)))
        if size < across * 0.012:
            continue
        if out and rng.random() < tight:
            other = out[int(rng.integers(0, len(out)))].outline
            corners = cv2.approxPolyDP(other.astype(np.float32)[:, None], 2.0, True)[:, 0].astype(float)
            card = _beside(rng, corners, shape, size, farthest)
            inside = (card.outline > 0).all() and (card.outline < (width, height)).all()
            if inside and _apart(out, card):
                out.append(card)
                room.take(card.outline)
            continue
        edge = 0.02 if rng.random() < 0.9 else -0.05  # a few lie across the picture's border
        card = shape.moved(rng.uniform(0, 6.3), size, rng.uniform(edge, 1 - edge, 2) * (width, height))
        if edge > 0 and not ((card.outline > 3).all() and (card.outline < np.array([width, height]) - 3).all()):
            continue
        if room.free(card.outline, float(rng.uniform(3, 24))):
            room.take(card.outline)
            out.append(card)
    return out


def _apart(cards: list[Cut], new: Cut) -> bool:
    """That the new card lies on none of the others (to a pixel)."""
    low, high = new.outline.min(0) - 1, new.outline.max(0) + 1
    near = [c.outline for c in cards if (c.outline.min(0) < high).all() and (c.outline.max(0) > low).all()]
    shape = (int(high[1] - low[1]) + 2, int(high[0] - low[0]) + 2)
    mine = cv2.erode(filled(shape, [new.outline], low), np.ones((3, 3), np.uint8))
    return not any(bool(np.logical_and(mine, filled(shape, [other], low)).any()) for other in near)


def _under(rng: Random, width: int, height: int, *, mats: bool) -> list[Thing]:
    """What lies on the table below the cards: a cloth, a mat, one or two sheets of paper; often nothing."""
    if mats:
        return [mat(rng, width, height, MAT_LOOK)]
    out: list[Thing] = []
    what = rng.random()
    if what > 0.84:
        out.append(mat(rng, width, height, MAT_LOOK))
    if what < 0.26:
        half = np.array([width, height]) * rng.uniform(0.25, 0.62, 2)
        sheet = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]) * half
        t = rng.normal(0, 0.12)
        c, s = math.cos(t), math.sin(t)
        place = sheet @ np.array([[c, s], [-s, c]]) + rng.uniform(0.3, 0.7, 2) * (width, height)
        out.append(Thing(Kind.SHEET, place, rng.uniform(0, 3), SHEET_LOOK))
    if rng.random() < 0.2:
        long = max(width, height) * rng.uniform(0.45, 1.2)
        out += [
            page(rng, long, rng.uniform(0.25, 0.75, 2) * (width, height), Kind.PAGE, PAPER_LOOK)
            for _ in range(int(rng.choice([1, 1, 2])))
        ]
    return out


def _references(rng: Random, width: int, height: int, room: _Room, *, is_homely: bool) -> list[Thing]:
    """Rulers of every kind, purse cards, a page that nothing lies on."""
    out: list[Thing] = []
    if is_homely:
        out = homely.references(rng, width, height, RULER_LOOK)
        for thing in out:
            room.take(thing.outline)
        return out
    for k in range(int(rng.choice([0, 1, 1, 2, 3], p=[0.14, 0.31, 0.29, 0.21, 0.05]))):
        look, what = RULER_LOOK + k, rng.random()
        if what < 0.82:
            things = [ruler(rng, width, height, look)]
        elif what < 0.9:
            things = [id_card(rng, width, height, look)]
        elif what < 0.97:
            things = folding(rng, width, height, look)
        else:
            long = max(width, height) * rng.uniform(0.2, 0.5)
            things = [page(rng, long, rng.uniform(0.2, 0.8, 2) * (width, height), Kind.LONE_PAGE, look)]
        out += things
        for thing in things:
            room.take(thing.outline)
    return out


def lay_out(rng: Random, width: int, height: int, *, mats: bool = False) -> Laid:
    """One scene on a canvas of this size; with `mats` on a cutting mat."""
    canvas, room = Canvas(width, height), _Room(width, height)
    across = max(width, height)
    is_homely = rng.random() < homely.SHARE
    if rng.random() < 0.05 and not is_homely:  # nothing but a ruler, seen from very near
        canvas.paint(macro(rng, width, height, RULER_LOOK))
        return Laid(canvas.maps(), (), ())
    mats = mats or (is_homely and rng.random() < 0.25)
    if is_homely and not mats:
        lower = homely.under(rng, width, height, SHEET_LOOK, PAPER_LOOK)
    else:
        lower = _under(rng, width, height, mats=mats)
    for thing in [*lower, *_references(rng, width, height, room, is_homely=is_homely)]:
        canvas.paint(thing)
    flat = rng.random() < 0.3  # a scan, or thin card seen from straight above: no sides
    thick = 0.0 if flat else float(np.exp(rng.uniform(math.log(0.3), math.log(9)))) * across / 900
    eye = np.array([width, height]) * rng.uniform(0.3, 0.7, 2)
    lean, far = rng.normal(0, 0.35, 2), across * rng.uniform(0.8, 2.5)
    clear = rng.random() < (0.18 if any(thing.kind == Kind.MAT for thing in lower) else 0.07)
    drawn_on = rng.random() < 0.6
    alike = rng.random() < (0.92 if is_homely else 0.75)
    motley = is_homely and rng.random() < homely.MOTLEY
    rimmed = not clear and rng.random() < 0.07
    faces: list[Points] = []
    numbers: list[int] = []
    for card in _cards(rng, width, height, room, is_homely=is_homely):
        own = thick * float(rng.uniform(0.7, 1.3))
        outline, *holes = (p + own * (lean + (p - eye) / far) for p in (card.outline, *card.holes))  # parallax
        top = Cut(outline, tuple(holes))
        moved = float(np.abs(top.outline - card.outline).max())
        look = CARD_LOOK if alike or rng.random() < 0.3 else CARD_LOOK + int(rng.integers(0, 20))
        if motley:
            look = CARD_LOOK + len(faces) % (MAT_LOOK - CARD_LOOK)
        if moved > 0.6:
            around = zip(
                card.outline, np.roll(card.outline, -1, 0), top.outline, np.roll(top.outline, -1, 0), strict=True
            )
            bands = tuple(np.array([a, b, d, c]) for a, b, c, d in around)
            canvas.paint(Thing(Kind.SIDE, bands[0], thick / 2, SIDE_LOOK, parts=bands[1:]))
        face = homely.rim(rng, top.outline, float(np.ptp(top.outline, axis=0).max()) / 2) if rimmed else None
        if face is not None:
            canvas.paint(Thing(Kind.SIDE, top.outline, max(thick, 0.4), SIDE_LOOK))
            top = Cut(face, tuple(hole for hole in top.holes if holds(face, hole)))
        ink = (
            written(rng, top, float(np.ptp(top.outline, axis=0).max()) / 2)
            if drawn_on and rng.random() < 0.8
            else None
        )
        canvas.paint(Thing(Kind.CARD, top.outline, max(thick, 0.4), look, top.holes, clear, ink))
        if canvas.things and canvas.things[-1].outline is top.outline:
            faces.append(top.outline)
            numbers.append(len(canvas.things))
    heaps = [
        clutter(rng, width, height, CLUTTER_LOOK + int(rng.integers(0, 20)))
        for _ in range(int(rng.poisson(1.2 if is_homely else 2.5)) if rng.random() < 0.7 else 0)
    ]
    if rng.random() < 0.14:
        heaps += [[coin] for coin in coins(rng, width, height, CLUTTER_LOOK + 20)]
    for heap in heaps:
        if all(room.free(part.outline, 2) for part in heap) or rng.random() < 0.12:  # few lie on a card
            for part in heap:
                canvas.paint(part)
    return Laid(canvas.maps(), tuple(faces), tuple(numbers), is_homely)
