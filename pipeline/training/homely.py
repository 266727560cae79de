"""Scenes as people send them: one set of plain templates, a ruler that looks like one, a table like theirs.

Everything else that is trained on is odder. The layouts are drawn by `layout`, the grounds by `stuffs`.
"""

import math

import numpy as np
from numpy.typing import NDArray

from training.raster import Kind, Thing
from training.rulers import page, ruler
from training.shapes import Cut, Points, Random, cut, seam, slim, star, strip

SHARE = 0.45  # of all scenes
MOTLEY = 0.1  # of these: every card of another colour

# Linear colours of rulers: light and dark wood, steel, white, yellow and black plastic.
_RULERS = np.array([
    [0.58, 0.36, 0.15], [0.42, 0.22, 0.08], [0.7, 0.5, 0.26], [0.36, 0.37, 0.39], [0.55, 0.56, 0.57],
    [0.8, 0.8, 0.77], [0.75, 0.5, 0.03], [0.015, 0.015, 0.017],
])  # fmt: skip
_CLEAR = np.array([[0.8, 0.82, 0.82], [0.6, 0.8, 0.6], [0.8, 0.75, 0.35], [0.85, 0.5, 0.55]])
# Of card with print: bands of a cereal box, panels, words, a photo, a drawing's blots.
_PRINTS = (10, 9, 5, 4, 8)
_PRINT_SHARES = (0.42, 0.18, 0.1, 0.14, 0.16)


def how_many(rng: Random) -> tuple[int, float]:
    """How many cards, and how far each reaches from its middle, as a part of the picture's width."""
    near = rng.random()
    if near < 0.12:  # seen from near: one alone, or two or three, that fill the picture
        wanted = int(rng.choice([1, 1, 2, 3]))
        return wanted, float(rng.uniform(0.15, 0.46 if wanted == 1 else 0.28))
    if near < 0.26:  # as many large ones as a scanner's glass holds, hardly a finger's breadth apart
        return int(rng.integers(4, 9)), float(rng.uniform(0.13, 0.26))
    if near < 0.38:  # small ones, no larger than what a cloth is printed with
        return int(rng.integers(3, 15)), float(np.exp(rng.uniform(math.log(0.018), math.log(0.045))))
    wanted = int(rng.integers(2, 8 if rng.random() < 0.75 else 15))
    return wanted, float(np.exp(rng.uniform(math.log(0.04), math.log(0.2 if wanted < 8 else 0.1))))


def card(rng: Random) -> Cut:
    """A card as somebody cut it, more often than elsewhere a strip, a star or a slim tip."""
    what = rng.random()
    return cut(rng, strip if what < 0.12 else star if what < 0.18 else slim if what < 0.25 else None)


def rim(rng: Random, outline: Points, size: float) -> Points | None:
    """The face within a card's pale rim (bevelled, or of thick board seen all round); mostly none."""
    return seam(outline, size * float(np.exp(rng.uniform(math.log(0.01), math.log(0.07)))))


def under(rng: Random, width: int, height: int, sheet: int, paper: int) -> list[Thing]:
    """A cloth or a sheet of paper on the table, mostly neither; `sheet` and `paper` are their looks."""
    what = rng.random()
    if what < 0.08:
        half = np.array([width, height]) * rng.uniform(0.35, 0.6, 2)
        t = rng.normal(0, 0.1)
        c, s = math.cos(t), math.sin(t)
        corners = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]]) * half @ np.array([[c, s], [-s, c]])
        return [Thing(Kind.SHEET, corners + rng.uniform(0.35, 0.65, 2) * (width, height), rng.uniform(0, 3), sheet)]
    if what < 0.2:
        long = max(width, height) * rng.uniform(0.55, 1.3)
        return [page(rng, long, rng.uniform(0.35, 0.65, 2) * (width, height), Kind.PAGE, paper)]
    return []


def references(rng: Random, width: int, height: int, look: int) -> list[Thing]:
    """One ruler, now and then two or none."""
    count = int(rng.choice([0, 1, 2], p=[0.08, 0.72, 0.2]))
    return [ruler(rng, width, height, look + k, homely=True) for k in range(count)]


def of_references(rng: Random, rows: NDArray[np.float64], chosen: NDArray[np.bool_], at: dict[str, int]) -> None:
    """Makes the chosen rows (of `looks.COLUMNS` at `at`) rulers as shops have them, in place.

    A clear one gets its tint from here too: whether a thing is clear is its own matter.
    """
    n = int(chosen.sum())
    colour = _RULERS[rng.integers(0, len(_RULERS), n)] * np.exp(rng.normal(0, 0.15, (n, 1)))
    colour = np.clip(colour * np.exp(rng.normal(0, 0.06, (n, 3))), 0.004, 0.95)
    wood = colour[:, 0] > 2 * colour[:, 2]
    rows[chosen, :3] = colour
    rows[chosen, at["other"] : at["other"] + 3] = colour * np.exp(rng.normal(0, 0.12, (n, 1)))
    rows[chosen, at["texture"]] = np.where(wood & (rng.random(n) < 0.7), 1, 0)
    rows[chosen, at["stretch"]] = np.where(wood, rng.uniform(8, 40, n), 1.0)
    rows[chosen, at["strength"]] = rng.uniform(0.05, 0.6, n)
    rows[chosen, at["gloss"]] = np.where(rng.random(n) < 0.15, rng.uniform(0.05, 0.5, n), 0)
    rows[chosen, at["tint"]] = rng.uniform(0.03, 0.3, n)
    rows[chosen, at["ink"]] = rng.uniform(0.5, 1, n)
    dark = colour.mean(1, keepdims=True) < 0.12
    rows[chosen, at["inked"] : at["inked"] + 3] = np.where(dark, 0.85, rng.uniform(0, 0.06, (n, 1)))


def of_clear(rng: Random, rows: NDArray[np.float64], chosen: NDArray[np.bool_], at: dict[str, int]) -> None:
    """Makes the chosen rows clear plastic with dark lines, in place."""
    n = int(chosen.sum())
    rows[chosen, :3] = _CLEAR[rng.choice(len(_CLEAR), n, p=[0.7, 0.1, 0.1, 0.1])]
    rows[chosen, at["texture"]] = 0
    rows[chosen, at["gloss"]] = 0
    rows[chosen, at["inked"] : at["inked"] + 3] = np.where(rng.random((n, 1)) < 0.85, 0.02, 0.5)


def of_motley(rng: Random, rows: NDArray[np.float64], chosen: NDArray[np.bool_], at: dict[str, int]) -> None:
    """Makes the chosen rows coloured paper, each of a colour of its own, in place."""
    n = int(chosen.sum())
    hue = np.clip(np.abs((rng.random((n, 1)) + np.array([0, 1 / 3, 2 / 3])) % 1 * 6 - 3) - 1, 0, 1)
    colour = rng.uniform(0.25, 0.9, (n, 1)) * (1 - rng.uniform(0.2, 0.97, (n, 1)) * (1 - hue))
    rows[chosen, :3] = np.clip(colour, 0.004, 0.95)
    rows[chosen, at["other"] : at["other"] + 3] = np.clip(colour * np.exp(rng.normal(0, 0.1, (n, 3))), 0.004, 0.95)


def of_cards(
    rng: Random,
    rows: NDArray[np.float64],
    chosen: NDArray[np.bool_],
    at: dict[str, int],
    strong: Points,
    share: float = 0.28,
) -> None:
    """Gives a share of the chosen rows, plain stock already, the print of boxes, in place.

    `strong`: colours (n, 9) of the print, three a row.
    """
    printed = chosen & (rng.random(len(rows)) < share)
    n = int(printed.sum())
    rows[printed, at["texture"]] = rng.choice(_PRINTS, n, p=_PRINT_SHARES)
    rows[printed, at["other"] : at["other"] + 3] = strong[printed, :3]
    rows[printed, at["third"] : at["third"] + 3] = strong[printed, 3:6]
    rows[printed, at["fourth"] : at["fourth"] + 3] = strong[printed, 6:]
    rows[printed, at["strength"]] = rng.uniform(0.4, 1, n)
    rows[printed, at["photo"]] = rng.uniform(0.3, 0.95, n)
