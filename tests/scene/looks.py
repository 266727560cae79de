"""What things are made of: the colour and grain of cards, rulers and scanner lids, as linear light.

A look is a function of position: `u`, `v` are (h, w) coordinates in mm in the thing's own frame (u along a
ruler), and the result is (h, w, 3) linear light.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .light import Colour, Picture, cloud, colour

Field = NDArray[np.float32]
Look = Callable[[Field, Field], Picture]

_TILE_MM = 102.4  # noise tiles repeat after this length, on 0.1 mm cells
_CELL_MM = 0.1


@dataclass(frozen=True)
class CardStock:
    """A sort of card: its colour, how strong its fibres and blotches show, its ink, its cut side."""

    base: Colour
    fibre: float
    blotch: float
    ink: Colour
    printed: bool = False


CARDS = {
    "cream": CardStock(colour("#e3d9c2"), 0.015, 0.020, colour("#3b3a44")),
    "chipboard": CardStock(colour("#a09d98"), 0.050, 0.025, colour("#26262a")),
    "blue": CardStock(colour("#6f93b8"), 0.020, 0.018, colour("#1d2030")),
    "kraft": CardStock(colour("#b48f63"), 0.060, 0.030, colour("#2a2018")),
    "printed": CardStock(colour("#d8c8a4"), 0.018, 0.015, colour("#141414"), printed=True),
    "plastic": CardStock(colour("#4f8f6c"), 0.0, 0.004, colour("#1a201c")),
    "black": CardStock(colour("#232426"), 0.040, 0.020, colour("#d9d9d2")),
}
LIDS = {"white": colour("#e9e9e8"), "grey": colour("#8d8f90"), "black": colour("#141415")}
RULER_INKS = {
    "wood": colour("#1d1a18"),
    "steel": colour("#23252a"),
    "white": colour("#1c1e24"),
    "yellow": colour("#17171a"),
    "dark": colour("#e8e8e0"),
    "clear": colour("#15161a"),
    "clear-light": colour("#f2e58a"),
}


# What shows on card cut from a printed box: blots of these widths (mm) and colours.
_PRINTS = ((16.0, "#b5422f"), (11.0, "#e7b23c"), (13.0, "#41699c"))


class Grain:
    """A square tile of noise looked up by position in mm, repeating; mean 0, deviation about 1."""

    def __init__(
        self,
        rng: np.random.Generator,
        soft: float,
        stretch: float = 1.0,
        *,
        tile: float = _TILE_MM,
        cell: float = _CELL_MM,
    ) -> None:
        """`soft`: size of the features in mm; `stretch`: how many times longer they are along u.

        `tile`, `cell`: after how many mm the noise repeats, and the size of its cells.
        """
        n = round(tile / cell)
        self._tile = cloud((n, max(2, round(n / stretch))), max(soft / cell, 1.0), rng)
        self._across, self._along = cell, cell * stretch

    def at(self, u: Field, v: Field) -> Field:
        """(h, w) the noise at the positions."""
        rows, columns = self._tile.shape
        across = (v / self._across).astype(int) % rows
        along = u / np.float32(self._along)
        low = np.floor(along)
        near = low.astype(int) % columns
        a, b = self._tile[across, near], self._tile[across, (near + 1) % columns]
        return np.asarray(a + (b - a) * (along - low), dtype=np.float32)


def card_look(name: str, rng: np.random.Generator) -> Look:
    """The look of a card of that stock, its grain drawn from `rng`."""
    stock = CARDS[name]
    fibre, blotch = Grain(rng, 0.25, 1.5), Grain(rng, 7.0)
    prints = [(Grain(rng, size), colour(tone)) for size, tone in _PRINTS]

    def look(u: Field, v: Field) -> Picture:
        light = np.empty((*u.shape, 3), np.float32)
        light[:] = np.array(stock.base, np.float32)
        if stock.printed:
            for grain, tone in prints:
                share = np.clip((grain.at(u, v) - 0.55) * 12.0, 0.0, 1.0)[..., None]
                light += (np.array(tone, np.float32) - light) * share
        level = 1.0 + stock.fibre * fibre.at(u, v) + stock.blotch * blotch.at(u, v)
        return (light * level[..., None]).astype(np.float32)

    return look


def ruler_look(name: str, rng: np.random.Generator) -> Look:
    """The look of a ruler's face: wood, steel, white or yellow or dark plastic, or the tint of a clear one."""
    tones = {
        "wood": ("#d9b483", 0.045, 0.055, 40.0),
        "steel": ("#b3b5b8", 0.030, 0.045, 60.0),
        "white": ("#e4e4e1", 0.004, 0.006, 1.0),
        "yellow": ("#e8cd4e", 0.004, 0.008, 1.0),
        "dark": ("#26282b", 0.010, 0.010, 1.0),
        "clear": ("#c9d6cf", 0.0, 0.004, 1.0),
        "clear-light": ("#c9d6cf", 0.0, 0.004, 1.0),
    }
    tone, fine, broad, stretch = tones[name]
    base = np.array(colour(tone), np.float32)
    fibre, bands = Grain(rng, 0.1, min(stretch, 40.0)), Grain(rng, 1.6, min(stretch, 40.0))
    # Wood is redder where it is darker.
    tint = np.array([0.8, 1.0, 1.25], np.float32) if name == "wood" else np.ones(3, np.float32)

    def look(u: Field, v: Field) -> Picture:
        level = fine * fibre.at(u, v) + broad * bands.at(u, v)
        return (base * (1.0 + level[..., None] * tint)).astype(np.float32)

    return look
