"""Outlines that may be cards: contours of the evidence and of the picture's colours at many levels.

Nothing is judged here: one of them is the right outline nearly always, and `choose` says which. Frame: *small*.
"""

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.seen_model import BORDER, CLUTTER, FACE, SIDE
from seamsurvey.sight.evidence import Evidence

Points = NDArray[np.float64]
Mask = NDArray[np.uint8]

LEAST_AREA = 100.0  # small px: below it a card is under ten px across, and its corners can't be told
_CARD_LEVELS = (0.15, 0.3, 0.5, 0.7, 0.85, 0.95)
_CORE_LEVELS = (-0.3, 0.0, 0.3, 0.6)
_BORDER_LEVELS = (0.12, 0.25, 0.45)
_COLOUR_LEVELS = 10
_CLOSED = (5, 11, 21)  # px: gaps in torn faces that are bridged
_OPENED = (5, 9)  # px: necks between neighbours that are cut
_BENDS = (2.5, 5.0)  # px: coarser outlines of what was torn
_NEARLY_CONVEX = 0.7  # of its hull: what is so full may be a whole convex card, torn
_PIXEL = 0.5  # a contour runs through pixels' centres; the area ends half a pixel outside
_BORDER_WIDE = 2.0  # px that the network was taught to call a card's border, at its face's outer side
_BEND = 1.0  # px that a side may wander before a contour's simplified outline follows it
_SOME = 0.12  # of a card's evidence: where a colour's contour holds less on average, it is no card's
_ALIKE = 0.9  # two outlines whose boxes and areas agree to this are the same one, found twice
_MOST = 600  # candidates: more are a busy print's, and their borders fit ever worse
_SHARPENED = 200  # of the candidates that fit best are also drawn anew between their own two colours
_MITRE = 3.0  # times the offset: how far a sharp tip is carried out


@frozen(eq=False)
class Candidate:
    """An outline (n, 2) in *small* px, clockwise on the screen; how many levels gave it, and of how many kinds."""

    outline: Points
    votes: int
    kinds: int


def area_of(outline: Points) -> float:
    """Signed area in px, positive where the outline runs clockwise on the screen (y down)."""
    x, y = outline.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def grown(outline: Points, by: float) -> Points:
    """A clockwise outline with each side moved out by `by` px; sharp tips are cut short at `_MITRE` times that."""
    ahead = np.roll(outline, -1, 0) - outline
    length = np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    normal = np.stack([ahead[:, 1], -ahead[:, 0]], 1) / length
    before = np.roll(normal, 1, 0)
    both = before + normal
    reach = both / np.maximum(1 + (before * normal).sum(1), 2 / _MITRE**2)[:, None]
    return np.asarray(outline + reach * by)


def _contours(mask: Mask, holes_too: bool) -> list[tuple[NDArray[np.int32], bool]]:
    found, tree = cv2.findContours(mask, cv2.RETR_CCOMP if holes_too else cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return [(np.asarray(c, np.int32), bool(tree[0][i][3] >= 0)) for i, c in enumerate(found)] if len(found) else []


def _simple(contour: NDArray[np.int32], by: float, bend: float = _BEND) -> Points | None:
    """The contour with the fewest corners that keep within `bend`, grown by `by`; None where it is no polygon."""
    outline = cv2.approxPolyDP(contour, bend, True)[:, 0].astype(float)
    if len(outline) < 3:
        return None
    area = area_of(outline)
    if area < 0:
        outline = outline[::-1]
    out = grown(outline, by)
    return out if area_of(out) >= LEAST_AREA else None


class _Sieve:
    """Takes contours and throws out what can't be a card: by size, by the picture's border, by lack of evidence."""

    def __init__(self, card: NDArray[np.float32]) -> None:
        self.height, self.width = card.shape
        self.sums = cv2.integral(card)
        self.kept: list[tuple[Points, int]] = []

    def take(
        self, mask: Mask, kind: int, by: float, *, holes: bool = False, only_holes: bool = False, torn: bool = False
    ) -> None:
        """All contours of a mask: those of its holes too or alone; a hole lies `by` within its card's side.

        `torn`: their hulls and coarser outlines too.
        """
        for contour, hole in _contours(mask, holes):
            x, y, w, h = cv2.boundingRect(contour)
            if (
                (only_holes and not hole)
                or min(w, h) < 6
                or x < 1
                or y < 1
                or x + w >= self.width
                or y + h >= self.height
            ):
                continue
            seen = self.sums[y + h, x + w] - self.sums[y, x + w] - self.sums[y + h, x] + self.sums[y, x]
            area = cv2.contourArea(contour)
            if area < LEAST_AREA / 2 or seen < _SOME * area:
                continue
            out = -_PIXEL + by if hole else _PIXEL + by
            drawn = [(_simple(contour, out), kind)]
            if torn:
                drawn += [(_simple(contour, out, bend), kind) for bend in _BENDS]
                hull = np.asarray(cv2.convexHull(contour), np.int32)
                if area > _NEARLY_CONVEX * cv2.contourArea(hull):
                    drawn += [(_simple(hull, out, bend), kind + 1) for bend in (_BEND, _BENDS[0])]
            self.kept += [(outline, of) for outline, of in drawn if outline is not None]


def _disc(size: int) -> Mask:
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)


def _closed(mask: Mask, ring: NDArray[np.uint8]) -> Mask:
    """The mask with gaps bridged, as if nothing but gaps lay beyond the picture's border."""
    pad = len(ring)
    wide = cv2.copyMakeBorder(mask, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=0)
    return np.asarray(cv2.morphologyEx(wide, cv2.MORPH_CLOSE, ring)[pad:-pad, pad:-pad], np.uint8)


def _colours(small: NDArray[np.uint8]) -> list[NDArray[np.uint8]]:
    lab = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)
    return [np.asarray(cv2.GaussianBlur(lab[:, :, k].copy(), (5, 5), 0), np.uint8) for k in range(3)]


def _merged(found: list[tuple[Points, int]], border: NDArray[np.float32]) -> list[Candidate]:
    """Outlines found more than once as one: the one that keeps best to the border's evidence."""
    if not found:
        return []
    boxes = np.array([[*p.min(0), *p.max(0)] for p, _ in found])
    areas = np.array([area_of(p) for p, _ in found])
    fit = np.array([_along(p, border) for p, _ in found])
    order = np.argsort(-fit, kind="stable")
    free = np.ones(len(found), bool)
    out: list[Candidate] = []
    for i in order:
        if len(out) >= _MOST:
            break
        if not free[i]:
            continue
        low, high = np.maximum(boxes[:, :2], boxes[i, :2]), np.minimum(boxes[:, 2:], boxes[i, 2:])
        common = np.prod(np.maximum(high - low, 0), axis=1)
        sizes = np.prod(boxes[:, 2:] - boxes[:, :2], axis=1)
        ratio = areas / areas[i]
        same = free & (common > _ALIKE * (sizes + sizes[i] - common)) & (ratio > _ALIKE) & (ratio < 1 / _ALIKE)
        free &= ~same
        of = np.flatnonzero(same)
        out.append(Candidate(found[i][0], len(of), len({found[j][1] for j in of})))
    return out


def _sharpened(outline: Points, lab: NDArray[np.float32]) -> Points | None:
    """The outline drawn anew where colour is half way from what lies within to what lies around; None if lost.

    The network's maps round corners off by a pixel or two; the picture itself does not. `lab`: (h, w, 3).
    """
    height, width = lab.shape[:2]
    x0, y0 = np.maximum(np.floor(outline.min(0)).astype(int) - 8, 0)
    x1, y1 = np.minimum(np.ceil(outline.max(0)).astype(int) + 9, (width, height))
    part = lab[y0:y1, x0:x1]
    mask = np.zeros(part.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.rint((outline - (x0, y0)) * 16).astype(np.int32)], 1, shift=4)
    step = np.ones((3, 3), np.uint8)
    core, near = cv2.erode(mask, step, iterations=3), cv2.dilate(mask, step, iterations=3)
    around = cv2.dilate(near, step, iterations=4) - near
    if not core.any() or not around.any():
        return None
    inner, outer = part[core > 0].mean(0), part[around > 0].mean(0)
    axis = inner - outer
    share = (part - outer) @ (axis / max(float(axis @ axis), 1e-6))
    again = cv2.morphologyEx(((share > 0.5) & (near > 0)).astype(np.uint8) | core, cv2.MORPH_OPEN, step)
    contours = _contours(np.asarray(again, np.uint8), False)
    if not contours:
        return None
    drawn = _simple(max((c for c, _ in contours), key=cv2.contourArea), _PIXEL)
    return None if drawn is None else np.asarray(drawn + np.array([x0, y0]))


def _along(outline: Points, border: NDArray[np.float32]) -> float:
    """Mean evidence of a border at an outline's sides."""
    line = evenly(outline, 48)
    return float(border[np.clip(np.rint(line[:, 1]).astype(int), 0, border.shape[0] - 1),
                        np.clip(np.rint(line[:, 0]).astype(int), 0, border.shape[1] - 1)].mean())  # fmt: skip


def evenly(outline: Points, n: int) -> Points:
    """(n, 2) points evenly along a closed outline."""
    closed = np.concatenate([outline, outline[:1]])
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    where = (np.arange(n) + 0.5) / n * at[-1]
    return np.stack([np.interp(where, at, closed[:, 0]), np.interp(where, at, closed[:, 1])], 1)


def candidates(evidence: Evidence) -> list[Candidate]:
    """Every outline that may be a card's, in *small* px."""
    face, border = evidence.maps[FACE], evidence.maps[BORDER]
    card = face + border
    sieve = _Sieve(card)
    for level in _CARD_LEVELS:
        sieve.take((card > level).astype(np.uint8), 0, 0.0)
    inner = face - border
    for level in _CORE_LEVELS:
        sieve.take((inner > level).astype(np.uint8), 1, _BORDER_WIDE)
    for level in _BORDER_LEVELS:
        sieve.take((border > level).astype(np.uint8), 2, _BORDER_WIDE, holes=True, only_holes=True)
    # What a print's edges, letters or a ground of its own colour tore apart.
    for level, thing in ((0.4, card), (0.4, card + evidence.maps[CLUTTER] + evidence.maps[SIDE])):
        whole = (thing > level).astype(np.uint8)
        for size in _CLOSED:
            sieve.take(_closed(whole, _disc(size)), 6, 0.0, torn=True)
    for size in _OPENED:
        sieve.take(
            np.asarray(cv2.morphologyEx((card > 0.5).astype(np.uint8), cv2.MORPH_OPEN, _disc(size)), np.uint8),
            8,
            0.0,
        )
    near = cv2.dilate((card > _SOME).astype(np.uint8), np.ones((9, 9), np.uint8))
    if near.any():
        for channel, picture in enumerate(_colours(evidence.small)):
            low, high = np.percentile(picture[near > 0], [1, 99])
            for level in np.linspace(low, high, _COLOUR_LEVELS + 2)[1:-1]:
                above = picture > level
                sieve.take((above & (near > 0)).astype(np.uint8), 3 + channel, 0.0)
                sieve.take((~above & (near > 0)).astype(np.uint8), 3 + channel, 0.0)
    found = _merged(sieve.kept, border)
    lab = cv2.cvtColor(evidence.small.astype(np.float32) / np.float32(255), cv2.COLOR_RGB2LAB)
    smooth = np.asarray(cv2.GaussianBlur(lab, (3, 3), 0), np.float32)
    for candidate in found[:_SHARPENED]:
        again = _sharpened(candidate.outline, smooth)
        if again is not None:
            found.append(Candidate(again, candidate.votes, candidate.kinds))
    return found
