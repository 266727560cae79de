"""What the table is made of, or covered with: looks over the whole table, and cutting mats with their grid."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .geometry import Points, polygon
from .lettering import inked, strokes_of, text_width
from .light import Colour, Picture, colour
from .looks import Field, Grain, Look
from .rulers import UNIT_MM

_TILE_MM = 512.0  # a ground's grain repeats only after half a metre
_CELL_MM = 0.25
_WOODS = {
    "oak": (colour("#a27a58"), 0.10, 0.16),
    "walnut": (colour("#5c4030"), 0.12, 0.20),
    "birch": (colour("#d8c3a0"), 0.05, 0.08),
}
_CLOTHS = {
    "linen": (colour("#b9ae98"), None),
    "gingham": (colour("#e6e4dc"), colour("#7d96b5")),
    "floral": (colour("#e7dccd"), None),
}
GROUNDS = ("white", "dark", *_WOODS, *_CLOTHS)
PAPERS = ("packing paper", "squared paper")
_SQUARE_MM = 5.0
_PLANK_MM = 96.0
_THREAD_MM = 0.9
_CHECK_MM = 12.0


def ground_look(name: str, rng: np.random.Generator) -> Look:
    """The look of the table: `white` or `dark` board, a wood, a cloth, a paper. Raises KeyError for another."""
    if name in _WOODS:
        return _wood(name, rng)
    if name in _CLOTHS:
        return _cloth(name, rng)
    if name in PAPERS:
        return _paper(name, rng)
    return board_look({"white": colour("#e4e3df"), "dark": colour("#2e3033")}[name], rng)


def _grain(rng: np.random.Generator, soft: float, stretch: float = 1.0) -> Grain:
    return Grain(rng, soft, stretch, tile=_TILE_MM, cell=_CELL_MM)


def _tinted(base: Colour, level: Field) -> Picture:
    return np.asarray(np.array(base, np.float32) * np.maximum(level, 0.02)[..., None], dtype=np.float32)


def board_look(base: Colour, rng: np.random.Generator) -> Look:
    """A smooth board of that colour, a cutting mat's face for one."""
    fine, broad = _grain(rng, 0.4), _grain(rng, 25.0)

    def look(u: Field, v: Field) -> Picture:
        return _tinted(base, 1.0 + np.float32(0.01) * fine.at(u, v) + np.float32(0.02) * broad.at(u, v))

    return look


def _wood(name: str, rng: np.random.Generator) -> Look:
    """Planks along u: long fibres, broader bands, a dark joint between planks, each plank's own shade."""
    base, fine, broad = _WOODS[name]
    fibre, band, pore = _grain(rng, 0.3, 32.0), _grain(rng, 2.5, 32.0), _grain(rng, 0.25, 16.0)
    shades = 1.0 + 0.08 * rng.standard_normal(64).astype(np.float32)
    shifts = rng.uniform(0.0, _TILE_MM, 64).astype(np.float32)

    def look(u: Field, v: Field) -> Picture:
        plank = np.floor(v / np.float32(_PLANK_MM)).astype(int)
        along = u + shifts[plank % 64]
        level = shades[plank % 64] * (1.0 + fine * fibre.at(along, v) + broad * band.at(along, v))
        level = level * (1.0 - np.float32(0.25) * (pore.at(along, v) > 1.6))
        joint = np.abs(v - np.float32(_PLANK_MM) * np.round(v / np.float32(_PLANK_MM))) < 0.35
        return _tinted(base, np.where(joint, np.float32(0.3), level).astype(np.float32))

    return look


def _cloth(name: str, rng: np.random.Generator) -> Look:
    """Threads over and under; checks or blossoms where the cloth has them."""
    base, checks = _CLOTHS[name]
    slub, blotch = _grain(rng, 0.6, 4.0), _grain(rng, 30.0)
    petals = [(_grain(rng, size), tone) for size, tone in ((9.0, colour("#b0476a")), (6.0, colour("#5d7f57")))]
    turn = np.float32(2.0 * math.pi / _THREAD_MM)

    def look(u: Field, v: Field) -> Picture:
        light = np.empty((*u.shape, 3), np.float32)
        light[:] = np.array(base, np.float32)
        if checks is not None:
            stripes = [np.floor(axis / np.float32(_CHECK_MM)).astype(int) % 2 for axis in (u, v)]
            share = (np.float32(0.5) * (stripes[0] + stripes[1]))[..., None]
            light += (np.array(checks, np.float32) - light) * share
        if name == "floral":
            for grain, tone in petals:
                share = np.clip((grain.at(u, v) - 0.8) * 8.0, 0.0, 1.0)[..., None]
                light += (np.array(tone, np.float32) - light) * share
        weave = np.sin(turn * u) * np.sin(turn * v)
        level = (
            1.0 + np.float32(0.10) * weave + np.float32(0.06) * slub.at(u, v) + np.float32(0.03) * blotch.at(u, v)
        )
        return np.asarray(light * level[..., None], dtype=np.float32)

    return look


def _paper(name: str, rng: np.random.Generator) -> Look:
    """Brown paper with its fibres, or white paper ruled in blue squares of 5 mm."""
    fibre, blotch = _grain(rng, 0.35, 6.0), _grain(rng, 12.0)
    base = np.array(colour("#b08a62" if name == "packing paper" else "#e9e8e3"), np.float32)
    rough, ink = (0.06, 0.0) if name == "packing paper" else (0.01, 0.55)
    line = np.array(colour("#8fb0cf"), np.float32) / base

    def look(u: Field, v: Field) -> Picture:
        level = 1.0 + np.float32(rough) * fibre.at(u, v) + np.float32(0.02) * blotch.at(u, v)
        off = [np.abs(axis - np.float32(_SQUARE_MM) * np.round(axis / np.float32(_SQUARE_MM))) for axis in (u, v)]
        inked = np.float32(ink) * np.clip((np.float32(0.2) - np.minimum(*off)) * 10.0 + 0.5, 0.0, 1.0)[..., None]
        return np.asarray(base * level[..., None] * (1.0 + inked * (line - 1.0)), dtype=np.float32)

    return look


@dataclass(frozen=True)
class Mat:
    """A cutting mat printed with a square grid, in its own frame (mm, origin at its lower left corner).

    `columns`, `rows`: squares of one `unit` ("inch" or "cm"); `rim`: blank border; `halves`: fine lines
    at half units.
    """

    name: str
    unit: str
    columns: int
    rows: int
    rim: float = 18.0
    line: float = 0.45
    base: Colour = colour("#2f7a58")
    ink: Colour = colour("#d9d39a")
    halves: bool = False
    every: int = 1  # figures and strong lines at every so many units

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the whole mat, mm."""
        unit = UNIT_MM[self.unit]
        return self.columns * unit + 2.0 * self.rim, self.rows * unit + 2.0 * self.rim

    def crossing(self, column: int, row: int) -> Points:
        """(2,) where two lines of the grid cross."""
        return self.rim + UNIT_MM[self.unit] * np.array([column, row], dtype=np.float64)


MATS = {
    mat.name: mat
    for mat in (
        Mat("mat-inch", "inch", 23, 17, halves=True),
        Mat("mat-cm", "cm", 58, 43, line=0.35, base=colour("#3f5f7d"), ink=colour("#dfe3e6"), every=5),
    )
}


def mat_outline(mat: Mat) -> Points:
    """(4, 2) the mat's own outline."""
    width, height = mat.size
    return polygon([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])


def mat_lines(mat: Mat) -> tuple[list[Points], list[Points]]:
    """The outlines of the grid's strong lines and of its fine ones."""
    strong: list[Points] = []
    fine: list[Points] = []
    for count, vertical in ((mat.columns, True), (mat.rows, False)):
        for index in range(2 * count + 1 if mat.halves else count + 1):
            at = index / 2.0 if mat.halves else float(index)
            whole = at % mat.every == 0.0
            width = mat.line if whole else 0.5 * mat.line
            (strong if whole else fine).append(_line(mat, at, vertical, width))
    return strong, fine


def _line(mat: Mat, at: float, vertical: bool, width: float) -> Points:
    unit = UNIT_MM[mat.unit]
    place, half = mat.rim + at * unit, width / 2.0
    start, end = mat.rim - half, mat.rim + (mat.rows if vertical else mat.columns) * unit + half
    box = [(place - half, start), (place + half, start), (place + half, end), (place - half, end)]
    return polygon(box) if vertical else polygon([(y, x) for x, y in box])[::-1]


def mat_figures(mat: Mat) -> list[Points]:
    """The outlines of the figures along the mat's upper and left border."""
    outlines: list[Points] = []
    height = 4.0
    for count, across in ((mat.columns, True), (mat.rows, False)):
        for index in range(0, count + 1, mat.every):
            text = str(index)
            wide = text_width(text, height)
            if across:
                middle = mat.crossing(index, mat.rows) + np.array([0.0, 5.5])
            else:
                middle = mat.crossing(0, index) - np.array([3.5 + wide / 2.0, 0.0])
            corner = middle - np.array([wide, height]) / 2.0
            outlines += inked([line + corner for line in strokes_of(text, height)], 0.4)
    return outlines
