"""A printed page of templates: outlines as line art, with lettering, grain arrows, a frame, a grid, some text."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from .geometry import Points, centroid, move, placement, polygon, with_margin
from .lettering import inked, strokes_of, text_width
from .scene import LaidSheet

LETTER, A4 = (215.9, 279.4), (210.0, 297.0)


@dataclass(frozen=True)
class Pen:
    """`width` mm; `dash`: mm drawn and mm left out, None for a whole line; `ink`: the share of light it leaves."""

    width: float = 0.35
    dash: tuple[float, float] | None = None
    ink: float = 0.02


CUTTING, SEAM, DASHED, FAINT = Pen(0.5), Pen(0.25), Pen(0.35, (3.0, 2.0)), Pen(0.2, None, 0.6)


@dataclass(frozen=True)
class Drawn:
    """A template on the page: its `finished` outline (page frame, mm, counter-clockwise).

    `outer` draws the cut line, `allowance` mm outside; `inner` the finished one. `tips`: short strokes across sharp
    tips; `note`: a second line of lettering, not under the name.
    """

    name: str
    finished: Points
    allowance: float = 6.35
    outer: Pen | None = CUTTING
    inner: Pen | None = DASHED
    note: str = "cut 4"
    arrow: bool = True
    notches: bool = False

    @property
    def cut(self) -> Points:
        """The cut outline, the page's frame, mm."""
        return with_margin(self.finished, self.allowance)


@dataclass(frozen=True)
class Page:
    """A page and what is printed on it; `frame`: how far inside the paper a border runs, mm; `grid`: its step."""

    drawn: tuple[Drawn, ...]
    size: tuple[float, float] = LETTER
    frame: float | None = None
    grid: float | None = None
    grid_pen: Pen = FAINT
    bar: float | None = None  # length of a scale bar
    bar_at: tuple[float, float] = (20.0, 14.0)  # its left end
    text: tuple[str, ...] = ("CUT 4 PIECES", "SEW 7 THEN 12")
    scale: float = 1.0  # how long the printer makes what should be 1
    to_table: Points = field(default_factory=lambda: np.eye(2, 3))


def sheet_of(page: Page) -> LaidSheet:
    """The page as something that lies on the table."""
    inks: list[tuple[Points, float]] = []
    if page.grid is not None:
        inks += _grid(page.size, page.grid, page.grid_pen)
    if page.frame is not None:
        inks += stroked(_box(page.size, page.frame), Pen(0.6))
    for each in page.drawn:
        inks += _template(each)
    for row, line in enumerate(page.text):
        inks += _written(line, np.array([20.0, page.size[1] - 14.0 - 6.0 * row]), 3.2)
    if page.bar is not None:
        inks += _bar(page.bar, np.array(page.bar_at))
    printed = placement(0.0, np.zeros(2)) * np.array([[page.scale, page.scale, 1.0]])
    return LaidSheet(_box(page.size, 0.0), tuple((move(printed, ink), share) for ink, share in inks), page.to_table)


def stroked(outline: Points, pen: Pen, *, closed: bool = True) -> list[tuple[Points, float]]:
    """A line along the outline, its corners mitred by round ends."""
    points = np.vstack([outline, outline[:1]]) if closed else outline
    pieces: list[Points] = []
    for a, b in pairwise(points):
        if pen.dash is None:
            pieces.append(np.array([a, b]))
            continue
        length = float(np.hypot(*(b - a)))
        period = sum(pen.dash)
        count = max(1, round(length / period))
        drawn = pen.dash[0] / period
        for k in range(count + 1):  # a dash about every corner
            low, high = max(0.0, (k - drawn / 2) / count), min(1.0, (k + drawn / 2) / count)
            pieces.append(np.array([a + (b - a) * low, a + (b - a) * high]))
    return [(shape, pen.ink) for shape in inked(pieces, pen.width)]


def _template(each: Drawn) -> list[tuple[Points, float]]:
    inks: list[tuple[Points, float]] = []
    if each.outer is not None:
        inks += stroked(each.cut, each.outer)
    if each.inner is not None:
        inks += stroked(each.finished, each.inner)
    middle = centroid(each.finished)
    inks += _written(each.name, middle + np.array([-3.0, 1.5]), 6.0)
    inks += _written(each.note, middle + np.array([-text_width(each.note, 2.6) / 2, -4.5]), 2.6)
    if each.arrow:
        tip, end = middle + np.array([-5.0, -8.0]), middle + np.array([5.0, -8.0])
        inks += stroked(np.array([tip, end]), Pen(0.3), closed=False)
        inks += stroked(
            np.array([end + np.array([-1.5, 0.8]), end, end + np.array([-1.5, -0.8])]), Pen(0.3), closed=False
        )
    if each.notches and each.outer is not None:
        for a, b in zip(each.cut, np.roll(each.cut, -1, axis=0), strict=True):
            way = (b - a) / np.hypot(*(b - a))
            inward = np.array([-way[1], way[0]])
            at = a + 0.4 * (b - a)
            inks += stroked(np.array([at, at + 3.0 * inward]), Pen(0.35), closed=False)
    return inks


def _grid(size: tuple[float, float], step: float, pen: Pen) -> list[tuple[Points, float]]:
    inks = []
    for axis in (0, 1):
        for k in range(1, math.floor(size[axis] / step - 1e-6) + 1):
            ends = np.zeros((2, 2))
            ends[:, axis] = k * step
            ends[:, 1 - axis] = 4.0, size[1 - axis] - 4.0
            inks += stroked(ends, pen, closed=False)
    return inks


def _bar(length: float, at: Points) -> list[tuple[Points, float]]:
    ends = np.array([at, at + np.array([length, 0.0])])
    inks = stroked(ends, Pen(0.4), closed=False)
    for end in ends:
        inks += stroked(np.array([end - np.array([0.0, 2.0]), end + np.array([0.0, 2.0])]), Pen(0.4), closed=False)
    return inks


def _written(text: str, at: Points, height: float) -> list[tuple[Points, float]]:
    lines = [line + at for line in strokes_of(text, height)]
    return [(shape, 0.02) for shape in inked(lines, height / 12)]


def _box(size: tuple[float, float], inside: float) -> Points:
    w, h = size
    return polygon([(inside, inside), (w - inside, inside), (w - inside, h - inside), (inside, h - inside)])
