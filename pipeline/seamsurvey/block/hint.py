"""A photo or a drawing of the assembled block, used only to choose between layouts that fit.

The block's outline in the picture is laid roughly on the layout's; then each layout's seams are compared with the
edges that the picture shows, in every turn of the outline and mirrored (a drawing may show the back). Nothing is
measured here. A layout is chosen only if it agrees clearly better than every other.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from attrs import evolve
from numpy.typing import NDArray

from seamsurvey.arcs import along_arc
from seamsurvey.block.contenders import Contender
from seamsurvey.model import Block, Reason

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

_SIDE_PX = 400  # the longer side of the block once it is laid flat
_LOOKED_AT_PX = 1000  # the longer side of the picture in which the outline is looked for
_NEAR = 0.012  # share of the side by which a seam may be off: corners picked by eye, cloth that is not flat
_LEAST_SHARE = 0.1  # of the picture that the block fills at least
_STRONGEST = 0.12  # share of pixels that count as edges
_RIM = 0.02  # share of the side left out along the outline
_ARC_STEPS = 33  # points along a curved seam: its chords are off by far less than a pixel
_SHOWN = Reason("picture", "the picture shows it", 10.0)
_SAYS_NOTHING = "The picture of the block did not help: it agrees with no layout clearly better than with others."
_BEST = 20  # of many layouts, those that are adjusted and compared again
_AGREES, _CLEARLY = 0.45, 0.06  # agreement (0..1) that a choice needs, and how far ahead of the next it must be


def shown_first(blocks: Sequence[Block], picture: Pixels) -> list[Block]:
    """The blocks, first the one that the picture (h, w, 3) uint8 RGB clearly shows, with that among its reasons.

    Where the picture does not say, they stay as they are, and the first carries a warning.
    """
    if len(blocks) < 2:
        return list(blocks)
    shown = Shown(picture)
    scores = [shown.agreement(block.outline, seam_lines(block)) for block in blocks]
    best, second, *_ = sorted(range(len(blocks)), key=lambda k: -scores[k])
    if scores[best] >= _AGREES and scores[best] - scores[second] >= _CLEARLY:
        first = evolve(blocks[best], reasons=(_SHOWN, *blocks[best].reasons))
        return [first, *blocks[:best], *blocks[best + 1 :]]
    first, *others = blocks
    return [evolve(first, warnings=(*first.warnings, _SAYS_NOTHING)), *others]


def shown_among(contenders: Sequence[Contender], picture: Pixels) -> list[Contender]:
    """All layouts; in front the likeliest and those that the picture shows best, each part in its order."""
    shown = Shown(picture)
    scores = [shown.agreement(*_as_laid(contender)) for contender in contenders]
    best = sorted(range(len(contenders)), key=lambda k: -scores[k])[:_BEST]
    first = sorted({0, *best} if contenders else set())
    return [*(contenders[k] for k in first), *(c for k, c in enumerate(contenders) if k not in first)]


def _as_laid(contender: Contender) -> tuple[Array, list[Array]]:
    """The outline and the pieces' edges of a layout that is not adjusted, mm."""
    layout = contender.layout
    ring, at = np.array(layout.outline.at(*layout.size)), np.array(layout.at)
    rings = [at[[*corners, corners[0]]] for _, _, corners in layout.pieces]
    return _real(ring), [_real(line) for line in rings]


def _real(points: NDArray[np.complex128]) -> Array:
    return np.column_stack([points.real, points.imag])


def seam_lines(block: Block) -> list[Array]:
    """The block's seams, each (n, 2) mm."""
    lines = []
    for seam in block.seams:
        shares = np.linspace(0, 1, _ARC_STEPS if seam.bulge else 2)
        lines.append(along_arc(np.array(seam.start), np.array(seam.end), seam.bulge, shares))
    return lines


@dataclass(frozen=True)
class _Way:
    """The picture laid on an outline in one way: its edges (h, w), and how far from one each pixel lies."""

    edges: NDArray[np.bool_]
    to_edge: NDArray[np.float32]


class Shown:
    """A picture of a block, (h, w, 3) uint8 RGB, laid on each outline once, in every way that fits."""

    def __init__(self, picture: Pixels) -> None:
        self._picture = picture
        self._ways: dict[tuple[float, ...], list[_Way]] = {}

    def agreement(self, outline: Array, lines: Sequence[Array]) -> float:
        """How well lines, mm, and the picture's edges agree, 0 to 1, the best way round.

        It is the harmonic mean of the shares that find one another. Lines along the outline don't count.
        """
        low, size = outline.min(axis=0), np.ptp(outline, axis=0)
        scale = _SIDE_PX / float(size.max())
        flat = (outline - low) * scale
        canvas = np.zeros((math.ceil(size[1] * scale), math.ceil(size[0] * scale)), np.uint8)
        for line in lines:
            cv2.polylines(canvas, [np.rint((line - low) * scale).astype(np.int32)], False, 255, 1)
        seams = (canvas > 0) & _inner(canvas.shape)
        if not seams.any():
            return 0.0
        to_seam = np.asarray(cv2.distanceTransform((~seams).astype(np.uint8), cv2.DIST_L2, 3), np.float32)
        key = (*np.round(flat, 1).ravel().tolist(), *canvas.shape)
        if key not in self._ways:
            self._ways[key] = list(self._laid(flat, canvas.shape))
        return max((_compare(way, seams, to_seam) for way in self._ways[key]), default=0.0)

    def _laid(self, flat: Array, shape: tuple[int, ...]) -> Iterator[_Way]:
        corners = _outline_in(self._picture, len(flat))
        for ring in () if corners is None else (corners, corners[::-1]):
            for shift in range(len(ring)):
                homography, _ = cv2.findHomography(np.roll(ring, shift, axis=0), flat)
                if homography is not None:
                    size = shape[1], shape[0]
                    laid = cv2.warpPerspective(self._picture, homography, size, flags=cv2.INTER_AREA)
                    edges = _edges(laid.astype(np.uint8))
                    to_edge = cv2.distanceTransform((~edges).astype(np.uint8), cv2.DIST_L2, 3)
                    yield _Way(edges, np.asarray(to_edge, np.float32))


def _outline_in(picture: Pixels, corners: int) -> Array | None:
    """(n, 2) px: the block's corners in the picture; None when nothing in it has so many."""
    height, width = picture.shape[:2]
    shrink = min(1.0, _LOOKED_AT_PX / max(height, width))
    small = cv2.resize(picture, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    lab = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), (0, 0), 1.5).astype(float)
    rim = np.concatenate([lab[0], lab[-1], lab[:, 0], lab[:, -1]])
    away = np.linalg.norm(lab - np.median(rim, axis=0), axis=2)
    _, mask = cv2.threshold(np.clip(away, 0, 255).astype(np.uint8), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8))
    found, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hulls = [cv2.convexHull(contour) for contour in found]
    if not hulls:
        return None
    hull = max(hulls, key=cv2.contourArea)
    if cv2.contourArea(hull) < _LEAST_SHARE * small.shape[0] * small.shape[1]:
        return None
    for share in np.geomspace(0.005, 0.1, 24):
        polygon = cv2.approxPolyDP(hull, float(share) * cv2.arcLength(hull, True), True)
        if len(polygon) == corners:
            return np.asarray(np.divide(polygon[:, 0, :], shrink, dtype=np.float64))
    return None


def _edges(laid: Pixels) -> NDArray[np.bool_]:
    """(h, w): the pixels where the picture changes most, thinned to ridges."""
    lab = cv2.GaussianBlur(cv2.cvtColor(laid, cv2.COLOR_RGB2LAB), (0, 0), 1.5).astype(np.float32)
    strength = np.zeros(laid.shape[:2], np.float32)
    for channel in cv2.split(lab):
        strength += cv2.Sobel(channel, cv2.CV_32F, 1, 0) ** 2 + cv2.Sobel(channel, cv2.CV_32F, 0, 1) ** 2
    inner = _inner(strength.shape)
    level = float(np.quantile(strength[inner], 1 - _STRONGEST))
    ridge = strength >= cv2.dilate(strength, np.ones((3, 3), np.uint8)) * 0.8
    return np.asarray(inner & ridge & (strength > max(level, 1.0)))


def _inner(shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """(h, w): what is no rim along the outline."""
    rim = math.ceil(_RIM * _SIDE_PX)
    inner = np.zeros(shape, bool)
    inner[rim:-rim, rim:-rim] = True
    return inner


def _compare(way: _Way, seams: NDArray[np.bool_], to_seam: NDArray[np.float32]) -> float:
    if not way.edges.any():
        return 0.0
    near = _NEAR * _SIDE_PX
    found = float(np.mean(way.to_edge[seams] <= near))
    explained = float(np.mean(to_seam[way.edges] <= near))
    return 2 * found * explained / (found + explained) if found and explained else 0.0
