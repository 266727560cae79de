"""Reading a PDF back with pdfplumber: straight strokes and words, in millimetres on the page, y up."""

import io
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pdfplumber
import shapely
from numpy.typing import NDArray

Points = NDArray[np.float64]

# ISO 32000-1, 8.3.2.3: the default unit of user space is 1/72 inch.
POINT_MM = 25.4 / 72


@dataclass(frozen=True)
class Stroke:
    """One painted path: its corner points, whether it is closed, dashed, filled."""

    points: NDArray[np.float64]
    closed: bool
    dashed: bool
    filled: bool


@dataclass(frozen=True)
class PageRead:
    """What stands on one page."""

    size_mm: tuple[float, float]
    strokes: tuple[Stroke, ...]
    text: str
    smallest_pt: float
    words: tuple[tuple[str, NDArray[np.float64], bool], ...]  # text, (x0, y0, x1, y1), upright
    letters: NDArray[np.float64]  # (n, 4, 2): the box of each letter's ink at its slant, mm


def read_pdf(content: bytes) -> list[PageRead]:
    """All pages of a PDF."""
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        return [_page(page) for page in pdf.pages]


def _page(page: pdfplumber.page.Page) -> PageRead:
    height = float(page.height)
    strokes = []
    for item in [*page.lines, *page.curves, *page.rects]:
        points = np.array(item["pts"], dtype=float)
        points[:, 1] = height - points[:, 1]
        dash = item["dash"][0] if item["dash"] else []
        closed = len(points) > 2 and (item["object_type"] == "rect" or np.allclose(points[0], points[-1]))
        if closed and np.allclose(points[0], points[-1]):
            points = points[:-1]
        strokes.append(Stroke(points * POINT_MM, closed, bool(dash), bool(item["fill"])))
    words = [
        (
            word["text"],
            np.array([word["x0"], height - word["bottom"], word["x1"], height - word["top"]]) * POINT_MM,
            bool(word["upright"]),
        )
        for word in page.extract_words(keep_blank_chars=False)
    ]
    return PageRead(
        (float(page.width) * POINT_MM, height * POINT_MM),
        tuple(strokes),
        page.extract_text() or "",
        min((_size_pt(char) for char in page.chars), default=99.0),
        tuple(words),
        np.array([_ink(char) for char in page.chars if char["text"].strip()]).reshape(-1, 4, 2) * POINT_MM,
    )


def _ink(char: dict[str, Any]) -> Points:
    """A letter's box from its baseline to seven tenths of its size, its sides drawn in a little, in points, y up.

    ISO 32000-1, 9.4.4: the text matrix gives where the letter stands, and which way the line runs.
    """
    a, b, _, _, x, y = char["matrix"]
    along = np.array([a, b]) / math.hypot(a, b)
    up = np.array([-along[1], along[0]]) * 0.7 * _size_pt(char)
    advance = float(char["adv"])
    start, end = np.array([x, y]) + along * 0.15 * advance, np.array([x, y]) + along * 0.85 * advance
    return np.array([start, end, end + up, start + up])


def _size_pt(char: dict[str, Any]) -> float:
    """The type size of a character at any slant, from its upright box and its advance along the line.

    Turned by t a letter of size s and advance a has a box of a |cos t| + s |sin t| by a |sin t| + s |cos t|.
    """
    a, b = char["matrix"][:2]
    length = math.hypot(a, b)
    spread = (abs(a) + abs(b)) / length
    box = float(char["x1"] - char["x0"] + char["bottom"] - char["top"])
    return float(box / spread - float(char["adv"]))


@dataclass(frozen=True)
class FigureRead:
    """One printed section: its allowance line, its outline, the strokes inside and across the border."""

    allowance: NDArray[np.float64]
    outline: NDArray[np.float64]
    inner: tuple[NDArray[np.float64], ...]
    outer: tuple[NDArray[np.float64], ...]


def figures_of(page: PageRead) -> list[FigureRead]:
    """The sections on a page: each dashed polygon with the largest polygon and the strokes inside it.

    What lies in a fabric's small square belongs to its pattern.
    """
    closed = [s for s in page.strokes if s.closed and not s.filled]
    squares = [shapely.Polygon(s.points) for s in closed if not s.dashed and shapely.Polygon(s.points).area < 10]
    swatches = shapely.union_all(squares).buffer(0.01)
    loose = [s.points for s in page.strokes if len(s.points) == 2 and not s.dashed]
    loose = [points for points in loose if not swatches.contains(shapely.LineString(points))]
    found = []
    for dashed in (s for s in closed if s.dashed):
        around = shapely.Polygon(dashed.points).buffer(0.01)
        inside = [s for s in closed if not s.dashed and around.contains(shapely.Polygon(s.points))]
        solid = max(inside, key=lambda s: shapely.Polygon(s.points).area)
        border = shapely.Polygon(solid.points)
        strokes = [p for p in loose if around.contains(shapely.LineString(p))]
        inner = tuple(p for p in strokes if border.buffer(0.01).contains(shapely.LineString(p)))
        outer = tuple(p for p in strokes if border.intersection(shapely.LineString(p)).length < 0.01)
        found.append(FigureRead(dashed.points, solid.points, inner, outer))
    return found


def proper_motions(
    source: NDArray[np.float64], target: NDArray[np.float64], tolerance: float
) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """All turns (2, 2) and shifts (2,), never a reflection, that lay one polygon on another.

    Corners are paired in every cyclic order; the turn is the least-squares one (Kabsch 1976).
    """
    found = []
    if len(source) != len(target):
        return []
    for direction in (1, -1):
        for k in range(len(target)):
            other = np.roll(target[::direction], k, axis=0)
            u, _, vt = np.linalg.svd((source - source.mean(axis=0)).T @ (other - other.mean(axis=0)))
            sign = np.sign(np.linalg.det(vt.T @ u.T))
            turn = vt.T @ np.diag([1.0, sign]) @ u.T
            shift = other.mean(axis=0) - turn @ source.mean(axis=0)
            if np.abs(source @ turn.T + shift - other).max() < tolerance:
                found.append((turn, shift))
    return found
