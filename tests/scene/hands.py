"""Lines of text as people write them: glyphs of open handwriting fonts, no two quite alike.

The fonts (SIL OFL, Permanent Marker Apache 2.0) come as packages of the test extra. Each glyph is turned, shifted
and resized a little, and the whole line is slanted and bent, as a hand would.
"""

from __future__ import annotations

import functools
import importlib.resources
import math

import numpy as np
import shapely
from fontTools.pens.basePen import decomposeQuadraticSegment
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont

from .geometry import Points, signed_area

# By name, the package that carries the font and its file.
HANDS: dict[str, tuple[str, str]] = {
    "caveat": ("fontpkg_caveat", "Caveat[wght].ttf"),
    "dancing": ("fontpkg_dancing_script", "DancingScript[wght].ttf"),
    "delius": ("fontpkg_delius", "Delius-Regular.ttf"),
    "indie": ("fontpkg_indie_flower", "IndieFlower-Regular.ttf"),
    "kalam": ("fontpkg_kalam", "Kalam-Light.ttf"),
    "marker": ("fontpkg_permanent_marker", "PermanentMarker-Regular.ttf"),
    "shadows": ("fontpkg_shadows_into_light", "ShadowsIntoLight.ttf"),
    "zeyada": ("fontpkg_zeyada", "Zeyada.ttf"),
}
_CHORDS = 6  # of a curve
_BEND_MM = 0.35  # how far a line strays from straight, for letters 4 mm high


def _outlines(font: TTFont, name: str) -> list[Points]:
    """A glyph's outlines in font units, curves as chords."""
    pen = DecomposingRecordingPen(font.getGlyphSet())
    font.getGlyphSet()[name].draw(pen)
    outlines: list[list[tuple[float, float]]] = []
    for command, points in pen.value:
        if command == "moveTo":
            outlines.append([points[0]])
        elif command == "lineTo":
            outlines[-1].append(points[0])
        elif command == "curveTo":
            outlines[-1] += _chords(outlines[-1][-1], *points)
        elif command == "qCurveTo":
            *controls, end = points
            if end is None:  # no corner at all: it begins half-way between the last control and the first
                (x, y), (u, v) = controls[-1], controls[0]
                end = ((x + u) / 2, (y + v) / 2)
                outlines.append([end])
            for control, stop in decomposeQuadraticSegment((*controls, end)):
                # A quadratic curve as a cubic one: its controls two thirds of the way.
                start = outlines[-1][-1]
                thirds = [
                    (p[0] + 2 * (control[0] - p[0]) / 3, p[1] + 2 * (control[1] - p[1]) / 3) for p in (start, stop)
                ]
                outlines[-1] += _chords(start, *thirds, stop)
    return [np.array(outline, dtype=float) for outline in outlines if len(outline) > 2]


def _chords(*controls: tuple[float, float]) -> list[tuple[float, float]]:
    """The points after the first of a cubic Bézier curve."""
    t = np.arange(1, _CHORDS + 1)[:, None] / _CHORDS
    s = 1.0 - t
    a, b, c, d = (np.array(control) for control in controls)
    curve = s**3 * a + 3 * s * s * t * b + 3 * s * t * t * c + t**3 * d
    return [(float(x), float(y)) for x, y in curve]


@functools.cache
def _font(hand: str) -> TTFont:
    package, file = HANDS[hand]
    with importlib.resources.as_file(importlib.resources.files(package) / "files" / file) as path:
        return TTFont(path)


@functools.cache
def _glyph(hand: str, character: str) -> tuple[tuple[Points, ...], float]:
    """Triangles that make up the character, a capital being 1 high, and how far the next one stands from it."""
    font = _font(hand)
    name = font.getBestCmap()[ord(character)]
    unit = _capital(hand)
    outlines = _outlines(font, name)
    rings = [shapely.Polygon(outline).buffer(0) for outline in outlines]
    winding = [np.sign(signed_area(outline)) for outline in outlines]
    largest = max(range(len(rings)), key=lambda k: rings[k].area, default=0)
    inked = shapely.union_all([r for r, w in zip(rings, winding, strict=True) if w == winding[largest]])
    holes = shapely.union_all([r for r, w in zip(rings, winding, strict=True) if w != winding[largest]])
    whole = inked.difference(holes)
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(whole))
    points = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3] / unit
    return tuple(points), font["hmtx"][name][0] / unit


@functools.cache
def _capital(hand: str) -> float:
    font = _font(hand)
    heights = np.concatenate(_outlines(font, font.getBestCmap()[ord("H")]))[:, 1]
    return float(np.ptp(heights))


def written(text: str, height: float, hand: str, rng: np.random.Generator) -> list[Points]:
    """One line in a hand, its lower left about the origin, x along it, y up; ``height`` is a capital's.

    Small triangles that do not overlap, but where letters run into one another. Raises KeyError for a hand that
    there is none, or a character that it lacks.
    """
    slant, bend = float(rng.normal(0.0, 0.07)), float(rng.normal(0.0, 0.5))
    phase = float(rng.uniform(0.0, 2.0 * math.pi))
    at = 0.0
    triangles: list[Points] = []
    for character in text:
        glyph, advance = _glyph(hand, character)
        turn, size = float(rng.normal(0.0, 0.035)), float(rng.normal(1.0, 0.04))
        rise = float(rng.normal(0.0, 0.03))
        cosine, sine = size * math.cos(turn), size * math.sin(turn)
        turned = np.array([[cosine, -sine], [sine, cosine]])
        triangles += [t @ turned.T + np.array([at, rise]) for t in glyph]
        at += advance * size
    strays = _BEND_MM / 4.0 * bend
    return [
        height * np.column_stack([t[:, 0] + slant * t[:, 1], t[:, 1] + strays * np.sin(t[:, 0] / 2.0 + phase)])
        for t in triangles
    ]


def extent(outlines: list[Points]) -> tuple[Points, Points]:
    """Lower left and upper right of what is written."""
    points = np.concatenate(outlines)
    return points.min(axis=0), points.max(axis=0)
