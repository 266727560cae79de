"""What lies where: things painted one over another into maps of their numbers, on the processor, exactly.

Frame: *canvas* = pixels of the scene before the camera, x right, y down, a pixel's centre is the integer.
"""

from dataclasses import dataclass
from enum import IntEnum

import cv2
import numpy as np
from numpy.typing import NDArray

from training.shapes import Points

Map = NDArray[np.uint8]
MOST_THINGS = 256  # a number is a byte; 0 is the ground


class Kind(IntEnum):
    """What a thing is, as far as materials and labels go."""

    GROUND = 0
    SHEET = 1  # a cloth or a page on the table: ground too
    CARD = 2
    SIDE = 3  # of a card: seen at a slant
    RULER = 4  # or another reference
    CLUTTER = 5
    PAGE = 6  # a sheet of paper on the table, below the cards: ground too
    LONE_PAGE = 7  # one that nothing lies on: its size is known, a reference
    MAT = 8  # a cutting mat: ground too
    TAG = 9  # a marker or chart printed in cells: clutter, white as paper
    COIN = 10  # clutter, of metal


@dataclass(frozen=True)
class Ink:
    """Marks drawn on a plate of their own: (h, w) uint8, how much of the ink; `to_canvas` (2, 3) from plate px."""

    marks: Map
    to_canvas: Points


@dataclass(frozen=True)
class Thing:
    """An outline (n, 2) on the canvas with holes, how high it stands (px), what it is made of and like whom.

    `look`: things with the same number are made of the same stuff. `clear`: what lies below shows through.
    """

    kind: Kind
    outline: Points
    height: float
    look: int
    holes: tuple[Points, ...] = ()
    clear: bool = False
    ink: Ink | None = None
    parts: tuple[Points, ...] = ()  # what belongs to it besides the outline: the bands of a card's sides


@dataclass(frozen=True)
class Maps:
    """A painted scene: (h, w) uint8 the topmost thing, the one below it where it is clear, ink; heights (256,)."""

    top: Map
    below: Map
    ink: Map
    heights: NDArray[np.float32]
    kinds: NDArray[np.int64]
    looks: NDArray[np.int64]
    clear: NDArray[np.bool_]


def filled(shape: tuple[int, int], outlines: list[Points], shift: Points) -> Map:
    """(h, w) 1 inside the outlines (even-odd), shifted by -`shift` (2,) first; to a sixteenth of a pixel."""
    mask = np.zeros(shape, np.uint8)
    if outlines:
        cv2.fillPoly(mask, [np.round((p - shift) * 16).astype(np.int32) for p in outlines], 1, shift=4)
    return mask


def _window(outline: Points, shape: tuple[int, int]) -> tuple[int, int, int, int] | None:
    x0, y0 = np.maximum(np.floor(outline.min(0)).astype(int) - 1, 0)
    x1, y1 = np.minimum(np.ceil(outline.max(0)).astype(int) + 2, (shape[1], shape[0]))
    return (int(x0), int(y0), int(x1), int(y1)) if x1 > x0 and y1 > y0 else None


class Canvas:
    """Things are painted in the order in which they lie, the lowest first."""

    def __init__(self, width: int, height: int) -> None:
        self.top = np.zeros((height, width), np.uint8)
        self.below = np.zeros((height, width), np.uint8)
        self.ink = np.zeros((height, width), np.uint8)
        self.things: list[Thing] = []

    def paint(self, thing: Thing) -> None:
        """One more thing on top; nothing where its number would not fit or it lies off the canvas."""
        window = _window(np.concatenate([thing.outline, *thing.parts]), self.top.shape)
        if window is None or len(self.things) >= MOST_THINGS - 1:
            return
        self.things.append(thing)
        x0, y0, x1, y1 = window
        shift = np.array([x0, y0])
        size = (y1 - y0, x1 - x0)
        mask = filled(size, [thing.outline, *thing.holes], shift) > 0
        for part in thing.parts:
            mask |= filled(size, [part], shift) > 0
        top, below, ink = (m[y0:y1, x0:x1] for m in (self.top, self.below, self.ink))
        if thing.clear:
            below[mask] = top[mask]
        top[mask] = len(self.things)
        ink[mask] = 0
        if thing.ink is not None:
            to = thing.ink.to_canvas.copy()
            to[:, 2] -= shift
            drawn = cv2.warpAffine(thing.ink.marks, to, (x1 - x0, y1 - y0), flags=cv2.INTER_LINEAR)
            ink[mask] = drawn[mask]

    def maps(self) -> Maps:
        """Everything painted so far."""
        kinds, looks = np.zeros(MOST_THINGS, np.int64), np.zeros(MOST_THINGS, np.int64)
        heights, clear = np.zeros(MOST_THINGS, np.float32), np.zeros(MOST_THINGS, bool)
        for i, thing in enumerate(self.things, start=1):
            kinds[i], looks[i], heights[i], clear[i] = thing.kind, thing.look, thing.height, thing.clear
        return Maps(self.top, self.below, self.ink, heights, kinds, looks, clear)
